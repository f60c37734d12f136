//! How serde walks through lists, maps, keys and choices.

use serde::de::value::StrDeserializer;
use serde::de::{
    DeserializeSeed, Deserializer, EnumAccess, IntoDeserializer, MapAccess, SeqAccess, VariantAccess, Visitor,
};

use super::at::{AT, Handed, hand_over};
use super::deserialize::NodeDeserializer;
use super::fault::Fault;
use super::node::{Kind, Node};
use super::reading::Reading;
use crate::At;
use standpipe_diagnostic::{Code, Diagnostic};

pub(super) struct Items<'n> {
    items: std::slice::Iter<'n, Node>,
    reading: &'n Reading,
    /// An item had to be left out.
    pub failed: bool,
}

impl<'n> Items<'n> {
    pub(super) fn new(items: &'n [Node], reading: &'n Reading) -> Self {
        Self { items: items.iter(), reading, failed: false }
    }
}

impl<'n> SeqAccess<'n> for Items<'n> {
    type Error = Fault;

    fn next_element_seed<T: DeserializeSeed<'n>>(&mut self, seed: T) -> Result<Option<T::Value>, Fault> {
        for node in self.items.by_ref() {
            if self.reading.is_failed(node) {
                self.failed = true;
                continue;
            }
            let read = seed.deserialize(NodeDeserializer::new(node, self.reading));
            return read.map(Some).map_err(|fault| self.reading.note(node, fault));
        }
        Ok(None)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.items.len())
    }
}

pub(super) struct Entries<'n> {
    entries: std::slice::Iter<'n, (At<String>, Node)>,
    value: Option<&'n Node>,
    reading: &'n Reading,
    /// The keys a struct has; a map takes any.
    fields: Option<&'static [&'static str]>,
    /// An entry of a map had to be left out.
    pub failed: bool,
    map: &'n Node,
}

impl<'n> Entries<'n> {
    pub(super) fn new(
        map: &'n Node,
        entries: &'n [(At<String>, Node)],
        fields: Option<&'static [&'static str]>,
        reading: &'n Reading,
    ) -> Self {
        Self { entries: entries.iter(), value: None, reading, fields, failed: false, map }
    }
}

impl<'n> MapAccess<'n> for Entries<'n> {
    type Error = Fault;

    fn next_key_seed<K: DeserializeSeed<'n>>(&mut self, seed: K) -> Result<Option<K::Value>, Fault> {
        for (key, value) in self.entries.by_ref() {
            if let Some(fields) = self.fields
                && !fields.contains(&key.value.as_str())
            {
                self.reading.unknown.borrow_mut().add(key, self.map);
                continue;
            }
            if self.reading.is_failed(value) {
                // A struct says itself what it then lacks.
                self.failed |= self.fields.is_none();
                continue;
            }
            self.value = Some(value);
            return match seed.deserialize(KeyDeserializer { key }) {
                Ok(read) => Ok(Some(read)),
                Err(fault) => Err(self.reading.note(value, at_key(fault, key))),
            };
        }
        Ok(None)
    }

    fn next_value_seed<V: DeserializeSeed<'n>>(&mut self, seed: V) -> Result<V::Value, Fault> {
        let Some(node) = self.value.take() else { return Err(Fault::Silent) };
        seed.deserialize(NodeDeserializer::new(node, self.reading)).map_err(|fault| self.reading.note(node, fault))
    }
}

fn at_key(fault: Fault, key: &At<String>) -> Fault {
    let node = Node { kind: Kind::Map(Vec::new()), place: key.place.clone() };
    fault.at(&node)
}

/// Keys are text, with a place where one is asked for.
struct KeyDeserializer<'n> {
    key: &'n At<String>,
}

impl<'de> Deserializer<'de> for KeyDeserializer<'de> {
    type Error = Fault;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        visitor.visit_borrowed_str(&self.key.value)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, name: &'static str, visitor: V) -> Result<V::Value, Fault> {
        if name == AT {
            hand_over(Handed::Place(self.key.place.clone()));
        }
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        let text: StrDeserializer<Fault> = self.key.value.as_str().into_deserializer();
        text.deserialize_enum(name, variants, visitor)
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct seq
        tuple tuple_struct map struct identifier ignored_any
    }
}

/// `word`, or `word: content`.
pub(super) struct Choice<'n> {
    pub name: &'n str,
    pub content: Option<&'n Node>,
    /// What the word, or the map with the word as its key, is.
    pub node: &'n Node,
    pub reading: &'n Reading,
}

impl<'n> EnumAccess<'n> for Choice<'n> {
    type Error = Fault;
    type Variant = Self;

    fn variant_seed<V: DeserializeSeed<'n>>(self, seed: V) -> Result<(V::Value, Self), Fault> {
        let name: StrDeserializer<Fault> = self.name.into_deserializer();
        Ok((seed.deserialize(name)?, self))
    }
}

impl<'n> Choice<'n> {
    fn content(&self) -> Result<NodeDeserializer<'n>, Fault> {
        match self.content {
            Some(node) => Ok(NodeDeserializer::new(node, self.reading)),
            None => {
                let problem = Diagnostic::error(
                    Code::WrongShape,
                    &self.node.place,
                    format!("`{}` needs something after it", self.name),
                );
                Err(problem
                    .expected(format!("`{}:` and its content", self.name))
                    .help("write a colon and what belongs to it")
                    .into())
            }
        }
    }
}

impl<'n> VariantAccess<'n> for Choice<'n> {
    type Error = Fault;

    fn unit_variant(self) -> Result<(), Fault> {
        match self.content {
            None => Ok(()),
            Some(node) => {
                let problem =
                    Diagnostic::error(Code::WrongShape, &node.place, format!("`{}` takes nothing after it", self.name));
                Err(problem.help(format!("write only `{}`", self.name)).into())
            }
        }
    }

    fn newtype_variant_seed<T: DeserializeSeed<'n>>(self, seed: T) -> Result<T::Value, Fault> {
        seed.deserialize(self.content()?)
    }

    fn tuple_variant<V: Visitor<'n>>(self, length: usize, visitor: V) -> Result<V::Value, Fault> {
        self.content()?.deserialize_tuple(length, visitor)
    }

    fn struct_variant<V: Visitor<'n>>(self, fields: &'static [&'static str], visitor: V) -> Result<V::Value, Fault> {
        self.content()?.fields(fields, visitor)
    }
}
