//! Jobs of other versions: newer ones are not shown, and what a known format does not have does not hold.

use std::fs;
use std::path::Path;

use tempfile::TempDir;

use crate::audit::bench::{audit, example, forge, point, root, standpipe, with_plan, with_texts};

fn said(arguments: &[&str]) -> (Option<i32>, String) {
    let output = standpipe().args(arguments).output().unwrap();
    let text = [output.stdout, output.stderr].concat();
    (output.status.code(), String::from_utf8(text).unwrap())
}

#[test]
fn a_newer_version_is_said_to_be_newer_and_nothing_is_added_to_its_job() {
    let newer: [fn(&Path); 4] = [
        |folder| forge(folder, |_, line| line.replace("standpipe.journal/2", "standpipe.journal/3")),
        // Whatever else a newer version may write.
        |folder| {
            forge(folder, |_, line| {
                let line = line.replace("standpipe.journal/2", "standpipe.journal/7");
                line.replace("\"event\":\"entered\"", "\"event\":\"measured\",\"anew\":[1]")
            });
        },
        |folder| with_plan(folder, |plan| plan.replacen("standpipe.plan/2", "standpipe.plan/3", 1)),
        |folder| with_plan(folder, |plan| plan.replacen("\"scripts\": 1", "\"scripts\": 2, \"anew\": 3", 1)),
    ];
    for (index, change) in newer.into_iter().enumerate() {
        let folder = TempDir::new().unwrap();
        example("heron-taxi", folder.path());
        change(folder.path());
        let (code, journals) = audit(folder.path(), &[]);
        let version = point(&journals[0], "version");
        assert_eq!((code, &journals[0]["verdict"]), (0, &"not shown".into()), "{index}: {}", journals[0]);
        assert!(version["findings"][0]["message"].as_str().unwrap().contains("newer version"), "{index}: {version}");
        let before = fs::read(folder.path().join("journal.jsonl")).unwrap();
        let answers = root().join("examples/answers/heron-taxi.yaml");
        let path = folder.path().to_str().unwrap();
        for arguments in [vec!["run", path, "--answers", answers.to_str().unwrap()], vec!["report", path]] {
            let (code, said) = said(&arguments);
            assert_eq!(code, Some(2), "{index}: {said}");
            assert!(said.contains("newer-version") && said.contains("newer version"), "{index}: {said}");
            assert!(!said.contains("SHOWN:"), "{index}: {said}");
        }
        assert_eq!(fs::read(folder.path().join("journal.jsonl")).unwrap(), before, "{index}");
    }
}

#[test]
fn what_a_newer_interpreter_computed_is_not_shown_whatever_it_was() {
    let folder = TempDir::new().unwrap();
    example("plover-pickup", folder.path());
    let newer =
        |text: String| text.replace("rhai 1.27.0", "rhai 9.0.0").replace("\"tool\":\"0.1.0\"", "\"tool\":\"9.0.0\"");
    forge(folder.path(), |line, text| if line == 1 { newer(text) } else { text });
    let (code, journals) = audit(folder.path(), &[]);
    assert_eq!((code, &journals[0]["verdict"]), (0, &"not shown".into()), "{}", journals[0]);
    // What it decided otherwise is not held against it either.
    forge(folder.path(), |_, text| text.replacen("\"verdict\":\"met\"", "\"verdict\":\"not met\"", 1));
    let (_, journals) = audit(folder.path(), &[]);
    assert_eq!(point(&journals[0], "decisions")["verdict"], "not shown", "{}", journals[0]);
}

/// Versions up to this one are known: another interpreter under their names is no excuse for what does not follow.
#[test]
fn an_interpreter_that_a_known_version_never_ran_excuses_nothing() {
    let folder = TempDir::new().unwrap();
    example("plover-pickup", folder.path());
    forge(folder.path(), |line, text| if line == 1 { text.replace("rhai 1.27.0", "rhai 9.0.0") } else { text });
    forge(folder.path(), |_, text| text.replacen("\"verdict\":\"met\"", "\"verdict\":\"not met\"", 1));
    let (code, journals) = audit(folder.path(), &[]);
    assert_eq!(code, 1, "{}", journals[0]);
    for name in ["version", "decisions"] {
        assert_eq!(point(&journals[0], name)["verdict"], "does not hold", "{}", journals[0]);
    }
}

#[test]
fn what_a_known_format_does_not_have_does_not_hold() {
    let changes: [(&str, &str, &str); 5] = [
        ("\"event\":\"entered\"", "\"event\":\"dreamt\"", "not an event in the format"),
        ("\"event\":\"entered\"", "\"event\":\"entered\",\"mood\":\"good\"", "`mood` is not known"),
        ("\"done\":true", "\"done\":true,\"done\":true", "not an event in the format"),
        ("\"written\":{", "\"written\":{\"seen\":1,", "`seen` is not known"),
        ("\"at\":\"2026-", "\"at\":\"-009999-", "not an event in the format"),
    ];
    for (what, by, told) in changes {
        let folder = TempDir::new().unwrap();
        example("heron-taxi", folder.path());
        let before = fs::read(folder.path().join("journal.jsonl")).unwrap();
        forge(folder.path(), |line, text| if line > 1 { text.replacen(what, by, 1) } else { text });
        assert_ne!(fs::read(folder.path().join("journal.jsonl")).unwrap(), before, "{what}");
        let (code, journals) = audit(folder.path(), &[]);
        let chain = point(&journals[0], "chain of hashes");
        assert_eq!((code, chain["verdict"].as_str()), (1, Some("does not hold")), "{by}: {chain}");
        let (_, report) = said(&["report", folder.path().to_str().unwrap()]);
        assert!(chain.to_string().contains(told) || report.contains(told), "{by}: {chain} {report}");
    }
}

#[test]
fn a_key_of_a_kept_text_that_is_not_known_is_an_error_and_not_a_text_that_is_lost() {
    let folder = TempDir::new().unwrap();
    example("heron-taxi", folder.path());
    with_texts(folder.path(), |texts| texts.replacen("at_stake: Wrong fluid", "in_danger: Wrong fluid", 1));
    let (code, said) = said(&["report", folder.path().to_str().unwrap()]);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("in_danger"), "{said}");
    let (_, journals) = audit(folder.path(), &[]);
    assert_ne!(journals[0]["verdict"], "holds", "{}", journals[0]);
}
