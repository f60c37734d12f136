use std::sync::Arc;

use indexmap::IndexMap;

use super::*;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Problems, short};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;

const FORM: &str = "\
form: clock
records:
  weight: { mass: mass, hook: { is: text, required: true }, marks: list of text, dial: table }
fields:
  body.height: { is: length, required: true, plausible: 0.2..3 m, ask: How tall is the body? }
  body.wood: { one_of: [oak, walnut], required: true }
  swing.period: { is: range of time, plausible: 0.5..3 s }
  swing.sealed: { is: truth }
  teeth-count: { is: count }
  notes: { is: list of text }
  weights.*: { is: weight }
recognised_by:
  hands: { is: count, ask: How many hands? }
  width: { is: length }
job:
  visit.room: { is: text, required: true }
  visit.distance: { is: distance, plausible: 0..500 km }
";

const FAMILY: &str = "\
family: tall
form: clock
invented: true
body: { height: 1.9 m, wood: oak }
swing: { period: 1.9..2.1 s, sealed: unknown }
teeth-count: 60
weights:
  going: { mass: 4.5 kg, hook: brass, marks: [a, \"8.8\"] }
variants:
  plain: { recognised_by: { hands: 2 } }
  dated: { recognised_by: { hands: [3, 4] }, teeth-count: 64, weights: { going: { mass: 5 kg }, strike: { hook: steel } } }
sources:
  - { covers: all, from: invented for a test, entered_by: RM }
  - { covers: [weights.going], from: weighed, checked_by: JO }
  - { covers: [variants.dated.weights], from: label }
";

fn form_of(text: &str) -> (Option<Form>, Problems) {
    let mut problems = Problems::new();
    let form = Form::read(&Source::new("form.yaml", text), &Units::standard(), &mut problems);
    (form, problems)
}

fn form() -> Form {
    let (form, problems) = form_of(FORM);
    assert!(problems.is_empty(), "{}", short(&problems));
    form.expect("a form")
}

fn family_of(text: &str) -> (Option<Family>, Problems) {
    let mut problems = Problems::new();
    let raw = RawFamily::read(&Source::new("family.yaml", text), &mut problems);
    let family = raw.and_then(|raw| raw.check(&form(), &Units::standard(), &mut problems));
    (family, problems)
}

fn family() -> Family {
    let (family, problems) = family_of(FAMILY);
    assert!(problems.is_empty(), "{}", short(&problems));
    family.expect("a family")
}

/// The sound family with one text replaced by another.
fn faulty(from: &str, to: &str) -> String {
    assert!(FAMILY.contains(from), "{from}");
    let (_, problems) = family_of(&FAMILY.replacen(from, to, 1));
    short(&problems)
}

#[test]
fn facts_hold_every_field_and_where_each_value_stands() {
    let family = family();
    let facts = family.known(Some("plain"));
    let Some(Value::Quantity(height)) = facts.value("body.height") else { panic!("{facts:?}") };
    assert_eq!((height.si, height.of.as_deref()), (1.9, Some("length")));
    assert_eq!(facts.value("swing.sealed"), Some(&Value::Unknown), "written as unknown");
    assert_eq!(facts.value("notes"), Some(&Value::Unknown), "not written at all");
    assert_eq!(facts.value("weights.going.dial"), Some(&Value::Unknown), "not written in the record");
    assert_eq!(facts.value("teeth_count"), Some(&Value::Number(60.0)));
    let marks = Value::List(vec![Value::Text("a".into()), Value::Text("8.8".into())]);
    assert_eq!(facts.value("weights.going.marks"), Some(&marks));
    let origin = facts.origin("weights.going.mass").expect("an origin");
    assert_eq!((origin.place.to_string().as_str(), origin.written.as_str()), ("family.yaml:8:18", "4.5 kg"));
    assert_eq!(origin.source.as_ref().map(|note| note.from.as_str()), Some("weighed"));
    assert_eq!(facts.origin("body.height").and_then(|o| o.source.as_ref()?.entered_by.as_deref()), Some("RM"));
    assert!(facts.origin("notes").is_none());
    let Value::Record(fields) = &facts.values else { panic!() };
    assert_eq!(fields.keys().collect::<Vec<_>>(), ["body", "swing", "teeth_count", "notes", "weights"]);
}

#[test]
fn a_variant_lies_over_the_family_and_remembers_it() {
    let family = family();
    let facts = family.known(Some("dated"));
    assert_eq!(facts.value("teeth_count"), Some(&Value::Number(64.0)));
    let origin = facts.origin("weights.going.mass").expect("an origin");
    assert_eq!((origin.written.as_str(), origin.place.line()), ("5 kg", 11));
    assert_eq!(origin.overrides.iter().map(|place| place.line()).collect::<Vec<_>>(), [8]);
    assert_eq!(origin.source.as_ref().map(|note| note.from.as_str()), Some("label"));
    assert_eq!(facts.value("weights.going.hook"), Some(&Value::Text("brass".into())));
    assert_eq!(facts.value("weights.strike.hook"), Some(&Value::Text("steel".into())));
}

#[test]
fn what_differs_by_variant_is_unknown_until_one_is_settled() {
    let family = family();
    let facts = family.known(None);
    assert_eq!(facts.value("body.wood"), Some(&Value::Text("oak".into())));
    for path in ["teeth_count", "weights.going.mass", "weights.strike.hook"] {
        assert_eq!(facts.value(path), Some(&Value::Unknown), "{path}");
        assert!(facts.differs_by_variant(path) && facts.origin(path).is_none(), "{path}");
    }
    assert!(facts.differs_by_variant("weights") && !facts.differs_by_variant("body"));
    assert_eq!(facts.value("weights.going.hook"), Some(&Value::Text("brass".into())));
    assert!(!facts.differs_by_variant("swing.sealed"), "unknown in all of them");
}

#[test]
fn a_value_set_later_shows_what_it_replaced() {
    let mut family = family();
    let place = Place::whole(&Source::new("overlay.yaml", ""));
    let origin = Origin { place, written: "70".into(), source: None, overrides: Vec::new() };
    family.set("teeth_count", &Value::Number(70.0), &origin, None);
    let facts = family.known(Some("dated"));
    assert_eq!(facts.value("teeth_count"), Some(&Value::Number(70.0)));
    let replaced = &facts.origin("teeth_count").expect("an origin").overrides;
    assert_eq!(replaced.iter().map(|place| place.line()).collect::<Vec<_>>(), [11, 6]);
    assert!(!family.known(None).differs_by_variant("teeth_count"));
}

#[test]
fn faults_of_a_family_are_told_at_their_place() {
    let cases = [
        ("oak", "oka", "4:30: error, unfit-value: `oka` is none of the choices (did you mean `oak`?)"),
        (
            "height: 1.9 m",
            "hieght: 1.9 m",
            "4:9: error, unknown-field: the form `clock` has no field `body.hieght` (did you mean `height`?)",
        ),
        (
            "height: 1.9 m, ",
            "",
            "4:1: error, missing-field: `body.height` is missing (add `body.height`, a length with its unit (How tall is the body?), or write `unknown`)",
        ),
        (
            "1.9 m,",
            "1.9 kg,",
            "4:21: error, wrong-quantity: `kg` is a unit of mass, but the quantity asked for is length",
        ),
        (
            "1.9 m,",
            "19 m,",
            "4:17: warning, implausible-value: 19 m for `body.height` is hardly possible (check number and unit; if it is right, widen `plausible:` in the form)",
        ),
        (
            "1.9..2.1 s",
            "2.1..1.9 s",
            "5:18: error, reversed-range: the low end of `2.1..1.9 s` lies above its high end (write the lower value first)",
        ),
        (
            "sealed: unknown",
            "sealed: maybe",
            "5:38: error, unfit-value: `maybe` is not `true` or `false` (write `true` or `false`, or `unknown`)",
        ),
        (
            "teeth-count: 60",
            "teeth-count: 6.5",
            "6:14: error, unfit-value: `6.5` is not a whole number (write a whole number, or `unknown`)",
        ),
        (
            "hook: brass, ",
            "",
            "7:1: error, missing-field: `weights.going.hook` is missing (add `weights.going.hook`, text (Hook?), or write `unknown`)",
        ),
        (
            "hook: steel",
            "mass: 1 kg",
            "11:3: error, missing-field: `weights.strike.hook` is missing in the variant `dated` (add `weights.strike.hook`, text (Hook?), or write `unknown`)",
        ),
        (
            "mass: 4.5 kg",
            "weight: 4.5 kg",
            "8:12: error, unknown-field: a `weight` has no field `weight` (remove it, or add it to the form; known here: mass, hook, marks, dial)",
        ),
        (
            "[a, \"8.8\"]",
            "a",
            "8:46: error, unfit-value: expected a list, each item text, found the text `a` (write `[a]`)",
        ),
        (
            "swing: { period: 1.9..2.1 s, sealed: unknown }",
            "swing: 2 s",
            "5:8: error, unfit-value: `swing` is a group of fields, not a value (write the fields below `swing:`)",
        ),
        (
            "recognised_by: { hands: 2 }",
            "title: x",
            "10:3: error, variant-without-sign: nothing tells the variant `plain` from the others (add `recognised_by:` with at least one sign of the form)",
        ),
        (
            "hands: 2",
            "hand: 2",
            "10:29: error, unknown-field: the form `clock` has no sign `hand` (did you mean `hands`?)",
        ),
        (
            "covers: all",
            "covers: [body, teeth_count]",
            "5:18: error, missing-source: `swing.period` has no source (say where it is from: `sources: [{ covers: [swing], from: ..., entered_by: ... }]`)",
        ),
        (
            "covers: [weights.going]",
            "covers: [weigths]",
            "14:16: error, unknown-field: the form `clock` has no field `weigths` that a source could cover (did you mean `weights`?)",
        ),
        (
            "wood: oak }",
            "wood: oak, period: 1 s }",
            "4:35: error, unknown-field: the form `clock` has no field `body.period` (did you mean `swing.period`?)",
        ),
        ("from: weighed", "form: weighed", "14:32: error, unknown-key: unknown key `form` (did you mean `from`?)"),
        ("form: clock\n", "", "1:1: error, missing-key: `form` is missing (add `form:` to these keys)"),
        (
            "body: {",
            "body.wood: oak\nbody: {",
            "5:30: error, duplicate-key: `body.wood` is given twice (keep one of the two)",
        ),
    ];
    let mut failures = Vec::new();
    for (from, to, expected) in cases {
        let found = faulty(from, to);
        if !found.lines().any(|line| line == format!("family.yaml:{expected}")) {
            failures.push(format!("{from} -> {to}: {expected}\n{found}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn variants_that_nothing_tells_apart_are_refused() {
    assert!(
        faulty("hands: [3, 4]", "hands: [2, 3]")
            .contains("11:3: error, variant-without-sign: the same thing could be `plain` and `dated`")
    );
    assert!(faulty("hands: [3, 4]", "width: 2..3 m").contains("error, variant-without-sign"), "no sign in common");
}

#[test]
fn variants_are_recognised_by_what_is_seen() {
    let family = family();
    let seen = |signs: &[(&str, Value)]| {
        let signs: IndexMap<String, Value> =
            signs.iter().map(|(name, value)| (name.to_string(), value.clone())).collect();
        recognise(&family, &signs)
    };
    assert_eq!(seen(&[("hands", Value::Number(2.0))]), Recognised::One("plain".into()));
    assert_eq!(seen(&[("hands", Value::Number(4.0))]), Recognised::One("dated".into()));
    assert_eq!(seen(&[("hands", Value::Unknown)]), Recognised::Several(vec!["plain".into(), "dated".into()]));
    assert_eq!(
        seen(&[("hands", Value::Number(5.0))]),
        Recognised::None("hands 5 fits no variant of tall (plain has 2, dated has 3 or 4)".into())
    );
}

#[test]
fn signs_that_contradict_each_other_name_what_each_speaks_for() {
    let text = FAMILY
        .replace("hands: 2 }", "hands: 2, width: 20..30 cm }")
        .replace("hands: [3, 4] }", "hands: [3, 4], width: 40 cm }");
    let (family, problems) = family_of(&text);
    assert!(problems.is_empty(), "{}", short(&problems));
    let family = family.expect("a family");
    let width = Units::standard().read("25 cm", Some("length"), None).expect("25 cm");
    let signs = IndexMap::from([("hands".to_string(), Value::Number(3.0)), ("width".to_string(), width.clone())]);
    assert_eq!(
        recognise(&family, &signs),
        Recognised::None("hands 3 speaks for dated; width 25 cm speaks for plain".into())
    );
    assert_eq!(recognise(&family, &IndexMap::from([("width".to_string(), width)])), Recognised::One("plain".into()));
}

#[test]
fn faults_of_a_form_are_told_at_their_place() {
    let cases = [
        (
            "is: length, required",
            "is: lenght, required",
            "5:22: error, faulty-form: there is no kind of value `lenght` (did you mean `length`?)",
        ),
        ("is: range of time", "is: range of text", "7:23: error, faulty-form: there is no kind of value `text`"),
        ("one_of: [oak, walnut]", "one_of: [oak]", "6:3: error, faulty-form: `body.wood` has fewer than two choices"),
        ("one_of: [oak, walnut]", "one_of: [oak, Oak]", "6:30: error, faulty-form: `Oak` appears twice in the list"),
        (
            "one_of: [oak, walnut]",
            "one_of: [oak, unknown]",
            "6:30: error, faulty-form: `unknown` is understood everywhere",
        ),
        (
            "one_of: [oak, walnut]",
            "one_of: [oak, ash], is: text",
            "6:3: error, faulty-form: `body.wood` needs one of `is:` and `one_of:`",
        ),
        ("0.2..3 m", "0.2..3 kg", "5:64: error, wrong-quantity:"),
        (
            "{ is: truth }",
            "{ is: truth, plausible: 1..2 }",
            "8:41: error, faulty-form: `1..2` says what is plausible of something that is not a number",
        ),
        (
            "teeth-count",
            "teeth count",
            "9:3: error, reserved-name: `teeth count` in `teeth count` can't be used as a name in scripts",
        ),
        ("notes:", "body:", "6:3: error, faulty-form: `body.wood` lies inside the field `body`"),
        ("weights.*:", "*.weights:", "11:3: error, tag-or-anchor"),
        ("weights.*:", "a.*.b:", "11:3: error, faulty-form: `a.*.b` has a `*` in the wrong place"),
        ("weight: {", "time: {", "3:3: error, faulty-form: `time` is the name of a kind of value already"),
        ("mass: mass", "mass: weight", "3:13: error, faulty-form: `mass` is a record within a record"),
        ("mass: mass", "mass: maß", "3:19: error, faulty-form: there is no kind of value `maß`"),
        ("required: true }\n  visit", "requird: true }\n  visit", "16:27: error, unknown-key: unknown key `requird`"),
    ];
    let mut failures = Vec::new();
    for (from, to, expected) in cases {
        assert!(FORM.contains(from), "{from}");
        let (_, problems) = form_of(&FORM.replacen(from, to, 1));
        let found = short(&problems);
        if !found.lines().any(|line| line.starts_with(&format!("form.yaml:{expected}"))) {
            failures.push(format!("{from} -> {to}: {expected}\n{found}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn fields_are_found_by_path_and_read_what_is_typed() {
    let form = form();
    let units: Arc<Units> = Units::standard();
    let read =
        |path: &str, text: &str| form.field(path).map(|field| field.read(text, &units).map_err(|unfit| unfit.message));
    assert_eq!(read("weights.going.hook", " brass "), Some(Ok(Value::Text("brass".into()))));
    assert_eq!(read("body.wood", "Walnut"), Some(Ok(Value::Text("walnut".into()))));
    assert_eq!(read("teeth_count", "unknown"), Some(Ok(Value::Unknown)));
    assert_eq!(read("notes", "a, b"), Some(Ok(Value::List(vec![Value::Text("a".into()), Value::Text("b".into())]))));
    assert!(matches!(read("body.height", "1.8 kg"), Some(Err(message)) if message.contains("mass")));
    assert!(matches!(read("body.height", ""), Some(Err(_))));
    assert!(matches!(read("weights.going", "x"), Some(Err(_))));
    assert!(read("weights.going.depth", "1").is_none() && read("nothing", "1").is_none());
    assert_eq!(form.signs["hands"].question(), "How many hands?");
    assert_eq!(form.fields["swing.sealed"].question(), "Swing sealed?");
}

#[test]
fn the_facts_of_a_job_are_read_under_their_own_section() {
    let form = form();
    let source = Source::new("job.yaml", "visit: { room: hall, distance: 3 mi }\nvisits: 1\n");
    let mut problems = Problems::new();
    let root = standpipe_yaml::parse(&source, &mut problems).expect("a tree");
    let facts = form.read_job(root.as_map().unwrap_or_default(), &root.head(), &Units::standard(), &mut problems);
    assert_eq!(facts.value("visit.room"), Some(&Value::Text("hall".into())));
    assert_eq!(
        short(&problems),
        "job.yaml:2:1: error, unknown-field: the form `clock` has no field `visits` (did you mean `visit`?)\n"
    );
    let mut problems = Problems::new();
    form.read_job(&[], &root.head(), &Units::standard(), &mut problems);
    assert_eq!(problems.iter().map(|p| p.code).collect::<Vec<_>>(), [Code::MissingField]);
}
