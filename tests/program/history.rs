//! What finished jobs tell the card of a later one: a time constant, with where it is from.

// A test says by failing what was wrong.
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn standpipe() -> Command {
    Command::cargo_bin("standpipe").unwrap()
}

/// The van's job into a folder below this one, from answers as they are changed.
fn run_van(below: &Path, name: &str, change: impl Fn(String) -> String) {
    let examples = root().join("examples");
    let text = fs::read_to_string(examples.join("answers/heron-van.yaml")).unwrap();
    let text = text.replace("../", &format!("{}/", examples.display()));
    let answers = below.join(format!("{name}.yaml"));
    fs::write(&answers, change(text)).unwrap();
    let mut run = standpipe();
    run.arg("run").arg(examples.join("jobs/heron-van.yaml"));
    run.arg("--answers").arg(&answers).arg("--journal").arg(below.join(name)).output().unwrap();
}

/// What the card says of the time constant, and the calculation it belongs to.
fn card(of: &str, more: &[&str]) -> (Value, Value) {
    let output = standpipe().current_dir(root()).args(["card", of, "--format", "json"]).args(more).output().unwrap();
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    let blocks = json["card"]["blocks"].as_array().unwrap();
    let computed = blocks
        .iter()
        .flat_map(|block| block["parts"].as_array().unwrap())
        .map(|part| &part["computed"])
        .find(|computed| computed["sheet"] == "start-limit-reachable")
        .unwrap();
    (computed["earlier"][0].clone(), computed.clone())
}

const ESTATE: &str = "examples/jobs/heron-estate.yaml";

fn minutes(value: &Value) -> f64 {
    value["quantity"]["si"].as_f64().or_else(|| value["si"].as_f64()).unwrap_or_else(|| panic!("{value}")) / 60.0
}

#[test]
fn the_log_of_an_earlier_job_tells_how_fast_its_family_cools() {
    let jobs = TempDir::new().unwrap();
    run_van(jobs.path(), "van", |text| text);
    let folder = jobs.path().display().to_string();
    let (told, computed) = card(ESTATE, &["--journals", &folder]);
    assert_eq!((told["used"].as_bool(), told["told"]["job"].as_str()), (Some(true), Some("2026-1101")), "{told}");
    assert_eq!(told["told"]["on"], "2026-11-23");
    let (found, off) = (minutes(&told["told"]["value"]), minutes(&told["told"]["uncertainty"]));
    // Computed by `tests/logs/made.rs`: the log was made with a time constant of 142 min.
    assert!((found - 142.0).abs() < 3.0 * off && off < 1.0, "{found} {off}");
    let text = told["text"].as_str().unwrap();
    for part in ["142 min, standard uncertainty", "job 2026-1101 on 2026-11-23", "60 readings of the log", "(95 %)"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    // Computed by hand: 142 min x ln((75 - 19) / (41 - 19)) = 132.7 min.
    let when = computed["results"].as_array().unwrap().iter().find(|one| one["name"] == "when").unwrap();
    assert!((minutes(&when["value"]) - 132.7).abs() < 1.0, "{when}");
    // Another variant is better than nothing, and said.
    let (other, _) = card("examples/jobs/heron-taxi.yaml", &["--journals", &folder]);
    assert!(other["text"].as_str().unwrap().contains("another variant, short pan"), "{other}");
    // A job tells its own card nothing.
    let (own, _) = card("examples/jobs/heron-van.yaml", &["--journals", &folder]);
    assert!(own["told"].is_null() && own["text"].as_str().unwrap().contains("no finished job"), "{own}");
}

#[test]
fn readings_that_were_typed_tell_it_as_well_and_the_newest_job_comes_first() {
    let jobs = TempDir::new().unwrap();
    run_van(jobs.path(), "van", |text| text);
    // Computed by hand from 18 + 53.5 exp(-t / 120 min), at 0, 30, 60, 90 and 105 min, to a tenth of a degree.
    run_van(jobs.path(), "typed", |text| {
        let (before, rest) = text.split_once("  # Too hot to open").unwrap();
        let (_, after) = rest.split_once("  - { step: mark-plugs").unwrap();
        let readings = [("+1 min", 71.5), ("+30 min", 59.7), ("+30 min", 50.4), ("+30 min", 43.3)];
        let steps: Vec<String> = readings
            .iter()
            .map(|(at, read)| {
                format!(
                    "  - {{ step: cool-enough-to-open, at: \"{at}\", by: rita, enter: {{ sump_temperature: {read} degC }}, \
                     instruments: {{ sump_temperature: reader }} }}\n"
                )
            })
            .collect();
        let later = format!("{before}{}  - {{ step: mark-plugs{after}", steps.join(""));
        // The day after: this one is newer.
        ["29", "28", "27", "26", "25", "24", "23"].iter().fold(later, |text, day| {
            let next = day.parse::<u32>().unwrap() + 1;
            text.replace(&format!("2026-11-{day}T"), &format!("2026-11-{next}T"))
        })
    });
    let folder = jobs.path().display().to_string();
    let (told, _) = card(ESTATE, &["--journals", &folder]);
    assert!((minutes(&told["told"]["value"]) - 120.0).abs() < 1.0, "{told}");
    let text = told["text"].as_str().unwrap();
    assert!(text.contains("4 readings entered in job 2026-1101 on 2026-11-24"), "{text}");
}

#[test]
fn a_value_that_was_entered_counts_and_the_earlier_job_is_named_beside_it() {
    let jobs = TempDir::new().unwrap();
    run_van(jobs.path(), "van", |text| text);
    let shop = root().join("examples/workshop");
    let text = fs::read_to_string(shop.join("shop.yaml")).unwrap();
    let text = text.replace("plugins: [", &format!("journals: .\nplugins: [by-hand, {}/", shop.display()));
    let text = text.replace(", transfer-cases]", &format!(", {}/transfer-cases]", shop.display()));
    fs::write(jobs.path().join("shop.yaml"), text.replace("overlays: [", "overlays: [by-hand, ")).unwrap();
    let overlays = jobs.path().join("by-hand/overlays");
    fs::create_dir_all(&overlays).unwrap();
    fs::write(jobs.path().join("by-hand/plugin.yaml"), "plugin: by-hand\nversion: \"1.0.0\"\ninvented: true\n")
        .unwrap();
    fs::write(
        overlays.join("by-hand.yaml"),
        "overlay: by-hand\nchanges:\n  - { family: heron, values: { cooling.constant: 95 min }, source: by hand }\n",
    )
    .unwrap();
    let shop = jobs.path().join("shop.yaml").display().to_string();
    // No `--journals`: the shop file names the folder, counted from itself.
    let (told, computed) = card(ESTATE, &["--shop", &shop]);
    assert_eq!((told["used"].as_bool(), told["told"]["job"].as_str()), (Some(false), Some("2026-1101")), "{told}");
    let text = told["text"].as_str().unwrap();
    assert!(text.contains("95 min, as entered. An earlier job came to 142 min"), "{text}");
    // Computed by hand: 95 min x ln(56 / 22) = 88.8 min.
    let when = computed["results"].as_array().unwrap().iter().find(|one| one["name"] == "when").unwrap();
    assert!((minutes(&when["value"]) - 88.8).abs() < 0.5, "{when}");
}

#[test]
fn what_does_not_hold_is_not_finished_or_tells_too_little_is_passed_over_and_said() {
    let jobs = TempDir::new().unwrap();
    let folder = jobs.path().display().to_string();
    let said = || card(ESTATE, &["--journals", &folder]).0["text"].as_str().unwrap().to_owned();
    assert!(said().contains("there is no finished job of this family below"), "{}", said());
    assert!(said().contains("`cooling.constant` in the family file") && said().contains("cooling-fit"), "{}", said());
    // Stopped before it was finished.
    run_van(jobs.path(), "open", |text| text.split_once("  - { step: mark-plugs").unwrap().0.to_owned());
    assert!(said().contains("no finished job of this family"), "{}", said());
    // Two readings only.
    run_van(jobs.path(), "two", |text| {
        let typed = text.replacen("log: { file: ", "enter: { sump_temperature: 71.5 degC } # ", 1);
        typed.replacen("log: { file: ", "enter: { sump_temperature: 43.6 degC } # ", 1)
    });
    assert!(said().contains("1 finished job of this family") && said().contains("it takes 3"), "{}", said());
    // A byte changed afterwards.
    run_van(jobs.path(), "van", |text| text);
    fs::remove_dir_all(jobs.path().join("two")).unwrap();
    let journal = jobs.path().join("van/journal.jsonl");
    fs::write(&journal, fs::read_to_string(&journal).unwrap().replacen("148230", "148231", 1)).unwrap();
    assert!(said().contains("its journal does not hold"), "{}", said());
    // Nobody said where.
    let (nowhere, _) = card("heron", &[]);
    assert!(nowhere["text"].as_str().unwrap().contains("nothing says where finished jobs are"), "{nowhere}");
    let missing = standpipe().current_dir(root()).args(["card", ESTATE, "--journals", "no/such"]).output().unwrap();
    assert_eq!(missing.status.code(), Some(2));
}
