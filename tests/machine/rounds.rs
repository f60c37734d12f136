use standpipe_job::{Event, Pending, What};

use crate::bench::Job;

const ROUNDS: &str = "
steps:
  - id: level
    repeat: { until: seen == \"thin\", at_most: 2, otherwise: stop }
    steps:
      - id: warm
        await: { sample: heat, is: temperature, within: spec.window, overshot: next-round }
      - id: look
        pick: { seen: [nothing, thin] }
  - { id: close, do: Close. }
";

#[test]
fn rounds_are_counted_and_end() {
    let mut job = Job::new(ROUNDS);
    assert_eq!(job.asks(), "warm[1]");
    job.enter("warm", &[("heat", "31 degC")]).unwrap();
    assert_eq!(job.asks(), "warm[1]", "not there yet");
    job.enter("warm", &[("heat", "36 degC")]).unwrap();
    job.enter("look", &[("seen", "nothing")]).unwrap();
    assert_eq!(job.asks(), "warm[2]");
    assert_eq!(job.prompt().round, Some((2, 2)));
    job.enter("warm", &[("heat", "37 degC")]).unwrap();
    job.enter("look", &[("seen", "thin")]).unwrap();
    assert_eq!(job.asks(), "close");
}

#[test]
fn going_past_the_range_ends_the_round_and_used_up_rounds_stop_the_job() {
    let mut job = Job::new(ROUNDS);
    let events = job.enter("warm", &[("heat", "46 degC")]).unwrap();
    assert!(events.iter().any(|event| matches!(event, Event::RoundEnded { .. })));
    assert_eq!(job.asks(), "warm[2]");
    job.enter("warm", &[("heat", "36 degC")]).unwrap();
    job.enter("look", &[("seen", "nothing")]).unwrap();
    assert!(matches!(job.pending(), Pending::Stopped { .. }), "{:?}", job.pending());
}

#[test]
fn a_gate_that_ends_a_round_leaves_nothing_to_accept_at_the_end() {
    let mut job = Job::new(
        "
steps:
  - id: level
    repeat: { until: seen == \"thin\", at_most: 2, otherwise: stop }
    steps:
      - id: broken-off
        pick: { since: [went on, broke off] }
        gate: { must: since == \"went on\", otherwise: next-round }
      - id: look
        pick: { seen: [nothing, thin] }
",
    );
    job.enter("broken-off", &[("since", "broke off")]).unwrap();
    assert_eq!(job.asks(), "broken-off[2]");
    job.enter("broken-off", &[("since", "went on")]).unwrap();
    job.enter("look", &[("seen", "thin")]).unwrap();
    assert!(job.is_finished(), "{:?}", job.pending());
}

#[test]
fn going_past_the_range_may_be_left_to_a_later_step() {
    let mut job = Job::new(
        "
steps:
  - id: rounds
    repeat: { until: \"heat in spec.window\", at_most: 2, otherwise: stop }
    steps:
      - id: warm
        await: { sample: heat, is: temperature, within: spec.window, overshot: go-on }
      - id: close
        do: Close.
        gate: { must: heat in spec.window, otherwise: next-round }
",
    );
    job.enter("warm", &[("heat", "31 degC")]).unwrap();
    assert_eq!(job.asks(), "warm[1]", "not there yet");
    job.enter("warm", &[("heat", "46 degC")]).unwrap();
    assert_eq!(job.asks(), "close[1]");
    job.done("close");
    assert_eq!(job.asks(), "warm[2]", "what was passed is judged where it counts");
}

/// A round that a reading ends has no verdict of its own: what was judged before it stands as it was.
#[test]
fn a_round_that_a_reading_ends_takes_no_verdict_back() {
    let mut job = Job::new(
        "
may_accept: [head]
steps:
  - id: rim
    pick: { rim: [whole, chipped] }
    gate: { must: rim == \"whole\", otherwise: { ask: [head] } }
  - id: level
    repeat: { until: heat in spec.window, at_most: 2, otherwise: stop }
    steps:
      - id: warm
        await: { sample: heat, is: temperature, within: spec.window, overshot: next-round }
",
    );
    job.enter("rim", &[("rim", "chipped")]).unwrap();
    job.by("eve").input(What::Accept { because: "It seals.".into() }).unwrap();
    job.by("ann").enter("warm", &[("heat", "46 degC")]).unwrap();
    assert_eq!(job.asks(), "warm[2]");
    let verdict = job.state.verdicts.iter().next().unwrap();
    assert!(verdict.accepted && !verdict.superseded, "{verdict:?}");
}
