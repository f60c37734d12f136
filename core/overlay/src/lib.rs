#![doc = include_str!("../README.md")]

mod apply;
mod kept;
mod raw;
mod values;

use indexmap::IndexMap;

pub use kept::keep_values;
pub use raw::schema;
pub use values::SetValue;

use standpipe_diagnostic::source::Place;
use standpipe_procedure::raw::{RawProcedure, RawStep};
use standpipe_yaml::{At, Node, Script};

/// Procedures as written, by id.
pub type Written = IndexMap<String, RawProcedure>;

/// A checked overlay.
#[derive(Debug)]
pub struct Overlay {
    pub id: String,
    pub title: Option<String>,
    pub invented: bool,
    /// The procedure that it is laid over, with all that this one includes or calls.
    pub procedure: Option<At<String>>,
    /// Texts of cautions that its steps name.
    cautions: IndexMap<At<String>, At<String>>,
    changes: Vec<Change>,
    pub place: Place,
}

/// One change of an overlay.
#[derive(Debug)]
struct Change {
    action: Action,
    /// Of its first line.
    place: Place,
}

#[derive(Debug)]
enum Action {
    Add { beside: At<String>, after: bool, steps: Vec<At<RawStep>> },
    LeaveOut { step: At<String>, because: String },
    Replace { step: At<String>, words: Box<Words> },
    Tighten { step: At<String>, must: Option<Script>, confidence: Option<At<String>> },
    Evidence { step: At<String> },
    Set { family: At<String>, variant: Option<At<String>>, values: Node, source: At<String> },
}

/// What a step is to say instead; what is not named stays.
#[derive(Debug)]
pub struct Words {
    pub title: Option<At<String>>,
    /// Its `do:`.
    pub act: Option<At<String>>,
    pub why: Option<At<String>>,
    /// All its lines; an empty list takes them away.
    pub show: Option<Vec<At<String>>>,
}

impl Overlay {
    /// The families whose values it sets.
    pub fn families(&self) -> impl Iterator<Item = &At<String>> {
        self.changes.iter().filter_map(|change| match &change.action {
            Action::Set { family, .. } => Some(family),
            _ => None,
        })
    }
}
