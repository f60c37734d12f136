//! The plan of one job: procedures, family, shop and job facts, with every number settled.
//!
//! A plan is built from texts alone, and keeps them: the same code builds it again from the snapshot in a job's folder,
//! whatever has become of the files since.

use std::ops::Deref;
use std::rc::Rc;
use std::sync::Arc;

use indexmap::IndexMap;

use crate::quick::QuickMap;
use standpipe_form::{Family, Form};
use standpipe_library::Shop;
use standpipe_overlay::SetValue;
use standpipe_procedure::{Children, Next, Procedure, Progress, Step};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_script::Scripts;
use standpipe_sheet::Sheet;

mod accuracies;
mod apart;
mod build;
mod ends;
mod facts;
mod job_sheet;
mod kept;
mod overlaid;
mod reach;
mod renewed;
mod sections;
mod sequence;
mod snapshot;

pub use apart::Private;
pub(crate) use apart::typed_as;
pub use build::{Inputs, Parsed, build, typed};
pub use job_sheet::{JobSheet, KEYS as JOB_KEYS, RawJob};
pub use kept::{Kept, facts_of, kept};
pub use overlaid::Overlaid;
pub use reach::{circles, left_open, reach};
pub use renewed::{changed, renewed, replaced, unfit};
use sequence::Span;
pub use snapshot::{PlanText, Simulated, Snapshot, sha256};

#[derive(Clone)]
pub struct Plan {
    /// Hash of everything it is built from.
    pub hash: String,
    /// Plans of this process that were built apart have different ones; never 0.
    pub(crate) stamp: u64,
    /// Anything in it is invented.
    pub invented: bool,
    pub job: JobSheet,
    pub snapshot: Snapshot,
    shared: Rc<Shared>,
}

/// What jobs with one procedure have in common, in one shop and for one family: all but what the job file says.
pub struct Shared {
    /// Anything in it is invented.
    invented: bool,
    pub units: Arc<Units>,
    pub scripts: Scripts,
    pub shop: Shop,
    pub form: Form,
    pub family: Family,
    /// As the job file names it.
    family_named: String,
    /// Id of the procedure of the job.
    pub procedure: String,
    /// That one, and every procedure that can be reached from it.
    pub procedures: IndexMap<String, Procedure>,
    /// Values of the family that the shop's overlays set.
    pub values: Vec<SetValue>,
    pub sheets: IndexMap<String, Sheet>,
    /// What an expression sees as `shop`.
    pub(crate) shop_facts: Value,
    /// Where each step stands: the number of its procedure, and its number in the block around it, outermost first.
    places: QuickMap<String, Place>,
    /// Ids of the steps of the main procedure that a person or a computation does, in order.
    order: Vec<String>,
    /// The `repeat` that encloses a step, with its most rounds.
    enclosing: QuickMap<String, (String, u32)>,
    /// Where every step of the main procedure lies.
    spans: QuickMap<String, Span>,
}

impl Deref for Plan {
    type Target = Shared;

    fn deref(&self) -> &Shared {
        &self.shared
    }
}

impl Plan {
    pub fn main(&self) -> &Procedure {
        // `build` refuses a plan without it.
        &self.procedures[self.procedure.as_str()]
    }

    pub fn procedure(&self, id: &str) -> Option<&Procedure> {
        self.procedures.get(id)
    }

    /// What answers the job, where that is a model.
    pub fn simulated(&self) -> Option<&Simulated> {
        self.snapshot.simulated.as_ref()
    }

    /// The same plan for a job that a model answers. Its hash is another one: nothing can take that back unseen.
    pub fn simulated_by(self, simulated: Simulated) -> Self {
        let snapshot = Snapshot { simulated: Some(simulated), ..self.snapshot };
        Self { hash: snapshot.hash(), snapshot, ..self }
    }

    /// The step of an id; ids are unique over all procedures of a plan.
    pub fn step(&self, id: &str) -> Option<&Step> {
        let (procedure, path) = self.places.get(id)?;
        let (last, within) = path.split_last()?;
        let mut steps = self.procedures[*procedure].steps.as_slice();
        for index in within {
            match steps[*index].kind.children() {
                Children::Steps(children) => steps = children,
                _ => return None,
            }
        }
        steps.get(*last)
    }

    /// The procedure that a step is written in.
    pub fn procedure_of(&self, step: &str) -> Option<&Procedure> {
        Some(&self.procedures[self.places.get(step)?.0])
    }

    /// Text of a caution, from the procedure whose step names it.
    pub fn caution(&self, id: &standpipe_yaml::At<String>) -> Option<String> {
        // Not by its file: a step that an overlay added is written elsewhere.
        let names = |step: &&Step| step.caution.iter().any(|named| named.place == id.place);
        let own = self.procedures.values().find(|procedure| procedure.all_steps().iter().any(names));
        own?.cautions.get(id.as_str()).map(|text| text.value.clone())
    }

    /// Number of a step, and how many there are; (0, n) for steps of procedures that are called.
    pub fn position(&self, step: &str) -> (usize, usize) {
        let at = self.order.iter().position(|id| id == step).map_or(0, |index| index + 1);
        (at, self.order.len())
    }

    /// Steps of the main procedure in order, those of included procedures among them.
    pub fn order(&self) -> &[String] {
        &self.order
    }

    pub fn enclosing_repeat(&self, step: &str) -> Option<&str> {
        self.enclosing.get(step).map(|(repeat, _)| repeat.as_str())
    }

    pub fn most_rounds(&self, step: &str) -> Option<u32> {
        self.enclosing.get(step).map(|(_, most)| *most)
    }

    /// A result, with the digits that make sense.
    pub fn show_computed(&self, value: &Value) -> String {
        self.units.show_value(value, &self.shop.style)
    }

    /// In the shop's units.
    pub fn show(&self, value: &Value) -> String {
        self.units.show_value(value, &self.shop.style)
    }

    /// As [`Self::show`]; a pure number that a sheet gives in a unit is shown in that: `4.9 %` rather than 0.049.
    pub fn show_named(&self, name: &str, value: &Value) -> String {
        let in_unit = |number: f64| {
            let unit = self.unit_of_output(name)?;
            self.units.show_in(&Quantity::number(number), unit, &self.shop.style)
        };
        match value {
            Value::Number(number) => in_unit(*number).unwrap_or_else(|| self.show(value)),
            _ => self.show(value),
        }
    }

    /// The unit that the sheet behind `state.strength` shows that output in.
    fn unit_of_output(&self, name: &str) -> Option<&str> {
        let (gives, output) = name.split_once('.')?;
        let mut steps = self.procedures.values().flat_map(Procedure::all_steps);
        let sheet = steps.find_map(|step| match step.kind.next(&Progress::default()) {
            Next::Call { sheet, gives: Some(given), .. } if given.as_str() == gives => Some(sheet),
            _ => None,
        })?;
        self.sheets.get(sheet.as_str())?.outputs.get(output)?.unit.as_deref()
    }
}

type Place = (usize, Vec<usize>);

/// Where each step stands; the first of an id that stands twice.
fn places(procedures: &IndexMap<String, Procedure>) -> QuickMap<String, Place> {
    fn walk(steps: &[Step], procedure: usize, within: &mut Vec<usize>, places: &mut QuickMap<String, Place>) {
        for (index, step) in steps.iter().enumerate() {
            within.push(index);
            places.entry(step.id.value.clone()).or_insert_with(|| (procedure, within.clone()));
            if let Children::Steps(children) = step.kind.children() {
                walk(children, procedure, within, places);
            }
            within.pop();
        }
    }
    let mut places = QuickMap::default();
    for (index, procedure) in procedures.values().enumerate() {
        walk(&procedure.steps, index, &mut Vec::new(), &mut places);
    }
    places
}
