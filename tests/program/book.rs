//! The book beside the jobs: what is gone, cut off, opened twice or exchanged is found from it.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::audit::bench::{audit, example, forge_all, point, reword, standpipe};

/// Two finished jobs with a book beside them.
fn jobs() -> (TempDir, PathBuf) {
    let folder = TempDir::new().unwrap();
    let jobs = folder.path().join("jobs");
    fs::create_dir(&jobs).unwrap();
    assert_eq!(book(&jobs, &["--begin"]).0, 0);
    for job in ["heron-van", "plover-pickup"] {
        example(job, &jobs.join(job));
    }
    (folder, jobs)
}

fn book(jobs: &Path, more: &[&str]) -> (i32, Json) {
    let output = standpipe().arg("book").arg(jobs).args(more).args(["--format", "json"]).output().unwrap();
    (output.status.code().unwrap(), serde_json::from_slice(&output.stdout).unwrap_or_default())
}

/// The verdict of the point `book` of a job, and what it found.
fn found(jobs: &Path, job: &str) -> (String, String) {
    let (_, journals) = audit(jobs, &[]);
    let journal = journals.iter().find(|journal| journal["folder"].as_str().unwrap().ends_with(job)).unwrap();
    let book = point(journal, "book");
    (book["verdict"].as_str().unwrap().to_owned(), book["findings"].to_string())
}

#[test]
fn every_job_is_entered_and_what_was_done_to_it_afterwards_is_found() {
    let (_folder, jobs) = jobs();
    let (_, whole) = book(&jobs, &[]);
    let lines = whole["lines"].as_array().unwrap();
    let of = |job: &str| -> Vec<&str> {
        lines.iter().filter(|line| line["folder"] == job).map(|line| line["what"].as_str().unwrap()).collect()
    };
    assert_eq!(
        (of("heron-van"), of("plover-pickup")),
        (vec!["opened", "paused", "finished"], vec!["opened", "finished"])
    );
    let (code, journals) = audit(&jobs, &[]);
    assert_eq!(code, 0, "{journals:?}");
    assert_eq!(point(&journals[0], "book")["looked_at"], 3);
    // The record has the hash of its last line, and with that every line before is proved.
    let output = standpipe().arg("report").arg(jobs.join("plover-pickup")).output().unwrap();
    let record = String::from_utf8(output.stdout).unwrap();
    let last = lines.last().unwrap()["hash"].as_str().unwrap();
    assert!(record.split_whitespace().collect::<String>().contains(last), "{record}");

    let other = jobs.parent().unwrap().join("other");
    let case = |change: &dyn Fn(&Path)| {
        let _ = fs::remove_dir_all(&other);
        copy_all(&jobs, &other);
        change(&other);
    };
    // Gone.
    case(&|jobs| fs::remove_dir_all(jobs.join("heron-van")).unwrap());
    let (code, journals) = audit(&other, &[]);
    let gone = journals.iter().find(|journal| journal["state"] == "missing").unwrap();
    assert!(code == 1 && point(gone, "book")["findings"].to_string().contains("is gone"), "{gone}");
    // All of them.
    case(&|jobs| {
        for job in ["heron-van", "plover-pickup"] {
            fs::remove_dir_all(jobs.join(job)).unwrap();
        }
    });
    let (code, journals) = audit(&other, &[]);
    assert!(code == 1 && journals.iter().filter(|journal| journal["state"] == "missing").count() == 2, "{journals:?}");
    // And the book with them: nothing is left that could be audited, and that is not well.
    fs::write(other.join("book.jsonl"), "\n").unwrap();
    let (code, journals) = audit(&other, &[]);
    assert!(code == 1 && journals[0].to_string().contains("the book does not hold"), "{journals:?}");
    // Cut off behind a batch, which no chain can tell.
    case(&|jobs| {
        let lines = jobs.join("plover-pickup/journal.jsonl");
        let text = fs::read_to_string(&lines).unwrap();
        let ends: Vec<usize> = text.match_indices("\"end\":true").map(|(at, _)| at).collect();
        let cut = text[..ends[ends.len() - 2]].len() + text[ends[ends.len() - 2]..].find('\n').unwrap() + 1;
        fs::write(&lines, &text[..cut]).unwrap();
    });
    let (verdict, findings) = found(&other, "plover-pickup");
    assert!(verdict == "does not hold" && findings.contains("was cut off"), "{findings}");
    // Written anew with all its hashes: nothing else finds this one, which could have been true.
    case(&|jobs| {
        let (was, is) = reword(&jobs.join("plover-pickup"), "Done and dry,", "Dry and done,");
        forge_all(&jobs.join("plover-pickup"), |lines| lines.into_iter().map(|line| line.replace(&was, &is)).collect());
    });
    let (verdict, findings) = found(&other, "plover-pickup");
    assert!(verdict == "does not hold" && findings.contains("was replaced"), "{findings}");
    // Another job in its place.
    case(&|jobs| {
        fs::remove_dir_all(jobs.join("plover-pickup")).unwrap();
        copy_all(&jobs.join("heron-van"), &jobs.join("plover-pickup"));
    });
    let (verdict, findings) = found(&other, "plover-pickup");
    assert!(verdict == "does not hold" && findings.contains("replaced"), "{findings}");
    // Done once more in a folder that was emptied.
    case(&|jobs| {
        fs::remove_dir_all(jobs.join("plover-pickup")).unwrap();
        example("plover-pickup", &jobs.join("plover-pickup"));
    });
    let (verdict, findings) = found(&other, "plover-pickup");
    assert!(verdict == "does not hold" && findings.contains("was opened twice"), "{findings}");
    // A copy beside the jobs, of which the book knows nothing.
    case(&|jobs| copy_all(&jobs.join("heron-van"), &jobs.join("second")));
    assert_eq!(found(&other, "second").0, "not shown");
    // The book's end cut off: what it lacks is not shown, and may be entered, but only as late.
    case(&|jobs| {
        let book = jobs.join("book.jsonl");
        let text = fs::read_to_string(&book).unwrap();
        let cut = text.trim_end().rfind('\n').unwrap() + 1;
        fs::write(&book, &text[..cut]).unwrap();
    });
    assert_eq!(found(&other, "plover-pickup").0, "not shown");
    let entered = book(&other, &["--enter"]).1;
    assert_eq!(
        (&entered["entered"], &entered["lines"].as_array().unwrap().last().unwrap()["late"]),
        (&1.into(), &true.into())
    );
    assert_eq!(found(&other, "plover-pickup").0, "holds");
    // Whoever has the printed hash knows that this is not the book of that day.
    let printed = ["--book", last];
    assert_eq!(audit(&jobs, &printed).0, 0);
    let (code, journals) = audit(&other, &printed);
    assert!(
        code == 1 && journals.iter().any(|journal| journal.to_string().contains("no line has the hash")),
        "{journals:?}"
    );
    // A line changed in the middle of the book.
    case(&|jobs| {
        let book = jobs.join("book.jsonl");
        let text = fs::read_to_string(&book).unwrap();
        fs::write(&book, text.replacen("paused", "opened", 1)).unwrap();
    });
    let (verdict, findings) = found(&other, "heron-van");
    assert!(verdict == "does not hold" && findings.contains("the book does not hold"), "{findings}");
}

/// A job that can't be entered is neither opened nor closed.
#[test]
fn without_its_book_no_job_begins() {
    let folder = TempDir::new().unwrap();
    assert_eq!(book(folder.path(), &[]).0, 2, "there is none yet");
    assert_eq!(book(folder.path(), &["--begin"]).0, 0);
    assert_eq!(book(folder.path(), &["--begin"]).0, 1, "there is one");
    // Under a second name it would be written as well.
    fs::hard_link(folder.path().join("book.jsonl"), folder.path().join("second")).unwrap();
    let root = crate::audit::bench::root();
    let at = |kind: &str| root.join(format!("examples/{kind}/heron-van.yaml"));
    let journal = folder.path().join("van");
    let mut run = standpipe();
    run.arg("run").arg(at("jobs")).arg("--answers").arg(at("answers")).arg("--journal").arg(&journal);
    let output = run.output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() != Some(0) && said.contains("broken-book") && said.contains("hard link"), "{said}");
    assert_eq!(fs::read_to_string(journal.join("journal.jsonl")).unwrap_or_default(), "");
    fs::remove_file(folder.path().join("second")).unwrap();
    assert_eq!(run.output().unwrap().status.code(), Some(0));
    assert_eq!(book(folder.path(), &[]).1["lines"].as_array().unwrap().len(), 4);
}

fn copy_all(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().map(Result::unwrap) {
        let (from, to) = (entry.path(), to.join(entry.file_name()));
        if from.is_dir() { copy_all(&from, &to) } else { fs::copy(&from, &to).map(drop).unwrap() }
    }
}
