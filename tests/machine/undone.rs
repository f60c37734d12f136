//! What trouble has undone is due again, and a call that was pressed by mistake can be taken back.

use standpipe_job::{Event, What};

use crate::bench::{Job, plan};

const MAIN: &str = "
reachable: [trouble]
steps:
  - { id: pour, read: { filled: { is: volume } } }
  - { id: total, compute: { value: \"sum(all(filled), 0.L)\", gives: total } }
  - id: enough
    do: Look.
    gate: { must: total >= 1.L, otherwise: stop }
  - id: rounds
    repeat: { until: seen == \"drip\", at_most: 3, otherwise: stop }
    steps:
      - { id: look, pick: { seen: [drip, nothing] } }
  - { id: end, do: End. }
";
const TROUBLE: &str = "
steps:
  - { id: safe, do: Motor off. }
  - { id: gone, do: Lay it aside., undoes: [pour, total, enough, rounds] }
";

fn job() -> Job {
    Job::with(MAIN, &[("trouble", TROUBLE)])
}

#[test]
fn steps_that_trouble_has_undone_are_due_again_and_what_they_gave_counts_no_more() {
    let mut job = job();
    job.enter("pour", &[("filled", "2 L")]).unwrap();
    job.done("enough");
    job.enter("look", &[("seen", "drip")]).unwrap();
    assert_eq!(job.asks(), "end");
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    job.done("safe");
    assert_eq!(job.asks(), "gone[1]");
    let events = job.enter("gone", &[]).unwrap();
    assert!(events.iter().any(|event| matches!(event, Event::Undone { .. })), "{events:?}");
    assert_eq!(job.asks(), "pour");
    job.enter("pour", &[("filled", "1.5 L")]).unwrap();
    assert_eq!(job.asks(), "enough");
    let total = job.state.latest("total").map(|reading| reading.value.clone());
    assert!(
        matches!(total, Some(standpipe_quantity::value::Value::Quantity(litres)) if (litres.si - 0.0015).abs() < 1e-12),
        "what ran out again is not counted"
    );
    job.done("enough");
    assert_eq!(job.asks(), "look[2]", "a round of its own: the first one stands as it was");
    job.enter("look", &[("seen", "drip")]).unwrap();
    job.done("end");
    assert!(job.is_finished());
    assert_eq!(job.replayed().verdicts.len(), job.state.verdicts.len());
}

#[test]
fn a_repeat_of_included_steps_is_undone_as_well_and_a_step_that_is_not_there_is_no_step_to_undo() {
    let main = "
reachable: [trouble]
steps:
  - id: rounds
    repeat: { until: seen == \"drip\", at_most: 3, otherwise: stop }
    steps:
      - { id: inside, include: looking }
  - { id: end, do: End. }
";
    let looking = "steps:\n  - { id: look, pick: { seen: [drip, nothing] } }\n";
    let trouble = |id: &str| format!("steps:\n  - {{ id: gone, do: Lay it aside., undoes: [{id}] }}\n");
    let mut job = Job::with(main, &[("looking", looking), ("trouble", &trouble("rounds"))]);
    job.enter("look", &[("seen", "drip")]).unwrap();
    assert_eq!(job.asks(), "end");
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    job.done("gone");
    assert_eq!(job.asks(), "look[2]");

    let refused = plan(main, &[("looking", looking), ("trouble", &trouble("round"))]).err().unwrap();
    assert!(refused.contains("no step `round` that could be undone"), "{refused}");
    assert!(refused.contains("did you mean `rounds`?"), "{refused}");
}

#[test]
fn a_call_by_mistake_is_taken_back_until_something_is_entered_in_it() {
    let mut job = job();
    assert!(job.input(What::TakeBack).is_err(), "nothing is called");
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    assert_eq!(job.asks(), "safe[1]");
    job.input(What::TakeBack).unwrap();
    assert_eq!(job.asks(), "pour");
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    job.done("safe");
    let refusal = job.input(What::TakeBack).unwrap_err();
    assert!(refusal.message.contains("entered"), "{refusal:?}");
}

/// Only what the step itself was judged by is taken back with it.
#[test]
fn what_is_undone_takes_no_other_verdict_with_it() {
    let mut job = Job::with(
        "
reachable: [trouble]
steps:
  - id: rim
    do: Look at the rim.
    gate: { must: \"1 < 2\", otherwise: stop }
  - id: enough
    do: Look.
    gate: { must: \"2 < 3\", otherwise: stop }
  - { id: end, do: End. }
",
        &[("trouble", "steps:\n  - { id: gone, do: Lay it aside., undoes: [enough] }\n")],
    );
    job.done("rim");
    job.done("enough");
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    job.done("gone");
    let superseded = |step: &str| {
        job.state.verdicts.iter().find(|passed| passed.address.step == step).map(|passed| passed.superseded)
    };
    assert_eq!((superseded("rim"), superseded("enough")), (Some(false), Some(true)));
    assert_eq!(job.asks(), "enough");
}

#[test]
fn a_step_that_was_left_out_or_left_aside_is_due_again_once_it_is_undone() {
    let mut job = Job::with(
        "
reachable: [trouble]
steps:
  - { id: count, read: { feet: { is: count } } }
  - { id: wipe, do: Wipe. }
  - { id: polish, when: feet > 3, do: Polish. }
  - { id: end, do: End. }
",
        &[("trouble", "steps:\n  - { id: gone, do: Lay it aside., undoes: [count, wipe, polish] }\n")],
    );
    job.enter("count", &[("feet", "3")]).unwrap();
    job.input(What::Skip { because: "clean".into() }).unwrap();
    assert_eq!(job.asks(), "end");
    assert_eq!(job.prompt().again, None);
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    job.done("gone");
    assert_eq!((job.asks(), job.prompt().again), ("count".to_owned(), Some("gone".to_owned())));
    job.enter("count", &[("feet", "4")]).unwrap();
    assert_eq!(job.asks(), "wipe");
    job.done("wipe");
    assert_eq!(job.asks(), "polish");
}

#[test]
fn what_was_done_in_a_round_or_in_one_call_says_nothing_of_another_call() {
    let mut rounds = job();
    rounds.enter("pour", &[("filled", "2 L")]).unwrap();
    rounds.done("enough");
    rounds.enter("look", &[("seen", "nothing")]).unwrap();
    rounds.input(What::Call { procedure: "trouble".into() }).unwrap();
    rounds.input(What::TakeBack).unwrap();
    assert_eq!(rounds.asks(), "look[2]");

    let mut job = job();
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    job.done("safe");
    job.done("gone");
    assert_eq!(job.asks(), "pour");
    job.input(What::Call { procedure: "trouble".into() }).unwrap();
    job.input(What::TakeBack).unwrap();
    assert_eq!(job.asks(), "pour");
}

#[test]
fn an_attempt_that_did_not_count_or_a_step_left_out_is_something_done_in_a_call() {
    let trouble = "steps:\n  - { id: keep, hold: { for: 5.s } }\n  - { id: safe, do: Motor off. }\n";
    let called = || {
        let mut job = Job::with("reachable: [trouble]\nsteps:\n  - { id: a, do: A. }\n", &[("trouble", trouble)]);
        job.input(What::Call { procedure: "trouble".into() }).unwrap();
        assert!(job.machine.can_take_back(&job.state));
        job
    };
    let mut job = called();
    job.enter("keep", &[("held", "3 s")]).unwrap();
    assert!(!job.machine.can_take_back(&job.state) && job.input(What::TakeBack).is_err());
    let mut job = called();
    job.input(What::Skip { because: "no time".into() }).unwrap();
    assert!(!job.machine.can_take_back(&job.state) && job.input(What::TakeBack).is_err());
}
