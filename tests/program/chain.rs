//! The example of a chain of shops: its jobs audited in three ways, and its archive asked.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::archive::{not_checked, python};

const SHOPS: u64 = 5;
/// In each shop.
const JOBS: u64 = 4;

fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/chain").join(name)
}

/// Output of a program that is to end well, with the one under test in its environment.
fn run(command: &mut Command) -> String {
    let output = command.env("STANDPIPE", assert_cmd::cargo::cargo_bin("standpipe")).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{}\n{said}", String::from_utf8_lossy(&output.stdout));
    String::from_utf8(output.stdout).unwrap()
}

fn made() -> (TempDir, PathBuf) {
    let room = TempDir::new().unwrap();
    let shops = room.path().join("shops");
    let said = run(Command::new("bash").arg(example("make.sh")).arg(&shops).arg(JOBS.to_string()));
    assert_eq!(said.matches(&format!(": {JOBS} jobs")).count() as u64, SHOPS, "{said}");
    (room, shops)
}

/// Whether a Python can do the work of a cluster.
fn has_spark(python: &Path) -> bool {
    let found = |command: &mut Command| command.output().is_ok_and(|output| output.status.success());
    let has = found(Command::new(python).args(["-c", "import pyspark"])) && found(Command::new("java").arg("-version"));
    if !has {
        not_checked("PySpark; it needs Java and `pip install -r examples/chain/requirements.txt`");
    }
    has
}

#[test]
fn one_process_many_and_a_cluster_come_to_the_same_bytes() {
    let (room, shops) = made();
    let list = room.path().join("list");
    std::fs::write(&list, run(Command::new("bash").arg(example("list.sh")).arg(&shops))).unwrap();
    let results = |name: &str| room.path().join(name);
    let audit = |python: &Path, script: &str, name: &str, more: &[&str]| -> Json {
        let mut command = Command::new(python);
        command.arg(example(script)).arg(&list).arg(results(name)).args(more);
        serde_json::from_str(run(&mut command).lines().last().unwrap()).unwrap()
    };
    let plain = Path::new("python3");
    let one = audit(plain, "audit_here.py", "one", &[]);
    assert_eq!(one["jobs"], SHOPS * JOBS);
    let two = audit(plain, "audit_here.py", "two", &["--processes", "2"]);
    assert_eq!(one["sha256"], two["sha256"]);
    let bytes = std::fs::read(results("one")).unwrap();
    assert!(bytes == std::fs::read(results("two")).unwrap());
    // A job that was changed comes to other bytes.
    let journal = shops.join("mill-lane/jobs/heron");
    let journal = std::fs::read_dir(&journal).unwrap().next().unwrap().unwrap().path().join("journal.jsonl");
    let text = std::fs::read_to_string(&journal).unwrap();
    std::fs::write(&journal, text.replacen("stood overnight", "stood overnighT", 1).replacen("\"bo\"", "\"ada\"", 1))
        .unwrap();
    let changed = audit(plain, "audit_here.py", "changed", &[]);
    assert_ne!(one["sha256"], changed["sha256"]);
    std::fs::write(&journal, text).unwrap();
    let Some(python) = python() else { return };
    if !has_spark(&python) {
        return;
    }
    let cluster = audit(&python, "audit_on_spark.py", "cluster", &["--parts", "8"]);
    assert_eq!((&cluster["sha256"], &cluster["jobs"]), (&one["sha256"], &one["jobs"]));
}

/// By archives whose truth is known; both engines, where Spark is at hand.
#[test]
fn questions_find_what_was_put_in_and_nothing_else() {
    let Some(python) = python() else { return };
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/archive/questions.py");
    let mut questions = Command::new(&python);
    questions.arg(script);
    let spark = std::env::var_os("STANDPIPE_SPARK").is_some() && has_spark(&python);
    let said = run(questions.args(spark.then_some("--spark")));
    assert!(said.contains("what was put in is found, and what was not is not"), "{said}");
    if !spark {
        not_checked("whether Spark SQL comes to the rows of DuckDB; STANDPIPE_SPARK=1 does, and takes minutes");
    }
}

/// The tables that the program writes have what the questions ask for.
#[cfg(feature = "archive")]
#[test]
fn questions_are_answered_of_an_archive_and_never_of_simulated_jobs_among_real_ones() {
    let Some(python) = python() else { return };
    let (room, shops) = made();
    let into = room.path().join("archive");
    for shop in ["dock-road", "mill-lane"] {
        let mut archive = Command::new(assert_cmd::cargo::cargo_bin("standpipe"));
        archive.arg("archive").arg(shops.join(shop).join("jobs")).arg("--into").arg(&into);
        run(archive.arg("--shop").arg(shops.join(shop).join("shop.yaml")));
    }
    let ask = |more: &[&str]| -> Vec<(String, usize)> {
        let said = run(Command::new(&python).arg(example("ask.py")).arg(&into).arg("--json").args(more));
        let answers = said.lines().map(|line| serde_json::from_str::<Json>(line).unwrap());
        let count =
            |answer: Json| (answer["question"].as_str().unwrap().to_owned(), answer["rows"].as_array().unwrap().len());
        answers.map(count).collect()
    };
    let simulated = ask(&["--simulated"]);
    assert_eq!(simulated.len(), 6);
    let gates = simulated.iter().find(|(question, _)| question == "idle-gates").unwrap();
    assert!(gates.1 > 20, "{simulated:?}");
    assert!(ask(&[]).iter().all(|(_, rows)| *rows == 0));
}
