use standpipe_job::replay::input_of;
use standpipe_job::{Event, Record, State, Verdict as Judged, What};
use standpipe_quantity::value::Value;

use super::Job;
use crate::decided::Decided;
use crate::point::Verdict::{self, DoesNotHold, Holds, NotShown};

const STEPS: &str = "
tag: [{ text: Empty }]
steps:
  - id: warm
    read: { heat: { is: temperature } }
    gate: { must: heat <= 45.degC, otherwise: wait }
  - { id: cool, when: heat > 40.degC, do: Let it cool. }
  - id: rounds
    repeat: { until: left <= 30.degC, at_most: 3, otherwise: stop }
    steps: [{ id: look, read: { left: { is: temperature } } }]
  - { id: rise, compute: { value: heat - left, gives: rise } }
  - { id: end, do: End. }
";

/// A job that was warm and then left, in the batches that its inputs led to.
fn job(heat: &str, left: &str) -> (Job, Vec<Vec<Record>>) {
    let mut job = Job::new(STEPS);
    job.enter("warm", &[("heat", heat)]).unwrap();
    if job.asks() == "cool" {
        job.done("cool");
    }
    if job.asks() == "look[1]" {
        job.enter("look", &[("left", left)]).unwrap();
    }
    job.input(What::Pause).unwrap();
    let mut state = State::default();
    let (mut rest, mut batches) = (job.records.as_slice(), Vec::new());
    while let Some(input) = input_of(rest) {
        let count = job.machine.decide(&state, &input).unwrap().len();
        let (batch, later) = rest.split_at(count);
        batch.iter().for_each(|record| state.apply(record));
        batches.push(batch.to_vec());
        rest = later;
    }
    (job, batches)
}

/// What an audit makes of the decisions of a job that was changed.
fn decided(
    (job, mut batches): (Job, Vec<Vec<Record>>),
    change: impl FnOnce(&mut Vec<Vec<Record>>),
) -> (Verdict, Vec<String>) {
    change(&mut batches);
    let mut decided = Decided::new("journal.jsonl", &Default::default());
    let mut state = State::default();
    for batch in &batches {
        decided.batch(&job.machine, &state, batch);
        batch.iter().for_each(|record| state.apply(record));
    }
    let point = decided.point();
    assert_eq!(point.looked_at as usize, batches.iter().map(Vec::len).sum::<usize>());
    (point.verdict, point.findings.into_iter().map(|finding| finding.message).collect())
}

/// The first event for which `is` gives something to change.
fn event<'a, T>(batches: &'a mut [Vec<Record>], is: impl Fn(&'a mut Event) -> Option<T>) -> T {
    batches.iter_mut().flatten().find_map(|record| is(&mut record.event)).unwrap()
}

fn verdict(batches: &mut [Vec<Record>]) -> &mut Judged {
    event(batches, |event| match event {
        Event::Judged { verdict, .. } => Some(verdict),
        _ => None,
    })
}

fn settled<'a>(batches: &'a mut [Vec<Record>], of: &str) -> &'a mut Value {
    event(batches, |event| match event {
        Event::Settled { what, value, .. } if what == of => Some(value),
        _ => None,
    })
}

#[test]
fn what_was_decided_as_it_is_decided_again_holds() {
    assert_eq!(decided(job("42 degC", "25 degC"), |_| {}), (Holds, Vec::new()));
}

/// A billionth of 318 K is a third of a millionth of a kelvin.
#[test]
fn a_verdict_or_a_branch_that_was_forged_does_not_hold_and_one_that_hangs_by_a_thread_is_not_shown() {
    for (heat, wanted) in [("45.0000001 degC", NotShown), ("45.00001 degC", DoesNotHold)] {
        let (found, messages) = decided(job(heat, "25 degC"), |batches| *verdict(batches) = Judged::Met);
        assert_eq!(found, wanted, "{heat}: {messages:?}");
        assert!(
            messages[0].contains("the gate of `warm` was recorded as met; decided again it is not met"),
            "{messages:?}"
        );
        assert_eq!(messages[0].contains("turns within 1e-9"), wanted == NotShown, "{messages:?}");
    }
    for (heat, branch, wanted) in [
        ("40.0000001 degC", false, NotShown),
        ("39.9999999 degC", true, NotShown),
        ("40.00001 degC", false, DoesNotHold),
        ("39.99999 degC", true, DoesNotHold),
    ] {
        let (found, messages) = decided(job(heat, "25 degC"), |batches| {
            // What was done on the other branch is another matter.
            batches.truncate(2);
            *settled(batches, "when") = Value::Truth(branch);
        });
        assert_eq!(found, wanted, "{heat}: {messages:?}");
    }
    for (left, last, wanted) in [("30.0000001 degC", true, NotShown), ("30.00001 degC", true, DoesNotHold)] {
        let (found, messages) = decided(job("35 degC", left), |batches| {
            batches.truncate(3);
            *settled(batches, "until") = Value::Truth(last);
        });
        assert_eq!(found, wanted, "{left}: {messages:?}");
    }
}

/// By hand: all of them moved by a billionth move what is left by 2e-9 L, the first alone by 4e-9 L, all but another by 3e-9 L.
#[test]
fn what_hangs_on_one_value_alone_hangs_by_a_thread() {
    for (filled, wanted) in [("4.0000000036 L", NotShown), ("4.0000000044 L", DoesNotHold)] {
        let mut job = Job::new(
            "
steps:
  - id: pour
    read: { filled: { is: volume }, spilt: { is: volume }, kept: { is: volume } }
    gate: { must: filled - spilt - kept <= 2.L, otherwise: wait }
",
        );
        job.enter("pour", &[("filled", filled), ("spilt", "1 L"), ("kept", "1 L")]).unwrap();
        let opened = vec![job.records[0].clone()];
        let entered = job.records[1..].to_vec();
        let (found, messages) = decided((job, vec![opened, entered]), |batches| *verdict(batches) = Judged::Met);
        assert_eq!(found, wanted, "{filled}: {messages:?}");
        assert_eq!(messages[0].contains("turns within 1e-9"), wanted == NotShown, "{messages:?}");
    }
}

/// Only what was concluded may hang by a thread: at which step it was is what it is.
#[test]
fn a_verdict_of_another_step_is_not_the_verdict_that_hangs_by_a_thread() {
    let (found, messages) = decided(job("45.0000001 degC", "25 degC"), |batches| {
        *verdict(batches) = Judged::Met;
        event(batches, |event| match event {
            Event::Judged { address, .. } => Some(address),
            _ => None,
        })
        .step = "cool".to_owned();
    });
    assert_eq!(found, DoesNotHold, "{messages:?}");
    let (found, messages) = decided(job("45.0000001 degC", "25 degC"), |batches| {
        *verdict(batches) = Judged::NotShown;
    });
    assert_eq!(found, DoesNotHold, "no value near it comes to that: {messages:?}");
}

#[test]
fn what_should_follow_and_is_missing_or_follows_from_nothing_is_found() {
    let (found, messages) = decided(job("42 degC", "25 degC"), |batches| drop(batches[1].pop()));
    assert_eq!(found, DoesNotHold);
    assert!(messages[0].contains("`settled` of `cool` should follow here and is missing"), "{messages:?}");
    let (found, messages) = decided(job("42 degC", "25 degC"), |batches| {
        let more = batches[1].last().unwrap().clone();
        batches[1].push(Record { seq: more.seq + 1, ..more });
    });
    assert_eq!(found, DoesNotHold);
    assert!(messages[0].contains("`settled` of `cool` does not follow from the entry"), "{messages:?}");
    let (found, messages) = decided(job("42 degC", "25 degC"), |batches| {
        batches[1][0].by = "zoe".to_owned();
    });
    assert_eq!(found, DoesNotHold);
    assert!(messages[0].contains("this would be refused"), "{messages:?}");
}

#[test]
fn other_words_for_the_same_are_not_shown_and_other_numbers_do_not_hold() {
    let (found, messages) = decided(job("42 degC", "25 degC"), |batches| {
        let tag = event(batches, |event| match event {
            Event::Paused { tag, .. } => Some(tag),
            _ => None,
        });
        tag[0] = "Leer".to_owned();
    });
    assert_eq!(found, NotShown, "{messages:?}");
    for (factor, wanted) in [(1.0 + 1e-10, Holds), (1.0 + 1e-8, DoesNotHold)] {
        let (found, messages) = decided(job("42 degC", "25 degC"), |batches| {
            let value = event(batches, |event| match event {
                Event::Computed { value: Value::Quantity(value), .. } => Some(value),
                _ => None,
            });
            value.si *= factor;
        });
        assert_eq!(found, wanted, "{messages:?}");
    }
}
