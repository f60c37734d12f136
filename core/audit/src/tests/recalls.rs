use standpipe_job::What;

use super::Job;
use crate::Recall;

const WARM: &str = "steps:
  - id: warm
    read: { heat: { is: temperature, instrument: reader }, pull: { is: volume, instrument: reader } }
    gate: { must: 'heat <= 45.degC && pull >= 2.L', otherwise: stop }
  - { id: end, do: End. }
";

/// What was assumed and by how much it was missed, of each gate; how much could not be judged.
type Found = (Vec<(Option<String>, f64)>, usize);

/// A finished job whose reader showed 44 °C and 2.1 L, and what an instrument that was off so means for it.
fn missed(instrument: &str, off: &str, since: Option<&str>) -> Option<Found> {
    let mut job = Job::new(&WARM.replace("pull: { is: volume, instrument: reader }", "pull: { is: volume }"));
    job.enter("warm", &[("heat", "44 degC"), ("pull", "2.1 L")]).unwrap();
    job.done("end");
    recheck(&job, instrument, off, since)
}

fn recheck(job: &Job, instrument: &str, off: &str, since: Option<&str>) -> Option<Found> {
    let plan = &job.machine.plan;
    let since = since.map(|day| day.parse().unwrap());
    let recheck = Recall::read(instrument, off, since, &plan.units).unwrap().recheck(plan, &job.state)?;
    let missed = recheck.missed.into_iter().map(|missed| (missed.assumed, missed.margin.unwrap().off_si));
    Some((missed.collect(), recheck.not_judged.len()))
}

#[test]
fn a_reader_that_showed_too_little_hid_what_was_too_hot() {
    let told = |off: f64, words: &str| Some((vec![(Some(words.to_owned()), off)], 0));
    let rounded = |found: Option<Found>| {
        found.map(|(missed, not)| (missed.into_iter().map(|(words, off)| (words, off.round())).collect(), not))
    };
    // 44 °C was truly 47 °C.
    assert_eq!(rounded(missed("probe", "-3 K", None)), told(-2.0, "3 K too little"));
    assert_eq!(rounded(missed("probe", "−3 K", None)), told(-2.0, "3 K too little"));
    assert_eq!(rounded(missed("probe", "3 K", None)), told(-2.0, "3 K too little"), "which way is not known");
    assert_eq!(missed("probe", "+3 K", None), Some((Vec::new(), 0)));
    assert_eq!(missed("probe", "-1 K", None), Some((Vec::new(), 0)), "45 °C is within the limit");
}

#[test]
fn what_was_read_with_another_instrument_or_before_is_not_concerned() {
    assert_eq!(missed("true-probe", "-3 K", None), None);
    assert_eq!(missed("probe", "-3 K", Some("2026-11-24")), None);
    assert!(missed("probe", "-3 K", Some("2026-11-23")).is_some(), "the first day counts");
}

#[test]
fn a_point_on_a_scale_is_not_off_by_a_share_nor_by_another_quantity() {
    for off in ["+8 %", "-2 L"] {
        assert_eq!(missed("probe", off, None), Some((Vec::new(), 1)), "{off}");
    }
    assert_eq!(missed("probe", "8 %", None), Some((Vec::new(), 2)), "either way");
}

/// Of what is true, not of what is shown: 108 shown by one that shows 8 % too much was 100.
#[test]
fn a_share_is_of_what_is_true() {
    let steps = "steps:
  - { id: pour, read: { filled: { is: volume, instrument: jug } }, gate: { must: filled >= 2.L, otherwise: stop } }
  - { id: end, do: End. }
";
    let shop = super::SHOP.replace("instruments:\n", "instruments:\n  jug: { kind: jug, range: 0..5 L, unit: L }\n");
    let mut job = Job::on(super::plan_in(Some(shop), steps, &[], &[]));
    job.enter("pour", &[("filled", "2.1 L")]).unwrap();
    job.done("end");
    let (missed, _) = recheck(&job, "jug", "+8 %", None).unwrap();
    assert!((missed[0].1 - (2.0 - 2.1 / 1.08) / 1000.0).abs() < 1e-12, "{missed:?}");
    let (missed, _) = recheck(&job, "jug", "+0.2 L", None).unwrap();
    assert!((missed[0].1 - 0.0001).abs() < 1e-12, "{missed:?}");
    assert!(recheck(&job, "jug", "-50 %", None).unwrap().0.is_empty(), "twice as much was there");
}

#[test]
fn what_says_by_how_much_is_an_amount_or_a_share_that_leaves_something() {
    let job = Job::new("steps:\n  - { id: end, do: End. }\n");
    let read = |off: &str| Recall::read("probe", off, None, &job.machine.plan.units);
    for off in ["2 K", "+2 K", " -2 K ", "99 %", "-99 %", "+0.5 L", "2 degC_diff"] {
        assert!(read(off).is_ok(), "{off}");
    }
    for off in ["4 degC", "0 %", "0 K", "-100 %", "100 %", "NaN %", "inf %", "much", "4", ""] {
        assert!(read(off).is_err(), "{off}");
    }
}

/// A value that was computed from a reading is computed again; it was read with nothing itself.
#[test]
fn what_was_computed_from_it_follows() {
    let mut job = Job::new(
        "steps:
  - { id: warm, read: { heat: { is: temperature, instrument: reader } } }
  - { id: rise, compute: { value: heat - 20.degC, gives: rise } }
  - { id: look, do: Look., gate: { must: rise <= 25.degC_diff, otherwise: stop } }
",
    );
    job.enter("warm", &[("heat", "44 degC")]).unwrap();
    job.done("look");
    assert!(job.is_finished());
    let (missed, not_judged) = recheck(&job, "probe", "-3 K", None).unwrap();
    assert_eq!((missed.len(), not_judged), (1, 0));
    assert!((missed[0].1 + 2.0).abs() < 1e-6, "{missed:?}");
    let mut again = Job::new(
        "steps:
  - { id: warm, read: { heat: { is: temperature, instrument: reader } }, stale: [pause] }
  - { id: look, do: Look., gate: { must: heat <= 45.degC, otherwise: stop } }
  - { id: end, do: End. }
",
    );
    again.enter("warm", &[("heat", "44 degC")]).unwrap();
    again.done("look");
    again.input(What::Pause).unwrap();
    again.input(What::Resume).unwrap();
    again.enter("warm", &[("heat", "30 degC")]).unwrap();
    again.done("end");
    let (missed, not_judged) = recheck(&again, "probe", "-3 K", None).unwrap();
    assert_eq!((missed.len(), not_judged), (1, 0), "it was met by what was read then");
}
