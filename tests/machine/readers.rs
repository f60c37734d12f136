//! What is recorded of a reader that is followed: where its readings reach or leave the range that a step awaits.

use indexmap::IndexMap;
use standpipe_job::said::Remark;
use standpipe_job::{Entry, Event, EvidenceRef, Input, Origin, ReadFrom, StreamStatus, TakenFrom, What};
use standpipe_quantity::value::Value;

use crate::bench::Job;

const WARM: &str = "
steps:
  - { id: warm, await: { sample: heat, is: temperature, within: spec.window } }
  - { id: hot, await: { sample: heat, is: temperature, within: \"range(60.degC, 70.degC)\" } }
  - { id: end, do: End. }
";

/// What is recorded of a reading that comes so many seconds after the one before, and of which step.
fn reads(job: &mut Job, seconds: i64, name: &str, read: &str) -> Vec<(StreamStatus, String)> {
    let value = job.machine.plan.units.read(read, None, None).unwrap();
    let now = job.seconds_later(seconds).now();
    let notices = job.machine.notices(&job.state, name, &value, now);
    let events = job.input(What::Sample { name: name.to_owned(), value }).unwrap();
    assert_eq!(notices, !events.is_empty(), "{events:?}");
    let turned = events.into_iter().map(|event| match event {
        Event::Stream { turn, address, .. } => (turn, address.unwrap().to_string()),
        other => panic!("{other:?}"),
    });
    turned.collect()
}

fn turned(turn: StreamStatus, step: &str) -> Vec<(StreamStatus, String)> {
    vec![(turn, step.to_owned())]
}

#[test]
fn both_ends_belong_to_the_range_that_a_reading_reaches_and_leaves() {
    let mut job = Job::new(WARM);
    for (read, turn) in [
        ("34.9 degC", None),
        ("35 degC", Some(StreamStatus::Reached)),
        ("40 degC", None),
        ("45 degC", None),
        ("45.1 degC", Some(StreamStatus::Left)),
        ("45 degC", Some(StreamStatus::Reached)),
        ("34.9 degC", Some(StreamStatus::Left)),
        ("50 degC", None),
    ] {
        let wanted = turn.map(|turn| turned(turn, "warm")).unwrap_or_default();
        assert_eq!(reads(&mut job, 60, "heat", read), wanted, "{read}");
    }
}

#[test]
fn a_reading_that_trembles_at_an_end_turns_once_in_five_seconds() {
    let mut job = Job::new(WARM);
    assert_eq!(reads(&mut job, 60, "heat", "45 degC"), turned(StreamStatus::Reached, "warm"));
    assert_eq!(reads(&mut job, 4, "heat", "45.1 degC"), []);
    assert_eq!(reads(&mut job, 1, "heat", "45.1 degC"), turned(StreamStatus::Left, "warm"));
    assert_eq!(reads(&mut job, 4, "heat", "45 degC"), []);
}

#[test]
fn another_name_or_another_quantity_is_held_to_no_range() {
    let mut job = Job::new(WARM);
    assert_eq!(reads(&mut job, 60, "cold", "40 degC"), []);
    assert_eq!(reads(&mut job, 60, "heat", "40 L"), []);
    assert_eq!(reads(&mut job, 60, "heat", "40 degC"), turned(StreamStatus::Reached, "warm"));
    assert_eq!(reads(&mut job, 60, "heat", "50 L"), []);
}

#[test]
fn of_the_range_of_another_step_nothing_is_known_and_the_last_one_is_watched_on() {
    let mut job = Job::new(WARM);
    assert_eq!(reads(&mut job, 60, "heat", "40 degC"), turned(StreamStatus::Reached, "warm"));
    job.enter("warm", &[("heat", "40 degC")]).unwrap();
    assert_eq!(job.asks(), "hot");
    assert_eq!(reads(&mut job, 60, "heat", "50 degC"), [], "it never was in this range");
    assert_eq!(reads(&mut job, 1, "heat", "65 degC"), turned(StreamStatus::Reached, "hot"));
    job.enter("hot", &[("heat", "65 degC")]).unwrap();
    assert_eq!(job.asks(), "end");
    assert_eq!(reads(&mut job, 60, "heat", "80 degC"), turned(StreamStatus::Left, "hot"));
}

#[test]
fn what_a_reader_did_while_it_was_silent_nobody_knows() {
    for (meanwhile, known) in [
        (StreamStatus::Stale, false),
        (StreamStatus::Frozen, false),
        (StreamStatus::Again, false),
        (StreamStatus::Over, false),
        (StreamStatus::Covered, true),
        (StreamStatus::NotCovered, true),
    ] {
        let mut job = Job::new(WARM);
        assert_eq!(reads(&mut job, 60, "heat", "40 degC"), turned(StreamStatus::Reached, "warm"));
        job.input(What::Stream { name: "heat".to_owned(), turn: meanwhile, note: None }).unwrap();
        let wanted = if known { Vec::new() } else { turned(StreamStatus::Reached, "warm") };
        assert_eq!(reads(&mut job, 1, "heat", "41 degC"), wanted, "{meanwhile:?}");
        assert_eq!(reads(&mut job, 60, "heat", "46 degC"), turned(StreamStatus::Left, "warm"), "{meanwhile:?}");
    }
}

/// A reader that shows newton metres may call them an energy. Where the range is of no kind of its own, its word stands.
#[test]
fn a_reading_is_recorded_as_the_kind_of_quantity_that_is_awaited() {
    for (within, kind) in [("range(20.N_m, 30.N_m)", "torque"), ("range(2.N * 10.m, 3.N * 10.m)", "energy")] {
        let mut job = Job::new(&format!(
            "steps:\n  - {{ id: pull, await: {{ sample: pulled, is: torque, within: \"{within}\" }} }}\n"
        ));
        let value = job.machine.plan.units.read("25 J", None, None).unwrap();
        let events = job.input(What::Sample { name: "pulled".to_owned(), value }).unwrap();
        let recorded = events.into_iter().find_map(|event| match event {
            Event::Stream { value: Some(Value::Quantity(read)), .. } => read.of,
            _ => None,
        });
        assert_eq!(recorded.as_deref(), Some(kind), "{within}");
    }
}

#[test]
fn what_was_taken_from_rows_says_whether_they_were_a_log_or_a_reader() {
    let taken = |log: bool, is_of_rows: bool, origin: Origin| {
        let job = Job::new(WARM);
        let row = TakenFrom { column: "Heat".to_owned(), quantity: "temperature".to_owned(), row: Some(12.0) };
        let values = is_of_rows.then(|| ("heat".to_owned(), row)).into_iter().collect();
        let rows = EvidenceRef { sha256: "0".repeat(64), name: "rows.csv".to_owned(), of: None };
        let read = ReadFrom { rows, log, said: IndexMap::new(), zero: None, values };
        let typed = [("heat".to_owned(), "40 degC".to_owned())].into_iter().collect();
        let entry = Entry { step: "warm".to_owned(), typed, read: Some(Box::new(read)), ..Entry::default() };
        let by = "ann".to_owned();
        let input = Input { at: job.now(), entered_at: None, by, origin, what: What::Enter(entry) };
        let records = job.machine.decide(&job.state, &input).unwrap();
        match &records[0].event {
            Event::Entered { remarks, .. } => remarks.clone(),
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(taken(true, true, Origin::Log), [Remark::FromLog("rows.csv".to_owned())]);
    assert_eq!(taken(false, true, Origin::Log), [Remark::FromReader]);
    // Rows that came meanwhile gave nothing.
    assert_eq!(taken(true, false, Origin::Answers), []);
    assert_eq!(taken(true, false, Origin::Log), [Remark::FromReader]);
}
