//! A small job beside a file of rows.

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

const FILES: &[(&str, &str)] = &[
    ("p/plugin.yaml", "plugin: p\nversion: \"1.0.0\"\nlicence: MIT\nauthor: tests\nplugins: [units, calculations]\n"),
    ("p/forms/kiln.yaml", "form: kiln\ntitle: Kiln\njob:\n  vehicle.plate: { is: text }\n"),
    (
        "p/families/small.yaml",
        "family: small\nform: kiln\ntitle: Small\ninvented: true\nsources: [{ covers: all, from: invented for the tests }]\n",
    ),
    (
        "p/procedures/main.yaml",
        "procedure: main\nform: kiln\ntitle: Main\nsteps:\n\
         \x20 - id: warm\n    title: Wait for it\n    await:\n      sample: warmth\n      is: temperature\n\
         \x20     within: range(36.degC, 44.degC)\n      instrument: gauge\n      unit: degC\n      forecast: window-forecast\n\
         \x20 - id: close\n    title: Close it\n    read: { at_close: { is: temperature, instrument: gauge } }\n\
         \x20   gate:\n      must: at_close in range(36.degC, 44.degC)\n      otherwise: stop\n\
         pictures:\n\
         \x20 - picture: heat\n    title: Heat\n    pages: [record]\n    course:\n      of: [warmth, at_close]\n\
         \x20     window: range(36.degC, 44.degC)\n      marks: [close]\n",
    ),
    (
        "shop.yaml",
        "shop: bench\npeople:\n  ann: { name: Ann A., roles: [hand] }\n\
         instruments:\n  gauge: { kind: gauge, unit: degC, range: 0..100 degC }\nplugins: [p]\n",
    ),
    ("job.yaml", "job: T-1\nfamily: small\nprocedure: main\nshop: shop.yaml\nvehicle: { plate: AB 1 }\n"),
];

pub const FROM: &str =
    "answers: a\nfor: job.yaml\nlist:\n  - { step: warm, at: \"2026-11-23T08:00:00\", by: ann, note: We begin. }\n";

/// Ten minutes from 33 degC, 0.1 degC every six seconds, from 08:00; the rows of some seconds can be left out.
pub fn log(without: std::ops::Range<u32>) -> String {
    let mut text = "Clock;Warmth [°C]\n".to_owned();
    for second in (0..600).step_by(2).filter(|second| !without.contains(second)) {
        let warmth = 33.0 + f64::from(second) / 60.0;
        let warmth = format!("{warmth:.1}").replace('.', ",");
        text.push_str(&format!("08:{:02}:{:02};{warmth}\n", second / 60, second % 60));
    }
    text
}

pub struct Bench(TempDir);

impl Bench {
    pub fn new(answers: &str, rows: &str) -> Self {
        let folder = TempDir::new().unwrap();
        for (path, text) in FILES {
            let path = folder.path().join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
        fs::write(folder.path().join("answers.yaml"), format!("{FROM}{answers}")).unwrap();
        fs::write(folder.path().join("rows.csv"), rows).unwrap();
        Self(folder)
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn command(&self, journal: &str, reader: &Path) -> Command {
        let mut command = Command::cargo_bin("standpipe").unwrap();
        command.arg("run").arg(self.path("job.yaml")).arg("--answers").arg(self.path("answers.yaml"));
        command.arg("--journal").arg(self.path(journal)).arg("--reader").arg(reader);
        command
    }

    /// A run that waits for rows on its standard input.
    pub fn process(&self, journal: &str) -> std::process::Command {
        let mut command = std::process::Command::new(assert_cmd::cargo::cargo_bin!("standpipe"));
        command.arg("run").arg(self.path("job.yaml")).arg("--answers").arg(self.path("answers.yaml"));
        command.arg("--journal").arg(self.path(journal)).args(["--reader", "-"]);
        command
    }

    pub fn run(&self, journal: &str) -> (i32, String) {
        let output = self.command(journal, &self.path("rows.csv")).output().unwrap();
        (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
    }

    pub fn events(&self, journal: &str) -> Vec<Value> {
        let text = fs::read_to_string(self.path(journal).join("journal.jsonl")).unwrap();
        text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    pub fn turns(&self, journal: &str) -> Vec<(String, String)> {
        let streams = self.events(journal).into_iter().filter(|event| event["event"] == "stream");
        let text = |value: &Value| value.as_str().unwrap().to_owned();
        streams.map(|event| (text(&event["turn"]), text(&event["at"]))).collect()
    }
}

pub fn turn(word: &str, at: &str) -> (String, String) {
    (word.to_owned(), format!("2026-11-23T{at}+00:00"))
}
