//! Where a plugin comes from, and so what it may lie over.

use std::fmt;

use serde::de::{Deserialize, Deserializer, Error};
use serde::{Serialize, Serializer};

/// Later ones lie over earlier ones. Folders are counted, not named: a snapshot keeps no paths of a machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Layer {
    /// Part of the program.
    BuiltIn,
    /// The nth `--plugins` folder, counted from 1.
    Given(usize),
    /// The nth folder in the workshop's list.
    Shop(usize),
}

impl fmt::Display for Layer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Layer::BuiltIn => f.write_str("built in"),
            Layer::Given(nth) => write!(f, "--plugins {nth}"),
            Layer::Shop(nth) => write!(f, "shop's list {nth}"),
        }
    }
}

impl Serialize for Layer {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Layer {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let nth = |prefix: &str| text.strip_prefix(prefix).and_then(|nth| nth.parse().ok());
        match (text.as_str(), nth("--plugins "), nth("shop's list ")) {
            ("built in", _, _) => Ok(Layer::BuiltIn),
            (_, Some(nth), _) => Ok(Layer::Given(nth)),
            (_, _, Some(nth)) => Ok(Layer::Shop(nth)),
            _ => Err(D::Error::custom(format!("`{text}` is not a layer of plugins"))),
        }
    }
}
