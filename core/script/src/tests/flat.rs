//! Values taken apart: what comes of a call is what comes of it with values that are whole.

use super::*;
use standpipe_diagnostic::source::Source;

const VESSEL: &str = r#"
fn later(it) {
    let s = it.s;
    s.volume += it.more;
    s.steps += 1;
    s.over = s.volume > 2.L;
    if s.over { s.word = "over"; }
    s
}
fn largest(it) { max(it.s.marks) }
fn half(it) { it.s.volume / it.by }
fn words(it) { if it.s.volume > 2.L { "much" } else { it.s.word } }
fn few(it) { it.s.marks.filter(|mark| mark > 2.mm) }
"#;

fn vessel(way: Way) -> Scripts {
    let source = Source::new("tests/scripts/vessel.rhai", VESSEL);
    let file = ScriptFile { name: "vessel".into(), plugin: "tests".into(), source };
    let scripts = Scripts::new(Units::standard(), vec![file]);
    scripts.set_way(way);
    scripts
}

fn record(fields: &[(&str, Value)]) -> Value {
    Value::Record(fields.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect())
}

fn state() -> Value {
    let Value::Quantity(low) = quantity(35.0, "degC") else { panic!("a quantity") };
    record(&[
        ("volume", quantity(1.5, "L")),
        ("steps", Value::Number(0.0)),
        ("over", Value::Truth(false)),
        ("word", Value::Text("little".into())),
        ("window", Value::Range(low.clone(), low)),
        ("marks", Value::List(vec![quantity(2.0, "mm"), quantity(5.0, "mm")])),
        ("inner", record(&[("bare", Value::Number(0.25))])),
    ])
}

/// A value without the units that its quantities were written in.
fn unwritten(scripts: &Scripts, value: &Value) -> Value {
    scripts.flat(value).value()
}

#[test]
fn a_state_is_handed_on_as_it_is_whole() {
    for way in [Way::Interpreted, Way::Auto, Way::Lowered] {
        let (scripts, plain) = (vessel(way), vessel(Way::Interpreted));
        let (mut flat, mut whole) = (scripts.flat(&state()), state());
        for more in [0.25, 0.125, 1.0, 0.5] {
            let more = quantity(more, "L");
            let given = IndexMap::from([("s".to_owned(), whole), ("more".to_owned(), more.clone())]);
            whole = plain.call_for("tests", "vessel::later", given).unwrap();
            flat =
                scripts.call_flat("tests", "vessel::later", &[("s", &flat), ("more", &scripts.flat(&more))]).unwrap();
            assert!(flat.is_record());
            assert_eq!(flat.value(), unwritten(&plain, &whole), "{way:?}");
            for function in ["largest", "words", "few"] {
                let function = format!("vessel::{function}");
                let given = IndexMap::from([("s".to_owned(), whole.clone())]);
                let expected = plain.call_for("tests", &function, given).unwrap();
                let found = scripts.call_flat("tests", &function, &[("s", &flat)]).unwrap();
                assert_eq!(found.value(), unwritten(&plain, &expected), "{function}, {way:?}");
            }
        }
        assert_eq!(flat.value().at(&["word"]), Some(&Value::Text("over".into())));
    }
}

#[test]
fn what_no_program_can_do_the_interpreter_does() {
    let (scripts, plain) = (vessel(Way::Lowered), vessel(Way::Interpreted));
    let flat = scripts.flat(&state());
    for by in
        [Value::Unknown, Value::Number(0.0), Value::Number(f64::NAN), Value::Text("two".into()), Value::Number(2.0)]
    {
        let given = IndexMap::from([("s".to_owned(), state()), ("by".to_owned(), by.clone())]);
        let expected = plain.call_for("tests", "vessel::half", given).map(|value| unwritten(&plain, &value));
        let by = scripts.flat(&by);
        let found = scripts.call_flat("tests", "vessel::half", &[("s", &flat), ("by", &by)]).map(|flat| flat.value());
        assert_eq!(format!("{found:?}"), format!("{expected:?}"));
        assert_eq!(scripts.calls_program("tests", "vessel::half", &[("s", &flat), ("by", &by)]), found.is_ok());
    }
}

#[test]
fn names_and_kinds_tell_one_program_from_another() {
    let scripts = vessel(Way::Lowered);
    let flat = scripts.flat(&state());
    let half = |by: Value| scripts.call_flat("tests", "vessel::half", &[("s", &flat), ("by", &scripts.flat(&by))]);
    assert_eq!(half(Value::Number(2.0)).unwrap().value(), quantity_si(0.75, "L"));
    assert_eq!(half(quantity(2.0, "L")).unwrap().value(), Value::Number(0.75));
    let by = scripts.flat(&Value::Number(2.0));
    assert!(scripts.call_flat("tests", "vessel::half", &[("by", &flat), ("s", &by)]).is_err(), "exchanged");
    // One that other scripts took apart is as good.
    let others = vessel(Way::Lowered).flat(&state());
    let half = scripts.call_flat("tests", "vessel::half", &[("s", &others), ("by", &by)]);
    assert_eq!(half.unwrap().value(), quantity_si(0.75, "L"));
}

/// A quantity that was worked out rather than written.
fn quantity_si(number: f64, unit: &str) -> Value {
    let Value::Quantity(quantity) = quantity(number, unit) else { panic!("a quantity") };
    Value::Quantity(standpipe_quantity::Quantity { written: None, ..quantity })
}
