use standpipe_job::{Entry, Event, Input, Origin, Pending, State, What};

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

/// Only the verdict that held the job is passed anew: what else was not met stays in the record, accepted or not.
#[test]
fn a_step_that_is_asked_again_after_a_call_takes_no_other_verdict_with_it() {
    let rim = "  - id: rim
    pick: { rim: [whole, chipped] }
    gate: { must: rim == \"whole\", otherwise: { ask: [head] } }
  - id: label";
    let mut job = Job::with(&STOPS.replace("  - id: label", rim), OTHERS);
    job.enter("rim", &[("rim", "chipped")]).unwrap();
    job.by("eve").input(What::Accept { because: "It seals.".into() }).unwrap();
    job.by("ann").enter("label", &[("label", "wrong")]).unwrap();
    call(&mut job);
    job.enter("decide", &[("decision", "go on")]).unwrap();
    assert_eq!(job.asks(), "label");
    let superseded: Vec<(&str, bool)> =
        job.state.verdicts.iter().map(|passed| (passed.address.step.as_str(), passed.superseded)).collect();
    assert_eq!(superseded, [("rim", false), ("label", true)]);
}

/// `resumed` says whether the break had been announced: one that was not leaves nothing that a tag tells.
fn unannounced(events: &[Event]) -> Option<bool> {
    events.iter().find_map(|event| match event {
        Event::Resumed { unannounced, .. } => Some(*unannounced),
        _ => None,
    })
}

#[test]
fn a_break_is_announced_by_a_pause_that_came_to_its_end_or_by_who_takes_over() {
    let mut job = Job::with(MAIN, OTHERS);
    let broke_off = job.input(What::Resume).unwrap();
    assert_eq!(unannounced(&broke_off), Some(true));
    assert!(job.input(What::Resume).is_err(), "it is being resumed");
    job.done("looked");
    let taken_over = job.by("bob").input(What::Resume).unwrap();
    assert_eq!(unannounced(&taken_over), Some(false));
    assert!(taken_over.iter().any(|event| matches!(event, Event::TookOver { from } if from == "ann")));
    job.done("looked");
    job.input(What::Pause).unwrap();
    assert!(job.input(What::Pause).is_err(), "it is being paused");
    assert_eq!(job.asks(), "water-in[3]");
    let half_paused = job.input(What::Resume).unwrap();
    assert_eq!((unannounced(&half_paused), job.state.was_paused), (Some(true), false));
    job.done("looked");
    job.input(What::Pause).unwrap();
    job.enter("water-in", &[("water", "none")]).unwrap();
    let paused = job.input(What::Resume).unwrap();
    assert_eq!((unannounced(&paused), job.state.was_paused), (Some(false), true));
    assert_eq!(job.asks(), "looked[4]", "each break has its own");
}

#[test]
fn before_a_job_is_opened_while_it_is_paused_and_once_it_is_closed_only_this_is_taken() {
    let note = || What::Note("so".into());
    let enter = || What::Enter(Entry { step: "b".into(), ..Entry::default() });
    let mut job = Job::with(MAIN, OTHERS);
    let unopened = Input { at: job.now(), entered_at: None, by: "ann".into(), origin: Origin::Answers, what: note() };
    assert!(job.machine.decide(&State::default(), &unopened).is_err());
    assert!(job.input(What::Open).is_err(), "open already");
    assert_eq!(job.machine.asks(&job.state).map(|(step, ..)| step.id.value.clone()).as_deref(), Some("a"));
    job.done("a");
    job.input(What::Pause).unwrap();
    job.enter("water-in", &[("water", "none")]).unwrap();
    for what in [enter(), What::Call { procedure: "spill".into() }, What::Skip { because: "so".into() }, What::Pause] {
        assert!(job.input(what).is_err());
    }
    assert!(job.machine.asks(&job.state).is_none(), "nothing is asked while it is paused");
    job.input(note()).unwrap();
    job.input(What::Abandon { because: "sold".into() }).unwrap();
    for what in [note(), enter(), What::Resume, What::Abandon { because: "sold".into() }] {
        assert!(job.input(what).is_err());
    }
}

/// What may be accepted waits for that; what nobody may go on past is asked anew once the trouble is over.
#[test]
fn after_a_call_a_step_that_somebody_may_accept_still_waits_for_them() {
    for (keep, asked) in [("", false), ("\n    keep: true", true)] {
        let main = format!(
            "
reachable: [spill]
steps:
  - id: label
    read: {{ label: {{ is: text, ask: Label? }} }}
    gate: {{ must: label == \"right\", otherwise: {{ ask: [head] }} }}{keep}
"
        );
        let mut job = Job::with(&main, OTHERS);
        job.enter("label", &[("label", "wrong")]).unwrap();
        call(&mut job);
        job.enter("decide", &[("decision", "go on")]).unwrap();
        let is_asked = matches!(job.pending(), Pending::Entry(_));
        assert_eq!(is_asked, asked, "{:?}", job.pending());
    }
    let computed = "
reachable: [spill]
steps:
  - { id: twice, compute: { value: spec.ring.count * 2, gives: b }, gate: { must: b < 5, otherwise: stop } }
";
    let mut job = Job::with(computed, OTHERS);
    assert!(matches!(job.pending(), Pending::Stopped { .. }));
    call(&mut job);
    job.enter("decide", &[("decision", "go on")]).unwrap();
    assert!(matches!(job.pending(), Pending::Stopped { .. }), "nobody could enter it anew: {:?}", job.pending());
}
