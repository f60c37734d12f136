//! `new case`: every job of the example workshop becomes a case that holds, and names nobody.

// A test says by failing what was wrong.
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn run(arguments: &[&str]) -> (i32, String) {
    let output = Command::cargo_bin("standpipe").unwrap().current_dir(root()).args(arguments).output().unwrap();
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    (output.status.code().unwrap(), said)
}

const SHOP: &str = "examples/workshop/shop.yaml";

fn job(name: &str, folder: &Path) -> String {
    let journal = folder.join(name).display().to_string();
    let (job, answers) = (format!("examples/jobs/{name}.yaml"), format!("examples/answers/{name}.yaml"));
    run(&["run", &job, "--answers", &answers, "--journal", &journal]);
    journal
}

/// A plugin that takes cases.
fn plugin(folder: &Path) -> String {
    let path = folder.join("regress");
    fs::create_dir(&path).unwrap();
    let manifest = "plugin: regress\nversion: \"1.0.0\"\ninvented: true\nplugins: [units]\n";
    fs::write(path.join("plugin.yaml"), manifest).unwrap();
    path.display().to_string()
}

#[test]
fn every_example_job_becomes_a_case_that_holds_and_names_nobody() {
    let folder = TempDir::new().unwrap();
    let into = plugin(folder.path());
    let mut private = Vec::new();
    let mut jobs = 0;
    for entry in fs::read_dir(root().join("examples/jobs")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        // Plate, description, customer and their words, from the job file.
        let facts = fs::read_to_string(&path).unwrap();
        let keys = ["plate: ", "description: ", "name: ", "words: "];
        let values = facts.lines().filter_map(|line| keys.iter().find_map(|key| line.trim().strip_prefix(key)));
        private.extend(values.map(|value| value.trim_matches('"').to_owned()));
        let journal = job(&name, folder.path());
        let (code, said) = run(&["new", "case", &name, "--from", &journal, "--into", &into, "--shop", SHOP]);
        assert!(code == 0 && said.contains("1 case holds"), "{name}: {said}");
        jobs += 1;
    }
    // The verdicts and values of each journal, met again by the same answers.
    let (code, said) = run(&["test", &into, "--shop", SHOP, "--format", "json"]);
    let json: Value = serde_json::from_str(&said).unwrap();
    assert_eq!((code, json["passed"].as_u64()), (0, Some(jobs)), "{said}");
    let van = json["cases"].as_array().unwrap().iter().find(|case| case["case"] == "heron-van").unwrap();
    let of = |start: &str| {
        van["lines"].as_array().unwrap().iter().filter(|line| line["what"].as_str().unwrap().starts_with(start)).count()
    };
    assert!(of("verdict of ") > 20 && of("ledger.") == 3 && of("rounds of ") > 1, "{van}");
    let (code, said) = run(&["check", "--strict", &into, "--shop", SHOP]);
    assert_eq!(code, 0, "{said}");
    private.extend(["rita", "Rita M.", "jo", "marek", "lena", "Ferry Lane"].map(str::to_owned));
    assert!(private.len() > 40);
    for file in fs::read_dir(Path::new(&into).join("cases")).unwrap() {
        let path = file.unwrap().path();
        let text = fs::read_to_string(&path).unwrap().replace("invented: true", "");
        let words: Vec<&str> = text.split(|letter: char| !letter.is_alphanumeric()).collect();
        for name in &private {
            let there = if name.contains(' ') { text.contains(name.as_str()) } else { words.contains(&name.as_str()) };
            assert!(!there, "{}: {name}", path.display());
        }
    }
}

#[test]
fn a_case_does_not_hold_under_other_data_or_another_expectation() {
    let folder = TempDir::new().unwrap();
    let into = plugin(folder.path());
    let journal = job("dunlin-hatch", folder.path());
    let newer = ["--plugins", "examples/newer/dunlin-corrected"];
    let (code, said) =
        run(&[&["new", "case", "then", "--from", &journal, "--into", &into, "--shop", SHOP], &newer[..]].concat());
    assert!(code == 1 && said.contains("does not hold") && said.contains("change-drain-shut"), "{code} {said}");
    let case = Path::new(&into).join("cases/then.yaml");
    assert_eq!(run(&["test", &into, "--shop", SHOP]).0, 0, "under the data of the job it holds");
    fs::write(&case, fs::read_to_string(&case).unwrap().replace("2.0199999999999996 L", "2.02001 L")).unwrap();
    let (code, said) = run(&["test", &into, "--shop", SHOP]);
    assert!(code == 1 && said.contains("net_fill"), "{said}");
    // Nothing that is there is written over.
    let (code, said) = run(&["new", "case", "then", "--from", &journal, "--into", &into, "--shop", SHOP]);
    assert!(code == 2 && said.contains("is there already"), "{said}");
}

#[test]
fn a_correction_of_an_older_round_is_told_with_its_entry() {
    let folder = TempDir::new().unwrap();
    let into = plugin(folder.path());
    let text = fs::read_to_string(root().join("examples/answers/dunlin-hatch.yaml")).unwrap();
    let (before, after) = text.split_once("  - { step: change-signature").unwrap();
    let corrected = |entry: &str| {
        format!(
            "{before}  - {{ at: \"+1 min\", by: rita, correct: {{ sump_temperature: 18.3 degC, because: misread, \
                 entry: \"{entry}\" }} }}\n  - {{ step: change-signature{after}"
        )
    };
    let answers = folder.path().join("answers.yaml").display().to_string();
    let journal = folder.path().join("hatch").display().to_string();
    let run_it = || run(&["run", "examples/jobs/dunlin-hatch.yaml", "--answers", &answers, "--journal", &journal]);
    fs::write(&answers, corrected("side-fill-temperature[9]")).unwrap();
    let (code, said) = run_it();
    assert!(
        code == 2 && said.contains("nothing was entered for sump_temperature at `side-fill-temperature[9]`"),
        "{said}"
    );
    // It goes on where it was refused.
    fs::write(&answers, corrected("side-fill-temperature[1]")).unwrap();
    let (code, said) = run_it();
    assert_eq!(code, 0, "{said}");
    let events = fs::read_to_string(Path::new(&journal).join("journal.jsonl")).unwrap();
    let events: Vec<Value> = events.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let corrects = events.iter().find(|event| event["event"] == "corrected").unwrap()["entry"].as_u64().unwrap();
    let entry = events.iter().find(|event| event["seq"].as_u64() == Some(corrects)).unwrap();
    assert_eq!(entry["address"], "side-fill-temperature[1]");
    let (code, said) = run(&["new", "case", "hatch", "--from", &journal, "--into", &into, "--shop", SHOP]);
    assert!(code == 0 && said.contains("1 case holds"), "{said}");
    let made = fs::read_to_string(Path::new(&into).join("cases/hatch-answers.yaml")).unwrap();
    assert!(made.contains("entry: \"side-fill-temperature[1]\""), "{made}");
}

#[test]
fn a_case_of_a_shop_that_is_not_in_force_says_what_is_missing() {
    let folder = TempDir::new().unwrap();
    let journal = job("heron-van", folder.path());
    let output = Command::cargo_bin("standpipe")
        .unwrap()
        .current_dir(folder.path())
        .args(["new", "case", "monday", "--from", &journal])
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code() == Some(1) && said.contains("needs `ferry-lane`, which is not there"), "{said}");
}

#[test]
fn a_journal_that_does_not_hold_or_is_none_becomes_no_case() {
    let folder = TempDir::new().unwrap();
    let into = plugin(folder.path());
    let journal = job("knot-courier", folder.path());
    let lines = Path::new(&journal).join("journal.jsonl");
    let text = fs::read_to_string(&lines).unwrap();
    fs::write(&lines, text.replacen("\"by\":\"jo\"", "\"by\":\"rita\"", 1)).unwrap();
    let (code, said) = run(&["new", "case", "then", "--from", &journal, "--into", &into]);
    assert!(code == 2 && said.contains("does not hold"), "{said}");
    let (code, said) = run(&["new", "case", "then", "--from", "examples/jobs", "--into", &into]);
    assert!(code == 2 && said.contains("no journal"), "{said}");
    assert!(!Path::new(&into).join("cases").exists());
}
