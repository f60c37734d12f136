//! What of a model's script only the interpreter can work out: programs do the rest some seven times as fast.

use std::cell::RefCell;

use indexmap::IndexMap;

use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Place;
use standpipe_script::{Flat, Scripts, Way};
use standpipe_yaml::At;

use crate::model::Model;
use crate::simulation::Settings;
use crate::stand::Stand;

/// A function that was called, and never by a program.
#[derive(Clone, Debug)]
pub struct Interpreted {
    pub function: At<String>,
    pub why: String,
    /// Where in the script, if that is known.
    pub place: Option<Place>,
}

/// Functions that were called, each with how often a program did it.
#[derive(Debug, Default)]
pub struct Watched(RefCell<IndexMap<String, Seen>>);

#[derive(Debug)]
struct Seen {
    by_program: bool,
    interpreted: Interpreted,
}

/// Jobs that are done to find them: what is asked of a unit differs from one to the next.
const JOBS: u32 = 2;

impl Watched {
    /// `given`: what it is called with.
    pub fn note(&self, function: &At<String>, model: &Model, scripts: &Scripts, given: &[(&str, &Flat)]) {
        let mut all = self.0.borrow_mut();
        let name = model.function(function);
        let by_program = scripts.calls_program(&model.plugin, &name, given);
        if let Some(seen) = all.get_mut(&name) {
            seen.by_program |= by_program;
            return;
        }
        let given = || given.iter().map(|(name, flat)| ((*name).to_owned(), flat.value())).collect();
        let reasons = if by_program { None } else { scripts.lower_call(&model.plugin, &name, &given()) };
        let (why, place) = match reasons.and_then(|program| program.reasons().into_iter().next()) {
            Some((why, place)) => (why, Some(place)),
            None => ("it is given what no program can be made for".to_owned(), None),
        };
        all.insert(name, Seen { by_program, interpreted: Interpreted { function: function.clone(), why, place } });
    }
}

impl Stand {
    /// Does a job or two and says which functions no program did. Nothing where no job can be done: why is said where that is
    /// tried.
    pub fn interpreted(&self) -> Vec<Interpreted> {
        let Some(mut bench) = self.bench(&self.files, &mut Problems::new()) else { return Vec::new() };
        bench.watched = Some(Watched::default());
        bench.scripts.set_way(Way::Lowered);
        let settings = Settings { seed: 1, always: Vec::new(), by_chance: Vec::new(), rates: 0.0, paired: false };
        let done = (0..JOBS).all(|run| settings.one(&bench, run).is_ok());
        let all = bench.watched.take().filter(|_| done).map(|watched| watched.0.into_inner()).unwrap_or_default();
        all.into_values().filter(|seen| !seen.by_program).map(|seen| seen.interpreted).collect()
    }
}
