use standpipe_job::{Pending, What};

use crate::bench::Job;

const MAIN: &str = "
reachable: [spill]
on_pause: leave-it
on_resume: come-back
tag:
  - { text: \"EMPTY - DO NOT HEAT\", when: water == \"none\" }
  - { text: \"{job.owner}: {water}\" }
steps:
  - { id: a, do: A. }
  - { id: b, do: B. }
";
const SPILL: &str = "
abandon_when: decision == \"abandon\"
steps:
  - { id: wipe, do: Wipe. }
  - { id: decide, pick: { decision: [go on, abandon] } }
";
const OTHERS: &[(&str, &str)] = &[
    ("spill", SPILL),
    ("leave-it", "steps:\n  - { id: water-in, pick: { water: [none, some] } }\n"),
    ("come-back", "steps:\n  - { id: looked, do: Look at all of it. }\n"),
];

fn call(job: &mut Job) {
    job.input(What::Call { procedure: "spill".into() }).unwrap();
    job.done("wipe");
}

#[test]
fn a_procedure_can_be_called_at_any_step_and_comes_back() {
    let mut job = Job::with(MAIN, OTHERS);
    job.done("a");
    call(&mut job);
    job.enter("decide", &[("decision", "go on")]).unwrap();
    assert_eq!(job.asks(), "b");
    call(&mut job);
    assert_eq!(job.asks(), "decide[2]", "the second call has its own entries");
    job.enter("decide", &[("decision", "abandon")]).unwrap();
    assert!(matches!(job.pending(), Pending::Nothing { abandoned: true }));
    assert!(job.input(What::Call { procedure: "spill".into() }).is_err(), "closed");
}

#[test]
fn pausing_asks_prints_a_tag_and_resuming_asks_to_look() {
    let mut job = Job::with(MAIN, OTHERS);
    job.done("a");
    job.input(What::Pause).unwrap();
    assert_eq!(job.asks(), "water-in[1]");
    job.enter("water-in", &[("water", "none")]).unwrap();
    let Pending::Resumption { tag } = job.pending() else { panic!("{:?}", job.pending()) };
    assert_eq!(tag, ["EMPTY - DO NOT HEAT", "nobody: none"]);
    job.by("bob").later(900).input(What::Resume).unwrap();
    assert_eq!(job.asks(), "looked[1]");
    job.done("looked");
    assert_eq!(job.asks(), "b");
    assert_eq!(job.state.actor.as_deref(), Some("bob"));
    job.input(What::Pause).unwrap();
    assert_eq!(job.asks(), "water-in[2]");
}

const STOPS: &str = "
reachable: [spill]
steps:
  - id: label
    read: { label: { is: text, ask: Label? } }
    gate: { must: label == \"right\", otherwise: stop, at_stake: Wrong is wrong. }
    keep: true
  - { id: b, do: B. }
";

#[test]
fn a_step_that_stopped_the_job_is_asked_again_after_a_call_that_goes_on() {
    let mut job = Job::with(STOPS, OTHERS);
    job.enter("label", &[("label", "wrong")]).unwrap();
    assert!(matches!(job.pending(), Pending::Stopped { .. }), "{:?}", job.pending());
    call(&mut job);
    job.enter("decide", &[("decision", "go on")]).unwrap();
    assert_eq!(job.asks(), "label");
    job.enter("label", &[("label", "wrong")]).unwrap();
    assert!(matches!(job.pending(), Pending::Stopped { .. }), "the gate holds as before");
    call(&mut job);
    job.enter("decide", &[("decision", "go on")]).unwrap();
    job.enter("label", &[("label", "right")]).unwrap();
    job.done("b");
    assert!(job.is_finished(), "{:?}", job.pending());
    assert_eq!(job.state.readings.iter().filter(|reading| reading.name == "label").count(), 3, "all three are kept");
}

#[test]
fn what_was_left_at_a_pause_is_told_from_what_broke_off() {
    let resume = "steps:\n  - { id: tag, when: job.was_paused, do: Read the tag. }\n  - { id: looked, do: Look. }\n";
    let mut job = Job::with(MAIN, &[OTHERS[0], OTHERS[1], ("come-back", resume)]);
    job.input(What::Resume).unwrap();
    assert_eq!(job.asks(), "looked[1]", "there is no tag to read");
    job.done("looked");
    job.input(What::Pause).unwrap();
    job.enter("water-in", &[("water", "none")]).unwrap();
    job.input(What::Resume).unwrap();
    assert_eq!(job.asks(), "tag[2]");
}
