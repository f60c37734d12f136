use standpipe_job::names::JobNames;
use standpipe_quantity::value::Value;

use super::Job;
use crate::margin::{Margin, margin, margin_to};

/// By how much a condition is missed that a job of one step was held against, when this was read.
fn missed(must: &str, heat: &str) -> Option<Margin> {
    let mut job = Job::new(&format!(
        "steps:
  - {{ id: count, read: {{ feet: {{ is: count }} }} }}
  - id: warm
    read: {{ heat: {{ is: temperature }} }}
    gate: {{ must: '{must}', otherwise: stop }}
"
    ));
    job.enter("count", &[("feet", "3")]).unwrap();
    job.enter("warm", &[("heat", heat)]).unwrap();
    let plan = &job.machine.plan;
    let gate = plan.step("warm").unwrap().gate.as_ref().unwrap();
    margin(plan, &gate.must, &JobNames::new(plan, &job.state, job.now(), 1), &job.state)
}

#[test]
fn the_smallest_move_of_one_value_that_would_have_met_it_is_told_with_its_side() {
    for (must, heat, name, off) in [
        ("heat <= 45.degC", "47 degC", "heat", -2.0),
        ("heat >= 45.degC", "42 degC", "heat", 3.0),
        ("heat in spec.window", "50 degC", "heat", -5.0),
        ("heat in spec.window", "31 degC", "heat", 4.0),
        // A range that is narrow against how far it is away.
        ("heat >= 45.degC && heat <= 46.degC", "20 degC", "heat", 25.0),
        ("heat < 10.degC || heat > 45.degC", "40 degC", "heat", 5.0),
        ("feet >= 4", "40 degC", "feet", 1.0),
        // Of two that could have been otherwise, the one that is less wrong for its size.
        ("feet >= 4 || heat > 45.degC", "40 degC", "heat", 5.0),
    ] {
        let found = missed(must, heat).unwrap_or_else(|| panic!("{must}"));
        assert_eq!(found.name, name, "{must}");
        assert!((found.off_si - off).abs() < 1e-6, "{must}: {found:?}");
    }
    for must in ["heat > 45.degC && feet == 4", "heat > 100_000.degC", "spec.ring.count == 5"] {
        assert!(missed(must, "40 degC").is_none(), "{must}: no move of one value meets it");
    }
}

#[test]
fn it_is_shown_as_found_as_needed_and_as_the_difference_of_both() {
    let found = missed("heat <= 45.degC", "47.5 degC").unwrap();
    assert_eq!((found.found.as_str(), found.needed.as_str()), ("47.5 °C", "45.0 °C"));
    assert_eq!(found.off, "2.50 Δ°C", "without a sign; a difference of temperatures is no temperature");
}

#[test]
fn how_far_a_value_lies_from_what_was_waited_for() {
    let job = Job::new("steps:\n  - { id: end, do: End. }\n");
    let plan = &job.machine.plan;
    let read = |text: &str| match plan.units.read(text, None, None).unwrap() {
        Value::Quantity(quantity) => quantity,
        other => panic!("{other:?}"),
    };
    let window = Value::Range(read("35 degC"), read("45 degC"));
    let off = |value: &str, wanted: &Value| {
        let value = Value::Quantity(read(value));
        margin_to(plan, "heat", &value, wanted).map(|margin| (margin.off_si * 1e6).round() / 1e6)
    };
    assert_eq!(off("33 degC", &window), Some(2.0));
    assert_eq!(off("48 degC", &window), Some(-3.0));
    assert_eq!(off("35 degC", &window), Some(10.0), "within it, to the end that is left for");
    assert_eq!(off("12 s", &Value::Quantity(read("20 s"))), Some(8.0));
    assert_eq!(off("12 s", &Value::Text("long".to_owned())), None);
    assert!(margin_to(plan, "heat", &Value::Text("warm".to_owned()), &window).is_none());
}
