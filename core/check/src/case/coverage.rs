//! What the cases came to, and what none of them did.

use indexmap::{IndexMap, IndexSet};

use crate::Stock;
use standpipe_job::{Event, Machine, Record, Verdict};
use standpipe_procedure::Children;
use standpipe_quantity::value::Value;

/// Steps, gates and sheets that cases came to, by their ids.
#[derive(Clone, Debug, Default)]
pub struct Reached {
    pub sheets: IndexSet<String>,
    pub procedures: IndexSet<String>,
    pub steps: IndexSet<String>,
    pub met: IndexSet<String>,
    pub not_met: IndexSet<String>,
    /// Steps whose `when` held, and those whose `when` did not.
    pub taken: IndexSet<String>,
    pub passed_by: IndexSet<String>,
}

impl Reached {
    pub fn job(&mut self, machine: &Machine, records: &[Record]) {
        for record in records {
            match &record.event {
                Event::Entered { address, .. } => {
                    self.steps.insert(address.step.clone());
                }
                Event::Computed { address, sheet, .. } => {
                    self.steps.insert(address.step.clone());
                    self.sheets.extend(sheet.clone());
                }
                Event::Settled { address, what, value, .. } if what == "when" => {
                    match value {
                        Value::Truth(true) => self.taken.insert(address.step.clone()),
                        Value::Truth(false) => self.passed_by.insert(address.step.clone()),
                        _ => false,
                    };
                }
                Event::Judged { address, verdict, .. } => {
                    match verdict {
                        Verdict::Met => self.met.insert(address.step.clone()),
                        Verdict::NotMet => self.not_met.insert(address.step.clone()),
                        Verdict::NotShown => false,
                    };
                }
                _ => {}
            }
        }
        self.procedures.extend(machine.plan.procedures.keys().cloned());
    }

    pub fn extend(&mut self, other: &Reached) {
        let pairs = [
            (&mut self.sheets, &other.sheets),
            (&mut self.procedures, &other.procedures),
            (&mut self.steps, &other.steps),
            (&mut self.met, &other.met),
            (&mut self.not_met, &other.not_met),
            (&mut self.taken, &other.taken),
            (&mut self.passed_by, &other.passed_by),
        ];
        for (own, more) in pairs {
            own.extend(more.iter().cloned());
        }
    }
}

/// Reached, and all there are.
#[derive(Clone, Debug, Default)]
pub struct Part {
    pub reached: usize,
    pub all: usize,
    /// What is missing, with the procedure it stands in.
    pub missing: Vec<String>,
}

/// How much of what plugins bring is tried by their cases.
#[derive(Clone, Debug, Default)]
pub struct Coverage(pub IndexMap<&'static str, Part>);

impl Coverage {
    /// Over the sheets and procedures for which `concerns` holds: those of the plugins that are tested.
    pub fn of(stock: &Stock, reached: &Reached, concerns: &dyn Fn(&str, &str) -> bool) -> Self {
        let mut parts: IndexMap<&'static str, Part> = IndexMap::new();
        let mut count = |what: &'static str, there: bool, name: &dyn Fn() -> String| {
            let part = parts.entry(what).or_default();
            part.all += 1;
            if there {
                part.reached += 1;
            } else {
                part.missing.push(name());
            }
        };
        for sheet in stock.sheets.keys().filter(|id| concerns("sheet", id)) {
            count("sheets", reached.sheets.contains(sheet), &|| sheet.clone());
        }
        for procedure in stock.procedures.values().filter(|one| concerns("procedure", &one.id)) {
            for step in procedure.all_steps() {
                let id = step.id.value.as_str();
                let name = || format!("{id} ({})", procedure.id.value);
                // A block is there through its steps.
                if matches!(step.kind.children(), Children::None) {
                    count("steps", reached.steps.contains(id), &name);
                }
                if step.gate.is_some() {
                    count("gates met", reached.met.contains(id), &name);
                    count("gates not met", reached.not_met.contains(id), &name);
                }
                if step.when.is_some() {
                    count("conditions that held", reached.taken.contains(id), &name);
                    count("conditions that did not", reached.passed_by.contains(id), &name);
                }
            }
        }
        Self(parts)
    }
}
