//! `standpipe check`, over files with faults in them.
//!
//! A case is a text under `tests/check/` that holds the files of a small folder, each after a line `=== path`. A comment
//! `! CODE` at the end of a line says that the code must be reported there; `! CODE:7` says it of line 7, where the line
//! itself has no room for a comment. Nothing else may be reported. The plugin `base` is there as well.

// A test says by failing what was wrong.
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value as Json;
use standpipe::diagnostic::Code;
use tempfile::TempDir;

use crate::folders::copy;

type Found = BTreeSet<(String, String, u64)>;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/check")
}

fn standpipe(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("standpipe").unwrap();
    command.current_dir(folder).args(arguments).env_remove("NO_COLOR");
    command
}

/// Files of a case and what is expected of them.
fn unpack(text: &str, folder: &Path) -> Found {
    let mut expected = Found::new();
    let mut file: Option<(String, String)> = None;
    let mut files = Vec::new();
    for line in text.lines() {
        if let Some(path) = line.strip_prefix("=== ") {
            files.extend(file.take());
            file = Some((path.trim().to_owned(), String::new()));
            continue;
        }
        let Some((path, content)) = &mut file else {
            // Before the first file: what is expected of a folder.
            if let Some((code, rest)) = line.strip_prefix("! ").and_then(|line| line.split_once(' ')) {
                let (path, number) = rest.split_once(' ').unwrap();
                expected.insert((code.to_owned(), path.to_owned(), number.parse().unwrap()));
            }
            continue;
        };
        content.push_str(line);
        content.push('\n');
        let number = content.lines().count() as u64;
        for mark in ["# !", "// !"] {
            let Some((_, after)) = line.rsplit_once(mark) else { continue };
            for code in after.split_whitespace() {
                let (code, number) = match code.split_once(':') {
                    Some((code, number)) => (code, number.parse().unwrap()),
                    None => (code, number),
                };
                expected.insert((code.to_owned(), path.clone(), number));
            }
        }
    }
    files.extend(file);
    // Only what a case is about has to be written in it.
    for (path, content) in &files {
        let keys: Option<serde_yaml::Mapping> = serde_yaml::from_str(content).ok();
        let unsourced = keys.is_some_and(|keys| !keys.contains_key("sources")) && !content.contains("missing-source");
        let sourced = ["/procedures/", "/units/"].iter().any(|folder| path.contains(folder)) && unsourced;
        let path = folder.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, if sourced { format!("{content}sources: [a test]\n") } else { content.clone() }).unwrap();
    }
    const FOLDERS: &[&str] =
        &["units", "tables", "forms", "families", "procedures", "sheets", "overlays", "scripts", "cases", "logs"];
    for (path, _) in &files {
        let Some(inner) = Path::new(path).parent() else { continue };
        let (Some(kind), Some(plugin)) = (inner.file_name(), inner.parent()) else { continue };
        let manifest = folder.join(plugin).join("plugin.yaml");
        if FOLDERS.iter().any(|one| kind == *one) && !manifest.exists() {
            let plugin = plugin.file_name().unwrap().to_string_lossy();
            fs::write(manifest, format!("plugin: {plugin}\nversion: \"1.0.0\"\nplugins: [units, base]\n")).unwrap();
        }
    }
    expected
}

fn check(folder: &Path) -> Json {
    let output = standpipe(folder, &["check", ".", "--format", "json"]).output().unwrap();
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|_| panic!("no JSON: {}", String::from_utf8_lossy(&output.stderr)))
}

fn found(report: &Json) -> Found {
    let text = |json: &Json| json.as_str().unwrap().to_owned();
    report["problems"]
        .as_array()
        .unwrap()
        .iter()
        .map(|problem| {
            let place = &problem["place"];
            let file = text(&place["file"]);
            (text(&problem["code"]), file.trim_start_matches("./").to_owned(), place["line"].as_u64().unwrap())
        })
        .collect()
}

fn cases() -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> = fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "txt"))
        .map(|path| (path.file_stem().unwrap().to_string_lossy().into_owned(), fs::read_to_string(&path).unwrap()))
        .collect();
    all.sort();
    assert!(all.len() > 20, "the cases have moved");
    all
}

#[test]
fn every_case_gives_the_codes_it_names_and_no_others() {
    let mut wrong = Vec::new();
    for (name, text) in cases() {
        let folder = TempDir::new().unwrap();
        copy(&root().join("base"), &folder.path().join("base"));
        let expected = unpack(&text, folder.path());
        let report = check(folder.path());
        let found = found(&report);
        if found != expected {
            let messages: Vec<String> = report["problems"]
                .as_array()
                .unwrap()
                .iter()
                .map(|one| {
                    format!("    {}:{} {} {}", one["place"]["file"], one["place"]["line"], one["code"], one["message"])
                })
                .collect();
            wrong.push(format!(
                "{name}\n  missing: {:?}\n  too much: {:?}\n{}",
                expected.difference(&found).collect::<Vec<_>>(),
                found.difference(&expected).collect::<Vec<_>>(),
                messages.join("\n")
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// Where a code is met that no file checked here can give.
const ELSEWHERE: &[(Code, &str)] = &[
    (Code::NotText, "needs bytes that are no text: core/library/src/tests.rs"),
    (Code::OutsidePlugin, "needs a link: core/library/src/tests.rs"),
    (Code::Unwritable, "needs a disk that refuses: core/job/src/journal/tests.rs"),
    (Code::ScriptLimit, "needs a script that runs: core/script/src/tests/"),
    (Code::InputBeyondLimit, "needs a calculation that runs: core/sheet/src/tests.rs"),
    (Code::InputBeyondValidity, "needs a calculation that runs: core/sheet/src/tests.rs"),
    (Code::ResultNotShown, "needs a calculation that runs: tests/calc.rs"),
    (Code::AnswersLeftOver, "needs a job that runs: tests/machine/headless.rs"),
    (Code::BrokenBook, "needs a book: tests/program/book.rs"),
    (Code::FaultySigners, "needs a list of signers: core/sign/src/tests.rs"),
    (Code::NotSigned, "needs a job that runs: tests/program/keys.rs"),
    (Code::BrokenJournal, "needs a journal: core/job/src/journal/tests.rs"),
    (Code::NewerVersion, "needs a journal: core/job/src/journal/tests.rs"),
    (Code::JournalInUse, "needs a journal: core/job/src/journal/tests.rs"),
    (Code::TimeReversed, "needs a job that runs: tests/machine/"),
    (Code::FilesChanged, "needs a job that runs: tests/examples.rs"),
    (Code::MissingAnswer, "needs a job that runs: tests/machine/headless.rs"),
    (Code::NoCase, "is for those who run cases: tests/cases.rs"),
    (Code::CaseFails, "needs a case that runs: tests/cases.rs"),
    (Code::UnreadableLog, "needs a log: tests/logs/"),
    (Code::UnclearLog, "needs a log: tests/logs/"),
    (Code::ModelFails, "needs a simulation that runs: tests/program/simulate.rs"),
    (Code::WrongArguments, "needs arguments: see below"),
];

#[test]
fn every_code_has_a_case() {
    let all: String = cases().into_iter().map(|(_, text)| text).collect();
    let without: Vec<&str> = Code::ALL
        .iter()
        .filter(|code| !ELSEWHERE.iter().any(|(elsewhere, _)| elsewhere == *code))
        .map(|code| code.name())
        .filter(|code| !all.lines().any(|line| line.contains('!') && line.contains(code)))
        .collect();
    assert!(without.is_empty(), "codes without a case: {}", without.join(" "));
}

#[test]
fn arguments_that_make_no_sense_are_told_with_what_would() {
    let folder = TempDir::new().unwrap();
    let output = standpipe(folder.path(), &["check", "--format", "junit"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    let message = String::from_utf8(output.stderr).unwrap();
    assert!(message.contains("wrong-arguments") && message.contains("human, short, json"), "{message}");

    fs::write(folder.path().join("notes.yaml"), "text: hello\n").unwrap();
    let output = standpipe(folder.path(), &["check", "notes.yaml"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8(output.stderr).unwrap().contains("nothing tells what this file is"));
}

/// What comes with the program passes the check it offers to others, with warnings as errors.
#[test]
fn what_is_shipped_and_the_example_workshop_pass() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    for arguments in [&["check"][..], &["check", "plugins"], &["check", "examples"], &["check", "tests/check/base"]] {
        let output = standpipe(here, arguments).args(["--strict"]).output().unwrap();
        let text = String::from_utf8_lossy(&output.stdout);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {text}");
        assert!(text.contains("nothing wrong"), "{text}");
    }
}

#[test]
fn a_faulty_plugin_is_left_out_and_the_others_are_still_checked() {
    let folder = TempDir::new().unwrap();
    copy(&root().join("base"), &folder.path().join("base"));
    unpack("=== broken/plugin.yaml\nplugin: other\n=== p/procedures/a.yaml\nprocedure: a\ntitle: A\n", folder.path());
    let found = found(&check(folder.path()));
    let files: BTreeSet<&str> = found.iter().map(|(_, file, _)| file.as_str()).collect();
    assert_eq!(files, BTreeSet::from(["broken/plugin.yaml", "p/procedures/a.yaml"]), "{found:?}");
}

#[test]
fn one_document_is_checked_by_itself_and_named_as_it_lies_on_the_disk() {
    let folder = TempDir::new().unwrap();
    copy(&root().join("base"), &folder.path().join("base"));
    let faulty = "procedure: a\ntitle: A\nsteps:\n  - { id: a, when: false, do: Wait. }\n";
    let other = faulty.replace("procedure: a", "procedure: b");
    unpack(&format!("=== p/procedures/a.yaml\n{faulty}=== p/procedures/b.yaml\n{other}"), folder.path());
    let output =
        standpipe(folder.path(), &["--plugins", "base", "check", "p/procedures/a.yaml", "--format", "short"]).output();
    let text = String::from_utf8(output.unwrap().stdout).unwrap();
    assert!(text.starts_with("p/procedures/a.yaml:4:20: error, never-runs: this step can never run"), "{text}");
    assert_eq!(text.lines().count(), 1, "{text}");
}

#[test]
fn warnings_fail_only_when_they_are_denied() {
    let folder = TempDir::new().unwrap();
    copy(&root().join("base"), &folder.path().join("base"));
    unpack(
        "=== p/notes.yaml\nx: 1\n=== p/procedures/a.yaml\nprocedure: a\ntitle: A\nsteps: [{ id: a, do: Wait. }]\n",
        folder.path(),
    );
    let code = |arguments: &[&str]| standpipe(folder.path(), arguments).output().unwrap().status.code();
    assert_eq!(code(&["check", "."]), Some(0));
    assert_eq!(code(&["check", ".", "--strict"]), Some(1));
}

/// What `new` writes is the first thing that somebody checks.
#[test]
fn every_starting_point_passes_check_and_test() {
    for kind in ["family", "procedure", "sheet", "form", "overlay", "units", "table", "model"] {
        let folder = TempDir::new().unwrap();
        let run = |arguments: &[&str]| {
            let output = standpipe(folder.path(), arguments).output().unwrap();
            let text = String::from_utf8_lossy(&output.stdout).into_owned() + &*String::from_utf8_lossy(&output.stderr);
            assert_eq!(output.status.code(), Some(0), "{arguments:?}: {text}");
        };
        // More than one form and procedure ship: what is made for one has to say for which.
        let form: &[&str] = match kind {
            "family" | "procedure" => &["--form", "automatic-transmission"],
            "overlay" => &["--procedure", "pan-service-overflow"],
            "model" => &["--procedure", "pan-service-overflow", "--family", "heron"],
            _ => &[],
        };
        run(&[&["new", kind, "of-mine"], form].concat());
        // A family that nobody has filled in yet lacks what procedures need, and is told so.
        let strict: &[&str] = if kind == "family" { &[] } else { &["--strict"] };
        run(&[&["check", "of-mine"], strict].concat());
        run(&["test", "of-mine"]);
    }
}

/// A misspelt key is written over, whatever else stands in the file; shown only, where that is asked.
#[test]
fn what_is_certain_is_mended_in_place() {
    let folder = TempDir::new().unwrap();
    copy(&root().join("base"), &folder.path().join("base"));
    let file = folder.path().join("base/families/clay.yaml");
    let sound = fs::read_to_string(&file).unwrap().replace("shelves: 4", "# counted twice\nshelves:   4   # of eight");
    let slip = sound.replace("shelves:   4", "shelvs:   4").replace("1220 degC", "1220 DEGC");
    fs::write(&file, &slip).unwrap();
    let run = |how: &[&str]| standpipe(folder.path(), &[&["check", "base"][..], how].concat()).output().unwrap();
    let told = String::from_utf8(run(&[]).stdout).unwrap();
    assert!(told.contains("2 of these can be fixed"), "{told}");

    let shown = String::from_utf8(run(&["--fix=show"]).stdout).unwrap();
    let change = "was  shelvs:   4   # of eight\n    is   shelves:   4   # of eight\n";
    assert!(shown.contains(change) && shown.contains("shown only"), "{shown}");
    assert_eq!(fs::read_to_string(&file).unwrap(), slip);

    let output = run(&["--fix", "--format", "json"]);
    let json: Json = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((output.status.code(), json["fix"]["changes"].as_array().unwrap().len()), (Some(0), 2), "{json}");
    assert_eq!(fs::read_to_string(&file).unwrap(), sound);

    // What could be meant in two ways stays as it is, and what nobody named is not written.
    fs::write(&file, sound.replace("method: electric", "method: electic")).unwrap();
    let unnamed = standpipe(folder.path(), &["check", "--fix", "--plugins", "base"]).output().unwrap();
    assert_eq!(unnamed.status.code(), Some(2));
    fs::write(&file, sound.replace("top: 1220 degC", "top: 1220 d")).unwrap();
    let before = fs::read_to_string(&file).unwrap();
    run(&["--fix"]);
    assert_eq!(fs::read_to_string(&file).unwrap(), before);
}
