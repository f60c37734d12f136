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
    assert_eq!((job.asks(), job.prompt().again), ("count".to_owned(), Some("\"gone\"".to_owned())));
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

const CYCLE: &str = "
  - { id: pass, do: Through all positions. }
  - { id: wheels, do: Look at the wheels. }
  - id: held
    read: { held: { is: count } }
    gate: { must: held == 5, otherwise: { again: [pass] } }
";

#[test]
fn what_a_gate_wants_done_again_is_due_before_it_asks_again_and_nothing_else_is() {
    let mut job = Job::with(&format!("\nsteps:{CYCLE}  - {{ id: end, do: End. }}\n"), &[]);
    job.done("pass");
    job.done("wheels");
    for missed in ["4", "3"] {
        let events = job.enter("held", &[("held", missed)]).unwrap();
        assert!(
            events.iter().any(|event| matches!(event, Event::Undone { by, .. } if by == "held")),
            "the gate says what it undoes: {events:?}"
        );
        assert_eq!(job.asks(), "pass", "not without going through again");
        assert!(job.enter("held", &[("held", "5")]).is_err(), "a better number alone does not do");
        job.done("pass");
        assert_eq!(job.asks(), "held", "the wheels were looked at");
    }
    job.enter("held", &[("held", "5")]).unwrap();
    assert_eq!(job.asks(), "end");
    job.done("end");
    assert!(job.is_finished());
    assert_eq!(job.replayed().verdicts.len(), job.state.verdicts.len());
}

/// Whoever corrects the count may have miscounted; that all were gone through again is not shown by that.
#[test]
fn a_corrected_count_does_not_spare_what_a_gate_wants_done_again() {
    let mut job = Job::with(&format!("\nsteps:{CYCLE}  - {{ id: end, do: End. }}\n"), &[]);
    job.done("pass");
    job.done("wheels");
    job.enter("held", &[("held", "4")]).unwrap();
    let values = [("held".to_owned(), "5".to_owned())].into_iter().collect();
    let corrected = job.input(What::Correct { entry: None, values, because: "miscounted".into() });
    assert_eq!(job.asks(), "pass", "{corrected:?}");
}

#[test]
fn a_gate_undoes_only_the_round_that_it_stands_in() {
    let inner = CYCLE.replace("\n  ", "\n      ");
    let mut job = Job::with(
        &format!(
            "
steps:
  - id: rounds
    repeat: {{ until: seen == \"drip\", at_most: 3, otherwise: stop }}
    steps:{inner}      - {{ id: look, pick: {{ seen: [drip, nothing] }} }}
  - {{ id: end, do: End. }}
"
        ),
        &[],
    );
    for round in 1..=2 {
        job.done("pass");
        job.done("wheels");
        if round == 2 {
            job.enter("held", &[("held", "4")]).unwrap();
            assert_eq!(job.asks(), "pass[2]");
            job.done("pass");
        }
        job.enter("held", &[("held", "5")]).unwrap();
        job.enter("look", &[("seen", if round == 1 { "nothing" } else { "drip" })]).unwrap();
    }
    assert_eq!(job.asks(), "end");
}

/// A call has rounds of its own, so that a second call must not open what was done in the first.
#[test]
fn a_gate_in_a_second_call_leaves_the_first_call_alone() {
    let mut job = Job::with(
        "\nreachable: [trouble]\nsteps:\n  - { id: end, do: End. }\n",
        &[("trouble", &format!("steps:{CYCLE}"))],
    );
    for held in [["5"].as_slice(), &["4", "5"]] {
        job.input(What::Call { procedure: "trouble".into() }).unwrap();
        job.done("pass");
        job.done("wheels");
        for (index, held) in held.iter().enumerate() {
            if index > 0 {
                job.done("pass");
            }
            let events = job.enter("held", &[("held", held)]).unwrap();
            let undone = events.iter().find_map(|event| match event {
                Event::Undone { addresses, .. } => Some(addresses.iter().map(ToString::to_string).collect::<Vec<_>>()),
                _ => None,
            });
            assert_eq!(undone, (*held == "4").then(|| vec!["pass[2]".to_owned()]));
        }
    }
    assert_eq!(job.asks(), "end");
}

#[test]
fn a_gate_can_have_done_again_only_what_stands_before_it_in_its_list_and_only_where_it_asks() {
    let refused = |gate: &str| {
        let text = format!(
            "\nsteps:\n  - {{ id: pass, do: Through. }}\n  - {{ id: held, read: {{ held: {{ is: count }} }}, gate: {gate} }}\n  \
             - {{ id: end, do: End. }}\n"
        );
        plan(&text, &[]).err().unwrap_or_default()
    };
    assert_eq!(refused("{ must: held == 5, otherwise: { again: [pass] } }"), "");
    for (gate, said) in [
        ("{ must: held == 5, otherwise: { again: [end] } }", "no step `end` before `held`"),
        ("{ must: held == 5, otherwise: { again: [held] } }", "no step `held` before `held`"),
        ("{ must: held == 5, otherwise: { again: [pas] } }", "did you mean `pass`?"),
        ("{ must: held == 5, otherwise: { again: [] } }", "names no step"),
        ("{ must: held == 5, otherwise: { again: [pass], ask: [foreman] } }", "`ask` does not belong here"),
    ] {
        let found = refused(gate);
        assert!(found.contains(said), "{gate}: {found}");
    }
    let computed = "
steps:
  - { id: pass, do: Through. }
  - { id: sum, compute: { value: 1 + 1, gives: sum }, gate: { must: sum == 3, otherwise: { again: [pass] } } }
";
    let found = plan(computed, &[]).err().unwrap_or_default();
    assert!(found.contains("`sum` asks nothing"), "{found}");
    let rounds = "
steps:
  - id: rounds
    repeat: { until: seen == \"drip\", at_most: 3, otherwise: { again: [look] } }
    steps:
      - { id: look, pick: { seen: [drip, nothing] } }
";
    let found = plan(rounds, &[]).err().unwrap_or_default();
    assert!(found.contains("no earlier step can be done again"), "{found}");
}
