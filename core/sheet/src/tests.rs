//! Sheets as written, their inputs and their outputs.

use super::*;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_script::{Fault, ScriptFile};

const SCRIPT: &str = "
/// Source: none.
fn grow(x) {
    let out = #{ volume: x.volume * get(x, \"share\", 2), note: x.kind };
    if \"when\" in x { out.day = x.when; }
    if x.kind == \"odd\" { out.warnings = [\"an odd one\"]; }
    out
}
/// Source: none.
fn wrong(x) { #{ volume: 3, note: \"a\" } }
/// Source: none.
fn less(x) { #{ note: \"a\" } }
/// Source: none.
fn more(x) { #{ volume: 1.L, note: \"a\", extra: 1 } }
/// Source: none.
fn none(x) { 5 }
/// Source: none.
fn total(x) { #{ volume: sum(map(x.list, |one| get(one, \"volume\", 0.L)), 0.L), note: text(len(x.list)) } }
";

const GROW: &str = "
sheet: grow
title: Grow
script: plants::grow
sources:
  - none, invented for a test
inputs:
  volume: { is: volume, at_least: 0 L, at_most: 100 L, valid: 1..10 L }
  share:  { is: ratio, optional: true }
  kind:   { one_of: [even, odd], default: even }
  when:   { is: date, optional: true }
outputs:
  volume: { is: volume, unit: L }
  note:   { is: text }
  day:    { is: date, optional: true }
";

fn scripts() -> Scripts {
    let source = Source::new("garden/scripts/plants.rhai", SCRIPT);
    let file = ScriptFile { name: "plants".into(), plugin: "garden".into(), source };
    Scripts::new(Units::standard(), vec![file])
}

fn read(text: &str) -> Result<Sheet, Problems> {
    let mut problems = Problems::new();
    let sheet = Sheet::read(&Source::new("garden/sheets/s.yaml", text), "garden", &Units::standard(), &mut problems);
    sheet.ok_or(problems)
}

fn litres(number: f64) -> Value {
    Value::Quantity(Units::standard().quantity(number, "L").expect("litres"))
}

fn run(text: &str, inputs: &[(&str, Value)]) -> Result<Outcome, Fault> {
    let sheet = read(text).unwrap_or_else(|problems| panic!("{problems:?}"));
    sheet.run(&scripts(), inputs.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect())
}

#[track_caller]
fn refused(text: &str, inputs: &[(&str, Value)], code: Code) -> Diagnostic {
    match run(text, inputs) {
        Err(Fault::Failed(diagnostic)) => {
            assert_eq!(diagnostic.code, code, "{}", diagnostic.message);
            *diagnostic
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn inputs_are_taken_with_defaults_and_outputs_in_order() {
    let outcome = run(GROW, &[("volume", litres(5.0))]).expect("an outcome");
    assert_eq!(outcome.outputs.keys().collect::<Vec<_>>(), ["volume", "note", "day"]);
    assert_eq!(outcome.outputs["day"], Value::Unknown, "not given, so not known");
    assert_eq!(outcome.outputs["volume"], litres(10.0));
    assert!(
        matches!(&outcome.outputs["volume"], Value::Quantity(quantity) if quantity.of.as_deref() == Some("volume"))
    );
    assert_eq!(outcome.outputs["note"], Value::Text("even".into()));
    assert!(outcome.warnings.is_empty());
    let given = [("volume", litres(5.0)), ("share", Value::Number(0.5)), ("when", Value::Text("2026-11-23".into()))];
    let outcome = run(GROW, &given).expect("an outcome");
    assert_eq!(outcome.outputs["volume"], litres(2.5));
    assert_eq!(outcome.outputs["day"], Value::Text("2026-11-23".into()));
    // Unknown but not needed is the same as left out.
    let outcome = run(GROW, &[("volume", litres(5.0)), ("share", Value::Unknown)]).expect("an outcome");
    assert_eq!(outcome.outputs["volume"], litres(10.0));
}

#[test]
fn what_is_unknown_is_not_shown_and_what_is_wrong_is_refused() {
    match run(GROW, &[("volume", Value::Unknown)]) {
        Err(Fault::NotShown(names)) => assert_eq!(names, ["volume"]),
        other => panic!("{other:?}"),
    }
    let missing = refused(GROW, &[], Code::FaultyInput);
    assert_eq!((missing.message.as_str(), missing.place.text()), ("sheet `grow` needs `volume`", "volume"));
    let extra = refused(GROW, &[("volume", litres(1.0)), ("shape", Value::Number(1.0))], Code::FaultyInput);
    assert_eq!(extra.help.as_deref(), Some("did you mean `share`?"));
    let _ = refused(GROW, &[("volume", Value::Number(1.0))], Code::FaultyInput);
    let _ = refused(GROW, &[("volume", Value::Text("1 L".into()))], Code::FaultyInput);
    let _ = refused(GROW, &[("volume", Value::Number(f64::NAN))], Code::FaultyInput);
    let _ = refused(GROW, &[("volume", litres(5.0)), ("kind", Value::Text("evn".into()))], Code::FaultyInput);
    let _ = refused(GROW, &[("volume", litres(5.0)), ("when", Value::Text("23.11.2026".into()))], Code::FaultyInput);
    let below = refused(GROW, &[("volume", litres(-1.0))], Code::InputBeyondLimit);
    assert!(below.message.ends_with("L, but must be at least 0 L"), "{}", below.message);
    assert_eq!(below.place.text(), "0 L");
    let _ = refused(GROW, &[("volume", litres(101.0))], Code::InputBeyondLimit);
}

#[test]
fn outside_the_valid_range_there_is_a_warning_or_a_refusal() {
    let outcome = run(GROW, &[("volume", litres(20.0)), ("kind", Value::Text("odd".into()))]).expect("an outcome");
    let [outside, odd] = outcome.warnings.as_slice() else { panic!("{:?}", outcome.warnings) };
    assert!(outside.ends_with("L, outside 1..10 L where the formula holds"), "{outside}");
    assert_eq!(odd, "an odd one");
    assert!(run(GROW, &[("volume", litres(10.0))]).expect("an outcome").warnings.is_empty(), "ends belong to it");
    let strict = GROW.replace("valid: 1..10 L", "valid: 1..10 L, outside: refuse");
    let _ = refused(&strict, &[("volume", litres(20.0))], Code::InputBeyondValidity);
}

#[test]
fn what_the_function_gives_must_be_what_the_sheet_declares() {
    for function in ["wrong", "less", "more", "none"] {
        let text = GROW.replace("plants::grow", &format!("plants::{function}"));
        let diagnostic = refused(&text, &[("volume", litres(5.0))], Code::FaultySheet);
        assert_eq!(diagnostic.place.text(), format!("plants::{function}"), "{}", diagnostic.message);
    }
    let sheet = read(&GROW.replace("plants::grow", "plants::grw")).expect("a sheet");
    let problems = sheet.check_script(&scripts()).expect_err("no such function");
    assert_eq!((problems[0].code, problems[0].place.text()), (Code::UnknownName, "plants::grw"));
    assert_eq!(problems[0].help.as_deref(), Some("did you mean `grow`?"));
}

#[test]
fn lists_of_records_take_plain_values_and_name_what_is_unknown() {
    let text = "
sheet: total
title: Total
script: plants::total
sources:
  - none, invented for a test
inputs:
  list:
    is: list of record
    fields:
      volume: { is: volume, optional: true }
      mass: { is: mass, optional: true }
      note: { is: text, optional: true }
outputs:
  volume: { is: volume, unit: L }
  note: { is: text }
";
    let total = |list: Value| run(text, &[("list", list)]);
    let record = Value::Record([("volume".to_owned(), litres(2.0))].into_iter().collect());
    let outcome = total(Value::List(vec![litres(1.0), record])).expect("an outcome");
    assert_eq!((&outcome.outputs["volume"], &outcome.outputs["note"]), (&litres(3.0), &Value::Text("2".into())));
    assert_eq!(total(litres(1.0)).expect("one is a list of one").outputs["volume"], litres(1.0));
    assert_eq!(total(Value::List(vec![])).expect("an outcome").outputs["volume"], litres(0.0));
    match total(Value::List(vec![litres(1.0), Value::Unknown])) {
        Err(Fault::NotShown(names)) => assert_eq!(names, ["list[1]"]),
        other => panic!("{other:?}"),
    }
    let misspelt = Value::Record([("volum".to_owned(), litres(2.0))].into_iter().collect());
    match total(Value::List(vec![misspelt])) {
        Err(Fault::Failed(diagnostic)) => {
            assert!(diagnostic.message.ends_with("did you mean `volume`?"), "{diagnostic:?}")
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_faulty_sheet_is_refused_with_all_its_faults() {
    let code = |from: &str, to: &str| {
        assert!(GROW.contains(from), "{from}");
        match read(&GROW.replace(from, to)) {
            Err(problems) => problems[0].code,
            Ok(_) => panic!("{to} passes"),
        }
    };
    assert_eq!(code("is: volume, at_least", "is: volum, at_least"), Code::FaultySheet);
    assert_eq!(code("at_least: 0 L", "at_least: 0 kg"), Code::WrongQuantity);
    assert_eq!(code("valid: 1..10 L", "valid: 10..1 L"), Code::ReversedRange);
    assert_eq!(code("valid: 1..10 L", "outside: refuse"), Code::FaultySheet);
    assert_eq!(code("default: even", "default: evn"), Code::FaultyInput);
    assert_eq!(code("default: even", "default: even, optional: true"), Code::FaultySheet);
    assert_eq!(code("one_of: [even, odd]", "one_of: [even, odd], is: date"), Code::FaultySheet);
    assert_eq!(code("share:  {", "thread: {"), Code::ReservedName);
    assert_eq!(code(", unit: L", ""), Code::FaultySheet);
    assert_eq!(code("unit: L", "unit: kg"), Code::UnknownUnit);
    assert_eq!(code("note:   { is: text }", "note:   { is: person }"), Code::FaultySheet);
    assert_eq!(code("note:   { is: text }", "note:   { is: record }"), Code::FaultySheet);
    assert_eq!(code("note:   { is: text }", "note:   { is: text, fields: { a: text } }"), Code::FaultySheet);
    assert_eq!(code("note:   { is: text }", "note:   { is: record, fields: { a: list of text } }"), Code::FaultySheet);
    assert_eq!(code("  - none, invented for a test\n", "  []\n"), Code::FaultySheet);
    assert_eq!(code("title: Grow\n", ""), Code::MissingKey);
    let several = GROW.replace("is: volume, at_least", "is: volum, at_least").replace("unit: L", "unit: kg");
    assert!(read(&several).expect_err("faulty").len() >= 2);
}
