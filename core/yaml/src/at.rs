//! How a place travels through serde.
//!
//! serde has no notion of places. Our deserializer lays one into a slot of its thread just before it lets a visitor of
//! one of the three placed types in, and the visitor takes it out first thing. Another deserializer leaves the slot
//! empty: the same types then read without places, which is what the journal and the second reader in tests need.

use std::borrow::{Borrow, Cow};
use std::cell::RefCell;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::marker::PhantomData;
use std::ops::Deref;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::de::{Deserialize, Deserializer, Visitor};
use serde::{Serialize, Serializer};

use super::node::{Node, nowhere};
use super::script::Script;
use standpipe_diagnostic::source::Place;

pub(super) const AT: &str = "$standpipe::At";
pub(super) const NODE: &str = "$standpipe::Node";
pub(super) const SCRIPT: &str = "$standpipe::Script";

pub(super) enum Handed {
    Place(Place),
    Node(Node),
    Script(Script),
}

thread_local! {
    static SLOT: RefCell<Option<Handed>> = const { RefCell::new(None) };
}

pub(super) fn hand_over(value: Handed) {
    SLOT.with_borrow_mut(|slot| *slot = Some(value));
}

pub(super) fn taken() -> Option<Handed> {
    SLOT.take()
}

/// A value and where it was written.
#[derive(Clone, Debug)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Where it stands, without quotes where these can be left out.
    pub place: Place,
}

impl<T> At<T> {
    /// A value with its place.
    pub fn new(value: T, place: Place) -> Self {
        Self { value, place }
    }

    /// Another value at the same place.
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> At<U> {
        At { value: f(self.value), place: self.place }
    }

    /// A borrowed value at the same place.
    pub fn as_ref(&self) -> At<&T> {
        At { value: &self.value, place: self.place.clone() }
    }
}

impl<T> Deref for At<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.value
    }
}

/// Equal when the values are: two files may say the same thing.
impl<T: PartialEq> PartialEq for At<T> {
    fn eq(&self, other: &Self) -> bool {
        self.value == other.value
    }
}

impl<T: Eq> Eq for At<T> {}

/// As equality: by the value. So an `IndexMap<At<String>, V>` is asked with a `&str`.
impl<T: Hash> Hash for At<T> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.value.hash(state);
    }
}

/// As its value; in place of a text, a bare number or `true` is taken as it is written.
impl<T: JsonSchema> JsonSchema for At<T> {
    fn inline_schema() -> bool {
        T::inline_schema()
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn schema_id() -> Cow<'static, str> {
        T::schema_id()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let mut schema = T::json_schema(generator);
        if schema.get("type").and_then(|kind| kind.as_str()) == Some("string") {
            schema.insert("type".to_owned(), vec!["string", "number", "boolean"].into());
        }
        schema
    }
}

impl Borrow<str> for At<String> {
    fn borrow(&self) -> &str {
        &self.value
    }
}

impl<T: Serialize> Serialize for At<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.value.serialize(serializer)
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for At<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_newtype_struct(AT, AtVisitor(PhantomData))
    }
}

struct AtVisitor<T>(PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for AtVisitor<T> {
    type Value = At<T>;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a value")
    }

    fn visit_newtype_struct<D: Deserializer<'de>>(self, deserializer: D) -> Result<At<T>, D::Error> {
        let place = match taken() {
            Some(Handed::Place(place)) => place,
            _ => nowhere(),
        };
        Ok(At::new(T::deserialize(deserializer)?, place))
    }
}
