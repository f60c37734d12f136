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

fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

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
        "wiped-dry (do) ferry-lane/overlays/ferry-lane-ways.yaml:",
        "A leak seen afterwards is then a new one.",
        "must sump_temperature < 45.degC automatic-transmissions/procedures/make-safe.yaml:",
        "and must sump_temperature <= 44.degC ferry-lane/overlays/ferry-lane-ways.yaml:",
    ] {
        assert!(flowing(&text).contains(line), "`{line}` is not in\n{text}");
    }
    // In the whole procedure as well, where it is done, with what is left out.
    let whole = output(&[&["show", "procedure", "pan-service-overflow", "--places"][..], &shop].concat());
    let at = |what: &str| whole.find(what).unwrap_or_else(|| panic!("no `{what}` in\n{whole}"));
    assert!(at("make-safe-section") < at("  wiped-dry  (do)") && at("  wiped-dry  (do)") < at("drain-section"));
    assert!(whole.contains("road-test-before  is left out"), "{whole}");
    // Without the shop it is as its plugin has it.
    assert!(!output(&["show", "procedure", "make-safe", "--places"]).contains("wiped-dry"));
    let text = output(&[&["show", "procedure", "intake"][..], &shop].concat());
    assert!(text.contains("road-test-before  is left out"), "{text}");
    let text = output(&[&["show", "family", "plover", "--places"][..], &shop].concat());
    assert!(text.contains("40000..70000 km"), "{text}");
}

#[test]
fn a_procedure_is_shown_as_work() {
    let show = ["show", "procedure", "pan-service-overflow"];
    let text = output(&show);
    let wide: Vec<&str> = text.lines().filter(|line| line.chars().count() > 80).collect();
    assert!(wide.is_empty(), "{wide:#?}");
    let all = flowing(&text);
    for words in [
        // A gate with its limit for each family, what it reads, and who gives that.
        "reads sump_temperature (here) gives sump_temperature, temperature by temperature-reader must sump_temperature <",
        "level.start_below: 41 °C for heron/short-pan, heron/deep-pan; 34 °C for plover",
        // What is read further on names the step that gave it, and no other.
        "only if stood == \"driven in\" reads stood (how-it-stood)",
        "on-locks (pick) witness, GATE, kept",
        "! Nobody under a vehicle that hangs on hydraulics.",
    ] {
        assert!(all.contains(words), "`{words}` is not in\n{text}");
    }
    // Only one family: what others say is gone, and so is what they alone are taken through.
    let plover = output(&[&show[..], &["--family", "plover"]].concat());
    assert!(!plover.contains("heron") && plover.contains("34 °C for plover"), "{plover}");
    let way = json(&[&show[..], &["--family", "plover"]].concat());
    let around = way["families"][0]["around"].as_array().unwrap();
    assert!(around.iter().any(|step| step == "insert-in"), "{around:?}");
    let page = output(&[&show[..], &["--format", "html"]].concat());
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<a href=\"#how-it-stood\">"));
    let yaml: Value = serde_yaml::from_str(&output(&[&show[..], &["--format", "yaml"]].concat())).unwrap();
    assert_eq!(yaml["steps"], json(&show)["steps"]);
    // Nothing else has a page, and an unknown family is told.
    let code = |args: &[&str]| {
        Command::cargo_bin("standpipe").unwrap().current_dir(root()).args(args).output().unwrap().status.code()
    };
    assert_eq!(code(&["show", "family", "plover", "--format", "html"]), Some(2));
    assert_eq!(code(&[&show[..], &["--family", "plovr"]].concat()), Some(2));
}
