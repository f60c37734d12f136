//! Every command in README.md and DEVELOPERS.md does what stands beside it.

// A test says by failing what was wrong.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Indented lines, which are commands: the text, and the exit code that a `# exit N` behind it names.
fn commands(file: &str) -> Vec<(String, i32)> {
    let text = std::fs::read_to_string(root().join(file)).unwrap();
    let mut fenced = false;
    let mut found = Vec::new();
    for line in text.lines() {
        fenced ^= line.starts_with("```");
        let Some(command) = line.strip_prefix("    ").filter(|_| !fenced) else { continue };
        let (command, code) = match command.split_once("# exit ") {
            Some((command, code)) => (command, code.trim().parse().unwrap()),
            None => (command, 0),
        };
        found.push((command.trim().to_owned(), code));
    }
    found
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

#[test]
fn the_commands_of_the_readme_run() {
    let folder = tempfile::TempDir::new().unwrap();
    copy(&root().join("examples"), &folder.path().join("examples"));
    let program = Path::new(env!("CARGO_BIN_EXE_standpipe"));
    let path = format!("{}:{}", program.parent().unwrap().display(), std::env::var("PATH").unwrap());
    let mut ran = 0;
    for (command, code) in commands("README.md") {
        let line = match command.split_once(' ') {
            Some(("standpipe" | "bash" | "cp" | "sed" | "mkdir", _)) => command.clone(),
            _ => match command.strip_prefix("cargo run --release -- ") {
                Some(arguments) => format!("standpipe {arguments}"),
                None => {
                    assert_eq!(command, "cargo test", "a command that this test does not know how to run");
                    continue;
                }
            },
        };
        let output = Command::new("bash")
            .current_dir(folder.path())
            .env("PATH", &path)
            .args(["-c", &line])
            .stdin(std::process::Stdio::null())
            .output()
            .unwrap();
        let text = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        assert_eq!(output.status.code(), Some(code), "{command}\n{text}");
        let quiet = ["cp", "sed", "mkdir"].iter().any(|word| command.starts_with(word));
        assert!(quiet || !text.trim().is_empty(), "{command} says nothing");
        ran += 1;
    }
    assert!(ran > 10, "{ran} commands");
}

/// Those that would run this test again, or build everything anew, stand in `.ci/run`, which runs them.
#[test]
fn the_commands_for_developers_are_those_of_the_checks() {
    let checks = std::fs::read_to_string(root().join(".ci/run")).unwrap();
    let commands = commands("DEVELOPERS.md");
    assert_eq!(commands.len(), 3);
    for (command, _) in commands {
        let plain = checks.replace(" --quiet", "");
        assert!(plain.contains(&command), "{command} is not in .ci/run");
    }
}

#[test]
fn every_calculation_has_its_place_in_the_readme() {
    let readme = std::fs::read_to_string("README.md").unwrap();
    let sheets: Vec<String> = std::fs::read_dir("plugins/calculations/sheets")
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    assert!(sheets.len() > 20, "{sheets:?}");
    let missing: Vec<&String> = sheets.iter().filter(|id| !readme.contains(&format!("`{id}`"))).collect();
    assert!(missing.is_empty(), "not named in README.md: {missing:?}");
}
