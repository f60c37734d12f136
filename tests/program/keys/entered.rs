//! Signatures in the book: entered as they are made, whatever is between the file and the line, and in older books not at all.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value as Json;

use super::bench::{Shop, pair};
use super::book;
use super::openssh::{make, there};
use crate::audit::bench::{audit, point, root, standpipe};

fn sign(job: &Path, key: &Path, more: &[&str]) -> (Option<i32>, String) {
    let output =
        standpipe().args(["sign", "--by", "marek"]).arg(job).arg("--key").arg(key).args(more).output().unwrap();
    let said = [output.stdout, output.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
    (output.status.code(), said.concat())
}

/// A job of which marek signed nothing yet, and a key for him. None without OpenSSH.
fn unsigned() -> Option<(Shop, PathBuf)> {
    if !there() {
        return None;
    }
    let shop = Shop::new();
    let marek: Vec<_> = super::bench::acts(&shop.job).into_iter().filter(|act| act.by == "marek").collect();
    assert_eq!(marek.len(), 2);
    for act in &marek {
        fs::remove_file(act.file(&shop.job)).unwrap();
        book::leave_out(&shop.jobs, |line| line.contains(&format!("\"of\":{},", act.line)));
    }
    let key = make(shop.jobs.parent().unwrap(), "marek", &[]);
    let public = fs::read_to_string(key.with_extension("pub")).unwrap();
    let list = fs::read_to_string(&shop.signers).unwrap();
    let others: String = list.lines().filter(|line| !line.contains("marek")).map(|line| format!("{line}\n")).collect();
    fs::write(&shop.signers, format!("{others}marek {public}")).unwrap();
    Some((shop, key))
}

fn found(shop: &Shop, name: &str) -> (String, String) {
    let (_, journals) = audit(&shop.job, &["--signers", shop.signers.to_str().unwrap()]);
    let point = point(&journals[0], name);
    (point["verdict"].as_str().unwrap().to_owned(), point["findings"].to_string())
}

#[test]
fn what_is_signed_is_entered_with_its_file() {
    let Some((shop, key)) = unsigned() else { return };
    let before = book::lines(&shop.jobs).len();
    assert_eq!(sign(&shop.job, &key, &[]).0, Some(0));
    let lines = book::lines(&shop.jobs);
    assert_eq!(lines.len(), before + 2);
    let last: Json = serde_json::from_str(lines.last().unwrap()).unwrap();
    let close = shop.act("close", "marek");
    let at = last["at"].as_str().unwrap();
    assert_eq!(
        lines.last().unwrap().split("\"what\"").nth(1),
        book::entry(&shop.job, &close, at, false).split("\"what\"").nth(1)
    );
    assert_eq!((found(&shop, "book").0, found(&shop, "keys").0), ("holds".to_owned(), "holds".to_owned()));
    // The record prints the last line, so that a customer's copy proves the signature too.
    let output = standpipe().args(["report", "--format", "json"]).arg(&shop.job).output().unwrap();
    let record: Json = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(record["record"]["made_with"]["book"]["line"], lines.len());
    let output = standpipe().arg("book").arg(&shop.jobs).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.contains("close signed") && text.contains("event 332 of 2026-1101 (heron-van)"), "{text}");
    // A time that is told is what the signature says, and not what the book says.
    for act in ["sign", "close"] {
        fs::remove_file(shop.act(act, "marek").file(&shop.job)).unwrap();
    }
    book::leave_out(&shop.jobs, |line| line.contains(at));
    assert_eq!(sign(&shop.job, &key, &["--at", "2026-11-24T09:56:00"]).0, Some(0));
    let (verdict, findings) = found(&shop, "keys");
    assert!(verdict == "not shown" && findings.contains("at 2026-11-24T09:56:00+01:00 by its own word"), "{findings}");
}

/// While a job is run, each as it is made: between the lines of the job, with the times of the answers.
#[test]
fn what_is_signed_while_a_job_is_run_is_entered_too() {
    let Some((shop, _)) = unsigned() else { return };
    let folder = shop.jobs.parent().unwrap();
    let (jobs, key) = (folder.join("more"), make(folder, "rita", &[]));
    fs::create_dir(&jobs).unwrap();
    standpipe().arg("book").arg(&jobs).arg("--begin").assert().success();
    let at = |kind: &str| root().join(format!("examples/{kind}/heron-van.yaml"));
    let mut run = standpipe();
    run.arg("run").arg(at("jobs")).arg("--answers").arg(at("answers")).arg("--journal").arg(jobs.join("van"));
    run.args(["--by", "rita", "--key"]).arg(&key).assert().success();
    let lines: Vec<Json> = book::lines(&jobs).iter().map(|line| serde_json::from_str(line).unwrap()).collect();
    let what: Vec<&str> = lines.iter().map(|line| line["what"].as_str().unwrap()).collect();
    assert_eq!(what, ["begun", "opened", "paused", "signed", "signed", "finished"]);
    let acts: Vec<_> = super::bench::acts(&jobs.join("van")).into_iter().filter(|act| act.by == "rita").collect();
    for (act, line) in acts.iter().zip(&lines[3..]) {
        assert_eq!((&line["of"], &line["at"]), (&act.line.into(), &act.at.clone().into()));
    }
    let (code, journals) = audit(&jobs, &[]);
    assert!(code == 0 && point(&journals[0], "book")["verdict"] == "holds", "{journals:?}");
}

/// The file first, then the line: what a kill leaves between them is said, and can be entered.
#[test]
fn a_kill_between_file_and_line_loses_nothing() {
    let Some((shop, key)) = unsigned() else { return };
    // Nothing is signed that can't be entered.
    let before = fs::read_to_string(shop.jobs.join("book.jsonl")).unwrap();
    fs::hard_link(shop.jobs.join("book.jsonl"), shop.jobs.join("second")).unwrap();
    let (code, said) = sign(&shop.job, &key, &[]);
    assert!(code == Some(2) && said.contains("not-signed") && said.contains("hard link"), "{said}");
    assert!(!shop.act("sign", "marek").file(&shop.job).exists());
    fs::remove_file(shop.jobs.join("second")).unwrap();
    // Nothing is entered that is not there.
    let (signatures, aside) = (shop.job.join("signatures"), shop.jobs.join("../aside"));
    fs::rename(&signatures, &aside).unwrap();
    std::os::unix::fs::symlink("/nowhere/at/all", &signatures).unwrap();
    let (code, said) = sign(&shop.job, &key, &[]);
    assert!(code == Some(2) && said.contains("not-signed"), "{said}");
    assert_eq!(fs::read_to_string(shop.jobs.join("book.jsonl")).unwrap(), before);
    fs::remove_file(&signatures).unwrap();
    fs::rename(&aside, &signatures).unwrap();
    // What a kill can leave: a file without its line, the line cut off anywhere.
    assert_eq!(sign(&shop.job, &key, &[]).0, Some(0));
    let whole = fs::read_to_string(shop.jobs.join("book.jsonl")).unwrap();
    let last = whole.trim_end().rfind('\n').unwrap() + 1;
    for cut in [last, last + 1, whole.len() - 1] {
        fs::write(shop.jobs.join("book.jsonl"), &whole[..cut]).unwrap();
        let (verdict, findings) = found(&shop, "book");
        assert!(verdict == "not shown" && findings.contains("does not know of this signature"), "{findings}");
        assert!(sign(&shop.job, &key, &[]).1.contains("nothing to sign"), "it is there");
        let entered = standpipe().arg("book").arg(&shop.jobs).arg("--enter").output().unwrap();
        let said = String::from_utf8(entered.stdout).unwrap();
        assert!(said.contains("1 entered now") && said.contains("close signed, late"), "{said}");
        assert_eq!(found(&shop, "book").0, "holds");
    }
}

/// Books and signatures from before mean what they meant.
#[test]
fn a_book_from_before_says_nothing_of_signatures_until_it_has_one() {
    let shop = Shop::new();
    let list = ["--signers", shop.signers.to_str().unwrap()];
    let verdicts = || {
        let (code, journals) = audit(&shop.jobs, &list);
        (code, point(&journals[0], "book")["verdict"].as_str().unwrap().to_owned())
    };
    let holds = (0, "holds".to_owned());
    book::leave_out(&shop.jobs, |_| true);
    assert_eq!(verdicts(), (0, "not shown".to_owned()), "of the new format");
    let mut lines = book::lines(&shop.jobs);
    lines[0] = lines[0].replace("\"format\":2,", "");
    book::write(&shop.jobs, &lines);
    assert_eq!(verdicts(), holds, "of the old one");
    // From the first signature on, the time that a signature has says whether it should be there.
    let close = shop.act("close", "marek");
    book::enter(&shop.jobs, &shop.job, &close, "2026-11-24T09:56:00+01:00", false);
    let mut sign = shop.act("sign", "marek");
    assert_eq!(verdicts(), holds);
    sign.at = "2026-11-24T09:56:30+01:00".to_owned();
    sign.sign(&shop.job, &pair("marek", 0));
    assert_eq!(verdicts(), (0, "not shown".to_owned()));
}

/// Nobody is accused of a book that a newer version wrote, and nothing is added to it.
#[test]
fn a_newer_book_is_not_shown() {
    let shop = Shop::new();
    let mut lines = book::lines(&shop.jobs);
    let newer = lines.last().unwrap().replace("\"format\":2,", "\"format\":3,").replace("signed", "weighed");
    lines.push(newer);
    book::write(&shop.jobs, &lines);
    let (code, journals) = audit(&shop.job, &[]);
    let book = point(&journals[0], "book");
    assert!(code == 0 && book["verdict"] == "not shown" && book.to_string().contains("newer version"), "{book}");
    let (code, _) = audit(&shop.jobs, &[]);
    assert_eq!(code, 0, "also where the folder is looked at");
    let output = standpipe().arg("book").arg(&shop.jobs).output().unwrap();
    assert!(output.status.code() == Some(2) && String::from_utf8_lossy(&output.stderr).contains("newer-version"));
}

/// Once more, after the first one was taken away: the book has both.
#[test]
fn a_signature_that_was_made_anew_is_said() {
    let shop = Shop::new();
    let mut close = shop.act("close", "marek");
    close.at = "2026-11-24T09:55:40+01:00".to_owned();
    close.sign(&shop.job, &pair("marek", 0));
    book::enter(&shop.jobs, &shop.job, &close, &close.at, false);
    let (_, journals) = audit(&shop.job, &["--signers", shop.signers.to_str().unwrap()]);
    let found = point(&journals[0], "book");
    assert!(found["verdict"] == "not shown" && found.to_string().contains("another was made to replace it"), "{found}");
    assert_eq!(point(&journals[0], "keys")["verdict"], "holds");
}

/// Copied back from the morning: one job began later, the other went on.
#[test]
fn what_a_copy_does_not_have_is_said_in_full() {
    let shop = Shop::new();
    let second = shop.jobs.join("second");
    crate::folders::copy(&shop.job, &second);
    let more: Vec<String> =
        book::lines(&shop.jobs)[1..].iter().map(|line| line.replace("heron-van", "second")).collect();
    book::write(&shop.jobs, &[book::lines(&shop.jobs), more].concat());
    assert_eq!(audit(&shop.jobs, &[]).0, 0, "nothing is lost yet");
    fs::remove_dir_all(&second).unwrap();
    let evidence = fs::read_dir(shop.job.join("evidence")).unwrap().next().unwrap().unwrap();
    fs::remove_file(evidence.path()).unwrap();
    for (act, by) in [("sign", "marek"), ("close", "marek")] {
        fs::remove_file(shop.act(act, by).file(&shop.job)).unwrap();
    }
    let path = shop.job.join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    let cut = text.lines().take(330).map(|line| format!("{line}\n")).collect::<String>();
    assert!(cut.lines().last().unwrap().contains("\"end\":true"), "a whole batch");
    fs::write(&path, cut).unwrap();
    let (code, journals) = audit(&shop.jobs, &[]);
    let (kept, gone) = (&journals[0], journals.iter().find(|journal| journal["state"] == "missing").unwrap());
    assert_eq!(code, 1);
    let all = |journal: &Json, name: &str| point(journal, name)["findings"].to_string();
    assert!(all(gone, "book").contains("is gone with its 332 events and 9 signatures"), "{gone}");
    let book = all(kept, "book");
    for words in [
        "was finished with event 332, and its journal ends with event 330",
        "the signature of `sign` in event 331",
        "the signature of `close` in event 332",
    ] {
        assert!(book.contains(words), "{words}: {book}");
    }
    assert_eq!(point(kept, "evidence")["verdict"], "does not hold");
}
