//! What a simulation is made of. Benches are made of it, one for each thread.

use std::sync::Arc;

use crate::bench::Bench;
use crate::changes::Changes;
use crate::job_text::job;
use crate::model::Model;
use crate::people::People;
use crate::without::Part;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors};
use standpipe_job::plan::{Inputs, Parsed, Plan, build};
use standpipe_library::{Files, Kind};
use standpipe_yaml::At;

/// What is asked of a simulation, each with its place.
#[derive(Clone, Debug)]
pub struct Question {
    pub procedure: At<String>,
    /// Family of the units, or `FAMILY/VARIANT`.
    pub family: At<String>,
    /// By default the only one that serves the procedure and is not like another.
    pub model: Option<At<String>>,
    pub people: At<String>,
    /// So many times the chances of what people do wrong.
    pub rates: f64,
    pub seed: u64,
    pub changes: Changes,
}

impl Question {
    /// The model that is named, or the only one that serves the procedure and is not like another.
    pub fn model(&self, parsed: &Parsed, problems: &mut Problems) -> Option<Model> {
        if let Some(id) = &self.model {
            let document = parsed.library.find(Kind::Model, id, problems)?;
            return Model::read(document, &parsed.library, &parsed.units, problems);
        }
        let procedure = &self.procedure;
        let mut found = Vec::new();
        for document in parsed.library.documents(Kind::Model) {
            let model = Model::read(document, &parsed.library, &parsed.units, problems);
            found.extend(model.filter(|model| model.serves.iter().any(|id| id.value == procedure.value)));
        }
        let by_itself = |model: &Model| model.like.is_none();
        if found.len() == 1 || found.iter().filter(|model| by_itself(model)).count() == 1 {
            let at = found.iter().position(by_itself).unwrap_or(0);
            return Some(found.swap_remove(at));
        }
        let known: Vec<&str> = found.iter().map(|model| model.id.as_str()).collect();
        let message = match found.len() {
            0 => format!("no model answers `{}`", procedure.value),
            count => format!("{count} models answer `{}`: {}", procedure.value, known.join(", ")),
        };
        problems.push(
            Diagnostic::error(Code::UnknownReference, &procedure.place, message)
                .help("name the one that is meant: `--model ID`, in a case `model: ID`"),
        );
        None
    }
}

/// Texts, model and people that answer one question.
pub struct Stand {
    /// With what was changed in them.
    pub files: Files,
    pub shop: Option<Arc<Source>>,
    pub model: Model,
    pub people: People,
    pub family: String,
    pub procedure: String,
    pub seed: u64,
    /// What was left out of the texts.
    pub left_out: Vec<(String, Part)>,
    /// No step is left out.
    pub whole: bool,
}

impl Stand {
    /// `parsed`: what the files come to; `shop`: instead of the one that the model names.
    ///
    /// Errors: nothing of such an id, or it has a fault; a change that can't be made.
    pub fn new(
        question: &Question,
        files: &Files,
        parsed: &Parsed,
        shop: Option<Arc<Source>>,
        problems: &mut Problems,
    ) -> Option<Self> {
        parsed.library.find(Kind::Procedure, &question.procedure, problems)?;
        let model = question.model(parsed, problems)?;
        let document = parsed.library.find(Kind::People, &question.people, problems)?;
        let people = People::read(&document.source, problems)?.times(question.rates);
        let shop = match (shop, &model.shop) {
            (None, Some(path)) => {
                let file = parsed.library.file(&model.plugin, path);
                if file.is_none() {
                    let message = format!("the plugin `{}` has no file `{}`", model.plugin, path.value);
                    let problem = Diagnostic::error(Code::UnknownReference, &path.place, message);
                    problems.push(problem.help("name another shop, or put the file there"));
                    return None;
                }
                file.map(|file| file.source.clone())
            }
            (shop, _) => shop,
        };
        let mut stand = Self {
            files: files.clone(),
            shop,
            model,
            people,
            family: question.family.value.clone(),
            procedure: question.procedure.value.clone(),
            seed: question.seed,
            left_out: Vec::new(),
            whole: question.changes.keeps_steps(),
        };
        let plan = |files: &Files| stand.plan(files, None, &mut Problems::new());
        let (files, left_out) = question.changes.made_in(&stand.files, &stand.family, plan, problems)?;
        stand.files = files;
        stand.left_out = left_out;
        Some(stand)
    }

    /// The plan of a run that is kept, or of all of them. `files`: those of the stand, or with less in them.
    pub fn plan(&self, files: &Files, run: Option<u32>, problems: &mut Problems) -> Option<Plan> {
        let job = job(&self.model, &self.family, &self.procedure, self.seed, run);
        let plan = build(Inputs::new(job, self.shop.clone(), files.clone()), problems)?;
        (!has_errors(problems)).then_some(plan)
    }

    pub fn bench(&self, files: &Files, problems: &mut Problems) -> Option<Bench<'_>> {
        let plan = self.plan(files, None, problems)?;
        let scripts = Parsed::new(files.clone(), &mut Problems::new()).scripts();
        let variant = plan.job.variant.clone();
        Bench::new(plan, &self.model, self.people.clone(), scripts, variant.as_deref(), self.whole, problems)
    }

    /// Faults that every job has, and those that come by chance: all, where none is named.
    ///
    /// Errors: a fault that the model does not know.
    pub fn faults(&self, named: &[At<String>], problems: &mut Problems) -> Option<(Vec<usize>, Vec<usize>)> {
        let known = || self.model.faults.keys().map(String::as_str);
        let mut always = Vec::new();
        for id in named {
            match self.model.faults.get_index_of(id.as_str()) {
                Some(index) => always.push(index),
                None => {
                    let message = format!("the model `{}` knows no fault `{}`", self.model.id, id.value);
                    let problem = Diagnostic::error(Code::UnknownReference, &id.place, message);
                    problems.push(problem.nearest(id, known(), known().collect::<Vec<_>>().join(", ")));
                }
            }
        }
        let by_chance = if always.is_empty() { (0..self.model.faults.len()).collect() } else { Vec::new() };
        (always.len() == named.len()).then_some((always, by_chance))
    }
}
