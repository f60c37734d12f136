//! Every file in tests/yaml is faulty; its first line names the codes and lines that the reader must report, all of
//! them and no others, and the text beside it is what a person then sees. `UPDATE_EXPECTED=1` writes these texts anew.

use std::fs;
use std::path::Path;

use indexmap::IndexMap;
use serde::Deserialize;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Look, Problems, human, short, sorted};
use standpipe_yaml::{self as yaml, At, Script};

/// A document with one of everything.
#[derive(Deserialize)]
#[allow(dead_code, reason = "read, not used")]
struct Document {
    family: At<String>,
    title: Option<String>,
    #[serde(default)]
    invented: bool,
    count: Option<At<u32>>,
    factor: Option<f64>,
    when: Option<Script>,
    otherwise: Option<Otherwise>,
    options: Option<Vec<String>>,
    values: Option<IndexMap<At<String>, String>>,
    level: Option<Level>,
    steps: Option<Vec<Step>>,
}

#[derive(Deserialize)]
#[allow(dead_code, reason = "read, not used")]
struct Level {
    window: String,
    start_below: Option<String>,
    gate: Option<Gate>,
}

#[derive(Deserialize)]
#[allow(dead_code, reason = "read, not used")]
struct Gate {
    must: Script,
    at_stake: Option<String>,
}

#[derive(Deserialize)]
#[allow(dead_code, reason = "read, not used")]
struct Step {
    id: At<String>,
    note: Option<String>,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(dead_code, reason = "read, not used")]
enum Otherwise {
    Wait,
    NextRound,
    Ask(Vec<String>),
}

#[test]
fn every_faulty_file_is_reported_where_it_is_faulty() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/yaml");
    let mut paths: Vec<_> = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|extension| extension == "yaml"));
    paths.sort();
    assert!(paths.len() > 30, "the folder of faulty files is not all there");
    let mut failures = Vec::new();
    for path in paths {
        let text = fs::read_to_string(&path).unwrap();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let expected: Vec<&str> = text
            .lines()
            .next()
            .unwrap()
            .trim_start_matches('\u{feff}')
            .trim_start_matches("# ")
            .split_whitespace()
            .collect();
        let mut problems = Problems::new();
        let read: Option<Document> = yaml::read(&Source::new(name.clone(), text.clone()), &mut problems);
        drop(read);
        let found: Vec<String> = sorted(&problems).iter().map(|p| format!("{}:{}", p.code, p.place.line())).collect();
        if found != expected {
            failures.push(format!("{name}: expected {expected:?}, found {found:?}"));
        }
        let shown = human(&problems, Look { color: false, width: 100, folded: false });
        let beside = path.with_extension("txt");
        if std::env::var_os("UPDATE_EXPECTED").is_some() {
            fs::write(&beside, &shown).unwrap();
        } else if fs::read_to_string(&beside).ok().as_ref() != Some(&shown) {
            failures.push(format!("{name}: the message is not the expected one, but\n{shown}"));
        }
        for problem in &problems {
            if problem.help.is_none() {
                failures.push(format!("{name}: no help: {}", problem.message));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Whatever our reader makes of a file, the other must make of it too.
#[test]
fn shipped_files_read_the_same_through_a_second_reader() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let mut folders: Vec<_> =
        ["plugins", "examples", "tests/fixtures"].iter().map(|folder| root.join(folder)).collect();
    let mut seen = 0;
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|extension| extension == "yaml") {
                let text = fs::read_to_string(&path).unwrap();
                let mut problems = Problems::new();
                let mine: Option<serde_yaml::Value> =
                    yaml::read(&Source::new(path.display().to_string(), text.clone()), &mut problems);
                assert!(problems.is_empty(), "{}", short(&problems));
                assert_eq!(
                    mine.unwrap(),
                    serde_yaml::from_str::<serde_yaml::Value>(&text).unwrap(),
                    "{}",
                    path.display()
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 10, "the shipped files have moved");
}
