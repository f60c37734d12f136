//! One variant of a family.

use indexmap::IndexMap;

use super::facts::Facts;
use super::sign::SignValue;
use standpipe_diagnostic::source::Place;

/// One variant, with all that is known of it.
#[derive(Clone, Debug)]
pub struct Variant {
    /// What it is called by.
    pub id: String,
    /// What people call it.
    pub title: Option<String>,
    /// What it is recognised by, by the name of the sign.
    pub signs: IndexMap<String, SignValue>,
    /// All facts of the family, with what is different in this variant.
    pub facts: Facts,
    /// Where its id stands.
    pub place: Place,
}
