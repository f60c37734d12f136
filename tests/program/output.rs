//! What is written to people and programs: all of it or an exit that says so, and nothing that a terminal would obey.

#![cfg(unix)]

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use tempfile::TempDir;

fn standpipe() -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("standpipe"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).stdin(Stdio::null());
    command
}

fn ran(folder: &Path) -> PathBuf {
    let journal = folder.join("kept.job");
    let run = ["run", "examples/jobs/heron-van.yaml", "--answers", "examples/answers/heron-van.yaml", "--journal"];
    assert!(standpipe().args(run).arg(&journal).output().unwrap().status.success());
    journal
}

const CALC: [&str; 6] =
    ["calc", "drum-room", "--plugins", "examples/workshop/ferry-lane", "--table", "examples/drums.csv"];

#[test]
fn a_result_that_is_not_written_is_no_success() {
    let folder = TempDir::new().unwrap();
    let journal = ran(folder.path());
    let journal = journal.to_str().unwrap();
    let commands: [&[&str]; 11] = [
        &["report", journal],
        &["report", journal, "--format", "json"],
        &["report", journal, "--format", "html"],
        &["audit", journal],
        &["audit", journal, "--format", "csv"],
        &["jobs", journal, "--all"],
        &["check", "examples"],
        &["show", "family"],
        &["convert", "1 L", "mL"],
        &["--help"],
        &["completions", "bash"],
    ];
    for arguments in commands {
        let well = standpipe().args(arguments).output().unwrap();
        assert_eq!(well.status.code(), Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&well.stderr));
        assert!(!well.stdout.is_empty(), "{arguments:?} says nothing");
        let full = File::options().write(true).open("/dev/full").unwrap();
        let output = standpipe().args(arguments).stdout(full).stderr(Stdio::piped()).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        // Whoever went away is not told of it, and it is no fault.
        let mut child = standpipe().args(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        assert_eq!(child.wait().unwrap().code(), Some(0), "{arguments:?}");
        assert!(!said.contains("written") && !said.contains("panicked"), "{arguments:?}: {said}");
    }
    let full = File::options().write(true).open("/dev/full").unwrap();
    let output = standpipe().args(CALC).stdout(full).stderr(Stdio::piped()).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() != Some(0) && said.contains("can't be written"), "{said}");
}

#[test]
fn a_journal_that_can_not_be_read_is_no_success() {
    let folder = TempDir::new().unwrap();
    let journal = ran(folder.path());
    let jobs = || standpipe().args(["jobs", "--all"]).arg(folder.path()).output().unwrap();
    assert_eq!(jobs().status.code(), Some(0));
    fs::write(journal.join("plan.json"), "{").unwrap();
    let output = jobs();
    assert_eq!(output.status.code(), Some(1), "{}", String::from_utf8_lossy(&output.stderr));
    // It is a line of the list, beside those that can be read.
    let listed = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(listed.contains("not read") && listed.contains("kept.job"), "{listed}");
}

/// Everything that a file, a folder or an argument may be called or hold, as far as it can be written there.
const HOSTILE: &str = "a\u{1b}[2Jb\u{7}c\u{9b}1md\u{202e}e\u{2066}f\u{7f}";

#[track_caller]
fn harmless(arguments: &[&str], folder: &Path) -> String {
    let output = standpipe().current_dir(folder).args(arguments).output().unwrap();
    let all = [output.stdout, output.stderr].concat();
    let said = String::from_utf8_lossy(&all).into_owned();
    let found = said.chars().find(|c| {
        c.is_control() && !matches!(c, '\n' | '\t') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    });
    assert_eq!(found, None, "{arguments:?}: {said:?}");
    assert!(!said.is_empty(), "{arguments:?}");
    said
}

#[test]
fn nothing_that_a_terminal_obeys_is_written() {
    let folder = TempDir::new().unwrap();
    let path = folder.path();
    let manifest = "version: \"1.0.0\"\nlicence: MIT\nauthor: tests\nplugins: [units, calculations]\n";
    for (folder, id) in [(HOSTILE, "hostile"), ("mine", "mine")] {
        for inner in ["tables", "scripts", "sheets"] {
            fs::create_dir_all(path.join(folder).join(inner)).unwrap();
        }
        fs::write(path.join(folder).join("plugin.yaml"), format!("plugin: {id}\n{manifest}")).unwrap();
    }
    let hostile = path.join(HOSTILE);
    fs::write(hostile.join("tables/a.csv"), format!("# title: {HOSTILE}\nname,{HOSTILE} [mm]\n{HOSTILE},{HOSTILE}\n"))
        .unwrap();
    fs::write(hostile.join("scripts/b.rhai"), format!("fn f(x) {{ `{HOSTILE}` + }}\n")).unwrap();
    for format in ["human", "short", "json"] {
        harmless(&["check", HOSTILE, "--format", format], path);
    }
    fs::write(path.join("mine/scripts/c.rhai"), format!("fn f(x) {{ throw \"{HOSTILE}\" }}\n")).unwrap();
    let escaped = HOSTILE.chars().map(|c| format!("\\u{:04X}", c as u32)).collect::<String>();
    let sheet = format!(
        "sheet: throws\ntitle: \"{escaped}\"\ninvented: true\nscript: c::f\nsources: [\"{escaped}\"]\n\
         inputs: {{ a: {{ is: length }} }}\noutputs: {{ b: {{ is: length, unit: mm }} }}\n"
    );
    fs::write(path.join("mine/sheets/throws.yaml"), sheet).unwrap();
    let said = harmless(&["show", "sheet", "throws", "--plugins", "mine"], path);
    assert!(said.contains("throws"), "{said}");
    let said = harmless(&["calc", "throws", "--plugins", "mine", "a=1 mm"], path);
    assert!(said.contains("a [2Jb"), "it was to throw: {said}");
    harmless(&["calc", "throws", "--plugins", "mine", &format!("a={HOSTILE}")], path);
    let table = format!("a [mm],{HOSTILE},=cmd|x\n1,{HOSTILE},=cmd|x\n");
    fs::write(path.join("t.csv"), &table).unwrap();
    let said = harmless(&["calc", "throws", "--plugins", "mine", "--table", "t.csv"], path);
    assert_eq!(said.matches("'=cmd|x").count(), 2, "{said}");
    for arguments in [
        &["convert", HOSTILE, HOSTILE][..],
        &["show", HOSTILE],
        &["report", HOSTILE],
        &["log", HOSTILE, HOSTILE],
        &["log", "sweep", "t.csv", "--column", HOSTILE],
        &[HOSTILE],
    ] {
        harmless(arguments, path);
    }
    // Names of folders in which jobs lie.
    let journal = ran(path);
    fs::rename(&journal, path.join(format!("{HOSTILE}.job"))).unwrap();
    harmless(&["jobs", ".", "--all"], path);
    harmless(&["audit", "."], path);
    fs::write(path.join(format!("{HOSTILE}.job/plan.json")), "{").unwrap();
    harmless(&["jobs", "."], path);
    harmless(&["audit", "."], path);
}

/// A job that waits for a reader on its standard input.
#[test]
fn a_signal_says_that_nothing_is_lost() {
    for (signal, exit) in [("INT", 130), ("TERM", 143), ("HUP", 129)] {
        let bench = crate::reader::Bench::new(crate::reader::TAKEN, "");
        let mut child = bench.process("j").stdin(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        // Once the job is opened it waits for rows.
        while !bench.path("j/journal.jsonl").exists() || fs::metadata(bench.path("j/journal.jsonl")).unwrap().len() == 0
        {
            assert!(child.try_wait().unwrap().is_none(), "it ended before it was told to");
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
        let id = child.id().to_string();
        assert!(Command::new("kill").args([&format!("-{signal}"), &id]).status().unwrap().success());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        assert_eq!(child.wait().unwrap().code(), Some(exit), "{said}");
        assert!(said.contains("all that was recorded is saved"), "{said}");
    }
}
