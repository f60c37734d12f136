use standpipe_job::{Event, Pending, Verdict, What};

use crate::bench::Job;

const COOL: &str = "
steps:
  - id: cool
    read: { heat: { is: temperature, instrument: reader } }
    gate: { must: heat < 45.degC, otherwise: wait }
  - { id: open, do: Open it. }
";

fn verdicts(events: &[Event]) -> Vec<Verdict> {
    events
        .iter()
        .filter_map(|event| match event {
            Event::Judged { verdict, .. } => Some(*verdict),
            _ => None,
        })
        .collect()
}

#[test]
fn wait_asks_again_until_it_is_met() {
    let mut job = Job::new(COOL);
    let events = job.enter("cool", &[("heat", "52")]).unwrap();
    assert_eq!(verdicts(&events), [Verdict::NotMet]);
    assert_eq!(job.asks(), "cool");
    assert_eq!(job.prompt().attempts, 1);
    let events = job.enter("cool", &[("heat", "111 degF")]).unwrap();
    assert_eq!(verdicts(&events), [Verdict::Met]);
    assert_eq!(job.asks(), "open");
}

#[test]
fn another_kind_of_instrument_does_not_pass() {
    let mut job = Job::new(COOL);
    let refusal = job.enter_with("cool", &[("heat", "40")], |e| {
        e.with.insert("heat".into(), "sticker".into());
    });
    let refusal = refusal.unwrap_err();
    assert!(refusal.message.contains("sticker") && refusal.expected.unwrap().contains("probe"));
    let refusal = job.enter("cool", &[("heat", "400")]).unwrap_err();
    assert!(refusal.message.contains("outside the range"), "{refusal:?}");
}

#[test]
fn stop_holds_the_job_until_the_entry_is_corrected() {
    let mut job = Job::new(
        "steps:
  - id: label
    pick: { label: [right, wrong] }
    gate: { must: label == \"right\", otherwise: stop, at_stake: The wrong one ruins it. }
  - { id: pour, do: Pour. }
",
    );
    job.enter("label", &[("label", "wrong")]).unwrap();
    assert!(matches!(job.pending(), Pending::Stopped { .. }), "{:?}", job.pending());
    assert!(job.enter("pour", &[]).is_err());
    assert!(job.input(What::Accept { because: "hurry".into() }).is_err(), "nobody may go on over it");
    job.input(What::Correct {
        entry: None,
        values: [("label".to_owned(), "right".to_owned())].into_iter().collect(),
        because: "read the wrong can".into(),
    })
    .unwrap();
    assert_eq!(job.asks(), "pour");
}

#[test]
fn ask_wants_somebody_allowed_and_a_reason() {
    let mut job = Job::new(
        "steps:
  - id: look
    pick: { seen: [clean, dirty] }
    gate: { must: seen == \"clean\", otherwise: { ask: [head] } }
  - { id: close, do: Close it. }
",
    );
    job.enter("look", &[("seen", "dirty")]).unwrap();
    assert!(matches!(job.pending(), Pending::Acceptance { .. }));
    assert!(job.input(What::Accept { because: "fine".into() }).is_err(), "Ann is no head");
    job.by("eve");
    assert!(job.input(What::Accept { because: " ".into() }).is_err(), "no reason");
    job.input(What::Accept { because: "only dust".into() }).unwrap();
    job.by("ann");
    job.done("close");
    assert!(job.is_finished());
}

#[test]
fn touching_what_nobody_read_is_not_shown_even_behind_an_or() {
    let mut job = Job::new(
        "steps:
  - id: first
    read: { a: { is: count, ask: How many?, optional: true }, b: { is: count, ask: And b? } }
    gate: { must: b == 1 || a == 2, otherwise: { ask: [head] } }
",
    );
    let events = job.enter("first", &[("b", "1")]).unwrap();
    assert_eq!(verdicts(&events), [Verdict::NotShown]);
}

#[test]
fn ninety_five_fahrenheit_is_thirty_five_celsius() {
    let mut job = Job::new(
        "steps:
  - id: warm
    read: { heat: { is: temperature } }
    gate: { must: heat >= spec.window.low && heat <= spec.window.high, otherwise: wait }
",
    );
    assert_eq!(verdicts(&job.enter("warm", &[("heat", "34.9 degC")]).unwrap()), [Verdict::NotMet]);
    assert_eq!(verdicts(&job.enter("warm", &[("heat", "95 degF")]).unwrap()), [Verdict::Met]);
}

fn skip(job: &mut Job) -> Result<Vec<Event>, standpipe_job::Refusal> {
    job.input(What::Skip { because: "no time".into() })
}

#[test]
fn what_has_a_gate_or_is_kept_can_not_be_left_out_and_the_rest_can() {
    let mut job = Job::new(
        "steps:
  - id: cool
    read: { heat: { is: temperature, instrument: reader } }
    gate: { must: heat < 45.degC, otherwise: wait }
  - { id: plug, do: Fit the plug., keep: true }
  - { id: wipe, do: Wipe it. }
",
    );
    assert!(skip(&mut job).unwrap_err().message.contains("it has a gate"));
    assert_eq!(job.asks(), "cool", "nothing was recorded");
    // A gate that was judged and not met is no way round it either.
    job.enter("cool", &[("heat", "52")]).unwrap();
    assert!(skip(&mut job).unwrap_err().message.contains("it has a gate"));
    job.enter("cool", &[("heat", "40")]).unwrap();
    assert!(skip(&mut job).unwrap_err().message.contains("`keep`"));
    job.done("plug");
    assert!(job.input(What::Skip { because: "  ".into() }).is_err(), "no reason");
    skip(&mut job).unwrap();
    assert!(job.is_finished());
}

const DIRTY: &str = "
may_accept: [head]
steps:
  - id: look
    pick: { seen: [clean, dirty] }
    gate: { must: seen == \"clean\", otherwise: { ask: [head] } }
    keep: true
  - { id: close, do: Close it. }
";

#[test]
fn a_kept_gate_is_accepted_by_nobody() {
    let mut job = Job::new(DIRTY);
    job.enter("look", &[("seen", "dirty")]).unwrap();
    let refusal = job.by("eve").input(What::Accept { because: "only dust".into() }).unwrap_err();
    assert!(refusal.message.contains("kept"), "{refusal:?}");
    assert!(!job.state.verdicts.iter().any(|passed| passed.accepted));
    assert!(job.by("ann").enter("close", &[]).is_err(), "the job does not go on over it");
    // Without the mark the same person may.
    let mut loose = Job::new(&DIRTY.replace("    keep: true\n", ""));
    loose.enter("look", &[("seen", "dirty")]).unwrap();
    loose.by("eve").input(What::Accept { because: "only dust".into() }).unwrap();
    loose.by("ann").done("close");
    assert!(loose.is_finished());
}

#[test]
fn a_kept_gate_that_turned_after_a_correction_is_accepted_by_nobody() {
    let turned = |procedure: &str| {
        let mut job = Job::new(procedure);
        job.enter("look", &[("seen", "clean")]).unwrap();
        job.done("close");
        job
    };
    for (procedure, kept) in [(DIRTY.to_owned(), true), (DIRTY.replace("    keep: true\n", ""), false)] {
        let procedure = format!("{procedure}  - {{ id: last, do: Tidy up. }}\n");
        let mut job = turned(&procedure);
        let values = [("seen".to_owned(), "dirty".to_owned())].into_iter().collect();
        job.input(What::Correct { entry: None, values, because: "looked again".into() }).unwrap();
        if matches!(job.pending(), Pending::Entry(_)) {
            job.done("last");
        }
        let accepted = job.by("eve").input(What::Accept { because: "only dust".into() });
        assert_eq!(accepted.is_err(), kept, "{accepted:?}");
        assert_eq!(job.is_finished(), !kept);
    }
}

#[test]
fn rounds_of_a_kept_step_that_are_used_up_are_accepted_by_nobody() {
    for (keep, kept) in [(", keep: true", true), ("", false)] {
        let mut job = Job::new(&format!(
            "steps:
  - {{ id: wash, repeat: {{ until: seen == \"clean\", at_most: 1, otherwise: {{ ask: [head] }} }}{keep}, steps: [
      {{ id: look, pick: {{ seen: [clean, dirty] }} }}] }}
"
        ));
        job.enter("look", &[("seen", "dirty")]).unwrap();
        let accepted = job.by("eve").input(What::Accept { because: "only dust".into() });
        assert_eq!(accepted.is_err(), kept, "{accepted:?}");
    }
}

#[test]
fn a_gate_of_what_is_computed_is_not_asked_again_but_holds_the_job() {
    let mut job = Job::new(
        "steps:
  - { id: first, read: { a: { is: count } } }
  - { id: twice, compute: { value: a * 2, gives: b }, gate: { must: b < 10, otherwise: wait } }
  - { id: end, do: End. }
",
    );
    assert_eq!(verdicts(&job.enter("first", &[("a", "7")]).unwrap()), [Verdict::NotMet]);
    assert!(matches!(job.pending(), Pending::Stopped { .. }), "{:?}", job.pending());
}

/// The record says what a verdict looked at, whichever way the gate names it.
#[test]
fn the_ends_of_a_range_are_among_what_a_gate_looked_at() {
    let mut job = Job::new(
        "steps:
  - { id: band, compute: { value: spec.window, gives: band } }
  - id: warm
    read: { heat: { is: temperature } }
    gate: { must: heat >= band.low && heat <= band.high && heat > spec.window.low && heat < spec.window.high, otherwise: wait }
",
    );
    let events = job.enter("warm", &[("heat", "40 degC")]).unwrap();
    assert_eq!(verdicts(&events), [Verdict::Met]);
    let found = events.iter().find_map(|event| match event {
        Event::Judged { found, .. } => Some(found),
        _ => None,
    });
    let shown: Vec<String> =
        found.unwrap().iter().map(|(name, value)| format!("{name} {}", job.machine.plan.show(value))).collect();
    let (low, high) = ("35 °C", "45 °C");
    for wanted in [
        "heat 40 °C".to_owned(),
        format!("band.low {low}"),
        format!("band.high {high}"),
        format!("spec.window.low {low}"),
        format!("spec.window.high {high}"),
    ] {
        assert!(shown.contains(&wanted), "{wanted} of {shown:?}");
    }
}

/// What a gate that waits takes back is its own step's and no other's.
#[test]
fn a_step_that_is_asked_again_takes_no_reading_of_another_with_it() {
    let mut job = Job::new(
        "steps:
  - { id: before, read: { cold: { is: temperature } } }
  - id: cool
    read: { heat: { is: temperature } }
    gate: { must: heat < 45.degC, otherwise: wait }
  - id: both
    do: Look.
    gate: { must: heat - cold < 30.degC_diff, otherwise: stop }
",
    );
    job.enter("before", &[("cold", "20 degC")]).unwrap();
    job.enter("cool", &[("heat", "52 degC")]).unwrap();
    job.enter("cool", &[("heat", "44 degC")]).unwrap();
    assert_eq!(verdicts(&job.enter("both", &[]).unwrap()), [Verdict::Met]);
    assert!(job.is_finished());
}
