//! All that the runs of a simulation have in common, on one thread.

use std::collections::HashMap;

use indexmap::IndexMap;

use standpipe_diagnostic::Problems;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::{Machine, Moment, State};
use standpipe_procedure::{Children, Procedure, Step};
use standpipe_quantity::value::Value;
use standpipe_script::{Fault, Scripts};

use crate::interpreted::Watched;
use crate::model::Model;
use crate::people::People;

/// Machine, model and people.
pub struct Bench<'a> {
    pub machine: Machine,
    pub model: &'a Model,
    pub people: People,
    /// Those of the model; the machine has its own.
    pub scripts: Scripts,
    /// Variants that units are drawn from, with what the model knows of each.
    pub units: Vec<(Option<String>, IndexMap<String, Value>)>,
    /// Names that a step shows, by its id.
    pub(crate) shows: HashMap<String, Vec<Vec<String>>>,
    /// Steps, each with the nearest one around it that repeats what is in it.
    pub(crate) repeats: HashMap<String, String>,
    /// Where it is wanted: how functions of the model were worked out.
    pub(crate) watched: Option<Watched>,
}

impl<'a> Bench<'a> {
    /// `variant`: the only one that units are of; `whole`: no step was left out of the procedures.
    pub fn new(
        plan: Plan,
        model: &'a Model,
        people: People,
        scripts: Scripts,
        variant: Option<&str>,
        whole: bool,
        problems: &mut Problems,
    ) -> Option<Self> {
        let before = problems.len();
        let all: Vec<Option<String>> = match variant {
            Some(only) => vec![Some(only.to_owned())],
            None if plan.family.variants.is_empty() => vec![None],
            None => plan.family.variants.keys().cloned().map(Some).collect(),
        };
        let mut units = Vec::new();
        for variant in all {
            let known = known(&plan, model, &scripts, variant.as_deref(), problems);
            units.push((variant, known));
        }
        let procedures: Vec<&Procedure> = plan.procedures.values().collect();
        model.check_functions(&scripts, problems);
        model.check_against(&procedures, whole, problems);
        let steps = procedures.iter().flat_map(|procedure| procedure.all_steps());
        let shows = steps.map(|step| (step.id.value.clone(), names_shown(step))).collect();
        let mut repeats = HashMap::new();
        if let Some(root) = plan.procedure(&plan.procedure) {
            repeated(&plan, &root.steps, None, &mut repeats);
        }
        let machine = Machine::new(plan);
        (problems.len() == before).then_some(Self {
            machine,
            model,
            people,
            scripts,
            units,
            shows,
            repeats,
            watched: None,
        })
    }

    pub fn plan(&self) -> &Plan {
        &self.machine.plan
    }
}

/// What the model wants to know of the family, in one of its variants.
fn known(
    plan: &Plan,
    model: &Model,
    scripts: &Scripts,
    variant: Option<&str>,
    problems: &mut Problems,
) -> IndexMap<String, Value> {
    let state = State { variant: variant.map(str::to_owned), ..State::default() };
    let names = JobNames::new(plan, &state, Moment::default(), 1);
    let mut all = IndexMap::new();
    for (name, script) in &model.known {
        let value = match scripts.compile_for(&model.plugin, script) {
            Ok(expression) => scripts.evaluate(&expression, &names),
            Err(faults) => {
                problems.extend(faults);
                continue;
            }
        };
        match value {
            Ok(value) => {
                all.insert(name.clone(), value);
            }
            Err(Fault::Failed(problem)) => problems.push(*problem),
            // A function that wants it all the same says so at its line.
            Err(Fault::NotShown(_)) => {}
        }
    }
    all
}

/// What stands in a procedure that is included is repeated with it.
fn repeated(plan: &Plan, steps: &[Step], around: Option<&str>, all: &mut HashMap<String, String>) {
    for step in steps {
        if let Some(around) = around {
            all.insert(step.id.value.clone(), around.to_owned());
        }
        let around = if step.kind.most_rounds().is_some() { Some(step.id.as_str()) } else { around };
        match step.kind.children() {
            Children::Steps(inner) => repeated(plan, inner, around, all),
            Children::Procedure(id) => {
                let inner = plan.procedure(id).map_or(&[][..], |procedure| &procedure.steps);
                repeated(plan, inner, around, all);
            }
            Children::None => {}
        }
    }
}

/// Entered and computed names that stand on the screen of a step, each once. What is known of family, job and shop a model
/// asks for by itself.
fn names_shown(step: &Step) -> Vec<Vec<String>> {
    let texts = std::iter::once(&step.title).chain(&step.show).chain(step.kind.texts());
    let mut all: Vec<Vec<String>> = Vec::new();
    for path in texts.flat_map(|text| text.paths()) {
        let own = !path.first().is_some_and(|first| ["spec", "job", "shop", "round"].contains(&first.as_str()));
        if own && !all.iter().any(|known| known == path) {
            all.push(path.to_vec());
        }
    }
    all
}
