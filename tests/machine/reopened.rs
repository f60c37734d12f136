//! What is due again is asked again: after an event that a step declares, a correction, or an entry made anew.

use standpipe_job::{Event, Verdict, What};

use crate::bench::Job;

/// A cycle whose confirmation does not outlast a break, in one block with what comes after it.
const CYCLE: &str = "
steps:
  - id: since
    pick: { since: [ran on, stopped] }
    stale: [pause]
  - id: start
    when: since == \"stopped\"
    do: Start it.
    stale: [pause]
  - id: go-through
    when: since == \"stopped\"
    each: { of: spec.positions, do: Hold it there. }
    stale: [pause]
  - { id: wait, do: Wait for the window. }
";

fn correct(job: &mut Job, name: &str, value: &str) -> Vec<Event> {
    let values = [(name.to_owned(), value.to_owned())].into_iter().collect();
    job.input(What::Correct { entry: None, values, because: "miscounted".into() }).unwrap()
}

fn pause_and_resume(job: &mut Job) {
    job.input(What::Pause).unwrap();
    job.input(What::Resume).unwrap();
}

#[test]
fn a_finished_each_is_asked_again_after_what_it_declares() {
    let mut job = Job::new(CYCLE);
    job.enter("since", &[("since", "stopped")]).unwrap();
    job.done("start");
    job.done("go-through");
    assert_eq!(job.asks(), "wait");
    pause_and_resume(&mut job);
    job.enter("since", &[("since", "stopped")]).unwrap();
    job.done("start");
    assert_eq!(job.asks(), "go-through[][up]");
    job.enter_with("go-through", &[], |entry| entry.item = Some("up".into())).unwrap();
    assert_eq!(job.asks(), "go-through[][down]", "all of it, not the first item alone");
    job.done("go-through");
    assert_eq!(job.asks(), "wait");
}

#[test]
fn a_branch_that_was_left_aside_opens_when_the_answer_it_rests_on_is_given_anew() {
    let mut job = Job::new(CYCLE);
    job.enter("since", &[("since", "ran on")]).unwrap();
    assert_eq!(job.asks(), "wait");
    pause_and_resume(&mut job);
    job.enter("since", &[("since", "stopped")]).unwrap();
    assert_eq!(job.asks(), "start");
    job.done("start");
    assert_eq!(job.asks(), "go-through[][up]");
}

#[test]
fn what_is_complete_stands_only_where_the_procedure_says_so() {
    for (key, asked) in [("starts_over", "after"), ("stale", "tighten[][hand/1]")] {
        let mut job = Job::new(&format!(
            "steps:
  - id: tighten
    each: {{ of: spec.ring, do: Tighten it. }}
    {key}: [pause, person]
  - {{ id: after, do: After. }}
"
        ));
        job.done("tighten");
        job.enter_with("tighten", &[], |entry| entry.item = Some("full/1".into())).unwrap();
        pause_and_resume(&mut job);
        assert_eq!(job.asks(), "tighten[][hand/1]", "{key}: half done is not done");
        job.done("tighten");
        job.done("tighten");
        pause_and_resume(&mut job);
        assert_eq!(job.asks(), asked, "{key}");
    }
}

const CONTAINERS: &str = "
may_accept: [head]
steps:
  - { id: count, read: { containers: { is: count } } }
  - id: rounds
    repeat: { until: round >= containers, at_most: 5, otherwise: stop }
    steps:
      - { id: label, read: { warm: { is: temperature } } }
  - id: open
    do: Open them.
    gate: { must: \"all(warm).filter(|it| it > 30.degC).len() == 0\", otherwise: stop }
  - { id: pour, do: Pour. }
";

#[test]
fn a_corrected_count_opens_the_rounds_that_are_missing_and_judges_with_what_they_bring() {
    let mut job = Job::new(CONTAINERS);
    job.enter("count", &[("containers", "2")]).unwrap();
    job.enter("label", &[("warm", "20 degC")]).unwrap();
    job.enter("label", &[("warm", "21 degC")]).unwrap();
    job.done("open");
    assert_eq!(job.asks(), "pour");
    correct(&mut job, "containers", "3");
    assert_eq!(job.asks(), "label[3]");
    let events = job.enter("label", &[("warm", "40 degC")]).unwrap();
    let again = |event: &Event| matches!(event, Event::Judged { verdict: Verdict::NotMet, supersedes: Some(_), address, .. } if address.step == "open");
    assert!(events.iter().any(again), "the gate that had been met did not see the third: {events:?}");
    job.done("pour");
    assert!(!job.is_finished(), "not over a verdict that turned");
}

#[test]
fn a_count_corrected_downwards_leaves_what_was_done() {
    let mut job = Job::new(CONTAINERS);
    job.enter("count", &[("containers", "3")]).unwrap();
    for _ in 0..3 {
        job.enter("label", &[("warm", "20 degC")]).unwrap();
    }
    correct(&mut job, "containers", "2");
    assert_eq!(job.asks(), "open");
}

#[test]
fn items_that_a_correction_adds_are_asked_and_passes_start_over() {
    for (declared, asked) in [("", "look[][3]"), ("starts_over: [pause]", "look[][1]")] {
        let mut job = Job::new(&format!(
            "steps:
  - {{ id: count, read: {{ feet: {{ is: count }} }} }}
  - id: look
    each: {{ of: feet, do: Look at it. }}
    {declared}
  - {{ id: after, do: After. }}
"
        ));
        job.enter("count", &[("feet", "2")]).unwrap();
        job.done("look");
        assert_eq!(job.asks(), "after");
        correct(&mut job, "feet", "4");
        assert_eq!(job.asks(), asked);
    }
}

#[test]
fn a_branch_that_a_correction_wants_is_due_and_one_that_it_would_have_spared_stands() {
    let steps = "
steps:
  - { id: heat, read: { heat: { is: temperature } } }
  - { id: cool, when: heat > 50.degC, do: Let it cool. }
  - { id: after, do: After. }
";
    let mut job = Job::new(steps);
    job.enter("heat", &[("heat", "40 degC")]).unwrap();
    assert_eq!(job.asks(), "after");
    correct(&mut job, "heat", "60 degC");
    assert_eq!(job.asks(), "cool");
    job.done("cool");
    assert_eq!(job.asks(), "after");
    correct(&mut job, "heat", "40 degC");
    assert_eq!(job.asks(), "after");
    assert_eq!(job.state.steps.iter().count(), job.replayed().steps.iter().count());
}

#[test]
fn what_is_said_anew_of_the_job_is_judged_again_and_what_is_known_of_the_family_is_not_replaced() {
    let mut job = Job::new(
        "
may_accept: [head]
steps:
  - id: who
    do: Ask.
    gate: { must: job.owner == \"nobody\", otherwise: stop }
  - { id: warm, when: job.owner == \"somebody\", do: Warm it. }
  - { id: after, do: After. }
",
    );
    job.done("who");
    assert_eq!(job.asks(), "after");
    let supply = |path: &str, typed: &str| What::Supply {
        path: path.into(),
        typed: typed.into(),
        source: "the owner, by telephone".into(),
    };
    let events = job.input(supply("job.owner", "somebody")).unwrap();
    assert!(events.iter().any(|event| matches!(event, Event::Judged { verdict: Verdict::NotMet, .. })), "{events:?}");
    assert_eq!(job.asks(), "warm");
    let refusal = job.input(supply("spec.limit", "90 degC")).unwrap_err();
    assert!(refusal.message.contains("known"), "{refusal:?}");
}
