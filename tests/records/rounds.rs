//! What a record says is shown, where the steps that show it are gone through more than once.

use standpipe_job::{Event, What};
use standpipe_report::record;

use crate::bench::Job;

/// Each jar has a label of its own, and is read in a round of its own.
const JARS: &str = "\
record:
  - title: Is the right glaze in?
    shown_by: [label]
    answer: { what: the right glaze, step: label }
steps:
  - { id: count, read: { jars: { is: count } } }
  - id: jars
    repeat: { until: round >= jars, at_most: 5 }
    steps:
      - { id: label, title: Read the label, read: { glaze: { is: text } }, gate: { must: glaze == \"clear\", otherwise: { ask: [head] } } }
  - { id: last, do: Wipe it. }
";

/// Tried until it does; trouble undoes what was tried.
const TRIES: &str = "\
reachable: [trouble]
record:
  - title: Is it shut?
    shown_by: [shut]
    answer: { what: shut, step: shut }
steps:
  - id: tries
    repeat: { until: rattles == \"still\", at_most: 5 }
    steps:
      - { id: push, do: Push it. }
      - { id: shut, title: Shut it, pick: { lid: [shut, open] }, gate: { must: lid == \"shut\", otherwise: wait } }
      - { id: rattle, pick: { rattles: [loud, still] } }
  - { id: last, do: Wipe it. }
";
const TROUBLE: &str = "steps: [{ id: gone, do: Lay it aside., undoes: [tries] }]\n";

fn said(job: &Job) -> String {
    let view = record::view(&job.machine, &job.records, None, None);
    let summary = record::summary(&view, 120, false);
    summary.lines().skip_while(|line| !line.is_empty()).nth(1).unwrap_or_default().to_owned()
}

fn jars(glazes: &[&str]) -> Job {
    let mut job = Job::new(JARS);
    job.enter("count", &[("jars", &glazes.len().to_string())]).unwrap();
    for glaze in glazes {
        job.enter("label", &[("glaze", glaze)]).unwrap();
    }
    job
}

#[test]
fn one_bad_round_is_not_made_good_by_a_later_one() {
    let mut job = jars(&["clear", "clear", "clear"]);
    assert_eq!(said(&job), "SHOWN: the right glaze, on 2026-11-23 08:00.");
    let text = record::text(&record::view(&job.machine, &job.records, None, None), 80, false);
    assert!(text.contains("  met        Read the label, 3 of 3: glaze clear, 08:00 Ann A.\n"), "{text}");

    let is_label = |event: &Event| matches!(event, Event::Entered { address, .. } if address.step == "label");
    let first = job.records.iter().find(|record| is_label(&record.event)).unwrap();
    let (entry, values) = (Some(first.seq), [("glaze".to_owned(), "matt".to_owned())].into_iter().collect());
    job.input(What::Correct { entry, values, because: "read it again".to_owned() }).unwrap();
    assert_eq!(said(&job), "NOT MET: the right glaze, because of \"Read the label\" (1 of 3, not met).");
    let text = record::text(&record::view(&job.machine, &job.records, None, None), 80, false);
    assert!(text.contains("  NOT MET    Read the label, 1 of 3: glaze matt, corrected, 08:00 Ann A.\n"), "{text}");
}

#[test]
fn a_round_that_was_left_out_or_let_pass_stays_so() {
    let without_gate = JARS.replace(", gate: { must: glaze == \"clear\", otherwise: { ask: [head] } }", "");
    let mut job = Job::new(&without_gate);
    job.enter("count", &[("jars", "2")]).unwrap();
    job.input(What::Skip { because: "no label".to_owned() }).unwrap();
    job.enter("label", &[("glaze", "clear")]).unwrap();
    assert_eq!(said(&job), "NOT SHOWN: the right glaze, because of \"Read the label\" (1 of 2, left out).");

    let mut job = Job::new(JARS);
    job.enter("count", &[("jars", "2")]).unwrap();
    job.enter("label", &[("glaze", "matt")]).unwrap();
    job.by("eve").input(What::Accept { because: "it is as good".to_owned() }).unwrap();
    job.by("ann").enter("label", &[("glaze", "clear")]).unwrap();
    assert_eq!(said(&job), "NOT MET: the right glaze, because of \"Read the label\" (1 of 2, not met, accepted).");
}

#[test]
fn nothing_is_shown_while_another_round_is_due() {
    let mut job = Job::with(TRIES, &[("trouble", TROUBLE)]);
    let due = "NOT SHOWN YET: shut, because of \"Shut it\" (due again).";
    let tried = |job: &mut Job, rattles: &str| {
        job.done("push");
        job.enter("shut", &[("lid", "shut")]).unwrap();
        job.enter("rattle", &[("rattles", rattles)]).unwrap();
    };
    tried(&mut job, "loud");
    assert_eq!(said(&job), due, "it was shut, and rattled");
    tried(&mut job, "still");
    assert_eq!(said(&job), "SHOWN: shut, on 2026-11-23 08:00.");

    // As long as trouble is under way nobody knows what it will undo.
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    assert_eq!(said(&job), "NOT SHOWN YET: shut, because of \"trouble\" (under way).");
    job.done("gone");
    assert_eq!(said(&job), due);
    tried(&mut job, "still");
    assert_eq!(said(&job), "SHOWN: shut, on 2026-11-23 08:00.");

    // A round that trouble broke off is over as well.
    let mut job = Job::with(TRIES, &[("trouble", TROUBLE)]);
    job.done("push");
    job.enter("shut", &[("lid", "shut")]).unwrap();
    assert_eq!(said(&job), "SHOWN: shut, on 2026-11-23 08:00.");
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    job.done("gone");
    assert_eq!(said(&job), due);
}
