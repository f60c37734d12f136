//! Vectors of base exponents.

use serde::{Deserialize, Serialize};

/// Exponents of length, mass, time, temperature and money. Angles are numbers, as in the SI.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Dimension(pub [i8; 5]);

impl Dimension {
    pub const NONE: Dimension = Dimension([0; 5]);

    pub fn is_none(&self) -> bool {
        *self == Self::NONE
    }
}
