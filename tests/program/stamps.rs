//! A time stamp of the book, by RFC 3161: asked for, kept, and held against the book. The authority is one of the tests, made by
//! OpenSSL, which also says whether an answer is of it. Without OpenSSL nothing of this is shown.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::audit::bench::{audit, example, point, sha256, standpipe};

const NONE: &str = "NOT CHECKED: no openssl, so nothing is shown of time stamps";

#[allow(clippy::print_stderr, reason = "what is not tried is said")]
fn there() -> bool {
    let found = Command::new("openssl").arg("version").output().is_ok_and(|output| output.status.success());
    if !found {
        assert!(std::env::var_os("STANDPIPE_OPENSSL_NEEDED").is_none(), "{NONE}");
        eprintln!("{NONE}");
    }
    found
}

/// An authority that stamps whatever it is asked to.
struct Authority {
    folder: TempDir,
}

impl Authority {
    fn new() -> Self {
        let folder = TempDir::new().unwrap();
        let config = "[req]\ndistinguished_name = dn\nprompt = no\n[dn]\nCN = invented authority\n\
            [stamping]\nextendedKeyUsage = critical,timeStamping\nkeyUsage = critical,digitalSignature\n\
            [tsa]\ndefault_tsa = it\n[it]\nserial = serial\ncrypto_device = builtin\nsigner_cert = tsa.pem\ncerts = ca.pem\n\
            signer_key = tsa.key\nsigner_digest = sha256\ndefault_policy = 1.2.3.4\ndigests = sha256, sha512\n\
            ess_cert_id_alg = sha256\n";
        fs::write(folder.path().join("config"), config).unwrap();
        fs::write(folder.path().join("serial"), "01\n").unwrap();
        let authority = Self { folder };
        for line in [
            "req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -keyout ca.key -out ca.pem -days 30 -config config",
            "req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -keyout tsa.key -out tsa.csr -config config -subj /CN=stamps",
            "x509 -req -in tsa.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out tsa.pem -days 30 -extfile config -extensions \
             stamping",
        ] {
            authority.openssl(&line.split_whitespace().collect::<Vec<_>>());
        }
        authority
    }

    fn openssl(&self, arguments: &[&str]) -> String {
        let output = Command::new("openssl").current_dir(self.folder.path()).args(arguments).output().unwrap();
        assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    fn answer(&self, request: &Path, to: &Path) {
        let [request, to] = [request, to].map(|path| path.to_str().unwrap());
        self.openssl(&["ts", "-reply", "-config", "config", "-queryfile", request, "-out", to]);
    }

    fn certificate(&self) -> String {
        self.folder.path().join("ca.pem").to_str().unwrap().to_owned()
    }
}

fn book(jobs: &Path, more: &[&str]) -> (i32, Json) {
    let output = standpipe().arg("book").arg(jobs).args(more).args(["--format", "json"]).output().unwrap();
    (output.status.code().unwrap(), serde_json::from_slice(&output.stdout).unwrap_or_default())
}

fn stamped(jobs: &Path, more: &[&str]) -> (i32, Json) {
    let (code, journals) = audit(jobs, more);
    (code, journals.into_iter().find(|journal| journal["state"] == "stamped").unwrap_or_default())
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_stamp_says_until_when_the_book_is_anchored() {
    if !there() {
        return;
    }
    let authority = Authority::new();
    let folder = TempDir::new().unwrap();
    let jobs = folder.path().join("jobs");
    fs::create_dir(&jobs).unwrap();
    assert_eq!(book(&jobs, &["--begin"]).0, 0);
    example("plover-pickup", &jobs.join("plover-pickup"));
    let at = |name: &str| folder.path().join(name);
    let (request, answer) = (at("book.tsq"), at("book.tsr"));
    let (code, asked) = book(&jobs, &["--request", text(&request)]);
    assert_eq!((code, &asked["line"]), (0, &3.into()), "{asked}");
    assert_eq!(book(&jobs, &["--request", text(&request)]).0, 2, "nothing is written over");
    // OpenSSL understands the request as it is meant.
    let told = authority.openssl(&["ts", "-query", "-in", text(&request), "-text"]);
    let digits: String =
        told.lines().filter(|line| line.contains(" - ")).map(|line| line[11..59].replace([' ', '-'], "")).collect();
    assert!(told.contains("sha256") && told.contains("Certificate required: yes"), "{told}");
    assert_eq!(digits, asked["hash"].as_str().unwrap(), "{told}");
    assert!(stamped(&jobs, &[]).1.is_null(), "no stamp yet");
    assert!(
        point(&stamped(&jobs, &["--authority", &authority.certificate()]).1, "stamps")
            .to_string()
            .contains("no stamp beside the book")
    );

    authority.answer(&request, &answer);
    let (code, kept) = book(&jobs, &["--stamp", text(&answer)]);
    assert_eq!((code, &kept["line"]), (0, &3.into()), "{kept}");
    assert_eq!(book(&jobs, &["--stamp", text(&answer)]).0, 2, "it is there");
    // The book goes on behind it.
    example("heron-van", &jobs.join("heron-van"));
    let trusting = ["--authority", &authority.certificate()];
    let (code, unchecked) = stamped(&jobs, &[]);
    assert!(code == 0 && unchecked["verdict"] == "not shown" && unchecked.to_string().contains("openssl ts -verify"));
    let (code, found) = stamped(&jobs, &trusting);
    assert_eq!((code, &found["verdict"]), (0, &"holds".into()), "{found}");
    let anchored = &found["anchored"];
    assert_eq!((&anchored["line"], &anchored["of"], &anchored["checked"]), (&3.into(), &6.into(), &true.into()));
    // To the minute, as OpenSSL reads it.
    let theirs = authority.openssl(&["ts", "-reply", "-in", text(&answer), "-text"]);
    assert!(theirs.contains(&anchored["at"].as_str().unwrap()[11..19]), "{theirs} {anchored}");
    let output = standpipe().arg("audit").arg(&jobs).args(trusting).output().unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.split_whitespace().collect::<Vec<_>>().join(" ").contains("is anchored up to line 3 of 6"), "{said}");

    // Another authority, that nobody trusts.
    let stranger = Authority::new();
    let (code, found) = stamped(&jobs, &["--authority", &stranger.certificate()]);
    assert!(code == 1 && found.to_string().contains("it is not stamped by that authority"), "{found}");
    assert!(found["anchored"].is_null(), "{found}");
    // Without OpenSSL nobody looked.
    let output = standpipe()
        .env("PATH", "/nowhere")
        .args(["audit", "--format", "json"])
        .arg(&jobs)
        .args(trusting)
        .output()
        .unwrap();
    assert!(output.status.success() && String::from_utf8_lossy(&output.stdout).contains("openssl can't be started"));
    changed(&jobs, &trusting);
    answers_that_are_none(&authority, folder.path(), &jobs);
}

/// The book and its jobs written anew, so that all of it fits: the stamp does not.
fn changed(jobs: &Path, trusting: &[&str]) {
    let path = jobs.join("book.jsonl");
    let whole = fs::read_to_string(&path).unwrap();
    fs::remove_file(&path).unwrap();
    assert_eq!(book(jobs, &["--begin"]).0, 0);
    let (code, found) = stamped(jobs, trusting);
    assert!(code == 1 && found.to_string().contains("this is not the book of that day"), "{found}");
    fs::write(&path, whole).unwrap();
    // One byte of what the authority signed.
    let kept: PathBuf = fs::read_dir(jobs.join("book-stamps")).unwrap().next().unwrap().unwrap().path();
    let bytes = fs::read(&kept).unwrap();
    let year = bytes.windows(2).position(|pair| pair == b"20").unwrap();
    let mut other = bytes.clone();
    other[year + 3] ^= 1;
    fs::write(&kept, other).unwrap();
    let (code, found) = stamped(jobs, trusting);
    assert!(code == 1 && found.to_string().contains("it is not stamped by that authority"), "{found}");
    fs::write(&kept, &bytes[..40]).unwrap();
    let (code, found) = stamped(jobs, trusting);
    assert!(
        code == 0 && found["verdict"] == "not shown" && found.to_string().contains("this is not a stamp"),
        "{found}"
    );
    fs::write(&kept, bytes).unwrap();
    assert_eq!(stamped(jobs, trusting).1["verdict"], "holds");
}

fn answers_that_are_none(authority: &Authority, folder: &Path, jobs: &Path) {
    let at = |name: &str| folder.join(name);
    let said = |file: &Path| {
        let (code, json) = book(jobs, &["--stamp", text(file)]);
        assert_eq!(code, 2, "{json}");
        json["problems"].to_string()
    };
    fs::write(at("words"), "no answer").unwrap();
    assert!(said(&at("words")).contains("not an answer to a request"));
    assert!(said(&at("missing")).contains("wrong-arguments"));
    // Of something else, and one that was refused.
    let digest = sha256(b"something else");
    authority.openssl(&["ts", "-query", "-digest", &digest, "-sha256", "-cert", "-out", text(&at("other.tsq"))]);
    authority.answer(&at("other.tsq"), &at("other.tsr"));
    assert!(said(&at("other.tsr")).contains("stamp of something else"));
    authority.openssl(&["ts", "-query", "-digest", &digest[..40], "-sha1", "-out", text(&at("weak.tsq"))]);
    authority.answer(&at("weak.tsq"), &at("weak.tsr"));
    assert!(said(&at("weak.tsr")).contains("the authority refused it"));
    authority.openssl(&["ts", "-query", "-digest", &digest.repeat(2), "-sha512", "-out", text(&at("long.tsq"))]);
    authority.answer(&at("long.tsq"), &at("long.tsr"));
    assert!(said(&at("long.tsr")).contains("another kind than SHA-256"));
}
