//! Journals of every format that was ever released, as they were written: what they show, they show for ever.
//!
//! `tests/journals/FORMAT/` has a folder for each job. A new format adds folders; none is ever changed or taken away.

use std::fs;
use std::path::PathBuf;

use serde_json::{Map, Value as Json};

use crate::audit::bench::{audit, point, root, standpipe};

fn folders() -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = fs::read_dir(root().join("tests/journals"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_dir())
        .flat_map(|format| fs::read_dir(format).unwrap().map(|entry| entry.unwrap().path()))
        .collect();
    all.sort();
    all
}

/// How it ended, and every value by its name and step; words may change.
fn shown(record: &Json) -> Json {
    let outcome = &record["outcome"];
    let counts = ["state", "begun", "gates_met", "gates_not_met", "gates_not_shown", "gates_accepted"];
    let mut shown: Map<String, Json> = counts.iter().map(|key| ((*key).to_owned(), outcome[*key].clone())).collect();
    let entered = ["measured", "observed"].into_iter().flat_map(|list| record[list].as_array().unwrap().clone());
    let computed = record["computed"].as_array().unwrap().iter();
    let results = computed.flat_map(|one| {
        let here = one["address"].clone();
        one["results"].as_array().unwrap().iter().map(move |result| (here.clone(), result.clone())).collect::<Vec<_>>()
    });
    let values = entered.map(|one| (one["address"].clone(), one)).chain(results);
    for (address, one) in values {
        let key = format!("{} {}", address.as_str().unwrap(), one["name"].as_str().unwrap());
        shown.entry(key).or_insert(Json::Array(Vec::new())).as_array_mut().unwrap().push(one["value"].clone());
    }
    Json::Object(shown)
}

#[test]
fn every_journal_that_was_ever_written_is_decided_as_it_was() {
    let folders = folders();
    assert!(folders.len() >= 5, "{folders:?}");
    for folder in folders {
        let (_, journals) = audit(&folder, &[]);
        let journal = &journals[0];
        // Plugins that the program carries today may be others, and a job that was left open is not shown to its end.
        for one in journal["points"].as_array().unwrap() {
            let may_differ = matches!(one["point"].as_str(), Some("texts of the plan" | "closed"));
            assert!(may_differ || one["verdict"] == "holds", "{}: {one}", folder.display());
        }
        assert!(point(journal, "decisions")["looked_at"].as_u64().unwrap() > 5, "{}", folder.display());
        let output = standpipe().arg("report").arg(&folder).args(["--format", "json"]).output().unwrap();
        let report: Json = serde_json::from_slice(&output.stdout).unwrap();
        let shown = shown(&report["record"]);
        let kept = folder.join("shown.json");
        // Once only, when a journal is added.
        if !kept.exists() {
            fs::write(&kept, serde_json::to_string_pretty(&shown).unwrap() + "\n").unwrap();
        }
        let expected: Json = serde_json::from_slice(&fs::read(kept).unwrap()).unwrap();
        assert_eq!(shown, expected, "{}", folder.display());
    }
}

/// What is left out of a copy today is left out of it for ever: without its texts each is decided as it was.
#[test]
fn every_journal_that_keeps_texts_apart_holds_without_them() {
    let keeps_apart = |folder: &PathBuf| folder.join("apart.jsonl").exists();
    let folders: Vec<PathBuf> = folders().into_iter().filter(keeps_apart).collect();
    assert!(folders.len() >= 4, "{folders:?}");
    for folder in folders {
        let copy = tempfile::TempDir::new().unwrap();
        crate::folders::copy(&folder, copy.path());
        fs::remove_file(copy.path().join("apart.jsonl")).unwrap();
        let (_, journals) = audit(copy.path(), &[]);
        for one in journals[0]["points"].as_array().unwrap() {
            let may_differ = one["point"] == "texts of the plan";
            assert!(may_differ || one["verdict"] == "holds", "{}: {one}", folder.display());
        }
        let texts = point(&journals[0], "texts kept apart").to_string();
        assert!(texts.contains("texts are left out"), "{}: {texts}", folder.display());
    }
}
