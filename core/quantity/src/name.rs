//! Names of units and of their families.

use std::borrow::{Borrow, Cow};
use std::collections::BTreeSet;
use std::fmt;
use std::ops::Deref;
use std::sync::{Mutex, PoisonError};

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Every name that was ever made. They stay: there are as many as unit files and readings have different ones.
static KNOWN: Mutex<BTreeSet<&'static str>> = Mutex::new(BTreeSet::new());

/// The name of a unit (`N·m`) or of a unit family (`volume`).
///
/// Every quantity carries two of them, through all threads. Counted references would make the threads wait for one
/// another at each operation, since all of them would count in the same place.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Name(&'static str);

impl Name {
    /// The name of nothing.
    pub const EMPTY: Self = Self("");
}

impl From<&str> for Name {
    fn from(text: &str) -> Self {
        let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(name) = known.get(text) {
            return Self(name);
        }
        let name: &'static str = Box::leak(text.into());
        known.insert(name);
        Self(name)
    }
}

impl From<String> for Name {
    fn from(text: String) -> Self {
        text.as_str().into()
    }
}

impl Deref for Name {
    type Target = str;

    fn deref(&self) -> &str {
        self.0
    }
}

impl AsRef<str> for Name {
    fn as_ref(&self) -> &str {
        self.0
    }
}

impl Borrow<str> for Name {
    fn borrow(&self) -> &str {
        self.0
    }
}

impl fmt::Display for Name {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(to)
    }
}

impl fmt::Debug for Name {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.0, to)
    }
}

impl Serialize for Name {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.0)
    }
}

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Cow::<'de, str>::deserialize(from).map(|text| Self::from(&*text))
    }
}

impl JsonSchema for Name {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        String::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        String::json_schema(generator)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_lies_in_one_place_whoever_makes_it() {
        let here = Name::from("N·m");
        let there = std::thread::spawn(|| Name::from("N·m".to_owned())).join().unwrap();
        assert_eq!((here, here.as_ptr()), (there, there.as_ptr()));
        assert_ne!(here, Name::from("N·mm"));
        assert_eq!(Name::from(""), Name::EMPTY);
    }
}
