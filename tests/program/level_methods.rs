//! The other ways to set a level, and another form: all of it plugins, run from answers.

use std::path::PathBuf;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

/// Runs an example from its answers; its events.
fn events(name: &str) -> Vec<Value> {
    let examples = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples");
    let folder = TempDir::new().unwrap();
    let journal = folder.path().join("journal");
    let output = Command::cargo_bin("standpipe")
        .unwrap()
        .arg("run")
        .arg(examples.join(format!("jobs/{name}.yaml")))
        .arg("--answers")
        .arg(examples.join(format!("answers/{name}.yaml")))
        .arg("--journal")
        .arg(&journal)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{name}: {}", String::from_utf8_lossy(&output.stderr));
    let text = std::fs::read_to_string(journal.join("journal.jsonl")).unwrap();
    let events: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(of(&events, "finished").len(), 1, "{name}");
    events
}

fn of<'a>(events: &'a [Value], kind: &str) -> Vec<&'a Value> {
    events.iter().filter(|event| event["event"] == kind).collect()
}

/// Verdicts of a step in order.
fn verdicts<'a>(events: &'a [Value], step: &str) -> Vec<&'a str> {
    let judged = of(events, "judged").into_iter().filter(|event| begins(event, step));
    judged.map(|event| event["verdict"].as_str().unwrap()).collect()
}

fn entries(events: &[Value], step: &str) -> usize {
    of(events, "entered").into_iter().filter(|event| begins(event, step)).count()
}

fn begins(event: &Value, step: &str) -> bool {
    event["address"].as_str().is_some_and(|address| address == step || address.starts_with(&format!("{step}[")))
}

#[test]
fn a_card_without_a_job_is_headed_with_family_and_procedure() {
    let card = |format: &str| {
        let args = ["card", "ruff", "--procedure", "fluid-change", "--format", format];
        let output = Command::cargo_bin("standpipe").unwrap().args(args).output().unwrap();
        assert_eq!(output.status.code(), Some(0));
        String::from_utf8(output.stdout).unwrap()
    };
    assert!(card("human").starts_with("CARD OF FAMILY ruff, PROCEDURE fluid-change "));
    assert!(card("html").contains("<h1>Card of family ruff</h1>"));
    let json: Value = serde_json::from_str(&card("json")).unwrap();
    assert_eq!(json["card"]["job"], Value::Null);
}

#[test]
fn a_plug_in_the_side_is_looked_at_until_it_stands_at_the_edge() {
    let events = events("dunlin-hatch");
    assert_eq!(entries(&events, "side-fill-look"), 3);
    assert_eq!(entries(&events, "change-start"), 0, "the engine stays off");
}

#[test]
fn cold_marks_never_settle_the_level_and_two_readings_have_to_agree() {
    let events = events("curlew-coach");
    assert_eq!(verdicts(&events, "marked-hot-look"), ["not met", "met", "met"]);
    assert_eq!(entries(&events, "marked-top-up"), 1);
    assert_eq!(entries(&events, "change-plug-tight"), 0);
}

#[test]
fn a_service_dipstick_is_read_between_the_lines_of_its_table() {
    let events = events("avocet-saloon");
    let limits: Vec<(f64, f64)> = of(&events, "computed")
        .into_iter()
        .filter(|event| event["gives"] == "stick_limits")
        .map(|event| {
            let end = |name: &str| event["value"].pointer(&format!("/record/{name}/quantity/si")).unwrap().as_f64();
            (end("low").unwrap(), end("high").unwrap())
        })
        .collect();
    // By hand: 46 degC lies 6/15 of the way from 16 to 23 mm and from 23 to 31 mm; 52 degC 12/15; 55 degC is a line.
    let by_hand = [(0.0188, 0.0262), (0.0216, 0.0294), (0.023, 0.031)];
    assert_eq!(limits.len(), by_hand.len());
    for (found, expected) in limits.iter().zip(by_hand) {
        assert!((found.0 - expected.0).abs() < 1e-12 && (found.1 - expected.1).abs() < 1e-12, "{found:?}");
    }
    assert_eq!((entries(&events, "stick-top-up"), entries(&events, "stick-draw-off")), (1, 1));
}

#[test]
fn a_measured_quantity_is_seen_by_two() {
    let events = events("knot-electric");
    let rest: Vec<_> = of(&events, "entered").into_iter().filter(|event| begins(event, "measured-rest")).collect();
    assert_eq!(rest.len(), 2);
    assert!(rest.iter().all(|event| event["witness"]["by"] == "jo"), "{rest:?}");
}

#[test]
fn a_low_window_that_was_passed_starts_cold_again() {
    let events = events("ruff-roadster");
    assert_eq!(verdicts(&events, "check-cold-again"), ["met", "not met", "met", "met"]);
    assert_eq!(entries(&events, "check-start-again"), 1);
    assert_eq!(of(&events, "round-ended").len(), 1);
}

#[test]
fn another_trade_is_a_form_a_family_and_a_procedure() {
    let events = events("gannet-forester");
    assert_eq!(of(&events, "recognised")[0]["variant"], "square-plug");
    assert_eq!(verdicts(&events, "tc-fill-tight"), ["not met", "met"], "each variant has its own figure");
}
