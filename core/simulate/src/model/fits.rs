//! A model held against the procedures that it answers: it answers all they ask, and nothing that nobody asks.

use std::collections::HashSet;

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};

use standpipe_procedure::{Field, FieldKind, Procedure, Step, WORDS};
use standpipe_script::Scripts;

use super::{AGAIN, DONE, ITEM, Model, NIGHT, ONCE_MORE, Truth};

impl Model {
    /// Whether its functions are there, each taking one record.
    pub fn check_functions(&self, scripts: &Scripts, problems: &mut Problems) {
        for function in self.functions() {
            if let Err(faults) = scripts.check_function(&self.plugin, &self.function(&function), &function.place) {
                problems.extend(faults);
            }
        }
    }

    /// The truth of a field at a step.
    pub fn truth_of(&self, step: &Step, field: &Field) -> Option<&Truth> {
        let name = field.name.as_str();
        self.truth.get(format!("{}.{name}", step.id.value).as_str()).or_else(|| self.truth.get(name))
    }

    /// Holds it against all procedures that it can come to, those included, called and run when pausing among them.
    ///
    /// `whole`: nothing was left out of them for the occasion; else it may well name what is not there.
    pub fn check_against(&self, procedures: &[&Procedure], whole: bool, problems: &mut Problems) {
        let steps: Vec<&Step> = procedures.iter().flat_map(|procedure| procedure.all_steps()).collect();
        for step in &steps {
            for field in step.kind.fields().iter().filter(|field| wants_truth(field)) {
                match self.truth_of(step, field) {
                    None => problems.push(unanswered(self, step, field)),
                    Some(Truth::Says(words)) => says(words, field, step, problems),
                    Some(_) => {}
                }
            }
        }
        if !whole {
            return;
        }
        // A shop may leave out what the model knows of.
        let mut steps = steps;
        procedures.iter().flat_map(|procedure| &procedure.left_out).for_each(|gone| gone.step.and_inner(&mut steps));
        let ids: Vec<&str> = steps.iter().map(|step| step.id.as_str()).collect();
        let raised: Vec<&str> = steps.iter().flat_map(|step| &step.raises).map(|event| event.as_str()).collect();
        let names: HashSet<&str> =
            steps.iter().flat_map(|step| step.kind.fields()).map(|field| field.name.as_str()).collect();
        for key in self.truth.keys() {
            let (step, name) = key.split_once('.').map_or((None, key.as_str()), |(step, name)| (Some(step), name));
            if let Some(step) = step
                && !ids.contains(&step)
            {
                problems.push(unknown(&key.place, "step", step, &ids));
            } else if !names.contains(name) {
                problems.push(unknown(&key.place, "value that a step asks for", name, &sorted(&names)));
            }
        }
        let called: Vec<&str> =
            procedures.iter().flat_map(|procedure| &procedure.reachable).map(|id| id.as_str()).collect();
        for key in self.effects.keys() {
            let (of, what, known) = match key.rsplit_once('.') {
                Some((step, ONCE_MORE)) => (step, "step", ids.clone()),
                Some((procedure, DONE)) => (procedure, "procedure that can be called", called.clone()),
                _ => (key.as_str(), "step or event", [ids.as_slice(), &raised].concat()),
            };
            if !known.contains(&of) {
                problems.push(unknown(&key.place, what, of, &known));
            }
        }
        let words: Vec<&str> = WORDS.iter().copied().chain([ITEM, AGAIN, NIGHT]).collect();
        for key in self.times.keys().filter(|key| !ids.contains(&key.as_str()) && !words.contains(&key.as_str())) {
            problems.push(unknown(&key.place, "step or kind of step", key, &[words.as_slice(), &ids].concat()));
        }
        for key in self.calls.keys().filter(|key| !called.contains(&key.as_str())) {
            problems.push(unknown(&key.place, "procedure that can be called", key, &called));
        }
    }
}

/// The rest has an answer that changes nothing: a confirmation, somebody who is allowed, the day, words.
pub fn wants_truth(field: &Field) -> bool {
    !field.optional
        && matches!(field.kind, FieldKind::Quantity(_) | FieldKind::Count | FieldKind::Choice(_) | FieldKind::Sign(_))
}

fn unanswered(model: &Model, step: &Step, field: &Field) -> Diagnostic {
    let name = &field.name.value;
    let message = format!("`{}` asks for `{name}`, and the model `{}` does not know it", step.id.value, model.id);
    Diagnostic::error(Code::FaultyModel, &model.place, message)
        .also(&step.place, "asked here")
        .help(format!("add to its `truth:` a line `{name}: {{ is: FUNCTION }}`"))
}

fn says(words: &str, field: &Field, step: &Step, problems: &mut Problems) {
    if let FieldKind::Choice(options) = &field.kind
        && !options.iter().any(|(option, _)| option == words)
    {
        let known: Vec<&str> = options.iter().map(|(option, _)| option.as_str()).collect();
        let message = format!("`{words}` is none of the options of `{}`", step.id.value);
        problems.push(
            Diagnostic::error(Code::FaultyModel, &field.name.place, message)
                .expected(format!("one of: {}", known.join(", ")))
                .help("correct `says:` in the model"),
        );
    }
}

fn sorted<'a>(names: &HashSet<&'a str>) -> Vec<&'a str> {
    let mut names: Vec<&str> = names.iter().copied().collect();
    names.sort_unstable();
    names
}

fn unknown(place: &Place, what: &str, name: &str, known: &[&str]) -> Diagnostic {
    let problem = Diagnostic::error(Code::FaultyModel, place, format!("there is no {what} `{name}`"));
    problem.nearest(name, known.iter().copied(), "name one that the procedures have, or take the line out")
}
