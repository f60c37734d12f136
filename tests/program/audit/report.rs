//! What a record says at its top is looked at again whenever it is drawn.

use std::fs;
use std::path::Path;

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::audit::bench::{audit, example, forge, point, root, standpipe, with_texts};

fn report(folder: &Path, format: &str) -> (Option<i32>, String) {
    let output = standpipe().args(["report", "--format", format]).arg(folder).output().unwrap();
    (output.status.code(), String::from_utf8(output.stdout).unwrap())
}

/// Is anything told as shown, and does the top say that the record does not hold, in every format?
fn is_refused(folder: &Path, says: &str) {
    let (code, text) = report(folder, "human");
    let top: Vec<&str> = text.lines().take(16).collect();
    assert_eq!(code, Some(1), "{text}");
    assert!(top.join(" ").contains(says), "{top:#?}");
    assert!(!text.lines().any(|line| line.starts_with("SHOWN:")), "{text}");
    let (code, page) = report(folder, "html");
    assert!(code == Some(1) && page.contains(says) && !page.contains(">SHOWN</span>"), "{page}");
    let (code, json) = report(folder, "json");
    let json: Json = serde_json::from_str(&json).unwrap();
    assert_eq!((code, &json["ok"]), (Some(1), &false.into()));
    assert_eq!(json["record"]["checked"]["verdict"], "does not hold");
    assert!(!json["record"]["blocks"].to_string().contains("\"word\":\"shown\""), "{json}");
    let (code, table) = report(folder, "csv");
    assert!(code == Some(1) && table.contains(",does not hold,"), "{table}");
}

#[test]
fn nothing_is_shown_over_a_fault() {
    let sound = TempDir::new().unwrap();
    example("heron-van", sound.path());
    let (code, text) = report(sound.path(), "human");
    assert!(code == Some(0) && text.contains("Checked: what this record says holds."), "{text}");
    assert!(text.lines().any(|line| line.starts_with("SHOWN:")), "else nothing could be taken back: {text}");
    const SAYS: &str = "THIS RECORD DOES NOT HOLD";
    // Decided otherwise, with all hashes made anew.
    let folder = TempDir::new().unwrap();
    example("heron-van", folder.path());
    forge(folder.path(), |_, line| line.replacen("\"value\":720.0", "\"value\":730.0", 1));
    is_refused(folder.path(), SAYS);
    // A photo that is gone.
    let folder = TempDir::new().unwrap();
    example("heron-van", folder.path());
    let photo = fs::read_dir(folder.path().join("evidence")).unwrap().next().unwrap().unwrap().path();
    fs::remove_file(photo).unwrap();
    is_refused(folder.path(), SAYS);
    // A byte of the chain.
    let folder = TempDir::new().unwrap();
    example("heron-van", folder.path());
    let path = folder.path().join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replacen("\"value\":720.0", "\"value\":730.0", 1)).unwrap();
    is_refused(folder.path(), SAYS);
}

#[test]
fn a_plan_with_other_texts_under_the_same_version_is_said_and_not_shown() {
    let folder = TempDir::new().unwrap();
    example("heron-van", folder.path());
    // Nothing is decided by it, so nothing else would tell.
    with_texts(folder.path(), |texts| texts.replacen("title: Heron, six-speed", "title: Heron, eight-speed", 1));
    let (_, journals) = audit(folder.path(), &[]);
    let texts = point(&journals[0], "texts of the plan");
    assert_eq!((&journals[0]["verdict"], &texts["verdict"]), (&"not shown".into(), &"not shown".into()), "{texts}");
    assert!(texts.to_string().contains("families/heron.yaml"), "{texts}");
    let (_, text) = report(folder.path(), "human");
    assert!(!text.lines().any(|line| line.starts_with("SHOWN:")), "{text}");
    let job = root().join("examples/jobs/heron-van.yaml");
    for resumed in [folder.path(), &job] {
        let answers = root().join("examples/answers/heron-van.yaml");
        let mut command = standpipe();
        command.arg("run").arg(resumed).arg("--answers").arg(answers);
        if resumed == job {
            command.arg("--journal").arg(folder.path());
        }
        let said = String::from_utf8(command.output().unwrap().stderr).unwrap();
        assert!(said.contains("families/heron.yaml") && said.contains("differs from the text at hand"), "{said}");
    }
}
