//! Events that claim an interrupted write, forged to hide what was entered or to end a job early.

use std::fs;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use crate::audit::bench::{audit, copy_plan, example, forge_all, point};

const TORN: &str = "seventeen bytes..";

/// The event in the place of another: with the same time.
fn recovered(beside: &str, bytes: usize, name: &str) -> String {
    let at = beside.find("\"at\":\"").unwrap();
    let at = &beside[at..at + "\"at\":\"2026-11-24T08:00:00+01:00\"".len()];
    let origin = &beside[beside.find("\"origin\":").unwrap()..beside.find(",\"event\"").unwrap()];
    format!(
        "{{\"prev\":\"{}\",\"seq\":0,{at},\"by\":\"\",{origin},\"event\":\"recovered\",\"bytes\":{bytes},\"moved_to\":\"{name}\"",
        "0".repeat(64)
    )
}

fn ends(line: &str) -> bool {
    line.ends_with("\"end\":true")
}

fn ended(line: String) -> String {
    if ends(&line) { line } else { line + ",\"end\":true" }
}

/// A copy of a sound job with its torn file, forged.
fn forged(sound: &Path, into: PathBuf, change: impl FnOnce(Vec<String>) -> Vec<String>) {
    fs::create_dir_all(&into).unwrap();
    copy_plan(sound, &into);
    fs::copy(sound.join("journal.jsonl"), into.join("journal.jsonl")).unwrap();
    fs::write(into.join("torn-1"), TORN).unwrap();
    forge_all(&into, change);
}

#[test]
fn one_at_the_head_of_a_batch_hides_nothing_of_it() {
    let temp = TempDir::new().unwrap();
    let sound = temp.path().join("sound");
    example("heron-taxi", &sound);
    let lines = fs::read_to_string(sound.join("journal.jsonl")).unwrap();
    let lines: Vec<String> = lines.lines().map(|line| line[..line.rfind(",\"sum\"").unwrap()].to_owned()).collect();
    let heads: Vec<usize> = (1..lines.len()).filter(|&at| ends(&lines[at - 1])).collect();
    assert!(heads.len() > 7);
    let variants = temp.path().join("variants");
    for &head in &heads {
        forged(&sound, variants.join(format!("head-{head}")), |mut lines| {
            let first = recovered(&lines[head], TORN.len(), "torn-1");
            lines.insert(head, first);
            lines
        });
        // Everything from here on in one batch.
        forged(&sound, variants.join(format!("rest-{head}")), |mut lines| {
            let first = recovered(&lines[head], TORN.len(), "torn-1");
            lines.insert(head, first);
            let last = lines.len() - 1;
            for (index, line) in lines.iter_mut().enumerate().skip(head) {
                *line = if index == last { ended(line.clone()) } else { line.replace(",\"end\":true", "") };
            }
            lines
        });
    }
    let (_, journals) = audit(&variants, &[]);
    assert_eq!(journals.len(), 2 * heads.len());
    for journal in journals {
        assert_eq!(point(&journal, "decisions")["verdict"], "does not hold", "{journal}");
        assert_eq!(point(&journal, "interrupted writes")["verdict"], "holds", "only the batch is to blame: {journal}");
    }
}

#[test]
fn one_that_ends_a_job_early_or_comes_after_its_end_does_not_hold() {
    let temp = TempDir::new().unwrap();
    let sound = temp.path().join("sound");
    example("plover-pickup", &sound);
    let variants = temp.path().join("variants");
    let third = |lines: &[String]| {
        lines.iter().enumerate().filter(|(_, line)| ends(line)).nth(3).map(|(index, _)| index + 1).unwrap()
    };
    let finished =
        |lines: &[String]| lines.last().filter(|line| line.contains("\"event\":\"finished\"")).unwrap().clone();
    forged(&sound, variants.join("early"), |mut lines| {
        let (cut, end) = (third(&lines), finished(&lines));
        let first = recovered(&lines[cut - 1], TORN.len(), "torn-1");
        lines.truncate(cut);
        lines.extend([first, end]);
        lines
    });
    forged(&sound, variants.join("early-by-itself"), |mut lines| {
        let (cut, end) = (third(&lines), finished(&lines));
        let first = ended(recovered(&lines[cut - 1], TORN.len(), "torn-1"));
        lines.truncate(cut);
        lines.extend([first, end]);
        lines
    });
    forged(&sound, variants.join("after"), |mut lines| {
        let last = ended(recovered(lines.last().unwrap(), TORN.len(), "torn-1"));
        lines.push(last);
        lines
    });
    let (_, journals) = audit(&variants, &[]);
    let mut found: Vec<(&str, &str)> = Vec::new();
    for (journal, name) in journals.iter().zip(["order of events", "decisions", "decisions"]) {
        assert_eq!(point(journal, name)["verdict"], "does not hold", "{journal}");
        found.push((journal["folder"].as_str().unwrap().rsplit('/').next().unwrap(), name));
    }
    assert_eq!(found.len(), 3, "{found:?}");
}

#[test]
fn what_one_names_has_to_lie_there_with_its_size() {
    let temp = TempDir::new().unwrap();
    let sound = temp.path().join("sound");
    example("heron-taxi", &sound);
    let variants = temp.path().join("variants");
    let cases = [
        ("a-right", TORN.len(), "torn-1", "holds"),
        ("b-another-size", TORN.len() + 1, "torn-1", "does not hold"),
        ("c-nowhere", TORN.len(), "torn-2", "does not hold"),
        ("d-outside", TORN.len(), "../a-right/torn-1", "does not hold"),
        ("e-another-file", TORN.len(), "plan.json", "does not hold"),
        ("f-another-way-to-say-it", TORN.len(), "torn-01", "does not hold"),
        ("g-link", TORN.len(), "torn-3", "does not hold"),
    ];
    for (name, bytes, file, _) in cases {
        let into = variants.join(name);
        forged(&sound, into.clone(), |mut lines| {
            let at = lines.iter().position(|line| ends(line)).unwrap() + 1;
            let alone = ended(recovered(&lines[at - 1], bytes, file));
            lines.insert(at, alone);
            lines
        });
        #[cfg(unix)]
        std::os::unix::fs::symlink("torn-1", into.join("torn-3")).unwrap();
    }
    let (_, journals) = audit(&variants, &[]);
    for (journal, (name, .., verdict)) in journals.iter().zip(cases) {
        assert_eq!(point(journal, "interrupted writes")["verdict"], verdict, "{name}: {journal}");
        assert_eq!(point(journal, "decisions")["verdict"], "holds", "{name}: {journal}");
    }
}
