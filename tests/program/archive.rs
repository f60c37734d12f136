//! Many jobs as columns: what is in them, who is not, and what becomes of files and jobs that don't hold.

use std::path::{Path, PathBuf};

use assert_cmd::Command;

#[expect(clippy::print_stderr, reason = "whoever reads the tests' output has to know")]
pub fn not_checked(what: &str) {
    eprintln!("NOT CHECKED: {what}");
}

/// What `tests/archive/python.sh` makes; none where it was not made.
pub fn python() -> Option<PathBuf> {
    let python = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/python/bin/python");
    if python.exists() {
        return Some(python);
    }
    assert!(std::env::var_os("STANDPIPE_PYTHON_NEEDED").is_none(), "run `sh tests/archive/python.sh`");
    not_checked("what other readers of columns find; `sh tests/archive/python.sh` fetches pandas and DuckDB");
    None
}

fn standpipe() -> Command {
    Command::cargo_bin("standpipe").unwrap()
}

#[cfg(not(feature = "archive"))]
#[test]
fn a_build_without_columns_says_how_to_get_them() {
    not_checked("columns; `cargo test --features archive` does");
    let room = tempfile::tempdir().unwrap();
    let into = room.path().join("archive");
    let output = standpipe().args(["archive", "."]).arg("--into").arg(&into).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code() == Some(2) && said.contains("--features archive"), "{said}");
    assert!(!into.exists());
}

#[cfg(feature = "archive")]
pub mod columns {
    use std::collections::BTreeMap;
    use std::fs;
    use std::path::{Path, PathBuf};
    use std::process::{Command as Process, Stdio};
    use std::thread::sleep;
    use std::time::Duration;

    use serde_json::Value as Json;
    use tempfile::TempDir;

    use super::{python, standpipe};
    use crate::audit::bench::sha256;
    use crate::audit::fleet::fleet;
    use crate::folders::copy;

    /// Exit code and what was said, as data.
    pub fn archive(jobs: &[&Path], into: &Path, more: &[&str]) -> (i32, Json) {
        let mut command = standpipe();
        command.args(["archive", "--format", "json"]).args(jobs).arg("--into").arg(into).args(more);
        let output = command.output().unwrap();
        let told = serde_json::from_slice(&output.stdout);
        (output.status.code().unwrap(), told.unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr))))
    }

    fn counts(told: &Json) -> [u64; 4] {
        ["closed", "open", "known", "left_aside"].map(|key| told[key].as_u64().unwrap_or_else(|| panic!("{told:#}")))
    }

    fn messages(told: &Json) -> String {
        let problems = told["problems"].as_array().unwrap();
        problems.iter().map(|problem| format!("{}: {}\n", problem["code"], problem["message"])).collect()
    }

    /// A folder with a copy of the fleet of the example workshop, which ends with 14 closed jobs and two that stand.
    pub fn room() -> (TempDir, PathBuf, PathBuf) {
        let room = TempDir::new().unwrap();
        let jobs = room.path().join("jobs");
        for entry in fs::read_dir(fleet()).unwrap() {
            let folder = entry.unwrap().path();
            if folder.join("journal.jsonl").exists() {
                copy(&folder, &jobs.join(folder.file_name().unwrap()));
            }
        }
        let into = room.path().join("archive");
        (room, jobs, into)
    }

    fn list(into: &Path) -> Json {
        serde_json::from_slice(&fs::read(into.join("archive.json")).unwrap()).unwrap()
    }

    /// Every file that the list names, with its bytes; each is as the list says.
    fn files(into: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut all = BTreeMap::new();
        for batch in list(into)["batches"].as_array().unwrap() {
            let word = |key: &str| batch[key].as_str().unwrap().to_owned();
            for (table, columns) in batch["tables"].as_object().unwrap() {
                let name = format!("{table}/shop={}/month={}/{}.parquet", word("shop"), word("month"), word("name"));
                let bytes = fs::read(into.join(&name)).unwrap();
                assert_eq!(columns["sha256"], sha256(&bytes), "{name}");
                all.insert(PathBuf::from(name), bytes);
            }
        }
        all
    }

    pub fn one(into: &Path, table: &str, month: &str) -> PathBuf {
        let found = files(into).into_keys().find(|path| {
            let path = path.to_str().unwrap();
            path.starts_with(table) && path.contains(month)
        });
        into.join(found.unwrap())
    }

    /// Whether `read_back.py` finds all as it is to be, and what it said.
    fn read_back(python: &Path, how: &[&str], into: &Path, jobs: &Path) -> (bool, String) {
        let schema = into.join("schema.json");
        fs::write(&schema, standpipe().args(["schema", "archive"]).output().unwrap().stdout).unwrap();
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/archive/read_back.py");
        let mut command = Process::new(python);
        command.arg(script).args(how).arg(into).arg(schema).arg(jobs.join("archive.key")).arg(jobs);
        let output = command.output().unwrap();
        let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        (output.status.success(), said)
    }

    pub fn simulate(into: &Path, procedure: &[&str], jobs: u32) {
        let (jobs, seed) = (jobs.to_string(), "23");
        let output = standpipe()
            .arg("simulate")
            .args(procedure)
            .args(["--unpaired", "--seed", seed, "--jobs", &jobs, "--keep", &jobs, "--into"])
            .arg(into)
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }

    #[test]
    fn other_readers_find_every_value_of_every_journal() {
        let Some(python) = python() else { return };
        let (room, jobs, into) = room();
        let kilns = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/simulated/small-kiln");
        let plugins = kilns.to_str().unwrap();
        let kiln =
            ["firing", "--family", "north", "--model", "small-kiln", "--people", "perfect", "--plugins", plugins];
        simulate(&jobs.join("kilns"), &kiln, 200);
        simulate(&jobs.join("herons"), &["pan-service-overflow", "--family", "heron"], 12);
        let (code, told) = archive(&[&jobs], &into, &["--words"]);
        assert_eq!(code, 0, "{told:#}");
        assert_eq!(counts(&told)[0] + counts(&told)[1], 228);
        let (alike, said) = read_back(&python, &[], &into, &jobs);
        assert!(alike && said.contains("228 journals, every row alike"), "{said}");
        // The comparison can fail: a value of a journal that is another one than the archive has.
        let journal = jobs.join("heron-van/journal.jsonl");
        let text = fs::read_to_string(&journal).unwrap();
        assert!(text.contains("148230"));
        fs::write(&journal, text.replacen("148230", "148231", 1)).unwrap();
        let (alike, said) = read_back(&python, &[], &into, &jobs);
        assert!(!alike && said.contains("readings by pandas lacks"), "{said}");
        drop(room);
    }

    #[test]
    fn nobody_is_called_by_name_and_words_are_left_out() {
        let Some(python) = python() else { return };
        let (_room, jobs, into) = room();
        assert_eq!(archive(&[&jobs], &into, &[]).0, 0);
        let (hidden, said) = read_back(&python, &["--hidden"], &into, &jobs);
        assert!(hidden && said.ends_with(": 0 found\n"), "{said}");
        // With words in it, the same look finds them.
        let with = into.with_extension("words");
        assert_eq!(archive(&[&jobs], &with, &["--words"]).0, 0);
        let (hidden, said) = read_back(&python, &["--hidden"], &with, &jobs);
        assert!(!hidden && said.contains("it is time."), "{said}");
    }

    #[test]
    fn what_is_there_is_passed_over_and_never_written_again() {
        let (_room, jobs, into) = room();
        let (code, told) = archive(&[&jobs], &into, &[]);
        assert_eq!((code, counts(&told)), (0, [14, 2, 0, 0]), "{told:#}");
        let key = fs::read_to_string(jobs.join("archive.key")).unwrap();
        let before = files(&into);
        assert_eq!(before.len(), 18, "six tables of two months, and of what is open");
        let (code, told) = archive(&[&jobs], &into, &[]);
        assert_eq!((code, counts(&told)), (0, [0, 2, 14, 0]), "{told:#}");
        assert_eq!(files(&into), before);
        assert_eq!(fs::read_to_string(jobs.join("archive.key")).unwrap(), key);
        let all: String = before.values().map(|bytes| String::from_utf8_lossy(bytes).into_owned()).collect();
        assert!(!all.contains(key.trim()), "the key is in the archive");
        // The same jobs from another folder are the same jobs.
        let elsewhere = jobs.with_file_name("elsewhere");
        copy(&jobs, &elsewhere);
        let (code, told) = archive(&[&elsewhere, &jobs], &into, &[]);
        assert_eq!((code, counts(&told)), (0, [0, 2, 30, 0]), "{told:#}");
    }

    /// Added day by day they are in the files that they would be in had they been added at once.
    #[test]
    fn few_jobs_of_a_month_are_written_anew_with_the_next_ones() {
        let (_room, jobs, into) = room();
        let at_once = into.with_extension("at-once");
        assert_eq!(archive(&[&jobs], &at_once, &[]).0, 0);
        let mut folders: Vec<PathBuf> = fs::read_dir(&jobs).unwrap().map(|entry| entry.unwrap().path()).collect();
        folders.sort();
        for folder in folders.iter().filter(|folder| folder.is_dir()) {
            let (code, told) = archive(&[folder], &into, &[]);
            assert_eq!(code, 0, "{told:#}");
        }
        let closed = |into: &Path| -> BTreeMap<PathBuf, Vec<u8>> {
            files(into).into_iter().filter(|(path, _)| !path.to_str().unwrap().contains("month=open")).collect()
        };
        assert_eq!(closed(&into).len(), 12, "a file for each table and month");
        assert_eq!(closed(&into), closed(&at_once));
        // What was replaced is gone.
        let (code, told) = archive(&[&jobs], &into, &[]);
        assert_eq!((code, messages(&told)), (0, String::new()), "{told:#}");
    }

    #[test]
    fn a_file_that_was_cut_off_takes_its_jobs_along_and_they_come_again() {
        let (_room, jobs, into) = room();
        archive(&[&jobs], &into, &[]);
        let before = files(&into);
        for (table, month) in [("jobs", "2026-11"), ("readings", "2026-12"), ("computed", "open")] {
            let file = one(&into, table, month);
            let bytes = fs::read(&file).unwrap();
            fs::write(&file, &bytes[..bytes.len() / 2]).unwrap();
            let (code, told) = archive(&[&jobs], &into, &[]);
            assert!(code == 1 && messages(&told).contains("bytes, and was written with"), "{told:#}");
            assert_eq!(files(&into), before, "{table}");
            assert_eq!(archive(&[&jobs], &into, &[]).0, 0);
        }
        // Gone, or of the same length with other bytes.
        let file = one(&into, "jobs", "2026-11");
        for broken in [None, Some(vec![b'x'; fs::read(&file).unwrap().len()])] {
            fs::remove_file(&file).unwrap();
            if let Some(bytes) = broken {
                fs::write(&file, bytes).unwrap();
            }
            let (code, told) = archive(&[&jobs], &into, &[]);
            assert!(code == 1 && messages(&told).contains("unreadable-file"), "{told:#}");
            assert_eq!(files(&into), before);
        }
        // A file that nobody wrote is said to be there, and is in nobody's way.
        fs::write(file.with_file_name("half.parquet"), b"PAR1").unwrap();
        let (code, told) = archive(&[&jobs], &into, &[]);
        assert!(code == 1 && messages(&told).contains("half.parquet"), "{told:#}");
        assert_eq!(files(&into), before);
    }

    #[test]
    fn what_a_newer_version_wrote_is_left_as_it_is() {
        let (_room, jobs, into) = room();
        archive(&[&jobs], &into, &[]);
        // A file of newer columns among those that are known.
        let file = one(&into, "jobs", "2026-11");
        let bytes = fs::read(&file).unwrap();
        let key = b"standpipe.archive";
        let at = bytes.windows(key.len()).rposition(|window| window == key).unwrap() + key.len();
        let mut newer = bytes.clone();
        let digit = newer[at..at + 4].iter().position(|byte| *byte == b'1').unwrap();
        newer[at + digit] = b'2';
        fs::write(&file, &newer).unwrap();
        let (code, told) = archive(&[&jobs], &into, &[]);
        assert!(code == 1 && messages(&told).contains("newer-version"), "{told:#}");
        // A list of a newer version: nothing can be added to what is not understood.
        let path = into.join("archive.json");
        let text = fs::read_to_string(&path).unwrap().replace("standpipe.archive/1", "standpipe.archive/2");
        fs::write(&path, &text).unwrap();
        let (code, told) = archive(&[&jobs], &into, &[]);
        assert!(code == 2 && messages(&told).contains("of version 2 of its tables"), "{told:#}");
        assert_eq!(fs::read_to_string(&path).unwrap(), text);
    }

    #[test]
    fn two_workshops_of_one_id_are_told_apart() {
        let (_room, jobs, into) = room();
        let other = jobs.with_file_name("other");
        copy(&jobs.join("heron-van"), &other.join("heron-van"));
        fs::rename(jobs.join("heron-van"), jobs.with_file_name("moved")).unwrap();
        assert_eq!(archive(&[&jobs], &into, &[]).0, 0);
        let before = list(&into);
        let (code, told) = archive(&[&other], &into, &[]);
        assert_eq!((code, counts(&told)), (1, [0, 0, 0, 1]), "{told:#}");
        assert!(messages(&told).contains("another workshop is in the archive as `ferry-lane`"), "{told:#}");
        assert_eq!(list(&into)["batches"], before["batches"]);
        // With its own key it is the same one.
        fs::copy(jobs.join("archive.key"), other.join("archive.key")).unwrap();
        assert_eq!(counts(&archive(&[&other], &into, &[]).1), [1, 0, 0, 0]);
    }

    #[test]
    fn a_job_in_two_folders_is_taken_once_and_only_if_one_goes_on_from_the_other() {
        let (_room, jobs, into) = room();
        let (van, half) = (jobs.join("heron-van"), jobs.join("a-half"));
        copy(&van, &half);
        let text = fs::read_to_string(half.join("journal.jsonl")).unwrap();
        let end = text.match_indices("\"end\":true").nth(30).unwrap().0;
        let end = end + text[end..].find('\n').unwrap() + 1;
        fs::write(half.join("journal.jsonl"), &text[..end]).unwrap();
        let (code, told) = archive(&[&jobs], &into, &[]);
        assert_eq!((code, counts(&told)), (0, [14, 2, 0, 1]), "{told:#}");
        assert!(messages(&told).contains("goes on in"), "{told:#}");
        // What was open and is closed now moves to its month.
        let (_room, jobs, into) = room();
        fs::rename(jobs.join("heron-van"), jobs.with_file_name("van")).unwrap();
        copy(&half, &jobs.join("heron-van"));
        assert_eq!(counts(&archive(&[&jobs], &into, &[]).1), [13, 3, 0, 0]);
        fs::remove_dir_all(jobs.join("heron-van")).unwrap();
        fs::rename(jobs.with_file_name("van"), jobs.join("heron-van")).unwrap();
        assert_eq!(counts(&archive(&[&jobs], &into, &[]).1), [1, 2, 13, 0]);
        // Two went on from one beginning, each its own way.
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let answers = fs::read_to_string(root.join("examples/answers/heron-van.yaml")).unwrap();
        let otherwise = jobs.with_file_name("otherwise.yaml");
        let beside = format!("{}/examples/", root.display());
        let answers = answers.replace("../", &beside).replace("Ring on the level plug", "Ring on a plug");
        fs::write(&otherwise, answers).unwrap();
        let apart = into.with_extension("apart");
        copy(&half, &jobs.join("heron-van-otherwise"));
        let mut run = standpipe();
        run.arg("run").arg(root.join("examples/jobs/heron-van.yaml")).arg("--answers").arg(&otherwise);
        assert!(run.arg("--journal").arg(jobs.join("heron-van-otherwise")).output().unwrap().status.success());
        let (code, told) = archive(&[&jobs], &apart, &[]);
        assert_eq!((code, counts(&told)), (1, [14, 2, 0, 1]), "{told:#}");
        assert!(messages(&told).contains("neither goes on from the other"), "{told:#}");
        let (code, told) = archive(&[&jobs.join("heron-van-otherwise")], &apart, &[]);
        assert!(code == 1 && messages(&told).contains("the archive, where it is closed"), "{told:#}");
    }

    #[test]
    fn a_clock_that_was_never_set_a_journal_that_was_changed_and_a_pack_are_left_aside() {
        let (_room, jobs, into) = room();
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let answers = fs::read_to_string(root.join("examples/answers/heron-taxi.yaml")).unwrap();
        let early = jobs.join("early.yaml");
        fs::write(&early, answers.replace("2026-11-25T", "1970-01-01T")).unwrap();
        let mut run = standpipe();
        run.arg("run").arg(root.join("examples/jobs/heron-taxi.yaml")).arg("--answers").arg(&early);
        run.arg("--journal").arg(jobs.join("early")).output().unwrap();
        assert!(jobs.join("early/journal.jsonl").exists());
        let changed = jobs.join("heron-estate/journal.jsonl");
        fs::write(&changed, fs::read_to_string(&changed).unwrap().replacen("5.22", "5.52", 1)).unwrap();
        let pack = jobs.with_file_name("van.zip");
        standpipe().arg("pack").arg(jobs.join("heron-van")).arg("-o").arg(&pack).output().unwrap();
        let (code, told) = archive(&[&jobs, &pack], &into, &[]);
        assert_eq!((code, counts(&told)), (1, [13, 2, 0, 2]), "{told:#}");
        let said = messages(&told);
        for part in
            ["opened on 1970-01-01, by a clock that was never set", "was changed after it was written", "is a pack"]
        {
            assert!(said.contains(part), "{said}");
        }
    }

    #[test]
    fn a_run_that_is_killed_leaves_what_was_there() {
        let (_room, jobs, into) = room();
        let some = jobs.with_file_name("some");
        fs::create_dir_all(&some).unwrap();
        fs::rename(jobs.join("heron-van"), some.join("heron-van")).unwrap();
        archive(&[&some], &into, &[]);
        fs::copy(some.join("archive.key"), jobs.join("archive.key")).unwrap();
        let before = files(&into);
        let mut killed = 0;
        for after in [5, 20, 40, 60, 80, 100, 120, 140] {
            let mut command = Process::new(assert_cmd::cargo::cargo_bin("standpipe"));
            command.arg("archive").arg(&jobs).arg("--into").arg(&into).stdout(Stdio::null()).stderr(Stdio::null());
            let mut run = command.spawn().unwrap();
            sleep(Duration::from_millis(after));
            killed += usize::from(run.kill().is_ok() && !run.wait().unwrap().success());
            let now = files(&into);
            assert!(now == before || now.len() == 18, "{} files", now.len());
        }
        let (code, told) = archive(&[&jobs], &into, &[]);
        assert_eq!((code, files(&into).len()), (0, 18), "{told:#}");
        assert!(killed > 0, "none was ended before it was done");
    }
}
