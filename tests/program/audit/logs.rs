//! A log of readings that a job kept: on its record, and judged again by an audit.

use std::fs;
use std::path::Path;

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::audit::bench::{audit, example, forge, point, root, standpipe, with_texts};

fn keep(folder: &Path, log: &str) -> Option<i32> {
    let output = standpipe()
        .args(["log", "--keep", "--by", "jo", "--at", "2026-11-25T09:00:00", "--job"])
        .arg(folder)
        .args(["--event", "started=08:16:00", "--event", "opened=08:26:40", "--event", "closed=08:28:40"])
        .arg(root().join("examples/logs").join(log))
        .output()
        .unwrap();
    output.status.code()
}

fn report(folder: &Path) -> Json {
    let output = standpipe().args(["report", "--format", "json"]).arg(folder).output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn a_log_that_was_kept_stands_on_the_record_and_comes_out_the_same() {
    let folder = TempDir::new().unwrap();
    example("heron-taxi", folder.path());
    assert_eq!(keep(folder.path(), "preamble.csv"), Some(3), "one of its checks is not shown");
    let record = report(folder.path());
    let log = &record["record"]["logs"][0];
    assert_eq!(log["evidence"]["name"], "preamble.csv");
    let copy = folder.path().join("evidence").join(log["evidence"]["sha256"].as_str().unwrap());
    assert_eq!(fs::read(copy).unwrap(), fs::read(root().join("examples/logs/preamble.csv")).unwrap());
    let held = log["verdicts"].as_array().unwrap().iter().find(|one| one["check"] == "window-while-open").unwrap();
    assert_eq!(held["verdict"], "met");
    let (_, journals) = audit(folder.path(), &[]);
    assert_eq!(point(&journals[0], "logs")["verdict"], "holds");
    assert_eq!(point(&journals[0], "logs")["looked_at"], 1);
    assert_eq!(point(&journals[0], "evidence")["verdict"], "holds");
}

#[test]
fn a_verdict_that_was_written_otherwise_is_found() {
    let folder = TempDir::new().unwrap();
    example("heron-taxi", folder.path());
    assert_eq!(keep(folder.path(), "hurried.csv"), Some(1));
    forge(folder.path(), |_, line| {
        let closed = "opening was open\",\"verdict\":\"not met\"";
        line.replace(closed, &closed.replace("not met", "met"))
    });
    let (code, journals) = audit(folder.path(), &[]);
    assert_eq!(code, 1);
    assert_eq!(point(&journals[0], "chain of hashes")["verdict"], "holds");
    let found = point(&journals[0], "logs");
    assert_eq!(found["verdict"], "does not hold", "{found}");
    assert!(found.to_string().contains("was written down as met and comes to not met"), "{found}");
}

#[test]
fn a_log_whose_bytes_were_changed_is_found() {
    let folder = TempDir::new().unwrap();
    example("heron-taxi", folder.path());
    keep(folder.path(), "preamble.csv");
    let record = report(folder.path());
    let name = record["record"]["logs"][0]["evidence"]["sha256"].as_str().unwrap().to_owned();
    let copy = folder.path().join("evidence").join(name);
    let text = fs::read_to_string(&copy).unwrap().replace("41,", "51,");
    fs::remove_file(&copy).unwrap();
    fs::write(&copy, text).unwrap();
    let (_, journals) = audit(folder.path(), &[]);
    assert_eq!(point(&journals[0], "evidence")["verdict"], "does not hold");
    assert_eq!(point(&journals[0], "logs")["verdict"], "does not hold");
}

#[test]
fn a_closed_job_keeps_no_more() {
    let folder = TempDir::new().unwrap();
    example("plover-pickup", folder.path());
    let before = fs::read(folder.path().join("journal.jsonl")).unwrap();
    assert_eq!(keep(folder.path(), "preamble.csv"), Some(2));
    assert_eq!(fs::read(folder.path().join("journal.jsonl")).unwrap(), before);
    let record = report(folder.path());
    assert_eq!(record["record"]["logs"], serde_json::json!([]));
}

#[test]
fn a_log_is_kept_by_a_job_whose_plan_describes_none_and_judged_again_with_what_was_kept() {
    let folder = TempDir::new().unwrap();
    example("heron-taxi", folder.path());
    // A plan of before there were logs: it has no such file, and everything else holds.
    with_texts(folder.path(), |texts| {
        let mut list: Vec<Json> = serde_json::from_str(&texts).unwrap();
        let before = list.len();
        list.retain(|file| !file["path"].as_str().unwrap().starts_with("logs/"));
        assert_eq!(list.len() + 1, before);
        serde_json::to_string(&list).unwrap()
    });
    assert_eq!(keep(folder.path(), "preamble.csv"), Some(3));
    let log = report(folder.path())["record"]["logs"][0].clone();
    assert_eq!(log["description"]["name"], "level-log.yaml");
    let text = folder.path().join("evidence").join(log["description"]["sha256"].as_str().unwrap());
    let shipped = root().join("plugins/automatic-transmissions/logs/level-log.yaml");
    assert_eq!(fs::read(&text).unwrap(), fs::read(shipped).unwrap());
    let (_, journals) = audit(folder.path(), &[]);
    for name in ["chain of hashes", "plan", "decisions", "logs", "evidence"] {
        assert_eq!(point(&journals[0], name)["verdict"], "holds", "{}", journals[0]);
    }
    // The description is evidence as the log is.
    let changed = fs::read_to_string(&text).unwrap().replace("gap: 3 s", "gap: 300 s");
    fs::write(&text, changed).unwrap();
    let (_, journals) = audit(folder.path(), &[]);
    assert_eq!(point(&journals[0], "evidence")["verdict"], "does not hold");
}
