//! A stream lies in its job once, however many entries take a reading, and each entry proves what it saw.

use std::fs;

use assert_cmd::Command;
use serde_json::Value;

use crate::reader::bench::{Bench, log};

fn audit(bench: &Bench, journal: &str) -> (i32, Value) {
    let output = Command::cargo_bin("standpipe")
        .unwrap()
        .args(["audit", "--format", "json"])
        .arg(bench.path(journal))
        .output()
        .unwrap();
    (output.status.code().unwrap(), serde_json::from_slice(&output.stdout).unwrap())
}

pub fn point<'a>(audited: &'a Value, name: &str) -> &'a Value {
    let points = audited["journals"][0]["points"].as_array().unwrap();
    points.iter().find(|point| point["point"] == name).unwrap_or_else(|| panic!("{name}: {audited:#}"))
}

/// Changes lines of the journal, with sums and a chain that hold.
fn forged(bench: &Bench, journal: &str, change: impl Fn(&str) -> String) {
    use sha2::{Digest, Sha256};
    let sum = |bytes: &[u8]| format!("{:x}", Sha256::digest(bytes));
    let path = bench.path(journal).join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    let mut before = sum(&fs::read(bench.path(journal).join("plan.json")).unwrap());
    let mut lines = String::new();
    for line in text.lines() {
        let body = change(&line[..line.rfind(",\"sum\":\"").unwrap()]);
        let start = "{\"prev\":\"".len();
        let body = format!("{}{before}{}", &body[..start], &body[start + 64..]);
        let line = format!("{body},\"sum\":\"{}\"}}", sum(body.as_bytes()));
        before = sum(line.as_bytes());
        lines.push_str(&line);
        lines.push('\n');
    }
    assert_ne!(lines, text, "nothing was changed");
    fs::write(path, lines).unwrap();
}

/// Twenty readings while it is too cold, and one that counts.
fn often() -> String {
    let cold = "  - { step: warm, at: \"+5 s\", by: ann, enter: reader }\n".repeat(20);
    format!("{cold}  - {{ step: warm, at: \"+2 min\", by: ann, enter: reader }}\n")
        + "  - { step: close, at: \"+1 min\", by: ann, enter: reader }\n"
}

#[test]
fn a_job_with_many_readings_holds_its_stream_once() {
    let rows = log(0..0);
    let bench = Bench::new(&often(), &rows);
    assert_eq!(bench.run("j"), (0, String::new()));
    let taken = bench.events("j").into_iter().filter(|event| event["event"] == "entered");
    let taken: Vec<Value> = taken.collect();
    assert_eq!(taken.len(), 22);
    assert!(taken.iter().all(|event| event["read"]["rows"]["of"]["file"] == "rows-0.csv"));
    let streams: Vec<_> = fs::read_dir(bench.path("j/stream")).unwrap().collect();
    assert_eq!(streams.len(), 1);
    assert!(!bench.path("j/evidence").exists(), "no copy of it");
    let kept = fs::read(bench.path("j/stream/rows-0.csv")).unwrap();
    assert_eq!(kept, rows.as_bytes());
    let (code, audited) = audit(&bench, "j");
    assert_eq!(point(&audited, "readings")["verdict"], "holds", "{audited:#}");
    assert_eq!(point(&audited, "readings")["looked_at"], 22);
    assert_eq!((point(&audited, "evidence")["verdict"].as_str(), code != 2), (Some("holds"), true));
}

#[test]
fn what_an_entry_saw_is_proved_by_the_rows_and_by_nothing_else() {
    let bench = Bench::new(&often(), &log(0..0));
    assert_eq!(bench.run("j").0, 0);
    // Another value, in the values and as typed: every hash of the chain is right.
    forged(&bench, "j", |line| match line.contains("\"event\":\"entered\",\"address\":\"close\"") {
        true => line.replace("37.7", "37.9"),
        false => line.to_owned(),
    });
    let (code, audited) = audit(&bench, "j");
    assert_eq!(code, 1);
    let found = point(&audited, "readings");
    assert_eq!(found["verdict"], "does not hold", "{found:#}");
    assert!(found.to_string().contains("the rows show 37.7 °C, but 37.9 °C was entered"), "{found:#}");
}

#[test]
fn rows_that_were_changed_or_cut_off_are_found_and_rows_that_came_later_are_no_fault() {
    let bench = Bench::new(&often(), &log(0..0));
    assert_eq!(bench.run("j").0, 0);
    let path = bench.path("j/stream/rows-0.csv");
    let rows = fs::read_to_string(&path).unwrap();
    let cases = [
        (rows.clone() + "08:30:00;61,0\n", "holds"),
        (rows.replace("37,7", "37,6"), "does not hold"),
        (rows[..rows.len() / 2].to_owned(), "does not hold"),
    ];
    for (changed, verdict) in cases {
        fs::write(&path, changed).unwrap();
        let (_, audited) = audit(&bench, "j");
        assert_eq!(point(&audited, "evidence")["verdict"], verdict);
    }
}
