//! A job of the examples as its answers file has it, and what is compared of two journals of it.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value as Json;

/// One thing that somebody does.
#[derive(Clone, Debug)]
pub struct Deed {
    pub by: String,
    pub step: String,
    /// One item, where the rest of the pass is not meant.
    pub item: Option<String>,
    pub what: What,
}

#[derive(Clone, Debug)]
pub enum What {
    Enter {
        typed: Vec<(String, String)>,
        bare: Option<String>,
        with: Vec<(String, String)>,
        witness: Option<String>,
        photo: Option<PathBuf>,
    },
    Call(String),
    Note(String),
}

/// What an answers file says. Panics over what no walk here needs.
pub fn deeds(file: &Path) -> Vec<Deed> {
    let text = std::fs::read_to_string(file).unwrap();
    let answers: serde_yaml::Value = serde_yaml::from_str(&text).unwrap();
    answers["list"].as_sequence().unwrap().iter().map(|answer| deed(answer, file.parent().unwrap())).collect()
}

fn deed(answer: &serde_yaml::Value, folder: &Path) -> Deed {
    let text = |key: &str| answer.get(key).and_then(scalar);
    let what = if let Some(procedure) = text("call") {
        What::Call(procedure)
    } else if let Some(note) = text("note") {
        What::Note(note)
    } else {
        let entered = answer.get("enter").unwrap_or_else(|| panic!("no walk knows {answer:?}"));
        What::Enter {
            typed: pairs(Some(entered)),
            bare: scalar(entered).filter(|word| word != "done"),
            with: pairs(answer.get("instruments")),
            witness: text("witness"),
            photo: text("evidence").map(|path| folder.join(path).canonicalize().unwrap()),
        }
    };
    Deed { by: text("by").unwrap(), step: text("step").unwrap_or_default(), item: text("item"), what }
}

fn pairs(of: Option<&serde_yaml::Value>) -> Vec<(String, String)> {
    let map = of.and_then(serde_yaml::Value::as_mapping);
    map.into_iter().flatten().map(|(name, value)| (scalar(name).unwrap(), scalar(value).unwrap())).collect()
}

fn scalar(value: &serde_yaml::Value) -> Option<String> {
    match value {
        serde_yaml::Value::String(text) => Some(text.clone()),
        serde_yaml::Value::Number(number) => Some(number.to_string()),
        serde_yaml::Value::Bool(truth) => Some(truth.to_string()),
        _ => None,
    }
}

/// The same answers, headless.
pub fn headless(shop: &Path, job: &str) -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let journal = shop.join("headless").join(job);
    let output = Command::new(env!("CARGO_BIN_EXE_standpipe"))
        .arg("run")
        .arg(shop.join("jobs").join(format!("{job}.yaml")))
        // As the server was told: a plan keeps the paths of its texts.
        .arg("--shop")
        .arg(shop.join("workshop/shop.yaml"))
        .arg("--answers")
        .arg(root.join(format!("examples/answers/{job}.yaml")))
        .arg("--journal")
        .arg(&journal)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    journal
}

/// What happened in a job: its events without what differs between answers and a page.
pub fn events(folder: &Path) -> Vec<Json> {
    let lines = crate::folders::journal(folder);
    let strip = |line: &str| {
        let mut event: Json = serde_json::from_str(line).unwrap();
        let fields = event.as_object_mut().unwrap();
        // The chain with its tokens, who sent it and when, how many items went with one tap; below, what a photo was called.
        for key in ["prev", "sum", "plan", "id", "via", "at", "entered_at", "origin", "tool", "end"] {
            fields.remove(key);
        }
        if let Some(photos) = fields.get_mut("evidence").and_then(Json::as_array_mut) {
            photos.iter_mut().for_each(|photo| drop(photo.as_object_mut().unwrap().remove("name")));
        }
        event
    };
    lines.lines().map(strip).collect()
}

/// The devices that a journal names, by the person that entered something with them.
pub fn vias(folder: &Path) -> Vec<(String, Json)> {
    let lines = std::fs::read_to_string(folder.join("journal.jsonl")).unwrap();
    let lines = lines.lines().map(|line| serde_json::from_str::<Json>(line).unwrap());
    lines
        .filter(|line| line.get("via").is_some())
        .map(|line| (line["by"].as_str().unwrap().to_owned(), line["via"].clone()))
        .collect()
}
