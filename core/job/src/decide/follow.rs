//! What has to be computed and judged again, and what is due again, because of a value that came or changed after them.
//!
//! Rounds that were made and work that was done stand. A verdict is judged again with the values that counted when it was
//! passed, as they now are.

use indexmap::{IndexMap, IndexSet};

use super::Decision;
use super::reopen::Change;
use crate::address::Address;
use crate::event::Event;
use crate::judge::{Judgement, judge};
use crate::names::JobNames;
use crate::said::Lack;
use crate::state::{Passed, Reading};
use standpipe_procedure::{Expr, Next, Progress, With};
use standpipe_quantity::value::Value;
use standpipe_script::Scripts;

/// The names that have changed, and whether what is known of the family or the job has.
#[derive(Default)]
pub(super) struct Changed {
    pub names: IndexSet<String>,
    pub facts: bool,
    /// The expressions themselves may be others.
    everything: bool,
}

impl Changed {
    pub fn everything() -> Self {
        Self { everything: true, ..Self::default() }
    }

    pub fn names(names: IndexSet<String>) -> Self {
        Self { names, ..Self::default() }
    }

    pub fn facts() -> Self {
        Self { facts: true, ..Self::default() }
    }

    pub fn touch(&self, scripts: &Scripts, expr: &Expr) -> bool {
        self.everything
            || expr.names(scripts).any(|name| match name.path.first().map(String::as_str) {
                Some("spec" | "job") => self.facts,
                Some(first) => self.names.contains(first),
                None => false,
            })
    }
}

impl Decision<'_> {
    /// `after`: what was computed or judged at an address, on what came before an event, and rests on what has changed.
    pub(super) fn follow(&mut self, mut changed: Changed, after: impl Fn(&Address, u64) -> bool) {
        let computed: Vec<Reading> = self
            .state
            .readings
            .iter()
            .filter(|reading| reading.computed && !reading.rejected && after(&reading.address, reading.seq))
            .cloned()
            .collect();
        for reading in &computed {
            self.compute_again(reading, &mut changed);
        }
        let passed: Vec<Passed> = self
            .state
            .verdicts
            .iter()
            .filter(|passed| !passed.superseded && after(&passed.address, passed.as_of))
            .cloned()
            .collect();
        for verdict in &passed {
            self.judge_again(verdict, &changed);
        }
        self.reopen(&Change::Values(&changed));
    }

    fn compute_again(&mut self, old: &Reading, changed: &mut Changed) {
        let plan = self.plan;
        let Some(step) = plan.step(&old.address.step) else { return };
        let next = step.kind.next(&Progress::default());
        let exprs: Vec<(String, &Expr)> = match &next {
            Next::Give { expr, .. } => vec![(String::new(), *expr)],
            Next::Call { with: With::Exprs(exprs), .. } => {
                exprs.iter().map(|(name, expr)| (name.clone(), expr)).collect()
            }
            _ => return,
        };
        if !exprs.iter().any(|(_, expr)| changed.touch(&plan.scripts, expr)) {
            return;
        }
        let mut used: Vec<String> = exprs.iter().flat_map(|(_, expr)| expr.uses(&plan.scripts)).collect();
        used.dedup();
        let names = JobNames::at(plan, &self.state, &old.address, old.at, old.seq);
        let (mut inputs, mut missing) = (IndexMap::new(), Vec::new());
        for (name, expr) in exprs {
            match expr.evaluate(&plan.scripts, &names) {
                Ok(value) => {
                    inputs.insert(name, value);
                }
                Err(fault) => missing.extend(Lack::of(fault)),
            }
        }
        let (sheet, gives, what) = match &next {
            Next::Call { sheet, gives, what, .. } => (Some(*sheet), *gives, *what),
            Next::Give { gives, what, .. } => (None, Some(*gives), *what),
            _ => return,
        };
        let mut warnings = Vec::new();
        let value = match sheet.and_then(|id| plan.sheets.get(id.as_str())) {
            None => inputs.shift_remove("").unwrap_or(Value::Unknown),
            Some(sheet) => match sheet.run(&plan.scripts, inputs.clone()) {
                Ok(outcome) => {
                    warnings = outcome.warnings;
                    Value::Record(outcome.outputs)
                }
                Err(fault) => {
                    missing.extend(Lack::of(fault));
                    Value::Unknown
                }
            },
        };
        if value == old.value {
            return;
        }
        changed.names.insert(old.name.clone());
        self.emit(Event::Computed {
            address: old.address.clone(),
            what: what.to_owned(),
            gives: gives.map(|name| name.value.clone()),
            sheet: sheet.map(|id| id.value.clone()),
            inputs,
            value,
            used,
            missing,
            warnings,
            supersedes: Some(old.seq),
        });
    }

    fn judge_again(&mut self, old: &Passed, changed: &Changed) {
        let plan = self.plan;
        let Some(gate) = plan.step(&old.address.step).and_then(|step| step.gate.as_ref()) else { return };
        if !changed.touch(&plan.scripts, &gate.must) {
            return;
        }
        let names = JobNames::at(plan, &self.state, &old.address, old.at, old.as_of);
        let Judgement { verdict, missing, likely } = judge(plan, gate, &names);
        if verdict == old.verdict {
            return;
        }
        let mut found = IndexMap::new();
        for name in gate.must.names(&plan.scripts) {
            if let Some(value) = names.path(&name.path) {
                found.insert(name.path.join("."), value);
            }
        }
        self.emit(Event::Judged {
            address: old.address.clone(),
            verdict,
            found,
            missing,
            likely,
            again: false,
            supersedes: Some(old.seq),
        });
    }
}
