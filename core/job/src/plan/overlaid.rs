//! What the shop's overlays have changed, in one list.

use schemars::JsonSchema;
use serde::Serialize;

use super::Plan;
use standpipe_diagnostic::source::Place;
use standpipe_procedure::{Changed, Mark, Procedure};

/// One change, for who reads a card or a record.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Overlaid {
    pub overlay: String,
    pub what: Changed,
    /// Id of the step, or path of the value from `spec`.
    pub of: String,
    /// What a value is now.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub is: Option<String>,
    /// The reason of a step that was left out; the source of a value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    pub place: Place,
}

impl Overlaid {
    fn step(mark: &Mark, step: &str) -> Self {
        Self {
            overlay: mark.overlay.clone(),
            what: mark.what,
            of: step.to_owned(),
            is: None,
            because: mark.because.clone(),
            place: mark.place.clone(),
        }
    }

    /// One line: `refit-pan: gate tightened`, `level.window: value set to 38..42 degC, from ...`.
    pub fn words(&self) -> String {
        let mut words = format!("{}: {}", self.of, self.what.words());
        if let Some(is) = &self.is {
            words.push_str(&format!(" to {is}"));
        }
        if let Some(because) = &self.because {
            words.push_str(&format!(", {because}"));
        }
        words
    }
}

impl Plan {
    /// Changes by overlays: of steps in the order of the procedures, then of values.
    pub fn overlaid(&self) -> Vec<Overlaid> {
        let mut all = Vec::new();
        for procedure in self.procedures.values() {
            let left_out = procedure.left_out.iter().map(|it| (&it.mark, it.step.id.as_str()));
            let changed = Procedure::all_steps(procedure)
                .into_iter()
                .flat_map(|it| it.marks.iter().map(|mark| (mark, it.id.as_str())));
            all.extend(changed.chain(left_out).map(|(mark, step)| Overlaid::step(mark, step)));
        }
        // As the work goes; what is called or left out has no place in that order and comes last.
        let at = |change: &Overlaid| self.order.iter().position(|id| *id == change.of).unwrap_or(usize::MAX);
        all.sort_by_key(at);
        all.extend(self.values.iter().map(|value| Overlaid {
            is: Some(match &value.variant {
                Some(variant) => format!("{} ({variant})", self.show(&value.value)),
                None => self.show(&value.value),
            }),
            ..Overlaid::step(&value.mark, &value.path)
        }));
        all
    }
}
