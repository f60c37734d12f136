//! Gates that ask how sure they are met.

use std::borrow::Cow;

use standpipe_job::judge::percent;
use standpipe_job::names::JobNames;
use standpipe_job::{Event, Moment, Verdict};
use standpipe_script::Names;

use crate::bench::Job;

const SURE: &str = "
steps:
  - id: cool
    read: { heat: { is: temperature, instrument: true-reader } }
    gate: { must: heat <= 45.degC, confidence: 95 %, otherwise: wait }
  - { id: open, do: Open it. }
";

fn judged(events: &[Event]) -> (Verdict, Option<f64>, Vec<String>) {
    let found = events.iter().find_map(|event| match event {
        Event::Judged { verdict, likely, missing, .. } => {
            Some((*verdict, *likely, missing.iter().map(|lack| lack.to_string()).collect()))
        }
        _ => None,
    });
    found.expect("a verdict")
}

fn read(heat: &str) -> (Verdict, Option<f64>, Vec<String>) {
    judged(&Job::new(SURE).enter("cool", &[("heat", heat)]).unwrap())
}

#[test]
fn a_reading_near_the_limit_is_not_shown_and_one_above_it_is_not_met() {
    // By hand: the error is anywhere within 1 degC, so the share below 45 degC is (46 - reading) / 2. Within four
    // standard deviations of 4,000 trials.
    for (heat, share) in [("44.2", 0.9), ("44.5", 0.75), ("45", 0.5), ("44.02", 0.99)] {
        let (verdict, likely, missing) = read(heat);
        let expected: f64 = share;
        let spread = 4.0 * (expected * (1.0 - expected) / 4000.0).sqrt();
        assert!((likely.unwrap() - expected).abs() < spread, "{heat}: {likely:?}");
        let wanted = if expected >= 0.95 { Verdict::Met } else { Verdict::NotShown };
        assert_eq!((verdict, missing), (wanted, Vec::new()), "{heat}");
    }
    let mut job = Job::new(SURE);
    job.enter("cool", &[("heat", "44.5")]).unwrap();
    let last = job.prompt().last.unwrap();
    assert!(last.starts_with("heat 44.5 °C, sure to 7") && last.ends_with("% only,"), "{last}");
    assert_eq!(read("43.9").1, Some(1.0));
    assert_eq!(read("45.1"), (Verdict::NotMet, None, Vec::new()));
}

#[test]
fn without_knowing_how_true_the_instrument_is_nothing_is_shown() {
    let mut job = Job::new(&SURE.replace("true-reader", "reader"));
    let (verdict, likely, missing) = judged(&job.enter("cool", &[("heat", "20")]).unwrap());
    assert_eq!((verdict, likely), (Verdict::NotShown, None));
    assert!(missing[0].contains("`probe` may be off"), "{missing:?}");
}

#[test]
fn one_reading_used_twice_is_off_by_the_same_in_both_places() {
    let mut job = Job::new(
        "steps:
  - id: cool
    read: { heat: { is: temperature, instrument: true-reader } }
    gate: { must: 'heat - heat <= 0.degC_diff && all(heat)[0] - heat <= 0.degC_diff', confidence: 99.9 %, otherwise: stop }
",
    );
    let events = job.enter("cool", &[("heat", "44")]);
    assert_eq!(judged(&events.unwrap()), (Verdict::Met, Some(1.0), Vec::new()));
}

#[test]
fn two_readings_are_off_independently() {
    let mut job = Job::new(
        "steps:
  - id: cool
    read: { heat: { is: temperature, instrument: true-reader }, later: { is: temperature, instrument: true-reader } }
    gate: { must: 'later - heat < 1.degC_diff', confidence: 60 %, otherwise: stop }
",
    );
    let events = job.enter("cool", &[("heat", "44"), ("later", "44.5")]);
    // By hand: the difference of two rectangular errors is triangular over 2; above 0.5 lies (2 - 0.5)^2 / 8.
    let (verdict, likely, _) = judged(&events.unwrap());
    assert!((likely.unwrap() - (1.0 - 1.5 * 1.5 / 8.0)).abs() < 0.03, "{likely:?}");
    assert_eq!(verdict, Verdict::Met);
}

#[test]
fn what_was_typed_without_an_instrument_or_computed_is_not_shown() {
    let mut job = Job::new(
        "steps:
  - id: weigh
    read: { heat: { is: temperature } }
  - id: sum
    compute: { value: heat + 1.degC_diff, gives: warmer }
    gate: { must: 'warmer < 50.degC && heat < 50.degC', confidence: 90 %, otherwise: stop }
",
    );
    let events = job.enter("weigh", &[("heat", "20 degC")]).unwrap();
    let (verdict, likely, missing) = judged(&events);
    assert_eq!((verdict, likely), (Verdict::NotShown, None));
    assert!(missing.iter().any(|why| why.contains("`warmer`") && why.contains("computed")), "{missing:?}");
    assert!(missing.iter().any(|why| why.contains("`heat`") && why.contains("without an instrument")), "{missing:?}");
}

#[test]
fn facts_are_lent_to_a_gate_and_not_copied() {
    let mut job = Job::new(SURE);
    job.enter("cool", &[("heat", "43.9")]).unwrap();
    let names = JobNames::new(&job.machine.plan, &job.state, Moment::default(), 1);
    for name in ["spec", "job", "shop", "heat"] {
        let (once, again) = (names.latest(name).unwrap(), names.latest(name).unwrap());
        assert!(
            matches!((once, again), (Cow::Borrowed(one), Cow::Borrowed(other)) if std::ptr::eq(one, other)),
            "{name}"
        );
    }
}

#[test]
fn a_confidence_that_is_none_is_refused() {
    for wrong in ["95", "100 %", "40 %", "sure"] {
        let refused = std::panic::catch_unwind(|| Job::new(&SURE.replace("95 %", wrong)));
        assert!(refused.is_err(), "{wrong}");
    }
}

#[test]
fn less_than_the_confidence_asked_for_is_not_enough_by_however_little() {
    // Shares of 4,000 trials on either side of 95 %, a quarter of a per cent apart.
    let read: Vec<(f64, Verdict)> = (0..40)
        .map(|step| {
            let (verdict, likely, _) = read(&format!("{:.3}", 44.0 + 0.005 * f64::from(step)));
            (likely.unwrap(), verdict)
        })
        .collect();
    for (share, verdict) in &read {
        let wanted = if *share >= 0.95 { Verdict::Met } else { Verdict::NotShown };
        assert_eq!(*verdict, wanted, "{share}");
    }
    let near = |below: bool| read.iter().any(|(share, _)| (share - 0.95).abs() < 0.005 && (*share < 0.95) == below);
    assert!(near(true) && near(false), "none of them is near enough to tell: {read:?}");
}

/// All trials is not all that could be.
#[test]
fn a_share_is_rounded_down_and_never_told_as_certain() {
    let told = [(0.5, "50 %"), (0.95, "95 %"), (0.98999, "98.9 %"), (0.999, "99.9 %"), (0.9999, "99.9 %")];
    for (share, words) in told {
        assert_eq!(percent(share), words);
    }
    assert_eq!(percent(1.0), "more than 99.9 %");
}

/// Trials that a program can't take are left to the interpreter, which moves a reading by the same error.
#[test]
fn a_share_is_the_same_whichever_way_its_trials_are_worked_out() {
    let share = |must: &str| {
        let mut job = Job::new(&SURE.replace("heat <= 45.degC", must));
        judged(&job.enter("cool", &[("heat", "44.5")]).unwrap()).1.unwrap()
    };
    assert_eq!(share("'heat <= 45.degC'"), share("'heat <= 45.degC && `${heat}` != \"\"'"));
}
