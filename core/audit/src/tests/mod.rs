//! What an audit finds in events that were changed: a rule of a procedure each, on jobs of a few steps.
//!
//! Whether a forged journal is found at all is tried by the program's tests; here, which point finds it, and why.

// What tests share is outside of any `#[test]`, where clippy does not allow it by itself.
#![allow(clippy::unwrap_used)]

#[path = "../../../../tests/machine/bench.rs"]
#[allow(dead_code, reason = "shared with the tests of the machine")]
mod bench;

mod amended;
mod books;
mod decided;
mod devices;
mod findings;
mod habits;
mod instruments;
mod journals;
mod margins;
mod order;
mod people;
mod readings;
mod recalls;

use standpipe_job::plan::Plan;
use standpipe_job::{Event, Record, State, What};

use super::journal::looks;
use super::point::{Point, Verdict};
use super::seen::Seen;
use bench::{Job, SHOP, plan_in};

/// A job with a reading, persons, a witness, an exception of each kind and a signature; nothing is wrong with it.
const WORK: &str = "
may_accept: [head]
steps:
  - { id: warm, read: { heat: { is: temperature, instrument: reader } } }
  - id: who
    read: { above: { is: person, ask: Who is above? }, below: { is: person, ask: Who is below?, other_than: above } }
  - { id: aside, read: { aside: { is: person, ask: Who stands aside?, other_than: above } } }
  - { id: faces, do: Clean., witness: Faces clean, keep: true }
  - { id: look, pick: { seen: [clean, dirty] }, gate: { must: seen == \"clean\", otherwise: { ask: [head] } } }
  - { id: wipe, do: Wipe. }
  - { id: second, sign: { as: checker, other_than: doer } }
";

fn work() -> Job {
    let mut job = Job::new(WORK);
    job.later(10).enter("warm", &[("heat", "40 degC")]).unwrap();
    job.later(10).enter("who", &[("above", "ann"), ("below", "bob")]).unwrap();
    job.later(10).enter("aside", &[("aside", "bob")]).unwrap();
    job.later(10).enter_with("faces", &[], |entry| entry.witness = Some("bob".to_owned())).unwrap();
    job.later(10).enter("look", &[("seen", "dirty")]).unwrap();
    job.by("eve").later(10).input(What::Accept { because: "only dust".to_owned() }).unwrap();
    job.by("ann").later(10).input(What::Skip { because: "clean already".to_owned() }).unwrap();
    job.by("eve").later(10).enter("second", &[]).unwrap();
    assert!(job.is_finished(), "{:?}", job.pending());
    job
}

/// What is made of a job by all that look at one event after the other.
fn looked_at(plan: &Plan, records: &[Record]) -> Vec<Point> {
    let mut looks = looks("journal.jsonl");
    let mut state = State::default();
    for record in records {
        looks.iter_mut().for_each(|look| look.see(&Seen { plan, before: &state, record }));
        state.apply(record);
    }
    looks.into_iter().flat_map(|look| look.points()).collect()
}

/// The same of a job that was changed afterwards.
fn forged(mut job: Job, change: impl FnOnce(&mut Vec<Record>)) -> Vec<Point> {
    change(&mut job.records);
    looked_at(&job.machine.plan, &job.records)
}

/// The plan of a procedure in a shop that says something else.
fn in_shop(procedure: &str, from: &str, to: &str) -> Plan {
    let shop = SHOP.replace(from, to);
    assert_ne!(shop, SHOP);
    plan_in(Some(shop), procedure, &[], &[]).unwrap_or_else(|problems| panic!("{problems}"))
}

/// The event of a step, of the kind that `is` says.
fn event(records: &mut [Record], is: impl Fn(&Event) -> bool) -> &mut Record {
    records.iter_mut().find(|record| is(&record.event)).unwrap()
}

fn entry<'a>(records: &'a mut [Record], step: &str) -> &'a mut Record {
    event(records, |event| matches!(event, Event::Entered { address, .. } if address.step == step))
}

fn point<'a>(points: &'a [Point], name: &str) -> &'a Point {
    points.iter().find(|point| point.point == name).unwrap()
}

/// That one point finds this, and nothing else; `found` is part of what it says.
fn finds(points: &[Point], name: &str, verdict: Verdict, found: &str) {
    let point = point(points, name);
    let messages: Vec<&str> = point.findings.iter().map(|finding| finding.message.as_str()).collect();
    assert_eq!(point.verdict, verdict, "{found}: {messages:?}");
    match found {
        "" => assert!(messages.is_empty(), "{messages:?}"),
        _ => assert!(messages.len() == 1 && messages[0].contains(found), "{found}: {messages:?}"),
    }
}
