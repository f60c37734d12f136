use standpipe_job::{Event, Record, What, Witness};
use standpipe_quantity::value::Value;

use super::bench::{Job, plan_in};
use super::{WORK, entry, event, finds, forged, in_shop, looked_at, point, work};
use crate::point::Verdict::{DoesNotHold, Holds, NotShown};

fn value(record: &mut Record, name: &str, person: &str) {
    let Event::Entered { values, .. } = &mut record.event else { panic!() };
    values.insert(name.to_owned(), Value::Text(person.to_owned()));
}

fn witnessed(record: &mut Record, by: Option<Witness>) {
    let Event::Entered { witness, .. } = &mut record.event else { panic!() };
    *witness = by;
}

#[test]
fn of_a_sound_job_every_person_is_looked_at() {
    let points = forged(work(), |_| {});
    for (name, looked_at) in [("signatures", 4), ("witnesses", 1), ("exceptions", 2)] {
        finds(&points, name, Holds, "");
        assert_eq!(point(&points, name).looked_at, looked_at, "{name}");
    }
}

#[test]
fn who_signed_is_known_has_the_role_signs_for_themselves_and_did_not_do_the_work() {
    for (signed, by, role, found) in [
        ("zoe", "zoe", None, "nobody called `zoe`"),
        ("bob", "bob", None, "bob signed as checker and has no such role"),
        ("eve", "bob", None, "bob signed for eve"),
        ("ann", "ann", Some("checker"), "ann has to be somebody other than who did the work too"),
    ] {
        let mut job = work();
        let second = entry(&mut job.records, "second");
        second.by = by.to_owned();
        value(second, "second", signed);
        let points = match role {
            None => looked_at(&job.machine.plan, &job.records),
            Some(role) => looked_at(&in_shop(WORK, "[hand] }", &format!("[hand, {role}] }}")), &job.records),
        };
        finds(&points, "signatures", DoesNotHold, found);
    }
}

#[test]
fn who_has_to_be_another_is_another_than_in_this_entry_and_in_an_earlier_one() {
    for (step, name, person, found) in [
        ("who", "below", "ann", "ann has to be somebody other than who above"),
        ("aside", "aside", "ann", "ann has to be somebody other than who above"),
        ("who", "below", "zoe", "nobody called `zoe`"),
    ] {
        let points = forged(work(), |records| value(entry(records, step), name, person));
        finds(&points, "signatures", DoesNotHold, found);
    }
}

#[test]
fn a_witness_is_there_is_known_and_is_another() {
    let by = |person: &str| Some(Witness::By(person.to_owned()));
    for (witness, verdict, found) in [
        (by("eve"), Holds, ""),
        (None, DoesNotHold, "nobody witnessed `faces`"),
        (Some(Witness::Alone), NotShown, "a one-person shop"),
        (by("ann"), DoesNotHold, "ann witnessed their own work"),
        (by("zoe"), DoesNotHold, "nobody called `zoe`"),
    ] {
        let points = forged(work(), |records| witnessed(entry(records, "faces"), witness));
        finds(&points, "witnesses", verdict, found);
    }
}

#[test]
fn without_a_shop_anybody_may_look_on_and_no_role_is_shown() {
    let mut job = work();
    witnessed(entry(&mut job.records, "faces"), Some(Witness::By("zoe".to_owned())));
    value(entry(&mut job.records, "who"), "below", "zoe");
    let alone = plan_in(None, WORK, &[], &[]).unwrap_or_else(|problems| panic!("{problems}"));
    let points = looked_at(&alone, &job.records);
    finds(&points, "witnesses", Holds, "");
    finds(&points, "signatures", NotShown, "nobody says who is checker");
    finds(&points, "exceptions", NotShown, "nobody says what eve may accept");
}

#[test]
fn what_was_left_out_may_be_and_has_a_reason() {
    let skip = |reason: &str, step: &str, by: &str| {
        forged(work(), |records| {
            let skipped = event(records, |event| matches!(event, Event::Skipped { .. }));
            skipped.by = by.to_owned();
            let Event::Skipped { address, because } = &mut skipped.event else { panic!() };
            *because = reason.to_owned();
            address.step = step.to_owned();
        })
    };
    finds(&skip("in a hurry", "wipe", "ann"), "exceptions", Holds, "");
    finds(&skip(" ", "wipe", "ann"), "exceptions", DoesNotHold, "`wipe` was skipped without a reason");
    finds(&skip("so", "wipe", "zoe"), "exceptions", DoesNotHold, "skipped by `zoe`, whom the shop does not know");
    finds(&skip("so", "look", "ann"), "exceptions", DoesNotHold, "may not be: it has a gate");
    finds(&skip("so", "faces", "ann"), "exceptions", DoesNotHold, "may not be: it is marked `keep`");
}

#[test]
fn what_was_accepted_may_be_by_whom_and_has_a_reason() {
    let accept = |reason: &str, step: &str, by: &str| {
        forged(work(), |records| {
            let accepted = event(records, |event| matches!(event, Event::Accepted { .. }));
            accepted.by = by.to_owned();
            let Event::Accepted { address, because } = &mut accepted.event else { panic!() };
            *because = reason.to_owned();
            address.step = step.to_owned();
        })
    };
    finds(&accept("it seals", "look", "bob"), "exceptions", Holds, "");
    finds(&accept("", "look", "bob"), "exceptions", DoesNotHold, "`look` was accepted without a reason");
    finds(&accept("so", "look", "ann"), "exceptions", DoesNotHold, "ann accepted `look`, which head or head may");
    finds(&accept("so", "faces", "bob"), "exceptions", DoesNotHold, "`faces` was accepted and is marked `keep`");
}

/// A gate says who may, a `repeat` says it of its last round, and the procedure says it of what turned after a correction.
#[test]
fn whoever_may_accept_is_named_by_gate_repeat_or_procedure() {
    let gate = "steps:\n  - { id: look, pick: { seen: [clean, dirty] }, gate: { must: seen == \"clean\", otherwise: { ask: [head] } } }\n";
    let rounds = "steps:
  - id: rounds
    repeat: { until: seen == \"clean\", at_most: 1, otherwise: { ask: [head] } }
    steps: [{ id: look, pick: { seen: [clean, dirty] } }]
";
    let turned = "may_accept: [head]
steps:
  - { id: look, pick: { seen: [clean, dirty] }, gate: { must: seen == \"clean\", otherwise: stop } }
  - { id: end, do: End. }
";
    for (procedure, turns) in [(gate, false), (rounds, false), (turned, true)] {
        let job = || {
            let mut job = Job::new(procedure);
            job.enter("look", &[("seen", if turns { "clean" } else { "dirty" })]).unwrap();
            if turns {
                let values = [("seen".to_owned(), "dirty".to_owned())].into_iter().collect();
                job.input(What::Correct { entry: None, values, because: "looked again".to_owned() }).unwrap();
                job.done("end");
            }
            job.by("bob").input(What::Accept { because: "only dust".to_owned() }).unwrap();
            assert!(job.is_finished());
            job
        };
        finds(&forged(job(), |_| {}), "exceptions", Holds, "");
        let by_ann = forged(job(), |records| {
            event(records, |event| matches!(event, Event::Accepted { .. })).by = "ann".to_owned();
        });
        finds(&by_ann, "exceptions", DoesNotHold, ", which head may");
    }
}
