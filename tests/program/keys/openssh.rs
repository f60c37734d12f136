//! The other way round: OpenSSH takes what is made here, and what it makes is taken here. Without it nothing of this is shown.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value as Json;
use tempfile::TempDir;

use super::bench::{NAMESPACE, acts, pair, public, workshop};
use crate::audit::bench::{audit, point, root, standpipe};

const NONE: &str = "NOT CHECKED: no ssh-keygen (Debian: openssh-client), so nothing is shown of signing";

/// Whether there is one. Where it must be there, that it is not is a fault.
#[allow(clippy::print_stderr, reason = "what is not tried is said")]
pub fn there() -> bool {
    let found = Command::new("ssh-keygen").arg("-?").output().is_ok();
    if !found {
        assert!(std::env::var_os("STANDPIPE_OPENSSH_NEEDED").is_none(), "{NONE}");
        eprintln!("{NONE}");
    }
    found
}

pub fn make(folder: &Path, person: &str, more: &[&str]) -> PathBuf {
    let key = folder.join(person);
    let mut command = Command::new("ssh-keygen");
    command.args(["-q", "-N", "", "-C", person, "-f"]).arg(&key);
    let more = if more.is_empty() { &["-t", "ed25519"] } else { more };
    assert!(command.args(more).status().unwrap().success());
    key
}

fn list(folder: &Path, people: &[&str]) -> PathBuf {
    let line = |person: &&str| {
        let public = fs::read_to_string(folder.join(format!("{person}.pub"))).unwrap();
        format!("{person} {public}")
    };
    let path = folder.join("signers");
    fs::write(&path, people.iter().map(line).collect::<String>()).unwrap();
    path
}

/// What `ssh-keygen -Y verify` makes of a file of a signature.
fn verified(file: &Path, signers: &Path, person: &str, more: &[&str]) -> bool {
    let text = fs::read_to_string(file).unwrap();
    let (said, armour) = text.split_at(text.find("-----BEGIN").unwrap());
    let signature = file.with_extension("sig-of-it");
    fs::write(&signature, armour).unwrap();
    let mut command = Command::new("ssh-keygen");
    command
        .args(["-Y", "verify", "-n", NAMESPACE, "-I", person, "-f"])
        .arg(signers)
        .arg("-s")
        .arg(&signature)
        .args(more);
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(said.as_bytes()).unwrap();
    let verified = child.wait().unwrap().success();
    fs::remove_file(signature).unwrap();
    verified
}

/// A finished job whose acts are signed while it is run, and afterwards.
#[test]
fn people_sign_by_openssh_and_it_takes_every_signature() {
    if !there() {
        return;
    }
    let folder = TempDir::new().unwrap();
    let keys: Vec<PathBuf> = ["rita", "jo", "marek"].iter().map(|person| make(folder.path(), person, &[])).collect();
    let signers = list(folder.path(), &["rita", "jo", "marek"]);
    let shop = workshop(folder.path(), "[sign, close]");
    let job = folder.path().join("job");
    let at = |kind: &str| root().join(format!("examples/{kind}/heron-van.yaml"));
    let mut run = standpipe();
    run.arg("run")
        .arg(at("jobs"))
        .arg("--answers")
        .arg(at("answers"))
        .arg("--shop")
        .arg(&shop)
        .arg("--journal")
        .arg(&job);
    let output = run.args(["--by", "rita", "--key"]).arg(&keys[0]).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success() && said.contains("2 acts signed by key"), "{said}");
    assert!(said.contains("not signed by key yet") && said.contains("close by marek (line 332)"), "{said}");
    // The witness may do it later, by an agent that holds the key.
    let agent = Agent::start(folder.path(), &keys[1]);
    let sign = |person: &str, key: &Path| {
        let mut command = standpipe();
        command.env("SSH_AUTH_SOCK", &agent.socket).args(["sign", "--format", "json", "--by", person]).arg(&job);
        let output = command.arg("--key").arg(key).output().unwrap();
        (output.status.code(), serde_json::from_slice::<Json>(&output.stdout).unwrap_or_default())
    };
    let moved = folder.path().join("moved");
    fs::rename(&keys[1], &moved).unwrap();
    let (code, json) = sign("jo", &keys[1].with_extension("pub"));
    assert_eq!((code, json["signed"].as_array().map(Vec::len)), (Some(0), Some(5)), "{json}");
    assert_eq!(
        sign("jo", &keys[1].with_extension("pub")).1["signed"].as_array().map(Vec::len),
        Some(0),
        "a second time"
    );
    assert_eq!(sign("marek", &keys[2]).0, Some(0));
    let (code, journals) = audit(&job, &["--signers", signers.to_str().unwrap()]);
    assert!(code == 0 && point(&journals[0], "keys")["verdict"] == "holds", "{journals:?}");
    let signed = journals[0]["signed"].as_array().unwrap();
    assert!(signed.len() == 9 && signed.iter().all(|act| act["standing"] == "signed"), "{signed:?}");
    for act in acts(&job) {
        let file = act.file(&job);
        assert!(verified(&file, &signers, &act.by, &[]), "{act:?}");
        let other = if act.by == "jo" { "rita" } else { "jo" };
        assert!(!verified(&file, &signers, other, &[]), "{act:?}");
        let print =
            Command::new("ssh-keygen").arg("-lf").arg(folder.path().join(format!("{}.pub", act.by))).output().unwrap();
        let told =
            signed.iter().find(|it| it["line"] == act.line && it["act"] == *act.act).unwrap()["key"].as_str().unwrap();
        assert!(String::from_utf8_lossy(&print.stdout).contains(told), "{told}");
    }
    // So it takes those of a copy that has no text of a person any more.
    let copy = folder.path().join("copy.zip");
    let packed = standpipe().arg("pack").arg(&job).args(["--for", "stranger", "-o"]).arg(&copy).output().unwrap();
    assert!(packed.status.success(), "{}", String::from_utf8_lossy(&packed.stderr));
    let unpacked = standpipe::pack::unpack(&copy).unwrap();
    for act in acts(&job) {
        assert!(verified(&act.file(&unpacked.job()), &signers, &act.by, &[]), "{act:?}");
    }
    // Nothing of a private key is anywhere.
    let secret = fs::read_to_string(&keys[0]).unwrap();
    let secret = secret.lines().nth(2).unwrap();
    let mut files = fs::read_dir(job.join("signatures")).unwrap().map(|entry| entry.unwrap().path());
    assert!(!said.contains(secret) && files.all(|file| !fs::read_to_string(file).unwrap().contains(secret)));
}

/// An agent that holds one key, and ends with this.
struct Agent {
    child: std::process::Child,
    socket: PathBuf,
}

impl Agent {
    fn start(folder: &Path, key: &Path) -> Self {
        let socket = folder.join("agent");
        let child = Command::new("ssh-agent").arg("-D").arg("-a").arg(&socket).stdout(Stdio::null()).spawn().unwrap();
        let agent = Self { child, socket };
        for _ in 0..200 {
            let added =
                Command::new("ssh-add").arg("-q").arg(key).env("SSH_AUTH_SOCK", &agent.socket).output().unwrap();
            if added.status.success() {
                return agent;
            }
            std::thread::sleep(std::time::Duration::from_millis(50));
        }
        panic!("the agent takes no key");
    }
}

impl Drop for Agent {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The same line of a list, the same signature, the same time: both say the same.
#[test]
fn a_list_means_here_what_it_means_to_openssh() {
    if !there() {
        return;
    }
    let folder = TempDir::new().unwrap();
    let job = folder.path().join("job");
    crate::audit::bench::example("heron-van", &job);
    let signers = folder.path().join("signers");
    let act = acts(&job).pop().unwrap();
    act.sign(&job, &pair("marek", 0));
    let (file, key) = (act.file(&job), public(&pair("marek", 0)));
    assert_eq!(act.at, "2026-11-24T09:55:30+01:00");
    let mut both = [0, 0];
    for line in [
        "marek KEY",
        "\"marek\" KEY comment",
        "m*k KEY",
        "jo,marek KEY",
        "*,!marek KEY",
        "Marek KEY",
        "marek namespaces=\"act@standpipe\" KEY",
        "marek namespaces=\"act@*,file\" KEY",
        "marek namespaces=\"file\" KEY",
        "marek NAMESPACES=\"!act@standpipe,*\" KEY",
        "marek valid-after=\"20261124085530Z\" KEY",
        "marek valid-after=\"20261124085531Z\" KEY",
        "marek valid-before=\"20261124085530Z\" KEY",
        "marek valid-before=\"20261124085529Z\" KEY",
        "marek valid-before=\"202611240855Z\" KEY",
        "marek valid-before=\"20261124Z\" KEY",
        "marek valid-before=\"20261125Z\",valid-after=\"20261124Z\" KEY",
        "marek valid-before=\"20261123\" KEY",
        "marek valid-before=20261125 KEY",
        "marek valid-before=\"2026-11-25\" KEY",
        "marek valid-before=\"20261124Z\",valid-after=\"20261125Z\" KEY",
        "marek valid-until=\"20261125Z\" KEY",
        "marek cert-authority KEY",
        "marek",
    ] {
        fs::write(&signers, format!("# people\n{}\n", line.replace("KEY", &key))).unwrap();
        let theirs = verified(&file, &signers, "marek", &["-O", "verify-time=20261124085530Z"]);
        let (_, journals) = audit(&job, &["--signers", signers.to_str().unwrap()]);
        let acts = journals.first().map(|journal| journal["signed"].as_array().unwrap().clone()).unwrap_or_default();
        let ours = acts.last().is_some_and(|act| act["standing"] == "signed");
        assert_eq!(ours, theirs, "{line}");
        both[usize::from(theirs)] += 1;
    }
    assert_eq!(both, [15, 9], "refused and taken");
}

#[test]
fn what_can_not_sign_is_said_before_the_work_begins() {
    if !there() {
        return;
    }
    let folder = TempDir::new().unwrap();
    let rsa = make(folder.path(), "rsa", &["-t", "rsa", "-b", "2048"]);
    let (job, missing) = (folder.path().join("job"), folder.path().join("missing"));
    let at = |kind: &str| root().join(format!("examples/{kind}/heron-van.yaml"));
    let run = |key: &Path, path: Option<&str>| {
        let mut run = standpipe();
        path.map(|path| run.env("PATH", path));
        run.arg("run").arg(at("jobs")).arg("--answers").arg(at("answers")).arg("--journal").arg(&job);
        let output = run.args(["--by", "rita", "--key"]).arg(key).output().unwrap();
        (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    for (key, path, words) in [
        (&missing, None, "No such file"),
        (&rsa, None, "it is a key of the kind `ssh-rsa`"),
        (&rsa, Some("/nowhere"), "install OpenSSH"),
    ] {
        let (code, said) = run(key, path);
        assert!(code == Some(2) && said.contains("not-signed") && said.contains(words), "{said}");
    }
    let unnamed = standpipe().arg("run").arg(at("jobs")).arg("--key").arg(&rsa).output().unwrap();
    assert!(unnamed.status.code() == Some(2) && String::from_utf8_lossy(&unnamed.stderr).contains("--by"));
    // What is lost on the way is said, and the work goes on.
    let key = make(folder.path(), "rita", &[]);
    let _ = fs::remove_dir_all(&job);
    fs::create_dir(&job).unwrap();
    fs::write(job.join("signatures"), "in the way").unwrap();
    let (code, said) = run(&key, None);
    assert!(code == Some(0) && said.contains("not-signed") && said.contains("can't be read"), "{said}");
    assert_eq!(acts(&job).len(), 9, "all of it is there");
}
