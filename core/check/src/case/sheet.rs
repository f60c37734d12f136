//! Cases of sheets: what is given, what must come out, or that it must be refused.

use indexmap::IndexMap;

use super::compare::{self, Tolerance};
use super::{Bench, Line, Report};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_quantity::value::Value;
use standpipe_script::Fault;
use standpipe_yaml::{At, Node};

pub fn run(id: &At<String>, given: &IndexMap<At<String>, Node>, expect: &Node, bench: &Bench<'_>, report: &mut Report) {
    let Some(sheet) = bench.stock.sheets.get(id.as_str()) else { return };
    report.reached.sheets.insert(id.value.clone());
    let units = &bench.stock.units;
    let inputs: Result<IndexMap<String, Value>, Fault> = given
        .iter()
        .map(|(name, node)| match sheet.inputs.get(name.as_str()) {
            Some(input) => Ok((name.value.clone(), input.read_node(node, units).map_err(Fault::Failed)?)),
            // The sheet itself refuses what it does not know.
            None => Ok((name.value.clone(), Value::Text(node.as_text().unwrap_or_default().to_owned()))),
        })
        .collect();
    let outcome = inputs.and_then(|inputs| sheet.run(&bench.stock.scripts, inputs));
    if let Some((key, _)) = expect.entry("refused") {
        let (found, code) = match &outcome {
            Ok(_) => ("a result".to_owned(), None),
            Err(Fault::Failed(problem)) => (format!("refused: {}", problem.message), Some(problem.code)),
            Err(Fault::NotShown(names)) => (format!("not shown: {} not known", names.join(", ")), None),
        };
        report.lines.push(Line {
            what: "outcome".to_owned(),
            expected: "refused".to_owned(),
            found,
            difference: None,
            tolerance: None,
            holds: code.is_some(),
            place: key.place.clone(),
        });
        if let Some(wanted) = expect.get("code") {
            let (expected, found) = (wanted.as_text().unwrap_or_default(), code.map_or("none", Code::name));
            report.lines.push(Line {
                what: "code".to_owned(),
                expected: expected.to_owned(),
                found: found.to_owned(),
                difference: None,
                tolerance: None,
                holds: expected == found,
                place: wanted.place.clone(),
            });
        }
        return;
    }
    let outcome = match outcome {
        Ok(outcome) => outcome,
        Err(Fault::Failed(problem)) => {
            report.problems.push(*problem);
            return;
        }
        Err(Fault::NotShown(names)) => {
            let message = format!("there is no result: {} not known", names.join(", "));
            report.problems.push(Diagnostic::error(Code::CaseFails, &report.place, message));
            return;
        }
    };
    for (name, node) in expect.as_map().unwrap_or_default() {
        if name.value == "tolerance" {
            continue;
        }
        let Some(output) = sheet.outputs.get(name.as_str()) else { continue };
        match output.read_node(node, units) {
            Ok(expected) => {
                let tolerance = tolerance(expect, name);
                let found = outcome.outputs.get(name.as_str());
                report.lines.push(compare::line(name, &expected, found, &tolerance, units, &name.place));
            }
            Err(problem) => report.problems.push(*problem),
        }
    }
}

/// One for all outputs, or one for each.
fn tolerance(expect: &Node, output: &str) -> Tolerance {
    let node = expect.get("tolerance");
    Tolerance::read(node.and_then(|node| node.as_text().or_else(|| node.get(output)?.as_text())))
}
