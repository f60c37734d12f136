//! What an overlay has done to a step.

use schemars::JsonSchema;
use serde::Serialize;

use standpipe_diagnostic::source::Place;

/// One change, and where it is written.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Mark {
    /// Id of the overlay.
    pub overlay: String,
    /// What was done.
    pub what: Changed,
    /// The reason that the overlay gives.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    /// Where the overlay says so.
    pub place: Place,
}

/// What an overlay did to a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Changed {
    /// It was not there.
    Added,
    /// It is not done.
    LeftOut,
    /// It reads otherwise.
    Text,
    /// Its gate asks for more.
    Gate,
    /// It wants evidence.
    Evidence,
    /// A value is another one.
    Value,
}

impl Changed {
    /// In a word.
    pub fn words(self) -> &'static str {
        match self {
            Self::Added => "added",
            Self::LeftOut => "left out",
            Self::Text => "other words",
            Self::Gate => "gate tightened",
            Self::Evidence => "photo wanted",
            Self::Value => "value set",
        }
    }
}
