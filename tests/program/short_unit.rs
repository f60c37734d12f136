//! A unit that came in short of fluid: its empty pan needs the first fill all the same, and a short fill never passes.

use std::path::PathBuf;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

use crate::folders::copy;

fn examples() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples")
}

/// The van's answers with some of them changed; how the run ends, its events, and what it says.
fn run(changes: &[(&str, &str)]) -> (i32, Vec<Value>, String) {
    let folder = TempDir::new().unwrap();
    let answers = examples().join("answers/heron-van.yaml");
    let changed = folder.path().join("answers/heron-van.yaml");
    let text = changes.iter().fold(std::fs::read_to_string(&answers).unwrap(), |text, (was, is)| {
        assert!(text.contains(was), "the answers have no `{was}`");
        text.replace(was, is)
    });
    // Evidence is named relative to the answers.
    copy(&examples(), folder.path());
    std::fs::write(&changed, text).unwrap();
    let journal = folder.path().join("journal");
    let output = Command::cargo_bin("standpipe")
        .unwrap()
        .arg("run")
        .arg(examples().join("jobs/heron-van.yaml"))
        .arg("--answers")
        .arg(&changed)
        .arg("--journal")
        .arg(&journal)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned() + &*String::from_utf8_lossy(&output.stderr);
    let lines = std::fs::read_to_string(journal.join("journal.jsonl")).unwrap();
    (output.status.code().unwrap(), lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect(), said)
}

#[test]
fn far_less_than_belongs_in_is_a_stop_for_the_foreman_and_the_first_fill_is_that_of_the_data() {
    let (code, events, said) = run(&[("gross: 5.41 kg", "gross: 2.40 kg")]);
    assert_ne!(code, 0, "{said}");
    assert!(!said.contains("\nSHOWN"), "{said}");
    let of_step = |kind: &str| {
        events.iter().find(|event| event["event"] == kind && event["address"] == "fill-to-expect").cloned().unwrap()
    };
    let expected = &of_step("computed")["value"]["record"];
    let litres = |value: &Value| value["quantity"]["si"].as_f64().unwrap() * 1000.0;
    assert!((litres(&expected["first"]) - 3.0).abs() < 1e-9, "{expected}");
    assert_eq!(of_step("judged")["verdict"], "not met");
    assert!(!events.iter().any(|event| event["event"] == "finished"), "{said}");
}
