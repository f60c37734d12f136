//! A procedure as work: sections, steps, gates with their limits, what each reads and who gives it, and how far each family comes.

mod flow;
mod text;

use serde::Serialize;

pub use flow::{Flow, flow};
pub use text::text;

use standpipe_diagnostic::source::Place;
use standpipe_procedure::Mark;

/// A procedure with all that it includes and what overlays made of it.
#[derive(Clone, Debug, Serialize)]
pub struct OutlineView {
    /// Its id.
    pub procedure: String,
    /// What people call it.
    pub title: String,
    /// It is not for real work.
    pub invented: bool,
    /// The form whose families it is for.
    pub form: Option<String>,
    /// Procedures that can be called at any step.
    pub reachable: Vec<String>,
    /// The procedure that runs before a pause.
    pub on_pause: Option<String>,
    /// The procedure that runs after a pause.
    pub on_resume: Option<String>,
    /// In the order of the work.
    pub steps: Vec<Step>,
    /// Steps that overlays took out.
    pub left_out: Vec<LeftOut>,
    pub families: Vec<Way>,
}

/// One step, with those inside it.
#[derive(Clone, Debug, Serialize)]
pub struct Step {
    /// What answers call it by.
    pub step: String,
    /// One line.
    pub title: String,
    /// The word of its kind.
    pub kind: &'static str,
    /// What is done.
    pub does: String,
    /// No overlay may remove or loosen it.
    pub keep: bool,
    /// When it is done; always, where nothing stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub when: Option<String>,
    /// What has to hold before the next one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gate: Option<Gate>,
    /// Readings and results that it uses, and the steps that give them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reads: Vec<Read>,
    /// What it gives.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub gives: Vec<Given>,
    /// What a second person looks at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub witness: Option<String>,
    /// In words.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<String>,
    /// What has to be attached.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<&'static str>,
    /// What ends what was entered.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stale: Vec<String>,
    /// What happens with it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub raises: Vec<String>,
    /// Steps that are due again after it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub undoes: Vec<String>,
    /// By overlays.
    pub changed: Vec<Mark>,
    /// Where it stands.
    pub place: Place,
    /// Steps inside it.
    pub steps: Vec<Step>,
}

/// What has to hold.
#[derive(Clone, Debug, Serialize)]
pub struct Gate {
    /// All of it.
    pub must: String,
    /// Each condition by itself: an overlay adds its own.
    pub conditions: Vec<Condition>,
    /// What follows where it is not met.
    pub otherwise: String,
    /// The same in a word or two, for a picture.
    #[serde(skip)]
    pub briefly: String,
    /// What goes wrong without it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_stake: Option<String>,
    /// What the families say of the fields in it.
    pub limits: Vec<Limit>,
}

/// One condition of a gate.
#[derive(Clone, Debug, Serialize)]
pub struct Condition {
    /// As written.
    pub must: String,
    /// Where it stands.
    pub place: Place,
}

/// One field of the family.
#[derive(Clone, Debug, Serialize)]
pub struct Limit {
    /// Such as `level.window`.
    pub field: String,
    /// What each family says.
    pub of: Vec<Said>,
}

/// What some families say alike.
#[derive(Clone, Debug, Serialize)]
pub struct Said {
    /// Who says it.
    pub families: Vec<String>,
    /// With its unit.
    pub shown: String,
}

/// A name that is used.
#[derive(Clone, Debug, Serialize)]
pub struct Read {
    /// As expressions call it.
    pub name: String,
    /// Steps that give it.
    pub from: Vec<String>,
}

/// A name that is given.
#[derive(Clone, Debug, Serialize)]
pub struct Given {
    /// As expressions call it.
    pub name: String,
    /// What it is, and what it is read with.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub is: String,
}

/// A step that an overlay took out.
#[derive(Clone, Debug, Serialize)]
pub struct LeftOut {
    /// Which one.
    pub step: String,
    /// Where it stood.
    pub place: Place,
    /// By whom and why.
    pub changed: Mark,
}

/// How far families come, each variant by itself.
#[derive(Clone, Debug, Serialize)]
pub struct Way {
    /// `family`, or `family/variant`; several where they come equally far.
    pub of: Vec<String>,
    /// How many steps it can come to.
    pub steps: usize,
    /// Steps that it is led around, without what is inside them.
    pub around: Vec<String>,
    /// Fields that it needs and does not say.
    pub lacks: Vec<String>,
}

/// All steps of a list, those inside others after these.
pub fn all(steps: &[Step]) -> Vec<&Step> {
    steps.iter().flat_map(|step| std::iter::once(step).chain(all(&step.steps))).collect()
}
