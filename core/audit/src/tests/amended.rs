use standpipe_job::journal::Contents;
use standpipe_job::plan::{Kept, renewed};
use standpipe_job::{Entry, Event, Given, Hold, Journal, Machine, OpenJob, What};
use standpipe_library::File;
use tempfile::TempDir;

use super::bench::plan;
use crate::amended::Machines;
use crate::point::Point;
use crate::point::Verdict::{DoesNotHold, Holds};

const STEPS: &str = "
may_accept: [head]
steps:
  - { id: warm, read: { heat: { is: temperature } } }
  - { id: look, do: Look., gate: { must: heat < 50.degC, otherwise: stop } }
  - { id: end, do: End. }
";

/// A job whose gate was corrected by Bob, who may, after the first step.
fn amended() -> (TempDir, Contents) {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("job");
    let now = "2026-11-23T08:00:00+01:00".parse().unwrap();
    let mut job = OpenJob::open(&folder, Hold::Begin(Box::new(plan(STEPS, &[]).unwrap()))).unwrap();
    job.give(Given::typed("ann", What::Open), now).unwrap();
    let typed = [("heat".to_owned(), "45 degC".to_owned())].into_iter().collect();
    let warm = What::Enter(Entry { step: "warm".to_owned(), typed, ..Entry::default() });
    job.give(Given::typed("ann", warm), now).unwrap();
    let mut files = job.plan().snapshot.files.clone();
    let found = files.list.iter_mut().find(|file| file.path == "procedures/main.yaml").unwrap();
    *found = File::new(found.layer, "test", "procedures/main.yaml", found.source.text.replace("50.degC", "40.degC"));
    let newer = renewed(&job.plan().snapshot, &files).unwrap();
    job.amend(newer, "bob", "It was the other limit", now).unwrap();
    drop(job);
    let contents = Journal::read(&folder).unwrap();
    (dir, contents)
}

fn machines(contents: &Contents) -> (Machines, Point) {
    let mut plans = Kept::default();
    let first = plans.plan(&contents.plan, "plan.json").unwrap();
    let (machines, point) = Machines::new(Machine::new(first), contents, &mut plans, "journal.jsonl");
    (machines, point.unwrap())
}

#[test]
fn each_event_is_decided_by_the_data_that_the_job_had_then() {
    let (_dir, contents) = amended();
    let (machines, point) = machines(&contents);
    assert_eq!((point.verdict, point.looked_at), (Holds, 1), "{:?}", point.findings);
    let from = contents.later[0].seq;
    let must = |seq: u64| machines.at(seq).plan.step("look").unwrap().gate.as_ref().unwrap().must.text().to_owned();
    for (seq, limit) in [(1, "50"), (from - 1, "50"), (from, "40"), (from + 1, "40")] {
        assert!(must(seq).contains(limit), "event {seq}: {}", must(seq));
    }
    let last = machines.last().plan.step("look").unwrap().gate.as_ref().unwrap().must.text();
    assert!(last.contains("40"), "{last}");
    assert_eq!(machines.plans().count(), 2);
}

#[test]
fn data_are_corrected_by_an_event_of_somebody_who_may_with_a_reason_and_as_they_differ() {
    let found = |change: &dyn Fn(&mut Contents)| {
        let (_dir, mut contents) = amended();
        change(&mut contents);
        let point = machines(&contents).1;
        (point.verdict, point.findings.into_iter().map(|finding| finding.message).collect::<Vec<_>>())
    };
    let by = |contents: &mut Contents, person: &str| {
        let seq = contents.later[0].seq;
        contents.records.iter_mut().find(|record| record.seq == seq).unwrap().by = person.to_owned();
    };
    let event = |contents: &mut Contents, change: &dyn Fn(&mut Vec<String>, &mut String)| {
        let amended = contents.records.iter_mut().find_map(|record| match &mut record.event {
            Event::Amended { changed, because, .. } => Some((changed, because)),
            _ => None,
        });
        let (changed, because) = amended.unwrap();
        change(changed, because);
    };
    type Case<'a> = (&'a str, &'a dyn Fn(&mut Contents));
    let cases: [Case<'_>; 5] = [
        ("corrected without a reason", &|contents| event(contents, &|_, because| *because = " ".to_owned())),
        ("are not the ones that differ", &|contents| event(contents, &|changed, _| changed.clear())),
        ("`ann` may not decide which data", &|contents| by(contents, "ann")),
        ("no event brings these data in", &|contents| {
            let seq = contents.later[0].seq;
            contents.records.retain(|record| record.seq < seq);
        }),
        ("the plan by which the job went on is missing", &|contents| {
            let gone = standpipe_diagnostic::source::Source::new("plan.json", "");
            let place = standpipe_diagnostic::source::Place::whole(&gone);
            let gone =
                standpipe_diagnostic::Diagnostic::error(standpipe_diagnostic::Code::BrokenJournal, &place, "gone");
            contents.later[0].text = Err(Box::new(gone));
        }),
    ];
    for (message, change) in cases {
        let (verdict, findings) = found(change);
        assert_eq!((verdict, findings.len()), (DoesNotHold, 1), "{message}: {findings:?}");
        assert!(findings[0].contains(message), "{findings:?}");
    }
}
