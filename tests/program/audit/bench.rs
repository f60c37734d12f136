//! Runs jobs, audits them, and forges them.

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value as Json;
use sha2::{Digest, Sha256};
use tempfile::TempDir;

pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

pub fn standpipe() -> Command {
    let mut command = Command::cargo_bin("standpipe").unwrap();
    command.env_remove("NO_COLOR");
    command
}

pub fn run(job: &Path, answers: &Path, journal: &Path) {
    standpipe().arg("run").arg(job).arg("--answers").arg(answers).arg("--journal").arg(journal).output().unwrap();
    assert!(journal.join("journal.jsonl").exists());
}

/// A job of the example workshop, or `job/answers` of the fixture.
pub fn example(name: &str, journal: &Path) {
    if let Some((job, answers)) = name.split_once('/') {
        let fixture = root().join("tests/fixtures/common-practice");
        return run(&fixture.join(format!("{job}.yaml")), &fixture.join(format!("{answers}.yaml")), journal);
    }
    let examples = root().join("examples");
    run(&examples.join(format!("jobs/{name}.yaml")), &examples.join(format!("answers/{name}.yaml")), journal);
}

/// Exit code, and the journals of the JSON.
pub fn audit(path: &Path, more: &[&str]) -> (i32, Vec<Json>) {
    let output = standpipe().args(["audit", "--format", "json"]).arg(path).args(more).output().unwrap();
    let json: Json = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(json["schema"], "standpipe.audit/1");
    assert_eq!(json["ok"], output.status.success(), "{json}");
    (output.status.code().unwrap(), json["journals"].as_array().cloned().unwrap_or_default())
}

pub fn point<'a>(journal: &'a Json, name: &str) -> &'a Json {
    let points = journal["points"].as_array().unwrap();
    points.iter().find(|point| point["point"] == name).unwrap_or_else(|| panic!("no point {name}: {journal}"))
}

/// Copies the plan of a job with its texts.
pub fn copy_plan(from: &Path, to: &Path) {
    for entry in fs::read_dir(from).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if name == "plan.json" || name == "apart.jsonl" || name.starts_with("texts-") {
            fs::copy(from.join(&name), to.join(&name)).unwrap();
        }
    }
}

/// A job whose plan says something else, with all hashes made anew.
pub fn with_plan(folder: &Path, change: impl FnOnce(String) -> String) {
    let plan = folder.join("plan.json");
    let text = fs::read_to_string(&plan).unwrap();
    let was = sha256(text.as_bytes());
    let changed = change(text.clone());
    assert_ne!(text, changed);
    let is = sha256(changed.as_bytes());
    fs::write(&plan, changed).unwrap();
    forge(folder, |_, line| line.replace(&was, &is));
}

pub fn texts_of(folder: &Path) -> PathBuf {
    let mut files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    files.find(|path| path.file_name().unwrap().to_str().unwrap().starts_with("texts-")).unwrap()
}

/// The same of the texts that a plan is built from.
pub fn with_texts(folder: &Path, change: impl FnOnce(String) -> String) {
    let path = texts_of(folder);
    let text = fs::read_to_string(&path).unwrap();
    let was = sha256(text.as_bytes());
    let changed = change(text.clone());
    assert_ne!(text, changed);
    let is = sha256(changed.as_bytes());
    fs::remove_file(path).unwrap();
    fs::write(folder.join(format!("texts-{}.json", &is[..16])), changed).unwrap();
    with_plan(folder, |plan| plan.replace(&was, &is));
}

/// The token of a text, by its line in the file of those that are kept apart.
pub fn token_of(line: &Json) -> String {
    let salt = line["salt"].as_str().unwrap();
    let salt = (0..16).map(|at| u8::from_str_radix(&salt[2 * at..2 * at + 2], 16).unwrap()).collect::<Vec<_>>();
    let text = |key: &str| line[key].as_str().unwrap().as_bytes();
    let bytes = [b"standpipe.apart/1\0", text("of"), b"\0", &salt, text("value")].concat();
    format!("apart-{}", sha256(&bytes))
}

/// The texts that are kept apart from a journal.
pub fn apart(folder: &Path) -> Vec<Json> {
    let text = fs::read_to_string(folder.join("apart.jsonl")).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

pub fn write_apart(folder: &Path, lines: &[Json]) {
    let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
    fs::write(folder.join("apart.jsonl"), text).unwrap();
}

/// Changes a word of a text that is kept apart, with a token that fits: what stood in the journal for it, and what has to stand there.
pub fn reword(folder: &Path, from: &str, to: &str) -> (String, String) {
    let mut lines = apart(folder);
    let line = lines.iter_mut().find(|line| line["value"].as_str().unwrap().contains(from)).unwrap();
    let was = line["token"].as_str().unwrap().to_owned();
    assert_eq!(token_of(line), was);
    line["value"] = line["value"].as_str().unwrap().replace(from, to).into();
    let is = token_of(line);
    line["token"] = is.clone().into();
    write_apart(folder, &lines);
    (was, is)
}

/// The events of a journal without what is made at random: as they are, whoever ran the job.
pub fn events(folder: &Path) -> Vec<Json> {
    let mut events: Vec<Json> =
        crate::folders::journal(folder).lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    for event in &mut events {
        for key in ["prev", "sum", "plan"] {
            event.as_object_mut().unwrap().shift_remove(key);
        }
    }
    events
}

pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Writes a journal anew with hashes that fit, as someone would who knows how.
pub fn forge(folder: &Path, change: impl Fn(usize, String) -> String) {
    forge_all(folder, |lines| lines.into_iter().enumerate().map(|(index, line)| change(index + 1, line)).collect());
}

/// The same of all lines at once, each without its sum: they may be left out, added or moved, and are numbered anew.
pub fn forge_all(folder: &Path, change: impl FnOnce(Vec<String>) -> Vec<String>) {
    let path = folder.join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    let without_sum = |line: &str| line[..line.rfind(",\"sum\":\"").unwrap()].to_owned();
    let mut prev = sha256(&fs::read(folder.join("plan.json")).unwrap());
    let mut out = String::new();
    for (index, body) in change(text.lines().map(without_sum).collect()).into_iter().enumerate() {
        let start = "{\"prev\":\"".len();
        let body = format!("{}{prev}{}", &body[..start], &body[start + 64..]);
        let number = body.find("\"seq\":").unwrap() + "\"seq\":".len();
        let behind = number + body[number..].find(',').unwrap();
        let body = format!("{}{}{}", &body[..number], index + 1, &body[behind..]);
        let line = format!("{body},\"sum\":\"{}\"}}", sha256(body.as_bytes()));
        prev = sha256(line.as_bytes());
        out.push_str(&line);
        out.push('\n');
    }
    fs::write(path, out).unwrap();
}

/// A job forged in one place: the exit code, and its journal.
pub fn forged(job: &str, change: impl Fn(usize, String) -> String) -> (i32, Json) {
    let folder = TempDir::new().unwrap();
    example(job, folder.path());
    let before = fs::read(folder.path().join("journal.jsonl")).unwrap();
    forge(folder.path(), change);
    assert_ne!(before, fs::read(folder.path().join("journal.jsonl")).unwrap(), "nothing was forged");
    let (code, mut journals) = audit(folder.path(), &[]);
    let journal = journals.remove(0);
    assert_eq!(point(&journal, "chain of hashes")["verdict"], "holds", "{journal}");
    (code, journal)
}
