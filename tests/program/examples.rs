//! Everything in the example workshop runs, and ends as it says it does.

// A test says by failing what was wrong.
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

use crate::audit::bench::events as made_again;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Runs a job from its answers and gives back exit code and JSON.
fn run(job: &Path, answers: &Path, more: &[&str]) -> (i32, Value, TempDir) {
    let folder = TempDir::new().unwrap();
    let output = Command::cargo_bin("standpipe")
        .unwrap()
        .args(["run", "--format", "json"])
        .args(more)
        .arg(job)
        .arg("--answers")
        .arg(answers)
        .arg("--journal")
        .arg(folder.path().join("journal"))
        .output()
        .unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let json = serde_json::from_str(&text).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
    (output.status.code().unwrap(), json, folder)
}

fn example(name: &str) -> (i32, Value, TempDir) {
    let examples = root().join("examples");
    run(&examples.join(format!("jobs/{name}.yaml")), &examples.join(format!("answers/{name}.yaml")), &[])
}

fn fixture(job: &str, answers: &str) -> (i32, Value, TempDir) {
    let folder = root().join("tests/fixtures/common-practice");
    run(&folder.join(job), &folder.join(answers), &[])
}

fn events(folder: &TempDir) -> Vec<Value> {
    let text = std::fs::read_to_string(folder.path().join("journal/journal.jsonl")).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn of<'a>(events: &'a [Value], kind: &str) -> Vec<&'a Value> {
    events.iter().filter(|event| event["event"] == kind).collect()
}

#[test]
fn a_job_over_two_days_is_held_handed_over_and_finished() {
    let (code, json, folder) = example("heron-van");
    assert_eq!(code, 0, "{}", json["problems"]);
    let events = events(&folder);
    let held: Vec<_> = of(&events, "judged").into_iter().filter(|event| event["verdict"] != "met").collect();
    assert!(!held.is_empty(), "it is too hot at first");
    assert_eq!(of(&events, "paused").len(), 1);
    assert_eq!(of(&events, "took-over").len(), 1);
    assert_eq!(of(&events, "corrected").len(), 1);
    assert!(!of(&events, "noted").is_empty());
    assert!(events.iter().any(|event| event.get("entered_at").is_some()), "a late entry");
    // A half-done tightening starts again from its first pass.
    let tightened = of(&events, "entered").into_iter().filter(|event| event["address"] == "refit-pan[][hand/1]");
    assert_eq!(tightened.count(), 2);
    assert_eq!(of(&events, "finished").len(), 1);
}

#[test]
fn a_wrong_container_stops_the_job() {
    let (code, json, folder) = example("heron-taxi");
    assert_eq!(code, 1, "{}", json["problems"]);
    let events = events(&folder);
    assert_eq!(of(&events, "judged").last().unwrap()["verdict"], "not met");
    assert!(of(&events, "finished").is_empty());
}

#[test]
fn the_other_family_runs_through_the_same_procedure() {
    let (code, json, folder) = example("plover-pickup");
    assert_eq!(code, 0, "{}", json["problems"]);
    assert_eq!(of(&events(&folder), "finished").len(), 1);
}

#[test]
fn something_goes_wrong_and_the_job_goes_on() {
    let (code, json, folder) = example("heron-estate");
    assert_eq!(code, 0, "{}", json["problems"]);
    let events = events(&folder);
    assert_eq!(of(&events, "called")[0]["procedure"], "bolt-or-thread-broken");
    assert_eq!(of(&events, "returned").len(), 1);
}

#[test]
fn the_whole_job_runs_on_figures_of_common_practice() {
    let (code, json, folder) = fixture("job.yaml", "answers.yaml");
    assert_eq!(code, 0, "{}", json["problems"]);
    let events = events(&folder);
    let recognised = of(&events, "recognised");
    assert_eq!(recognised.len(), 1, "told by its bolts");
    // 95 degF is the low end of 35..45 degC, and belongs to it.
    let met = of(&events, "judged")
        .into_iter()
        .any(|event| event["verdict"] == "met" && event["found"].to_string().contains("95"));
    assert!(met, "95 degF is inside");
}

#[test]
fn every_call_for_help_comes_back_or_ends_the_job() {
    let (code, json, folder) = fixture("job.yaml", "trouble.yaml");
    assert_eq!(code, 0, "{}", json["problems"]);
    let events = events(&folder);
    assert_eq!(of(&events, "called").len(), of(&events, "returned").len());
    assert!(of(&events, "called").len() >= 10);
    let (code, json, _folder) = fixture("job.yaml", "declined.yaml");
    assert_eq!(code, 1, "{}", json["problems"]);
}

#[test]
fn who_works_alone_records_what_nobody_else_saw() {
    let (code, json, folder) = fixture("job-alone.yaml", "alone.yaml");
    assert_eq!(code, 0, "{}", json["problems"]);
    let events = events(&folder);
    let entered = of(&events, "entered");
    let unseen = entered.iter().filter(|event| event["witness"] == "alone");
    assert!(unseen.count() > 0);
}

#[test]
fn running_again_on_a_finished_journal_changes_nothing() {
    let (_, _, folder) = example("plover-pickup");
    let journal = folder.path().join("journal/journal.jsonl");
    let before = std::fs::read(&journal).unwrap();
    let examples = root().join("examples");
    Command::cargo_bin("standpipe")
        .unwrap()
        .arg("run")
        .arg(examples.join("jobs/plover-pickup.yaml"))
        .arg("--answers")
        .arg(examples.join("answers/plover-pickup.yaml"))
        .arg("--journal")
        .arg(folder.path().join("journal"))
        .assert()
        .code(0);
    assert_eq!(std::fs::read(&journal).unwrap(), before);
}

#[test]
fn a_job_goes_on_after_every_cut_through_its_answers() {
    // The journal is the same whether the answers came in one go or in several.
    let examples = root().join("examples");
    let text = std::fs::read_to_string(examples.join("answers/heron-van.yaml")).unwrap();
    let cuts: Vec<usize> = text.match_indices("\n  - ").map(|(at, _)| at).step_by(17).skip(1).collect();
    let (_, _, whole) = example("heron-van");
    let whole = made_again(&whole.path().join("journal"));
    let folder = TempDir::new().unwrap();
    // Photos and logs are named from where the answers lie.
    let copy = TempDir::new().unwrap();
    std::fs::create_dir(copy.path().join("answers")).unwrap();
    for beside in ["photos", "logs"] {
        std::fs::create_dir(copy.path().join(beside)).unwrap();
        for file in std::fs::read_dir(examples.join(beside)).unwrap() {
            let file = file.unwrap().path();
            std::fs::copy(&file, copy.path().join(beside).join(file.file_name().unwrap())).unwrap();
        }
    }
    let part = copy.path().join("answers/heron-van.yaml");
    for cut in cuts.iter().copied().chain([text.len()]) {
        std::fs::write(&part, format!("{}\n", &text[..cut])).unwrap();
        Command::cargo_bin("standpipe")
            .unwrap()
            .arg("run")
            .arg(examples.join("jobs/heron-van.yaml"))
            .arg("--answers")
            .arg(&part)
            .arg("--journal")
            .arg(folder.path().join("journal"))
            .output()
            .unwrap();
    }
    assert!(cuts.len() > 4);
    assert_eq!(made_again(&folder.path().join("journal")), whole);
}
