//! Ends of an instrument's scale: as the shop file has them, or as somebody read them.

use standpipe_job::{Event, Verdict};

use crate::bench::Job;

const ENDS: &str = "
steps:
  - id: marks
    read:
      low: { is: temperature, lowest_of: true-reader }
      high: { is: temperature, highest_of: true-reader }
  - { id: open, do: Open it. }
";

fn marks(low: &str, high: &str, with: &str) -> Result<Vec<Event>, standpipe_job::Refusal> {
    Job::new(ENDS).enter_with("marks", &[("low", low), ("high", high)], |entry| {
        if !with.is_empty() {
            entry.with.extend(["low", "high"].map(|name| (name.to_owned(), with.to_owned())));
        }
    })
}

#[test]
fn what_the_shop_file_has_may_be_entered_in_the_name_of_its_instrument() {
    let events = marks("-20 degC", "150 degC", "true-probe").unwrap();
    let Event::Entered { with, typed, .. } = &events[0] else { panic!("{events:?}") };
    assert_eq!((with["high"].as_str(), typed["high"].as_str()), ("true-probe", "150 degC"));
    // In another unit it is the same end; of a bare number the unit is the instrument's.
    assert!(marks("-4 degF", "302 degF", "true-probe").is_ok() && marks("-20", "150", "true-probe").is_ok());
}

#[test]
fn nothing_else_may() {
    for (high, with, said) in [
        ("149 degC", "true-probe", "149 °C is not the highest mark of `true-probe`"),
        ("150 degC", "probe", "`probe` is of the kind reader, not true-reader"),
        ("150 degC", "prob", "the shop has no instrument `prob`"),
    ] {
        let refusal = marks("-20 degC", high, with).unwrap_err();
        assert!(refusal.message.contains(said), "{}", refusal.message);
    }
    let refusal = marks("-20 degC", "149 degC", "true-probe").unwrap_err();
    assert_eq!((refusal.field.as_deref(), refusal.expected.as_deref()), (Some("high"), Some("150 °C")));
}

#[test]
fn who_reads_it_off_names_nobody_and_may_read_anything() {
    let events = marks("-30 degC", "90 degC", "").unwrap();
    let Event::Entered { with, .. } = &events[0] else { panic!("{events:?}") };
    assert!(with.is_empty(), "not even where there is one of its kind only: {with:?}");
}

/// How far an instrument may be off says nothing of where its own scale ends.
#[test]
fn an_end_is_never_judged_as_a_measurement() {
    let gate = ENDS.replace(
        "  - { id: open",
        "    gate: { must: high < 200.degC, confidence: 95 %, otherwise: wait }\n  - { id: open",
    );
    let mut job = Job::new(&gate);
    let with = |entry: &mut standpipe_job::Entry| drop(entry.with.insert("high".to_owned(), "true-probe".to_owned()));
    let events = job.enter_with("marks", &[("low", "0 degC"), ("high", "150 degC")], with).unwrap();
    let judged = events.iter().find_map(|event| match event {
        Event::Judged { verdict, missing, .. } => Some((*verdict, missing[0].to_string())),
        _ => None,
    });
    let (verdict, why) = judged.unwrap();
    assert_eq!(verdict, Verdict::NotShown);
    assert!(why.contains("how far `high` may be off"), "{why}");
}
