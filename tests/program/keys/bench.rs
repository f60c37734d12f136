//! A workshop whose people have keys, and signatures that are made here and not by the program.

use std::fs;
use std::path::{Path, PathBuf};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ring::signature::{Ed25519KeyPair, KeyPair};
use serde_json::Value as Json;
use sha2::{Digest, Sha512};
use tempfile::TempDir;

use super::book;
use crate::audit::bench::{root, sha256, standpipe};
use crate::folders::copy;

pub const NAMESPACE: &str = "act@standpipe";

/// Somebody's key, the same at every run: of their name and how many they have had before.
pub fn pair(person: &str, number: u8) -> Ed25519KeyPair {
    let digest = Sha512::digest(format!("{person} {number}"));
    Ed25519KeyPair::from_seed_unchecked(&digest[..32]).unwrap()
}

fn string(bytes: &[u8]) -> Vec<u8> {
    [&(bytes.len() as u32).to_be_bytes(), bytes].concat()
}

pub fn public(pair: &Ed25519KeyPair) -> String {
    let blob = [string(b"ssh-ed25519"), string(pair.public_key().as_ref())].concat();
    format!("ssh-ed25519 {}", STANDARD.encode(blob))
}

/// As PROTOCOL.sshsig of OpenSSH says that a signature is made.
pub fn armoured(pair: &Ed25519KeyPair, namespace: &str, message: &[u8]) -> String {
    let fields = |last: &[u8]| [namespace.as_bytes(), b"", b"sha512", last].map(string).concat();
    let signed = [b"SSHSIG".to_vec(), fields(&Sha512::digest(message))].concat();
    let signature = [string(b"ssh-ed25519"), string(pair.sign(&signed).as_ref())].concat();
    let key = [string(b"ssh-ed25519"), string(pair.public_key().as_ref())].concat();
    let blob = [b"SSHSIG\0\0\0\x01".to_vec(), string(&key), fields(&signature)].concat();
    let text = STANDARD.encode(blob);
    let lines: Vec<&str> = text.as_bytes().chunks(70).map(|line| std::str::from_utf8(line).unwrap()).collect();
    format!("-----BEGIN SSH SIGNATURE-----\n{}\n-----END SSH SIGNATURE-----\n", lines.join("\n"))
}

/// An act of a job, as the tests know it from its journal.
#[derive(Clone, Debug)]
pub struct Act {
    pub line: usize,
    pub act: String,
    pub by: String,
    pub at: String,
}

impl Act {
    /// What is signed of it, by the line as it stands in the journal.
    pub fn text(&self, folder: &Path) -> String {
        let journal = fs::read_to_string(folder.join("journal.jsonl")).unwrap();
        let line = journal.lines().nth(self.line - 1).unwrap();
        let opened: Json = serde_json::from_str(journal.lines().next().unwrap()).unwrap();
        let Self { line: number, act, by, at } = self;
        let (job, hash) = (&opened["job"], sha256(line.as_bytes()));
        format!("standpipe act 1\njob: {job}\nline: {number}\nhash: {hash}\nact: {act}\nby: \"{by}\"\nat: {at}\n")
    }

    pub fn file(&self, folder: &Path) -> PathBuf {
        let text = self.text(folder);
        let hash = text.lines().find_map(|line| line.strip_prefix("hash: ")).unwrap();
        folder.join("signatures").join(format!("{hash}-{}", self.act))
    }

    /// Signs it by somebody's key; whatever lay there is gone.
    pub fn sign(&self, folder: &Path, pair: &Ed25519KeyPair) {
        let text = self.text(folder);
        fs::create_dir_all(folder.join("signatures")).unwrap();
        fs::write(self.file(folder), format!("{text}{}", armoured(pair, NAMESPACE, text.as_bytes()))).unwrap();
    }
}

/// A folder of jobs with a book, of which one is finished and signed in full, and what others have of it.
pub struct Shop {
    _folder: TempDir,
    pub jobs: PathBuf,
    pub job: PathBuf,
    /// The list of who may sign.
    pub signers: PathBuf,
    /// Hash of the book's last line of the job, as the customer's copy has it.
    pub printed: String,
}

pub const PEOPLE: [&str; 3] = ["rita", "jo", "marek"];

/// The example workshop, which wants acts signed by key.
pub fn workshop(folder: &Path, wanted: &str) -> PathBuf {
    copy(&root().join("examples/workshop"), &folder.join("workshop"));
    let path = folder.join("workshop/shop.yaml");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, format!("{text}\nby_key: {wanted}\n")).unwrap();
    path
}

pub fn list(path: &Path, options: &str) {
    let lines = PEOPLE.map(|person| format!("{person} {options} {}\n", public(&pair(person, 0))));
    fs::write(path, lines.concat()).unwrap();
}

impl Shop {
    pub fn new() -> Self {
        let folder = TempDir::new().unwrap();
        let (jobs, job) = (folder.path().join("jobs"), folder.path().join("jobs/heron-van"));
        fs::create_dir(&jobs).unwrap();
        let shop = workshop(folder.path(), "[sign, witness, close]");
        standpipe().arg("book").arg(&jobs).arg("--begin").assert().success();
        let at = |kind: &str| root().join(format!("examples/{kind}/heron-van.yaml"));
        let mut run = standpipe();
        run.arg("run").arg(at("jobs")).arg("--answers").arg(at("answers")).arg("--shop").arg(shop);
        run.arg("--journal").arg(&job).assert().success();
        let signers = folder.path().join("signers");
        list(&signers, "");
        let mut printed = book::begin(&jobs);
        for act in acts(&job) {
            act.sign(&job, &pair(&act.by, 0));
            printed = book::enter(&jobs, &job, &act, &act.at, false);
        }
        Self { _folder: folder, jobs, job, signers, printed }
    }

    /// The same in another folder.
    pub fn copy(&self) -> Self {
        let folder = TempDir::new().unwrap();
        copy(self._folder.path(), folder.path());
        let inside = |path: &Path| folder.path().join(path.strip_prefix(self._folder.path()).unwrap());
        Self {
            jobs: inside(&self.jobs),
            job: inside(&self.job),
            signers: inside(&self.signers),
            printed: self.printed.clone(),
            _folder: folder,
        }
    }

    /// What keys show by themselves.
    pub fn without_book() -> Self {
        let shop = Self::new();
        fs::remove_file(shop.jobs.join("book.jsonl")).unwrap();
        shop
    }

    pub fn act(&self, act: &str, by: &str) -> Act {
        let found = acts(&self.job).into_iter().rev().find(|it| it.act == act && it.by == by);
        found.unwrap_or_else(|| panic!("no {act} by {by}"))
    }
}

/// The acts of a job, read from its journal alone.
pub fn acts(folder: &Path) -> Vec<Act> {
    let journal = fs::read_to_string(folder.join("journal.jsonl")).unwrap();
    let mut acts = Vec::new();
    for (index, line) in journal.lines().enumerate() {
        let event: Json = serde_json::from_str(line).unwrap();
        let at = event.get("entered_at").unwrap_or(&event["at"]).as_str().unwrap().to_owned();
        let mut did = |act: &str, by: &Json| {
            acts.push(Act {
                line: index + 1,
                act: act.to_owned(),
                by: by.as_str().unwrap().to_owned(),
                at: at.clone(),
            });
        };
        match event["event"].as_str().unwrap() {
            "entered" => {
                let signed =
                    event["values"].as_object().into_iter().flatten().find(|(name, _)| name.contains("signature"));
                if let Some((_, person)) = signed {
                    did("sign", &person["text"]);
                }
                if let Some(person) = event["witness"].get("by") {
                    did("witness", person);
                }
            }
            "accepted" => did("accept", &event["by"]),
            "called" => did("call", &event["by"]),
            "finished" | "abandoned" => did("close", &event["by"]),
            _ => {}
        }
    }
    acts
}
