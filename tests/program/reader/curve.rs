//! The record shows the curve of the rows that readings were taken from, as long as they are what was kept.

use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;
use serde_json::Value;

use crate::reader::bench::{Bench, log};

fn answers(of: &str) -> String {
    ["+5 min", "+1 min"]
        .iter()
        .zip(["warm", "close"])
        .map(|(at, step)| format!("  - {{ step: {step}, at: \"{at}\", by: ann, {of} }}\n"))
        .collect()
}

fn told(bench: &Bench, format: &str) -> String {
    report(bench, format, 0)
}

/// Exit code 1: what it says does not hold.
fn report(bench: &Bench, format: &str, code: i32) -> String {
    let mut command = Command::cargo_bin("standpipe").unwrap();
    let output = command.args(["report", "--format", format]).arg(bench.path("j")).output().unwrap();
    assert_eq!(output.status.code(), Some(code));
    String::from_utf8(output.stdout).unwrap()
}

fn from_log(rows: &str) -> Bench {
    let bench = Bench::new(&answers("log: { file: rows.csv }"), rows);
    let mut command = Command::cargo_bin("standpipe").unwrap();
    command.arg("run").arg(bench.path("job.yaml")).arg("--answers").arg(bench.path("answers.yaml"));
    command.arg("--journal").arg(bench.path("j")).assert().success();
    bench
}

fn traces(bench: &Bench) -> Vec<Value> {
    traces_of(bench, 0)
}

fn traces_of(bench: &Bench, code: i32) -> Vec<Value> {
    let report: Value = serde_json::from_str(&report(bench, "json", code)).unwrap();
    report["record"]["pictures"][0]["drawn"]["course"]["traces"].as_array().unwrap().clone()
}

fn evidence(bench: &Bench) -> PathBuf {
    fs::read_dir(bench.path("j/evidence")).unwrap().next().unwrap().unwrap().path()
}

#[test]
fn the_log_of_an_answer_is_drawn_with_its_gap_and_its_figures() {
    // From 08:03:20 to 08:04:10 nothing was logged; the readings were taken at 08:05 and 08:06.
    let bench = from_log(&log(200..250));
    let traces = traces(&bench);
    assert_eq!(traces.len(), 1, "one log, of which two readings were taken");
    let trace = &traces[0];
    assert_eq!(
        (trace["rows"].as_u64(), trace["file"].as_str(), trace["of"].as_str()),
        (Some(275), Some("rows.csv"), Some("log"))
    );
    assert_eq!(trace["sha256"].as_str(), evidence(&bench).file_name().unwrap().to_str());
    assert_eq!(trace["drawn"], serde_json::json!(["2026-11-23T08:04:00+00:00", "2026-11-23T08:07:00+00:00"]));
    // By hand: 33 °C and 1 °C a minute, in steps of 0.1; open from 08:04:10, so 37.2 to 40.
    assert_eq!((trace["lowest"]["value"].as_f64(), trace["highest"]["value"].as_f64()), (Some(37.2), Some(40.0)));
    assert_eq!(trace["at_events"][0]["shown"], "39 °C");
    assert_eq!(trace["inside"]["seconds"], 170.0);
    let gap = serde_json::json!(["2026-11-23T08:03:18+00:00", "2026-11-23T08:04:10+00:00"]);
    assert_eq!((&trace["gaps"]["count"], &trace["gaps"]["longest"]), (&1.into(), &gap), "{trace:#}");
    let text = told(&bench, "human").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("WHAT WAS LOGGED") && text.contains("275 readings from 08:00:00 to 08:09:58"), "{text}");
    let page = told(&bench, "html");
    assert_eq!(page.matches("class=\"trace\"").count(), 1);
}

#[test]
fn a_gap_within_the_picture_breaks_the_line_and_is_said() {
    // From 08:05:10 to 08:05:40, between the two readings.
    let bench = from_log(&log(310..340));
    let trace = &traces(&bench)[0];
    assert_eq!(trace["lines"].as_array().unwrap().len(), 2);
    assert_eq!(trace["gaps"]["longest"], serde_json::json!(["2026-11-23T08:05:08+00:00", "2026-11-23T08:05:40+00:00"]));
    assert_eq!(trace["gaps"]["seconds"], 32.0);
    let inside = trace["inside"]["seconds"].as_f64().unwrap();
    assert!((inside - (180.0 - 32.0)).abs() < 1e-6, "what lies in the gap is not inside: {inside}");
    let page = told(&bench, "html");
    assert_eq!((page.matches("class=\"trace\"").count(), page.matches("class=\"gap\"").count()), (2, 1));
    assert!(page.contains("1 gap longer than 10 s, from 08:05:08 to 08:05:40: nothing is known of that time."));
}

#[test]
fn evidence_that_is_gone_or_changed_is_never_drawn() {
    let bench = from_log(&log(0..0));
    let kept = evidence(&bench);
    let text = fs::read_to_string(&kept).unwrap();
    fs::write(&kept, text.replace("08:05:30;38,5", "08:05:30;43,5")).unwrap();
    for (words, then) in [("it was changed", true), ("it is gone", false)] {
        let trace = &traces_of(&bench, 1)[0];
        assert!(trace["not_drawn"].as_str().unwrap().contains(words), "{trace:#}");
        assert_eq!((trace["lines"].as_array().unwrap().len(), &trace["lowest"]), (0, &Value::Null));
        let page = report(&bench, "html", 1);
        assert!(!page.contains("class=\"trace") && page.contains("not drawn, it proves nothing"));
        assert!(report(&bench, "human", 1).contains("not drawn"));
        if then {
            fs::remove_file(&kept).unwrap();
        }
    }
}

#[test]
fn rows_of_a_reader_are_drawn_by_the_clock_of_the_job() {
    let counted: String = (0..300u32).map(|row| format!("{},{:.1}\n", row * 2, 33.0 + f64::from(row) / 30.0)).collect();
    for rows in [log(0..0), format!("Elapsed [s],Warmth [°C]\n{counted}")] {
        let bench = Bench::new(&answers("enter: reader"), &rows);
        assert_eq!(bench.run("j"), (0, String::new()));
        let trace = &traces(&bench)[0];
        assert_eq!((trace["of"].as_str(), trace["not_drawn"].as_str()), (Some("reader"), None), "{trace:#}");
        assert_eq!(trace["at_events"][0]["shown"], "39 °C", "{trace:#}");
        assert_eq!(trace["zero"].as_str().unwrap()[..10], *"2026-11-23", "{trace:#}");
    }
}
