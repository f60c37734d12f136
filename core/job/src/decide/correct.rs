//! A correction, and what has to be computed and judged again because of it.
//!
//! Branches and rounds stand as they were taken. A verdict is judged again with the values that counted when it was
//! passed, as they now are.

use indexmap::{IndexMap, IndexSet};

use super::{Decision, needs_reason};
use crate::event::Event;
use crate::input::Refusal;
use crate::judge::{Judgement, judge};
use crate::names::JobNames;
use crate::state::{Passed, Reading};
use standpipe_diagnostic::{Code, nearest};
use standpipe_procedure::{Expr, Next, Progress, With};
use standpipe_quantity::value::Value;
use standpipe_script::Fault;

impl Decision<'_> {
    pub(super) fn correct(
        &mut self,
        entry: Option<u64>,
        values: &IndexMap<String, String>,
        because: &str,
    ) -> Result<(), Refusal> {
        needs_reason(because)?;
        let mut earliest = u64::MAX;
        let mut changed: IndexSet<String> = IndexSet::new();
        for (name, typed) in values {
            let (entry, value) = self.corrected(entry, name, typed)?;
            earliest = earliest.min(entry);
            changed.insert(name.clone());
            self.emit(Event::Corrected {
                entry,
                values: IndexMap::from([(name.clone(), value)]),
                typed: IndexMap::from([(name.clone(), typed.clone())]),
                because: because.to_owned(),
            });
        }
        self.recompute(earliest, changed.clone());
        if self.plan.sign_names().iter().any(|(name, _)| changed.contains(name))
            && let Some(reading) = changed.iter().find_map(|name| self.state.latest(name))
        {
            let address = reading.address.clone();
            self.recognise(&address);
        }
        Ok(())
    }

    /// The entry that a name's correction is about, and the new value.
    fn corrected(&self, entry: Option<u64>, name: &str, typed: &str) -> Result<(u64, Value), Refusal> {
        let found = self.state.readings.iter().rev().find(|reading| {
            reading.name == name && !reading.rejected && entry.is_none_or(|entry| entry == reading.seq)
        });
        let Some(reading) = found else {
            let known = self.state.readings.iter().filter(|r| !r.computed).map(|r| r.name.as_str());
            let mut refusal = Refusal::new(Code::UnfitAnswer, format!("nothing has been entered for `{name}` yet"));
            if let Some(near) = nearest(name, known) {
                refusal = refusal.help(format!("did you mean `{near}`?"));
            }
            return Err(refusal);
        };
        if reading.computed {
            return Err(Refusal::new(Code::UnfitAnswer, format!("`{name}` is computed"))
                .help("correct what it was computed from; it follows"));
        }
        let field = self
            .plan
            .step(&reading.address.step)
            .and_then(|step| step.kind.fields().iter().find(|field| field.name.as_str() == name));
        let Some(field) = field else {
            return Err(Refusal::new(Code::UnfitAnswer, format!("`{name}` is not a value that can be corrected")));
        };
        let unit = reading.with.as_ref().and_then(|id| self.plan.shop.unit_of(id));
        let value =
            field.read(typed, &self.plan.units, unit.as_deref()).map_err(|misread| Refusal::misread(name, misread))?;
        if let Value::Text(person) = &value {
            self.person(field, person, &IndexMap::new())?;
        }
        Ok((reading.seq, value))
    }

    fn recompute(&mut self, since: u64, mut changed: IndexSet<String>) {
        let computed: Vec<Reading> =
            self.state.readings.iter().filter(|reading| reading.computed && reading.seq > since).cloned().collect();
        let passed: Vec<Passed> =
            self.state.verdicts.iter().filter(|passed| !passed.superseded && passed.as_of > since).cloned().collect();
        for reading in &computed {
            self.compute_again(reading, &mut changed);
        }
        for verdict in &passed {
            self.judge_again(verdict, &changed);
        }
    }

    fn compute_again(&mut self, old: &Reading, changed: &mut IndexSet<String>) {
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
        let mut used: Vec<String> = exprs.iter().flat_map(|(_, expr)| expr.uses(&plan.scripts)).collect();
        used.dedup();
        if !used.iter().any(|name| changed.contains(name)) {
            return;
        }
        let names = JobNames::as_of(plan, &self.state, old.at, old.address.round(), old.seq);
        let (mut inputs, mut missing) = (IndexMap::new(), Vec::new());
        for (name, expr) in exprs {
            match expr.evaluate(&plan.scripts, &names) {
                Ok(value) => {
                    inputs.insert(name, value);
                }
                Err(Fault::NotShown(names)) => missing.extend(names),
                Err(Fault::Failed(diagnostic)) => missing.push(diagnostic.message.clone()),
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
                Err(Fault::NotShown(names)) => {
                    missing.extend(names);
                    Value::Unknown
                }
                Err(Fault::Failed(diagnostic)) => {
                    missing.push(diagnostic.message.clone());
                    Value::Unknown
                }
            },
        };
        if value == old.value {
            return;
        }
        changed.insert(old.name.clone());
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

    fn judge_again(&mut self, old: &Passed, changed: &IndexSet<String>) {
        let plan = self.plan;
        let Some(gate) = plan.step(&old.address.step).and_then(|step| step.gate.as_ref()) else { return };
        if !gate.must.uses(&plan.scripts).iter().any(|name| changed.contains(name)) {
            return;
        }
        let names = JobNames::as_of(plan, &self.state, old.at, old.address.round(), old.as_of);
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
