//! How a place travels through serde.
//!
//! serde has no notion of places. Our deserializer lays one into a slot of its thread just before it lets a visitor of
//! one of the three placed types in, and the visitor takes it out first thing. Another deserializer leaves the slot
//! empty: the same types then read without places, which is what the journal and the second reader in tests need.

use std::cell::RefCell;
use std::fmt;
use std::marker::PhantomData;

use serde::de::{Deserialize, Deserializer, Visitor};

use super::node::{Node, nowhere};
use super::script::Script;
use crate::source::{At, Place};

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
