//! What an overlay has done to a step.

use schemars::JsonSchema;
use serde::Serialize;

use standpipe_diagnostic::source::Place;

/// One change, and where it is written.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Mark {
    /// Id of the overlay.
    pub overlay: String,
    pub what: Changed,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    pub place: Place,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Changed {
    Added,
    LeftOut,
    Text,
    Gate,
    Evidence,
    Value,
}

impl Changed {
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
