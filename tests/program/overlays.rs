//! The example shop's overlay, as card, record and `show` tell of it.

use std::path::PathBuf;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn output(args: &[&str]) -> String {
    let output = Command::cargo_bin("standpipe").unwrap().current_dir(root()).args(args).output().unwrap();
    String::from_utf8(output.stdout).unwrap()
}

fn json(args: &[&str]) -> Value {
    let text = output(&[args, &["--format", "json"]].concat());
    serde_json::from_str(&text).unwrap_or_else(|fault| panic!("{fault}\n{text}"))
}

/// The changes in a card or a record: what was done to what.
fn changes(list: &Value) -> Vec<(String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    list.as_array().unwrap().iter().map(|change| (text(&change["of"]), text(&change["what"]))).collect()
}

const ALL: &[(&str, &str)] = &[
    ("wiped-dry", "added"),
    ("cool-enough-to-open", "gate"),
    ("pan-clean", "text"),
    ("gasket-on", "evidence"),
    ("cold-enough-to-start", "gate"),
    ("road-test-after", "text"),
    ("road-test-before", "left-out"),
    ("interval.distance", "value"),
];

#[test]
fn card_and_record_mark_what_the_overlay_changed() {
    let all: Vec<(String, String)> = ALL.iter().map(|(of, what)| ((*of).to_owned(), (*what).to_owned())).collect();
    let card = json(&["card", "examples/jobs/plover-pickup.yaml"]);
    assert_eq!(changes(&card["card"]["changed"]), all);
    let steps = card["card"]["steps"].as_array().unwrap();
    let marked: Vec<&str> =
        steps.iter().filter(|step| step.get("changed").is_some()).map(|step| step["id"].as_str().unwrap()).collect();
    let of_steps = ALL.iter().filter(|(_, what)| !matches!(*what, "left-out" | "value")).map(|(of, _)| *of);
    assert_eq!(marked, of_steps.collect::<Vec<_>>());

    let folder = TempDir::new().unwrap();
    let journal = folder.path().join("journal").display().to_string();
    let answers = "examples/answers/plover-pickup.yaml";
    output(&["run", "examples/jobs/plover-pickup.yaml", "--answers", answers, "--journal", &journal]);
    let record = json(&["report", &journal]);
    assert_eq!(changes(&record["record"]["changed"]), all);
    let text = output(&["report", &journal]);
    assert!(text.contains("road-test-before: left out, It is to stay cold."), "{text}");
    assert!(text.contains("interval.distance: value set to 40000..70000 km"), "{text}");
}

#[test]
fn another_family_keeps_its_values() {
    let card = json(&["card", "examples/jobs/heron-van.yaml"]);
    assert!(changes(&card["card"]["changed"]).iter().all(|(_, what)| what != "value"));
}

#[test]
fn show_gives_the_merged_procedure_with_the_place_of_every_piece() {
    let shop = ["--shop", "examples/workshop/shop.yaml"];
    let text = output(&[&["show", "procedure", "make-safe", "--places"][..], &shop].concat());
    for line in [
        "wiped-dry  do: A leak seen afterwards is then a new one.   ferry-lane/overlays/ferry-lane-ways.yaml:",
        "must sump_temperature < 45.degC   automatic-transmissions/procedures/make-safe.yaml:",
        "and must sump_temperature <= 44.degC   ferry-lane/overlays/ferry-lane-ways.yaml:",
    ] {
        assert!(text.contains(line), "`{line}` is not in\n{text}");
    }
    // In the whole procedure as well, where it is done, with what is left out.
    let whole = output(&[&["show", "procedure", "pan-service-overflow", "--places"][..], &shop].concat());
    let at = |what: &str| whole.find(what).unwrap_or_else(|| panic!("no `{what}` in\n{whole}"));
    assert!(at("make-safe-section") < at("  wiped-dry  do") && at("  wiped-dry  do") < at("drain-section"));
    assert!(at("finish-section") > at("  road-test-before  is left out"), "{whole}");
    // Without the shop it is as its plugin has it.
    assert!(!output(&["show", "procedure", "make-safe", "--places"]).contains("wiped-dry"));
    let text = output(&[&["show", "procedure", "intake"][..], &shop].concat());
    assert!(text.contains("road-test-before  is left out"), "{text}");
    let text = output(&[&["show", "family", "plover", "--places"][..], &shop].concat());
    assert!(text.contains("40000..70000 km"), "{text}");
}
