use standpipe_job::{Event, Pending, Verdict, What};

use crate::bench::Job;

const BENEATH: &str = "
steps:
  - id: beneath
    read: { beneath: { is: text, ask: Who is beneath? } }
    stale: [pause, person, motor]
  - id: tighten
    each: { of: spec.ring, do: Tighten it. }
    starts_over: [pause, person]
  - { id: motor-off, do: Motor off., raises: motor }
  - { id: wipe, do: Wipe. }
";

#[test]
fn a_pause_ends_what_says_so_and_a_half_done_each_starts_from_its_first_pass() {
    let mut job = Job::new(BENEATH);
    job.enter("beneath", &[("beneath", "ann")]).unwrap();
    job.done("tighten");
    job.enter_with("tighten", &[], |e| e.item = Some("full/1".into())).unwrap();
    job.input(What::Pause).unwrap();
    assert!(job.enter("tighten", &[]).is_err(), "paused");
    job.later(600).input(What::Resume).unwrap();
    assert_eq!(job.asks(), "beneath", "asked again before anything else");
    job.enter("beneath", &[("beneath", "ann")]).unwrap();
    assert_eq!(job.asks(), "tighten[][hand/1]", "half done is not done");
}

#[test]
fn what_is_complete_stays_so_over_a_pause() {
    let mut job = Job::new(BENEATH);
    job.enter("beneath", &[("beneath", "ann")]).unwrap();
    job.done("tighten");
    job.done("tighten");
    job.input(What::Pause).unwrap();
    job.input(What::Resume).unwrap();
    job.enter("beneath", &[("beneath", "ann")]).unwrap();
    assert_eq!(job.asks(), "motor-off");
}

#[test]
fn a_named_event_ends_what_says_so() {
    let mut job = Job::new(BENEATH);
    job.enter("beneath", &[("beneath", "ann")]).unwrap();
    job.done("tighten");
    job.done("tighten");
    job.done("motor-off");
    assert_eq!(job.asks(), "beneath");
}

#[test]
fn an_old_reading_is_not_shown_and_asked_again() {
    let mut job = Job::new(
        "steps:
  - { id: warm, read: { heat: { is: temperature } }, stale: 5 min }
  - id: plug-out
    do: Plug out.
    gate: { must: heat < 50.degC, otherwise: stop }
",
    );
    job.enter("warm", &[("heat", "40 degC")]).unwrap();
    let events = job.later(6).enter("plug-out", &[]).unwrap();
    assert!(events.iter().any(|event| matches!(event, Event::Ended { by, .. } if by == "age")), "{events:?}");
    assert_eq!(job.asks(), "warm");
    job.enter("warm", &[("heat", "41 degC")]).unwrap();
    assert!(job.is_finished(), "{}", job.asks());
}

#[test]
fn a_short_hold_does_not_count() {
    let mut job = Job::new("steps:\n  - { id: keep, hold: { for: 5.s } }\n");
    job.enter("keep", &[("held", "3 s")]).unwrap();
    assert_eq!(job.asks(), "keep");
    assert_eq!(job.prompt().attempts, 1);
    job.enter("keep", &[("held", "5 s")]).unwrap();
    assert!(job.is_finished());
}

#[test]
fn a_reading_is_good_to_the_end_of_its_time() {
    for (seconds, asked) in [(300, "end"), (301, "warm")] {
        let mut job = Job::new(
            "steps:
  - { id: warm, read: { heat: { is: temperature } }, stale: 5 min }
  - id: plug-out
    do: Plug out.
    gate: { must: heat < 50.degC, otherwise: stop }
  - { id: end, do: End. }
",
        );
        job.enter("warm", &[("heat", "40 degC")]).unwrap();
        job.seconds_later(seconds).done("plug-out");
        assert_eq!(job.asks(), asked, "after {seconds} s");
    }
}

/// What can't be asked again is not shown: an old reading is no reading.
#[test]
fn an_old_reading_of_a_round_that_is_over_is_not_shown() {
    let mut job = Job::new(
        "steps:
  - id: rounds
    repeat: { until: seen == \"drip\", at_most: 3, otherwise: stop }
    steps:
      - { id: warm, when: round == 1, read: { heat: { is: temperature } }, stale: 5 min }
      - id: broken-off
        pick: { since: [went on, broke off] }
        gate: { must: since == \"went on\", otherwise: next-round }
      - { id: look, pick: { seen: [drip, nothing] } }
  - id: cool
    do: Look at the dial.
    gate: { must: heat < 50.degC, otherwise: { ask: [head] } }
",
    );
    job.enter("warm", &[("heat", "40 degC")]).unwrap();
    job.enter("broken-off", &[("since", "broke off")]).unwrap();
    job.enter("broken-off", &[("since", "went on")]).unwrap();
    job.enter("look", &[("seen", "drip")]).unwrap();
    let events = job.later(6).enter("cool", &[]).unwrap();
    let judged = events.iter().find_map(|event| match event {
        Event::Judged { verdict, missing, .. } => {
            Some((*verdict, missing.iter().map(|lack| lack.to_string()).collect()))
        }
        _ => None,
    });
    assert_eq!(judged, Some((Verdict::NotShown, vec!["heat".to_owned()])), "{events:?}");
    assert!(matches!(job.pending(), Pending::Acceptance { .. }), "{:?}", job.pending());
}
