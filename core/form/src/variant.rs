//! One variant of a family.

use indexmap::IndexMap;

use super::facts::Facts;
use super::sign::SignValue;
use standpipe_diagnostic::source::Place;

#[derive(Clone, Debug)]
pub struct Variant {
    pub id: String,
    pub title: Option<String>,
    pub signs: IndexMap<String, SignValue>,
    /// All facts of the family, with what is different in this variant.
    pub facts: Facts,
    pub place: Place,
}
