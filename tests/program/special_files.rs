//! What is no ordinary file is refused without waiting for it, and nothing behind a link is written.

#![cfg(unix)]

use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use tempfile::TempDir;

use crate::audit::bench::texts_of;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Exit and all that was said. A command that waits or reads for ever is ended, and has no exit.
#[track_caller]
fn standpipe(arguments: &[&str], folder: &Path) -> (i32, String) {
    let mut command = assert_cmd::Command::cargo_bin("standpipe").unwrap();
    let output = command.current_dir(folder).args(arguments).write_stdin("").timeout(Duration::from_secs(120));
    let output = output.output().unwrap();
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(!said.contains("panicked"), "{said}");
    (output.status.code().unwrap_or_else(|| panic!("{arguments:?} did not end: {said}")), said)
}

fn pipe(path: &Path) {
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

type Put = fn(&Path);

/// What puts something special in place of a file.
fn specials() -> [(&'static str, Put); 4] {
    [
        ("pipe", pipe),
        ("endless", |path| symlink("/dev/zero", path).unwrap()),
        ("folder", |path| fs::create_dir(path).unwrap()),
        ("socket", |path| drop(std::os::unix::net::UnixListener::bind(path).unwrap())),
    ]
}

fn ran(folder: &Path) -> PathBuf {
    let journal = folder.join("kept.job");
    let examples = root().join("examples");
    let job = examples.join("jobs/heron-estate.yaml");
    let answers = examples.join("answers/heron-estate.yaml");
    let arguments = ["run", job.to_str().unwrap(), "--answers", answers.to_str().unwrap(), "--journal", "kept.job"];
    let (code, said) = standpipe(&arguments, folder);
    assert_eq!(code, 0, "{said}");
    journal
}

#[test]
fn no_file_of_a_plugin_need_be_one() {
    for (kind, put) in specials() {
        for name in ["plugin.yaml", "tables/a.csv", "scripts/a.rhai", "procedures/a.yaml", "families/a.yaml"] {
            let folder = TempDir::new().unwrap();
            let plugin = folder.path().join("mine");
            for inner in ["tables", "scripts", "procedures", "families"] {
                fs::create_dir_all(plugin.join(inner)).unwrap();
            }
            if name != "plugin.yaml" {
                fs::write(plugin.join("plugin.yaml"), "plugin: mine\ntitle: Mine\nversion: 1.0.0\n").unwrap();
            }
            put(&plugin.join(name));
            let (code, said) = standpipe(&["check", "mine"], folder.path());
            assert!(code != 70 && !said.is_empty(), "{kind} as {name}: {code} {said}");
            if kind != "folder" {
                assert_ne!(code, 0, "{kind} as {name}: {said}");
            }
        }
    }
}

#[test]
fn no_file_of_a_journal_need_be_one() {
    let folder = TempDir::new().unwrap();
    let journal = ran(folder.path());
    let evidence = fs::read_dir(journal.join("evidence")).unwrap().next().unwrap().unwrap().path();
    let evidence = evidence.strip_prefix(&journal).unwrap().to_str().unwrap().to_owned();
    let texts = texts_of(&journal).file_name().unwrap().to_str().unwrap().to_owned();
    for (kind, put) in specials() {
        for name in ["journal.jsonl", "plan.json", texts.as_str(), "lock", evidence.as_str()] {
            let path = journal.join(name);
            let aside = folder.path().join("aside");
            fs::rename(&path, &aside).unwrap();
            put(&path);
            for command in ["report", "audit", "jobs", "run"] {
                let (code, said) = standpipe(&[command, "kept.job"], folder.path());
                assert_ne!(code, 70, "{kind} as {name}, {command}: {said}");
                if command == "audit" && name != "lock" {
                    assert_eq!(code, 1, "{kind} as {name}: {said}");
                }
            }
            if path.is_dir() {
                fs::remove_dir(&path).unwrap()
            } else {
                fs::remove_file(&path).unwrap()
            }
            fs::rename(&aside, &path).unwrap();
        }
    }
    assert_eq!(standpipe(&["audit", "kept.job"], folder.path()).0, 0, "all is as it was");
}

#[test]
fn nothing_behind_a_link_of_a_journal_is_written() {
    let folder = TempDir::new().unwrap();
    let precious = folder.path().join("precious");
    let examples = root().join("examples");
    let (job, answers) = (examples.join("jobs/heron-estate.yaml"), examples.join("answers/heron-estate.yaml"));
    for (name, hard) in [
        ("lock", false),
        ("lock", true),
        ("evidence/part", false),
        ("evidence/part", true),
        ("evidence", false),
        ("plan.json.part", false),
    ] {
        fs::write(&precious, "precious").unwrap();
        let elsewhere = folder.path().join("elsewhere");
        fs::create_dir_all(&elsewhere).unwrap();
        let journal = folder.path().join("j.job");
        fs::create_dir_all(journal.join(name).parent().unwrap()).unwrap();
        match (name, hard) {
            ("evidence", _) => symlink(&elsewhere, journal.join(name)).unwrap(),
            (_, true) => fs::hard_link(&precious, journal.join(name)).unwrap(),
            (_, false) => symlink(&precious, journal.join(name)).unwrap(),
        }
        let arguments = [
            "run",
            job.to_str().unwrap(),
            "--answers",
            answers.to_str().unwrap(),
            "--journal",
            journal.to_str().unwrap(),
        ];
        let (code, said) = standpipe(&arguments, folder.path());
        assert_ne!(code, 70, "{name}: {said}");
        assert_eq!(fs::read_to_string(&precious).unwrap(), "precious", "{name}, {hard}");
        assert_eq!(fs::read_dir(&elsewhere).unwrap().count(), 0, "{name}: {said}");
        fs::remove_dir_all(&journal).unwrap();
    }
}

/// A copy that was made with hard links would change with the job; so would a file of somebody else that was put here.
#[test]
fn a_journal_that_has_a_second_name_does_not_grow() {
    let folder = TempDir::new().unwrap();
    let journal = ran(folder.path()).join("journal.jsonl");
    let lines = fs::read_to_string(&journal).unwrap();
    // Not closed: the last entry is still to be made.
    let open = lines.lines().take(lines.lines().count() / 2).collect::<Vec<_>>();
    let open = open[..=open.iter().rposition(|line| line.contains("\"end\":true")).unwrap()].join("\n") + "\n";
    fs::write(&journal, &open).unwrap();
    let second = folder.path().join("backup.jsonl");
    fs::hard_link(&journal, &second).unwrap();
    let run = ["run", "job.yaml", "--answers", "answers.yaml", "--journal", "kept.job"];
    let run = || {
        let examples = root().join("examples");
        let path = |part: &str| examples.join(part).to_str().unwrap().to_owned();
        let (job, answers) = (path("jobs/heron-estate.yaml"), path("answers/heron-estate.yaml"));
        let mut arguments = run;
        (arguments[1], arguments[3]) = (&job, &answers);
        standpipe(&arguments, folder.path())
    };
    let (code, said) = run();
    assert!(code == 2 && said.contains("second name"), "{code} {said}");
    assert_eq!(fs::read_to_string(&second).unwrap(), open, "{said}");
    assert_eq!(standpipe(&["report", "kept.job"], folder.path()).0, 0, "it is read all the same");
    // As the message says.
    fs::remove_file(&journal).unwrap();
    fs::copy(&second, &journal).unwrap();
    let (code, said) = run();
    assert_eq!(code, 0, "{said}");
    assert_eq!(fs::read_to_string(&second).unwrap(), open);
}

#[test]
fn a_job_does_not_make_us_quote_any_file() {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("passwords"), "root:secret:0:0\n").unwrap();
    symlink("passwords", folder.path().join("shop.yaml")).unwrap();
    for shop in ["passwords", "shop.yaml", "./passwords"] {
        let text = format!("job: 1\nfamily: heron\nprocedure: pan-service-overflow\nshop: {shop}\n");
        fs::write(folder.path().join("job.yaml"), text).unwrap();
        for command in ["card", "run", "check"] {
            let (code, said) = standpipe(&[command, "job.yaml"], folder.path());
            assert_ne!(code, 0, "{said}");
            assert!(
                !said.contains("secret") && said.contains("does not have the name of a shop file"),
                "{command} {shop}: {said}"
            );
        }
    }
}

#[test]
fn a_table_that_never_ends_is_refused() {
    let folder = TempDir::new().unwrap();
    let calc = ["calc", "viscosity-at-temperature", "--table"];
    let (code, said) = standpipe(&[&calc[..], &["/dev/zero"]].concat(), folder.path());
    assert_eq!(code, 2, "{said}");
    assert!(said.contains("a row of more than 1048576 bytes"), "{said}");
    // A quotation mark that is never closed swallows all lines behind it.
    let lines = "1,2\n".repeat(400_000);
    fs::write(folder.path().join("open.csv"), format!("kv40 [mm2/s],x\n\"1,{lines}")).unwrap();
    let (code, said) = standpipe(&[&calc[..], &["open.csv"]].concat(), folder.path());
    assert_eq!(code, 2, "{said}");
}
