//! Every shipped sheet against values from outside. tests/reference/SOURCES.md says where the values come from.

mod bench;
mod bolts;
mod fluids;
mod forecasts;
mod heat;
mod mixing;
mod money;
mod tools;

use indexmap::IndexMap;
use standpipe::library::Kind;
use standpipe::script::Fault;
use standpipe::value::Value;

use bench::Bench;

#[test]
fn every_sheet_and_script_is_sound_and_names_its_source() {
    let bench = Bench::new();
    assert!(bench.scripts.check().is_empty(), "{:?}", bench.scripts.check());
    let sheets: Vec<_> = bench.parsed.library.documents(Kind::Sheet).map(|sheet| sheet.id.clone()).collect();
    assert!(sheets.len() >= 13, "{sheets:?}");
    for id in sheets {
        let sheet = bench.sheet(&id);
        assert_eq!(sheet.id, id);
        let (_, doc) = sheet.check_script(&bench.scripts).unwrap_or_else(|problems| panic!("{id}: {problems:?}"));
        assert!(doc.contains("Source:"), "the function of {id} names no source: {doc}");
        assert!(sheet.formula.is_some(), "{id} says no formula in words");
    }
}

/// Every case of the shipped sheets; each sheet has one that is refused.
#[test]
fn the_cases_of_the_sheets_hold() {
    let bench = Bench::new();
    let units = bench.parsed.units.clone();
    let (mut held, mut refusals) = (Vec::new(), Vec::new());
    for document in bench.parsed.library.documents(Kind::Case).filter(|document| document.plugin == "calculations") {
        let mut problems = Vec::new();
        let case = standpipe::yaml::parse(&document.source, &mut problems).unwrap_or_else(|| panic!("{problems:?}"));
        let text = |key: &str| {
            case.get(key).and_then(|node| node.as_text()).unwrap_or_else(|| panic!("{key} in {}", document.id))
        };
        let sheet = bench.sheet(text("sheet"));
        assert!(!text("source").is_empty());
        let given = case.get("given").and_then(|node| node.as_map()).unwrap_or_default();
        let inputs: Result<IndexMap<String, Value>, Fault> = given
            .iter()
            .map(|(name, node)| {
                let value = sheet.inputs[name.as_str()].read_node(node, &units).map_err(Fault::Failed)?;
                Ok((name.value.clone(), value))
            })
            .collect();
        let result = inputs.and_then(|inputs| sheet.run(&bench.scripts, inputs));
        let expect = case.get("expect").expect("what is expected");
        if expect.get("refused").is_some() {
            assert!(matches!(result, Err(Fault::Failed(_))), "{} gives {result:?}", document.id);
            refusals.push(sheet.id);
            continue;
        }
        let outcome = result.unwrap_or_else(|fault| panic!("{}: {fault:?}", document.id));
        let tolerance = expect.get("tolerance").and_then(|node| node.as_text());
        for (name, node) in expect.as_map().unwrap_or_default().iter().filter(|(name, _)| name.value != "tolerance") {
            let output = &sheet.outputs[name.as_str()];
            let expected = output.read_node(node, &units).unwrap_or_else(|fault| panic!("{}: {fault:?}", document.id));
            let found = &outcome.outputs[name.as_str()];
            assert!(
                agree(found, &expected, tolerance),
                "{} {}: {found:?} instead of {expected:?}",
                document.id,
                name.value
            );
        }
        held.push(sheet.id);
    }
    for sheet in bench.parsed.library.documents(Kind::Sheet).filter(|sheet| sheet.plugin == "calculations") {
        assert!(held.contains(&sheet.id), "{} has no case", sheet.id);
        assert!(refusals.contains(&sheet.id), "{} has no case that is refused", sheet.id);
    }
}

/// A tolerance is a share, or a quantity with its unit.
fn agree(found: &Value, expected: &Value, tolerance: Option<&str>) -> bool {
    let close = |a: f64, b: f64| match tolerance {
        Some(text) => match text.parse::<f64>() {
            Ok(share) => (a - b).abs() <= share * b.abs(),
            Err(_) => match standpipe::quantity::Units::standard().read(text, None, None) {
                Ok(Value::Quantity(quantity)) => (a - b).abs() <= quantity.si,
                other => panic!("{other:?}"),
            },
        },
        None => a == b,
    };
    match (found, expected) {
        (Value::Number(a), Value::Number(b)) => close(*a, *b),
        (Value::Quantity(a), Value::Quantity(b)) => close(a.si, b.si),
        (Value::Range(a, b), Value::Range(c, d)) => close(a.si, c.si) && close(b.si, d.si),
        (Value::List(a), Value::List(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| agree(a, b, tolerance)),
        (a, b) => a == b,
    }
}
