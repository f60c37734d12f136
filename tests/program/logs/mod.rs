//! `standpipe log` on the logs in `examples/logs/`.
//!
//! A case is a file `tests/logs/NAME.txt`: the first line holds the arguments after `standpipe log`, the second the exit
//! code; every line after that must stand in what the program writes, whatever lies around it. Blanks count as one.
//! The examples are made by `made.rs`: `STANDPIPE_REWRITE=1 cargo test --test program logs` makes them anew.

// A test says by failing what was wrong.
mod made;
mod mangled;
mod record;

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn the_examples_are_what_their_generator_makes() {
    let folder = root().join("examples/logs");
    let rewrite = std::env::var_os("STANDPIPE_REWRITE").is_some();
    for (name, bytes) in made::all() {
        assert!(bytes.len() < 60_000, "{name} has {} bytes", bytes.len());
        let path = folder.join(name);
        if rewrite {
            fs::write(&path, &bytes).unwrap();
        }
        assert!(fs::read(&path).unwrap() == bytes, "{name} is not what its generator makes");
    }
    let count = fs::read_dir(&folder).unwrap().filter(|entry| !entry.as_ref().unwrap().path().ends_with("README.md"));
    assert_eq!(count.count(), made::all().len(), "a log that no generator makes");
}

fn squeezed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            other => words.last_mut().unwrap().push(other),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

fn cases() -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = fs::read_dir(root().join("tests/logs"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "txt"))
        .collect();
    all.sort();
    all
}

#[test]
fn every_case_is_understood_asked_and_judged_as_it_says() {
    let mut wrong = Vec::new();
    for path in cases() {
        let text = fs::read_to_string(&path).unwrap();
        let mut lines = text.lines();
        let (arguments, exit) = (lines.next().unwrap(), lines.next().unwrap());
        let output = Command::cargo_bin("standpipe")
            .unwrap()
            .current_dir(root().join("examples/logs"))
            .arg("log")
            .args(words(arguments))
            .output()
            .unwrap();
        let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        let squeezed_all = squeezed(&said);
        let mut missing: Vec<String> = lines
            .filter(|line| !line.trim().is_empty() && !squeezed_all.contains(&squeezed(line)))
            .map(str::to_owned)
            .collect();
        let found = output.status.code().unwrap().to_string();
        if squeezed(exit) != format!("exit {found}") {
            missing.push(format!("{exit}, found exit {found}"));
        }
        if String::from_utf8_lossy(&output.stdout).lines().any(|line| line.chars().count() > 80) {
            missing.push("a line of more than 80 columns".to_owned());
        }
        if !missing.is_empty() {
            wrong.push(format!("{}:\n  {}\n{said}", path.display(), missing.join("\n  ")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_example_has_a_case() {
    let all: String = cases().iter().map(|path| fs::read_to_string(path).unwrap()).collect();
    for (name, _) in made::all() {
        assert!(all.lines().any(|line| line.starts_with(&format!("{name} "))), "no case for {name}");
    }
}

#[test]
fn the_cleaned_readings_are_a_row_for_every_row() {
    let run = |file: &Path| {
        let output = Command::cargo_bin("standpipe")
            .unwrap()
            .current_dir(root().join("examples/logs"))
            .args(["log", "--format", "csv", "--family", "heron", "--starts", "08:15:50"])
            .arg(file)
            .output()
            .unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let text = run(Path::new("milliseconds-latin1.csv"));
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 1501);
    assert_eq!(lines[0], "clock,time [s],sump_temperature [°C],engine_speed [rpm]");
    assert!(lines[1].starts_with("08:15:50,0,36."), "{}", lines[1]);
    // What is read again from the cleaned readings is the same.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cleaned.csv");
    fs::write(&path, text.replace("clock,time [s]", "clock,seconds")).unwrap();
    let again = run(&path);
    let column = |text: &str| -> Vec<String> {
        text.lines().skip(1).map(|line| line.split(',').nth(2).unwrap().to_owned()).collect()
    };
    assert_eq!(column(&again), column(&text));
}
