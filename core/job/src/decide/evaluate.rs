//! Running an expression of the plan, and what it means when something is missing.

use super::Decision;
use crate::address::Address;
use crate::names::JobNames;
use standpipe_diagnostic::Diagnostic;
use standpipe_procedure::Expr;
use standpipe_quantity::value::Value;
use standpipe_script::Fault;

pub(super) enum Evaluated {
    Value(Value),
    /// Nobody has read or computed these.
    Missing(Vec<String>),
    /// Facts of the family or the job that nobody has entered.
    Unknown(Vec<String>),
    /// Readings that have grown too old, or that something ended: to be asked again.
    Stale {
        names: Vec<String>,
        addresses: Vec<Address>,
        by: String,
    },
    Fault(Box<Diagnostic>),
}

impl Decision<'_> {
    pub(super) fn evaluate(&self, expr: &Expr, round: u32) -> Evaluated {
        let names = self.names(round);
        match expr.evaluate(&self.plan.scripts, &names) {
            Ok(value) => Evaluated::Value(value),
            Err(Fault::Failed(diagnostic)) => Evaluated::Fault(diagnostic),
            Err(Fault::NotShown(missing)) => self.classify(&names, missing),
        }
    }

    fn classify(&self, names: &JobNames<'_>, missing: Vec<String>) -> Evaluated {
        let facts = |path: &&String| path.starts_with("spec.") || path.starts_with("job.");
        let unknown: Vec<String> = missing.iter().filter(facts).cloned().collect();
        if !unknown.is_empty() {
            return Evaluated::Unknown(unknown);
        }
        let (mut addresses, mut old, mut by) = (Vec::new(), Vec::new(), String::new());
        for path in &missing {
            let name = path.split('.').next().unwrap_or(path);
            let (reading, because) = match names.stale(name) {
                Some(reading) => (reading, "age".to_owned()),
                None => match self.state.readings.iter().rev().find(|reading| reading.ended && reading.name == name) {
                    Some(reading) => (reading, "what ended it".to_owned()),
                    None => continue,
                },
            };
            by = because;
            old.push(name.to_owned());
            if !addresses.contains(&reading.address.whole()) {
                addresses.push(reading.address.whole());
            }
        }
        if addresses.is_empty() { Evaluated::Missing(missing) } else { Evaluated::Stale { names: old, addresses, by } }
    }
}
