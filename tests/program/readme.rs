//! Every command in README.md and DEVELOPERS.md does what stands beside it.

// A test says by failing what was wrong.
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::folders::copy;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// What a page has a reader do, one after the other.
enum Deed {
    /// An indented line: the command, and the exit code that a `# exit N` behind it names.
    Run(String, i32),
    /// A fenced block that names a file: what is written into it, or behind what is there where the file `(goes on)`.
    Write(String, String),
}

fn deeds(file: &str) -> Vec<Deed> {
    let text = std::fs::read_to_string(root().join(file)).unwrap();
    let mut found = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if let Some(fence) = line.strip_prefix("```") {
            let inside: Vec<&str> = lines.by_ref().take_while(|line| !line.starts_with("```")).collect();
            if let Some((_, file)) = fence.split_once(' ') {
                found.push(Deed::Write(file.to_owned(), inside.join("\n") + "\n"));
            }
        } else if let Some(command) = line.strip_prefix("    ") {
            let (command, code) = match command.split_once("# exit ") {
                Some((command, code)) => (command, code.trim().parse().unwrap()),
                None => (command, 0),
            };
            found.push(Deed::Run(command.trim().to_owned(), code));
        }
    }
    found
}

fn commands(file: &str) -> Vec<(String, i32)> {
    let runs = deeds(file).into_iter().filter_map(|deed| match deed {
        Deed::Run(command, code) => Some((command, code)),
        Deed::Write(..) => None,
    });
    runs.collect()
}

const NEEDS_OPENSSH: [&str; 3] = ["ssh-keygen", "standpipe sign ", "first-hour/signers"];

fn has_openssh() -> bool {
    let found = Command::new("ssh-keygen").arg("-?").output().is_ok();
    assert!(found || std::env::var_os("STANDPIPE_OPENSSH_NEEDED").is_none());
    found
}

/// Does in a folder what a page says; gives the number of commands.
fn follow(file: &str, folder: &Path) -> usize {
    let program = Path::new(env!("CARGO_BIN_EXE_standpipe"));
    let path = format!("{}:{}", program.parent().unwrap().display(), std::env::var("PATH").unwrap());
    let mut ran = 0;
    for deed in deeds(file) {
        let (command, code) = match deed {
            Deed::Write(file, text) => {
                let (file, before) = match file.strip_suffix(" (goes on)") {
                    Some(file) => (file, std::fs::read_to_string(folder.join(file)).unwrap()),
                    None => (file.as_str(), String::new()),
                };
                std::fs::create_dir_all(folder.join(file).parent().unwrap()).unwrap();
                std::fs::write(folder.join(file), format!("{before}{text}")).unwrap();
                continue;
            }
            Deed::Run(command, code) => (command, code),
        };
        let line = match command.split_once(' ') {
            // Signing is done by OpenSSH, which need not be there.
            Some(_) if NEEDS_OPENSSH.iter().any(|word| command.contains(word)) && !has_openssh() => continue,
            Some(("standpipe" | "bash" | "cp" | "mv" | "sed" | "mkdir" | "ssh-keygen", _)) => command.clone(),
            _ => match command.strip_prefix("cargo run --release -- ") {
                Some(arguments) => format!("standpipe {arguments}"),
                None => {
                    assert_eq!(command, "cargo test", "a command that this test does not know how to run");
                    continue;
                }
            },
        };
        // A server goes on until it is told to end, and another may have its port.
        let (line, code) = match line.starts_with("standpipe serve ") {
            true => (format!("timeout --preserve-status 3 {line} --listen 127.0.0.1:0"), 143),
            false => (line, code),
        };
        let output = Command::new("bash")
            .current_dir(folder)
            .env("PATH", &path)
            .args(["-c", &line])
            .stdin(std::process::Stdio::null())
            .output()
            .unwrap();
        let text = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        assert_eq!(output.status.code(), Some(code), "{file}: {command}\n{text}");
        let quiet = ["cp", "mv", "sed", "mkdir"].iter().any(|word| command.starts_with(word));
        assert!(quiet || !text.trim().is_empty(), "{command} says nothing");
        ran += 1;
    }
    ran
}

#[test]
fn the_commands_of_the_readme_run() {
    let folder = tempfile::TempDir::new().unwrap();
    copy(&root().join("examples"), &folder.path().join("examples"));
    let ran = follow("README.md", folder.path());
    assert!(ran > 10, "{ran} commands");
}

#[test]
fn the_commands_of_two_other_trades_run() {
    let folder = tempfile::TempDir::new().unwrap();
    copy(&root().join("examples/other-trades"), folder.path());
    assert_eq!(follow("examples/other-trades/README.md", folder.path()), 4);
}

/// Two pages go on where the one before ended.
#[test]
fn a_new_unit_is_made_from_an_empty_folder_and_its_job_done_and_read() {
    let folder = tempfile::TempDir::new().unwrap();
    let ran = follow("plugins/NEW-UNIT.md", folder.path());
    assert!(ran > 15, "{ran} commands");
    assert_eq!(follow("plugins/TECHNICIAN.md", folder.path()), 5);
    assert_eq!(follow("plugins/AUDITOR.md", folder.path()), 6);
}

#[test]
fn new_work_is_made_from_an_empty_folder() {
    let folder = tempfile::TempDir::new().unwrap();
    assert_eq!(follow("plugins/NEW-WORK.md", folder.path()), 15);
}

#[test]
fn one_step_of_each_kind_is_checked_and_run() {
    let folder = tempfile::TempDir::new().unwrap();
    assert_eq!(follow("plugins/STEPS.md", folder.path()), 6);
    let page = std::fs::read_to_string(root().join("plugins/STEPS.md")).unwrap();
    let kinds: Vec<&str> = page.lines().filter_map(|line| line.strip_prefix("## ")).take(10).collect();
    let known = standpipe::procedure::WORDS;
    assert_eq!(kinds.len(), known.len());
    assert!(known.iter().all(|kind| kinds.contains(kind)), "{kinds:?}");
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

#[test]
fn the_exit_codes_of_the_readme_are_those_there_are() {
    let readme = std::fs::read_to_string("README.md").unwrap();
    let told = readme.split("**Exit codes.**").nth(1).unwrap().split("\n\n").next().unwrap();
    let words = told.split_whitespace();
    let told: Vec<u8> = words.filter_map(|word| word.parse().ok()).collect();
    assert_eq!(told, standpipe::cli::Exit::ALL.map(standpipe::cli::Exit::number));
}
