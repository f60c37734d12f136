//! Texts of people are kept apart from the journal: a copy without them still verifies, and nobody gets at them from it.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::audit::bench::{apart, audit, example, forge, point, reword, standpipe, token_of, with_plan, write_apart};

/// A job with a pause, photos, logs, reasons, notes and a correction.
fn van() -> (TempDir, PathBuf) {
    let folder = TempDir::new().unwrap();
    let job = folder.path().join("van.job");
    example("heron-van", &job);
    (folder, job)
}

fn packed(job: &Path, whom: &str) -> PathBuf {
    let zip = job.with_file_name(format!("{whom}.zip"));
    let _ = fs::remove_file(&zip);
    standpipe().args(["pack", "--for", whom]).arg(job).arg("-o").arg(&zip).assert().success();
    zip
}

/// All that somebody typed in their own words, or that says who they are, as it stands in the files of the example: told here
/// apart from the program, so that what it forgets is missed.
const INTAKE: [&str; 7] = [
    "FL 417",
    "Parcel van, the blue one",
    "Harbour Parcels",
    "Dispatch desk, telephone",
    "It is due. Sometimes it thinks",
    "A van that came in hot",
    "heron-van.yaml",
];
const SHOP: [&str; 5] = ["Rita M.", "Jo O.", "Marek T.", "Lena B.", "Copy it, change the names"];
const SAID: [&str; 6] = [
    "It's due, and some mornings",
    "come by in two weeks",
    "leak-pan.png",
    "van.csv",
    "Two figures swapped",
    "Used oil drum 2",
];

fn has(bytes: &[u8], text: &str) -> bool {
    // As JSON writes it, too.
    let json = serde_json::to_string(text).unwrap();
    let inner = json.trim_matches('"').as_bytes();
    [text.as_bytes(), inner].iter().any(|text| bytes.windows(text.len()).any(|part| part == *text))
}

#[test]
fn a_strangers_copy_has_no_text_of_a_person_and_holds() {
    let (_folder, job) = van();
    let whole = [fs::read(job.join("apart.jsonl")).unwrap(), fs::read(job.join("journal.jsonl")).unwrap()].concat();
    let copy = packed(&job, "stranger");
    let bytes = fs::read(&copy).unwrap();
    for text in INTAKE.iter().chain(&SHOP).chain(&SAID) {
        assert!(has(&whole, text), "{text}: it is not in the job at all");
        assert!(!has(&bytes, text), "{text}");
    }
    // And none that the job itself knows of, however it came there; what the plugins say is said by nobody.
    let plugins = fs::read(crate::audit::bench::texts_of(&job)).unwrap();
    for line in apart(&job) {
        let text = line["value"].as_str().unwrap();
        // So short a word stands somewhere by chance.
        assert!(text.len() < 5 || !has(&bytes, text) || has(&plugins, text), "{text}");
    }
    let (code, journals) = audit(&copy, &[]);
    let journal = &journals[0];
    assert_eq!((code, &journal["verdict"]), (0, &"not shown".into()), "{journal}");
    for one in journal["points"].as_array().unwrap() {
        let without_evidence = ["evidence", "readings"].contains(&one["point"].as_str().unwrap());
        assert_eq!(one["verdict"] == "holds", !without_evidence, "{one}");
    }
    assert_eq!(point(journal, "decisions")["looked_at"], point(&audit(&job, &[]).1[0], "decisions")["looked_at"]);
    let texts = point(journal, "texts kept apart")["findings"].to_string();
    let all = apart(&job).len();
    assert!(texts.contains(&format!("{all} of {all} texts are left out")), "{texts}");
    let evidence = point(journal, "evidence")["findings"].to_string();
    assert!(evidence.contains("was left out of this copy") && !evidence.contains("does not hold"), "{evidence}");
}

#[test]
fn an_auditors_copy_has_the_words_of_the_shop_and_none_of_the_customer() {
    let (_folder, job) = van();
    let copy = packed(&job, "auditor");
    let bytes = fs::read(&copy).unwrap();
    INTAKE.iter().for_each(|text| assert!(!has(&bytes, text), "{text}"));
    SHOP.iter().chain(&SAID).for_each(|text| assert!(has(&bytes, text), "{text}"));
    let (code, journals) = audit(&copy, &[]);
    assert_eq!((code, &journals[0]["verdict"]), (0, &"holds".into()), "{}", journals[0]);
}

#[test]
fn a_record_for_somebody_else_is_drawn_of_their_copy() {
    let (_folder, job) = van();
    for (whom, names) in [("stranger", false), ("auditor", true)] {
        for format in ["human", "json", "html"] {
            let output = standpipe().args(["report", "--for", whom, "--format", format]).arg(&job).output().unwrap();
            assert_eq!(output.status.code(), Some(0), "{whom} {format}");
            INTAKE.iter().for_each(|text| assert!(!has(&output.stdout, text), "{whom} {format}: {text}"));
            assert_eq!(has(&output.stdout, "Marek T."), names, "{whom} {format}");
            assert!(has(&output.stdout, "texts kept apart: ") && has(&output.stdout, "left out 4"), "{whom} {format}");
        }
    }
    let output = standpipe().args(["report", "--for", "stranger", "--format", "csv"]).arg(&job).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
}

/// What a person may do with the files, and what is said of it.
#[test]
fn texts_that_are_gone_are_said_and_texts_that_are_others_are_found() {
    let (_folder, job) = van();
    let lines = apart(&job);
    let verdict = |lines: &[Json]| {
        write_apart(&job, lines);
        let (_, journals) = audit(&job, &[]);
        let texts = point(&journals[0], "texts kept apart");
        (journals[0]["verdict"].as_str().unwrap().to_owned(), texts["findings"].to_string())
    };
    assert_eq!(verdict(&lines).0, "holds");
    // One line is taken out, as when a customer asks for it.
    let asked: Vec<Json> = lines.iter().filter(|line| line["value"] != "Harbour Parcels").cloned().collect();
    let (holds, said) = verdict(&asked);
    assert!(holds == "holds" && said.contains(&format!("1 of {} texts are left out", lines.len())), "{said}");
    // Another name in its place; with the token that it would have had; with that of another text.
    let named = lines.iter().position(|line| line["value"] == "Harbour Parcels").unwrap();
    let mut other = lines.clone();
    other[named]["value"] = "Quarry Parcels".into();
    let (broken, said) = verdict(&other);
    assert!(broken == "does not hold" && said.contains("not the text that the journal was written with"), "{said}");
    other[named]["token"] = token_of(&other[named]).into();
    let (holds, said) = verdict(&other);
    assert!(holds == "holds" && said.contains("1 of"), "nothing names that one, and the first is gone: {said}");
    let mut swapped = lines.clone();
    let (one, two) = (lines[named]["value"].clone(), lines[named + 1]["value"].clone());
    (swapped[named]["value"], swapped[named + 1]["value"]) = (two, one);
    assert_eq!(verdict(&swapped).0, "does not hold");
    // Nothing is added to a job whose texts were exchanged.
    let answers = crate::audit::bench::root().join("examples/answers/heron-van.yaml");
    let output = standpipe().arg("run").arg(&job).arg("--answers").arg(answers).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() == Some(2) && said.contains("apart.jsonl"), "{said}");
    fs::remove_file(job.join("apart.jsonl")).unwrap();
    let (code, journals) = audit(&job, &[]);
    assert_eq!((code, &journals[0]["verdict"]), (0, &"holds".into()), "{}", journals[0]);
}

#[test]
fn a_token_that_was_moved_or_made_anew_is_found_as_any_other_word_of_the_chain_is() {
    let (_folder, job) = van();
    let path = job.join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    let lines = apart(&job);
    let token = |has: &str| {
        let line = lines.iter().find(|line| line["of"] == "said" && line["value"].as_str().unwrap().contains(has));
        line.unwrap()["token"].as_str().unwrap().to_owned()
    };
    let (one, two) = (token("some mornings"), token("it is dry"));
    fs::write(&path, text.replace(&one, "ONE").replace(&two, &one).replace("ONE", &two)).unwrap();
    let (code, journals) = audit(&job, &[]);
    assert_eq!((code, point(&journals[0], "chain of hashes")["verdict"].as_str()), (1, Some("does not hold")));
    // What was typed is what was read, also where only tokens are left of both.
    fs::write(&path, &text).unwrap();
    forge(&job, |_, line| {
        line.replacen(&format!("\"typed\":{{\"complaint\":\"{one}"), &format!("\"typed\":{{\"complaint\":\"{two}"), 1)
    });
    assert_ne!(fs::read_to_string(&path).unwrap(), text);
    for gone in [false, true] {
        if gone {
            fs::remove_file(job.join("apart.jsonl")).unwrap();
        }
        let (code, journals) = audit(&job, &[]);
        assert_eq!((code, point(&journals[0], "decisions")["verdict"].as_str()), (1, Some("does not hold")), "{gone}");
    }
}

/// Two jobs with the same customer have no token in common, so that a name can't be looked for in copies, nor tried.
#[test]
fn a_text_can_not_be_told_from_its_token() {
    let (_one, one) = van();
    let (_two, two) = van();
    let tokens = |job: &Path| apart(job).into_iter().map(|line| line["token"].to_string()).collect::<Vec<_>>();
    let (one, two) = (tokens(&one), tokens(&two));
    assert!(one.len() > 20 && one.len() == two.len() && one.iter().all(|token| !two.contains(token)), "{one:?}");
}

/// Nobody can type something that would later be opened as what somebody else said.
#[test]
fn what_has_the_form_of_a_token_is_not_taken() {
    let folder = TempDir::new().unwrap();
    let examples = crate::audit::bench::root().join("examples");
    let answers = fs::read_to_string(examples.join("answers/heron-van.yaml")).unwrap();
    let typed = format!("apart-{}", "0".repeat(64));
    for (from, what) in [("It's due, and some mornings", "a text"), ("HN6 20417 A", "a text that stays open")] {
        let file = examples.join("answers").join(format!(".{}-{}.yaml", std::process::id(), from.len()));
        fs::write(&file, answers.replacen(from, &typed, 1)).unwrap();
        let job = folder.path().join(from.len().to_string());
        let mut run = standpipe();
        let run = run.arg("run").arg(examples.join("jobs/heron-van.yaml")).arg("--answers").arg(&file).arg("--journal");
        let output = run.arg(&job).output().unwrap();
        fs::remove_file(&file).unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            output.status.code() == Some(2) && said.contains("looks like a token that stands for a text"),
            "{what}: {said}"
        );
        assert!(!fs::read_to_string(job.join("journal.jsonl")).unwrap().contains(&typed), "{what}");
    }
}

/// A record of the first format has its texts in its chain, and says so.
#[test]
fn nothing_can_be_left_out_of_a_job_of_the_first_format() {
    let folder = TempDir::new().unwrap();
    let old = crate::audit::bench::root().join("tests/journals/1/heron-taxi");
    let output =
        standpipe().args(["pack", "--for", "stranger"]).arg(&old).arg("-o").arg(folder.path().join("x.zip")).output();
    let output = output.unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() == Some(2) && said.contains("nothing can be left out"), "{said}");
    assert!(!folder.path().join("x.zip").exists());
}

/// Whoever can write to the folder may say of evidence that it was left out: it is then not shown, and never holds.
#[test]
fn evidence_that_is_said_to_be_left_out_is_not_shown_and_missing_evidence_does_not_hold() {
    let (_folder, job) = van();
    let photo = fs::read_dir(job.join("evidence")).unwrap().next().unwrap().unwrap().path();
    let name = format!("evidence/{}", photo.file_name().unwrap().to_str().unwrap());
    let verdict = || point(&audit(&job, &[]).1[0], "evidence")["verdict"].as_str().unwrap().to_owned();
    let said = |files: &[&str]| {
        let json = serde_json::json!({ "for": "stranger", "files": files });
        fs::write(job.join("left-out.json"), json.to_string()).unwrap();
    };
    said(&[&name]);
    assert_eq!(verdict(), "holds", "it is there");
    let bytes = fs::read(&photo).unwrap();
    fs::write(&photo, "another").unwrap();
    assert_eq!(verdict(), "does not hold", "another file is not left out");
    fs::remove_file(&photo).unwrap();
    assert_eq!(verdict(), "not shown");
    said(&["evidence/other"]);
    assert_eq!(verdict(), "does not hold");
    fs::remove_file(job.join("left-out.json")).unwrap();
    assert_eq!(verdict(), "does not hold");
    fs::write(&photo, bytes).unwrap();
    assert_eq!(verdict(), "holds");
}

/// A job goes on after its texts were deleted; what is said from then on is kept.
#[test]
fn a_job_goes_on_without_the_texts_that_were_deleted() {
    let folder = TempDir::new().unwrap();
    let examples = crate::audit::bench::root().join("examples");
    let job = folder.path().join("taxi");
    let run = |answers: &Path| {
        let mut run = standpipe();
        let run = run.arg("run").arg(examples.join("jobs/heron-van.yaml")).arg("--answers").arg(answers);
        run.arg("--journal").arg(&job).output().unwrap().status.code()
    };
    let whole = fs::read_to_string(examples.join("answers/heron-van.yaml")).unwrap();
    let at = whole.find("\n  - { step: odometer").unwrap();
    let part = examples.join("answers").join(format!(".{}-part.yaml", std::process::id()));
    fs::write(&part, format!("{}\n", &whole[..at])).unwrap();
    assert_eq!(run(&part), Some(3));
    fs::remove_file(&part).unwrap();
    let before = apart(&job).len();
    fs::remove_file(job.join("apart.jsonl")).unwrap();
    assert_eq!(run(&examples.join("answers/heron-van.yaml")), Some(0));
    let (code, journals) = audit(&job, &[]);
    assert_eq!((code, &journals[0]["verdict"]), (0, &"holds".into()), "{}", journals[0]);
    let said = point(&journals[0], "texts kept apart")["findings"].to_string();
    assert!(said.contains(&format!("{before} of {} texts", before + apart(&job).len())), "{said}");
    let (was, is) = reword(&job, "it is dry", "all is dry");
    assert_ne!(was, is);
}

/// A token commits to any bytes: one that stands for more than a word would make two jobs of one.
#[test]
fn a_plan_that_says_something_else_with_its_texts_than_without_is_no_plan() {
    let (_folder, job) = van();
    let (was, is) = reword(&job, "FL 417", "FL 417\n  odometer: 1 km\n  duty: normal\nx:");
    with_plan(&job, |plan| plan.replace(&was, &is));
    let (_, journals) = audit(&job, &[]);
    let decisions = point(&journals[0], "decisions");
    assert_eq!((&journals[0]["verdict"], &decisions["verdict"]), (&"not shown".into(), &"not shown".into()));
    assert!(decisions.to_string().contains("says something different with the texts"), "{decisions}");
    let output = standpipe().arg("report").arg(&job).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
}
