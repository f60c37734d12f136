//! `standpipe test`: the cases of what is shipped hold, and a case that does not hold says so in every format.

// A test says by failing what was wrong.
use std::fs;
use std::path::Path;
use std::process::Output;

use assert_cmd::Command;
use serde_json::Value as Json;
use tempfile::TempDir;

const SHEET: &str = "
sheet: middle-of
title: The middle of two temperatures
script: pottery::middle_of
sources:
  - arithmetic
inputs:
  low:  { is: temperature, at_least: -200 degC }
  high: { is: temperature }
outputs:
  middle: { is: temperature, unit: degC }
  mean_of: { is: list of count }
";

const SCRIPT: &str = "
/// The middle of two temperatures.
fn middle_of(inputs) {
    #{ middle: mean([inputs.low, inputs.high]), mean_of: [1, 2] }
}
";

const PROCEDURE: &str = "
procedure: fire
form: kiln
title: Fire the kiln
steps:
  - id: rounds
    repeat: { until: warmth < 30.degC, at_most: 3, otherwise: stop }
    steps:
      - id: warm
        read: { warmth: { is: temperature } }
  - id: look
    pick: { colour: [red, white] }
    gate: { must: 'colour == \"white\"', otherwise: stop }
  - id: twice
    compute: { value: 'warmth + 1.degC_diff', gives: warmer }
  - id: never
    when: colour == \"red\"
    do: Wait.
";

const FORM: &str = "
form: kiln
title: A kiln
fields: { shelves: { is: count } }
job: { customer.name: { is: text } }
";

const FAMILY: &str = "
family: clay
form: kiln
invented: true
shelves: 4
sources: [{ covers: all, from: invented for the tests }]
";

const JOB: &str = "
job: K1
family: clay
procedure: fire
shop: yard.yaml
customer: { name: X }
";

const YARD: &str = "
shop: yard
people: { ann: { name: Ann } }
";

const ANSWERS: &str = "
answers: first
list:
  - { step: warm, at: \"2026-03-01T08:00:00\", by: ann, enter: { warmth: 40 degC } }
  - { step: warm, at: \"+1 min\", by: ann, enter: { warmth: 20 degC } }
  - { step: look, at: \"+1 min\", by: ann, enter: white }
";

/// A plugin with these cases in it.
fn plugin(cases: &[(&str, &str)]) -> TempDir {
    let folder = TempDir::new().unwrap();
    let write = |path: &str, text: &str| {
        let path = folder.path().join("pottery").join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text.trim_start()).unwrap();
    };
    write("plugin.yaml", "plugin: pottery\nversion: \"1.0.0\"\nplugins: [units]\n");
    write("sheets/middle-of.yaml", SHEET);
    write("scripts/pottery.rhai", SCRIPT);
    write("procedures/fire.yaml", PROCEDURE);
    write("forms/kiln.yaml", FORM);
    write("families/clay.yaml", FAMILY);
    for (name, text) in cases {
        write(&format!("cases/{name}"), text);
    }
    folder
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::cargo_bin("standpipe").unwrap().current_dir(folder).arg("test").args(arguments).output().unwrap()
}

fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

const WRONG: (&str, &str) = (
    "wrong.yaml",
    "case: wrong
sheet: middle-of
given: { low: 10 degC, high: 20 degC }
expect: { middle: 15.5 degC, mean_of: [1, 2], tolerance: 0.2 degC }
source: \"<our> own & wrong\"
",
);

const RIGHT: (&str, &str) = (
    "right.yaml",
    "case: right
sheet: middle-of
given: { low: 10 degC, high: 68 degF }
expect: { middle: 15.1 degC, tolerance: 0.2 degC }
source: arithmetic
",
);

const REFUSED: (&str, &str) = (
    "refused.yaml",
    "case: refused
sheet: middle-of
given: { low: -250 degC, high: 20 degC }
expect: { refused: true, code: input-beyond-limit }
source: arithmetic
",
);

#[test]
fn the_cases_of_what_is_shipped_hold_and_no_plugin_is_without() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    for arguments in [&["--strict"][..], &["plugins", "--strict"]] {
        let output = run(here, arguments);
        assert_eq!(output.status.code(), Some(0), "{}{}", text(&output), String::from_utf8_lossy(&output.stderr));
        assert!(text(&output).contains(" cases hold\n"), "{}", text(&output));
    }
}

#[test]
fn a_case_that_does_not_hold_shows_expected_found_difference_and_tolerance() {
    let folder = plugin(&[WRONG, RIGHT, REFUSED]);
    let output = run(folder.path(), &["pottery"]);
    assert_eq!(output.status.code(), Some(1));
    let text = text(&output);
    let line = text.lines().find(|line| line.contains("middle ")).unwrap();
    for part in ["! middle", "expected 15.5 °C", "found 15 °C", "off by -5.000e-1 °C", "allowed 0.2 degC"] {
        assert!(line.contains(part), "{part} in {line}");
    }
    assert!(text.contains("pottery/wrong does not hold: sheet middle-of, pottery/cases/wrong.yaml:1:7"), "{text}");
    assert!(text.contains("1 of 3 cases does not hold"), "{text}");
    assert!(!text.contains("pottery/right"), "{text}");
}

#[test]
fn a_filter_runs_a_part_and_says_how_many_it_left_out() {
    let folder = plugin(&[WRONG, RIGHT, REFUSED]);
    let output = run(folder.path(), &["pottery", "--filter", "pottery/r"]);
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(text(&output), "2 cases hold, 1 left out by the filter\n");
}

#[test]
fn programs_get_the_same_as_people() {
    let folder = plugin(&[WRONG, REFUSED]);
    let json: Json = serde_json::from_slice(&run(folder.path(), &["pottery", "--format", "json"]).stdout).unwrap();
    assert_eq!((&json["ok"], &json["passed"], &json["failed"]), (&false.into(), &1.into(), &1.into()));
    let wrong = json["cases"].as_array().unwrap().iter().find(|case| case["case"] == "wrong").unwrap();
    assert_eq!(wrong["lines"][0]["expected"], "15.5 °C");
    assert_eq!(wrong["lines"][1]["holds"], true);
    assert_eq!(json["coverage"]["sheets"]["reached"], 1);
    assert!(json["coverage"]["steps"]["missing"].as_array().unwrap().contains(&"look (fire)".into()));

    let output = run(folder.path(), &["pottery", "--format", "junit"]);
    let xml = text(&output);
    assert!(xml.contains("<testsuites name=\"standpipe\" tests=\"2\" failures=\"1\">"), "{xml}");
    assert!(xml.contains("<testcase name=\"refused\" classname=\"pottery.middle-of\"/>"), "{xml}");
    assert!(xml.contains("<failure message=\"pottery/cases/wrong.yaml:4:11: middle: expected 15.5 °C"), "{xml}");
    assert!(!xml.contains("<our>"));
}

#[test]
fn a_job_is_held_against_how_it_ends_its_rounds_verdicts_and_values() {
    let case = "case: fire
procedure: fire
job: job.yaml
answers: answers.yaml
expect:
  ends: finished
  rounds: { rounds: 2 }
  verdicts: { look: met }
  values: { warmth: 20 degC, warmer: 21 degC, colour: white }
source: arithmetic
";
    let folder = plugin(&[("fire.yaml", case), ("job.yaml", JOB), ("answers.yaml", ANSWERS), ("yard.yaml", YARD)]);
    let output = run(folder.path(), &["pottery", "--coverage"]);
    assert_eq!(output.status.code(), Some(0), "{}{}", text(&output), String::from_utf8_lossy(&output.stderr));
    let covered = text(&output);
    assert!(covered.contains("0 of 1 sheets, 3 of 4 steps"), "{covered}");
    assert!(covered.contains("1 of 1 gates met, 0 of 1 gates not met"), "{covered}");
    assert!(covered.contains("steps, reached by no case:\n  never (fire)\n"), "{covered}");

    let other = case
        .replace("finished", "stopped")
        .replace("rounds: 2", "rounds: 3")
        .replace("look: met", "look: not met")
        .replace("warmer: 21 degC", "warmer: 22 degC");
    let folder = plugin(&[("fire.yaml", &other), ("job.yaml", JOB), ("answers.yaml", ANSWERS), ("yard.yaml", YARD)]);
    let output = run(folder.path(), &["pottery"]);
    assert_eq!(output.status.code(), Some(1));
    let wrong: Vec<String> = text(&output)
        .lines()
        .filter(|line| line.starts_with('!'))
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    assert_eq!(
        wrong,
        [
            "! ends expected stopped found finished",
            "! verdict of look expected not met found met",
            "! rounds of rounds expected 3 found 2",
            "! warmer expected 22 °C found 21 °C off by -1.000e0 °C",
        ],
        "{}",
        text(&output)
    );
}

#[test]
fn answers_that_do_not_fit_are_shown_with_their_line() {
    let case = "case: fire
procedure: fire
job: job.yaml
answers: answers.yaml
expect: { ends: finished }
source: arithmetic
";
    let answers = ANSWERS.replace("enter: white", "enter: blue");
    let folder = plugin(&[("fire.yaml", case), ("job.yaml", JOB), ("answers.yaml", &answers), ("yard.yaml", YARD)]);
    let output = run(folder.path(), &["pottery"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output).contains("pottery/cases/answers.yaml:5:5: error, unfit-answer"), "{}", text(&output));
}

#[test]
fn a_case_can_be_about_a_fault_that_the_check_must_find() {
    let case = "case: misspelt
check: procedures/fire.yaml
text: |
  procedure: fire
  title: Fire the kiln
  steps:
    - id: look
      pick: { colour: [red, white] }
      gate: { must: 'colour == \"wite\"' }
  sources: [our own]
expect: [\"unknown-option:6\"]
source: our own design
";
    let folder = plugin(&[("misspelt.yaml", case)]);
    assert_eq!(run(folder.path(), &["pottery"]).status.code(), Some(0));
    let folder = plugin(&[("misspelt.yaml", &case.replace("unknown-option:6", "never-runs:6"))]);
    let output = run(folder.path(), &["pottery"]);
    let wrong: Vec<String> = text(&output)
        .lines()
        .filter(|line| line.starts_with('!'))
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    assert_eq!(
        wrong,
        [
            "! fault in procedures/fire.yaml expected never-runs:6 found none there",
            "! fault in procedures/fire.yaml expected none there found unknown-option:6",
        ]
    );
}

#[test]
fn a_plugin_without_a_case_is_a_warning_and_a_faulty_case_an_error() {
    let folder = plugin(&[]);
    let output = run(folder.path(), &["pottery"]);
    assert_eq!(output.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&output.stderr).contains("no-case"));
    assert_eq!(run(folder.path(), &["pottery", "--strict"]).status.code(), Some(1));

    let folder = plugin(&[("right.yaml", &RIGHT.1.replace("middle-of", "midle-of"))]);
    let output = run(folder.path(), &["pottery"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("did you mean `middle-of`?"));
}

#[test]
fn a_plugin_that_can_not_be_taken_does_not_pass_for_want_of_cases() {
    let folder = plugin(&[RIGHT]);
    let manifest = folder.path().join("pottery/plugin.yaml");
    for (needs, said) in [("[units, glaze]", "needs `glaze`, which is not there"), ("units", "plugin.yaml")] {
        fs::write(&manifest, format!("plugin: pottery\nversion: \"1.0.0\"\nplugins: {needs}\n")).unwrap();
        let output = run(folder.path(), &["pottery"]);
        let errors = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.code() == Some(1) && errors.contains(said), "{errors}");
    }
}

#[test]
fn a_path_without_a_plugin_is_wrong_usage() {
    let folder = plugin(&[]);
    fs::create_dir(folder.path().join("empty")).unwrap();
    assert_eq!(run(folder.path(), &["empty"]).status.code(), Some(2));
    assert_eq!(run(folder.path(), &["nowhere"]).status.code(), Some(2));
    assert_eq!(run(folder.path(), &["--format", "short"]).status.code(), Some(2));
}
