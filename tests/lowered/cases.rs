//! Every case of a sheet that is shipped, by the interpreter and by a program.

use std::collections::BTreeMap;

use indexmap::IndexMap;
use standpipe::case::{Case, What};
use standpipe::check::Stock;
use standpipe::library::Files;
use standpipe::plan::Parsed;
use standpipe::sheet::Places;

use super::both_ways::{compare, interpreted};

#[test]
fn every_case_of_a_sheet_comes_to_the_same_both_ways() {
    let mut problems = Vec::new();
    let parsed = Parsed::new(Files::built_in(), &mut problems);
    let stock = Stock::read(&parsed, &mut [], &mut problems);
    let cases = Case::all(&parsed, &stock, &mut problems);
    assert!(problems.is_empty(), "{problems:?}");
    let (mut by_program, mut handed_over, mut faults) = (BTreeMap::new(), BTreeMap::new(), Vec::new());
    for case in &cases {
        let What::Sheet { sheet, given, .. } = &case.what else { continue };
        let sheet = &stock.sheets[sheet.as_str()];
        let inputs: Result<IndexMap<_, _>, _> = given
            .iter()
            .filter(|(name, _)| sheet.inputs.contains_key(name.as_str()))
            .map(|(name, node)| {
                sheet.inputs[name.as_str()].read_node(node, &stock.units).map(|value| (name.value.clone(), value))
            })
            .collect();
        let Ok(inputs) = inputs else { continue };
        let Ok(checked) = sheet.check_inputs(inputs, &stock.units, &Places::default()) else { continue };
        let expected = interpreted(&stock.scripts, &sheet.plugin, &sheet.script, &checked.values);
        let Some(program) = stock.scripts.lower_call(&sheet.plugin, &sheet.script, &checked.values) else { continue };
        match compare(&program, &checked.values, &expected) {
            Ok(Some(())) => *by_program.entry(sheet.id.clone()).or_insert(0) += 1,
            Ok(None) => {
                let why = program.reasons().into_iter().map(|(why, place)| format!("{place}: {why}"));
                handed_over.insert(case.id.value.clone(), why.collect::<Vec<_>>());
            }
            Err(difference) => {
                faults.push(format!("{} ({}): {difference}\n{}", case.id.value, sheet.id, program.dump()))
            }
        }
    }
    println!("by a program: {by_program:#?}");
    println!("by the interpreter: {handed_over:#?}");
    assert!(faults.is_empty(), "{}", faults.join("\n\n"));
    assert!(by_program.len() > 20, "{by_program:?}");
}
