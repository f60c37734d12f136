//! serde over nodes.

use serde::de::{Deserializer, Visitor};

use super::access::{Choice, Entries, Items};
use super::at::{AT, Handed, NODE, SCRIPT, hand_over};
use super::fault::{Fault, listed, wrong_type, wrong_type_or};
use super::node::{Kind, Node, Scalar};
use super::number;
use super::reading::Reading;
use super::script;
use crate::At;
use standpipe_diagnostic::{Code, Diagnostic};

#[derive(Clone, Copy)]
pub(super) struct NodeDeserializer<'n> {
    node: &'n Node,
    reading: &'n Reading,
}

impl<'n> NodeDeserializer<'n> {
    pub(super) fn new(node: &'n Node, reading: &'n Reading) -> Self {
        Self { node, reading }
    }

    fn placed<T>(self, result: Result<T, Fault>) -> Result<T, Fault> {
        result.map_err(|fault| fault.at(self.node))
    }

    fn scalar(self, expected: &str) -> Result<&'n Scalar, Fault> {
        self.node.as_scalar().ok_or_else(|| {
            let mut problem = wrong_type(self.node, expected);
            if matches!(self.node.place.text().as_bytes().first(), Some(b'{' | b'[')) {
                problem = problem.help("text that begins with `{` or `[` needs quotes");
            }
            problem.into()
        })
    }

    fn whole_number(self, lowest: i128, highest: i128) -> Result<i128, Fault> {
        let wanted = if lowest == 0 { "a whole number, 0 or more" } else { "a whole number" };
        let scalar = self.scalar(wanted)?;
        if !scalar.is_plain() {
            return Err(wrong_type(self.node, wanted).help("write the number without quotes").into());
        }
        // `2.0` is whole, and `parse` takes a sign that YAML takes as well.
        let text = scalar.text.strip_suffix(".0").unwrap_or(&scalar.text);
        let number = text.parse::<i128>().map_err(|_| wrong_type(self.node, wanted))?;
        if number < lowest {
            return Err(wrong_type(self.node, format!("a whole number, {lowest} or more")).into());
        }
        if number > highest {
            return Err(wrong_type(self.node, format!("a whole number up to {highest}")).into());
        }
        Ok(number)
    }

    fn number(self) -> Result<f64, Fault> {
        let scalar = self.scalar("a number")?;
        let number = number::is_number(&scalar.text).then(|| scalar.text.parse::<f64>().ok()).flatten();
        match number {
            Some(number) if !number.is_finite() => {
                let problem = Diagnostic::error(
                    Code::NonFiniteLiteral,
                    &self.node.place,
                    format!("{} is too large for a number", scalar.text),
                );
                Err(problem.help("write a number below 1e308").into())
            }
            Some(number) if scalar.is_plain() => Ok(number),
            Some(_) => Err(wrong_type(self.node, "a number").help("write the number without quotes").into()),
            None => Err(wrong_type(self.node, "a number").into()),
        }
    }

    fn seq<V: Visitor<'n>>(self, items: &'n [Node], visitor: V) -> Result<V::Value, Fault> {
        let mut access = Items::new(items, self.reading);
        let value = self.placed(visitor.visit_seq(&mut access))?;
        if access.failed { Err(Fault::Silent) } else { Ok(value) }
    }

    fn map<V: Visitor<'n>>(self, entries: &'n [(At<String>, Node)], visitor: V) -> Result<V::Value, Fault> {
        let mut access = Entries::new(self.node, entries, None, self.reading);
        let value = self.placed(visitor.visit_map(&mut access))?;
        if access.failed { Err(Fault::Silent) } else { Ok(value) }
    }

    pub(super) fn fields<V: Visitor<'n>>(self, fields: &'static [&'static str], visitor: V) -> Result<V::Value, Fault> {
        let Some(entries) = self.node.as_map() else {
            let wanted = match fields.len() {
                0..=6 => format!("keys ({})", listed(fields)),
                _ => format!(
                    "keys ({} ...)",
                    fields[..6].iter().map(|f| format!("`{f}`")).collect::<Vec<_>>().join(", ")
                ),
            };
            return Err(wrong_type(self.node, wanted)
                .help("write the keys below each other, each with a colon and a value")
                .into());
        };
        self.reading.unknown.borrow_mut().visit(self.node, fields);
        let mut access = Entries::new(self.node, entries, Some(fields), self.reading);
        match visitor.visit_map(&mut access) {
            Err(Fault::Missing(name)) => {
                let failed_here = entries.iter().any(|(key, value)| key.value == name && self.reading.is_failed(value));
                if failed_here {
                    return Err(Fault::Silent);
                }
                self.reading.unknown.borrow_mut().missing(self.node, name);
                self.placed(Err(Fault::Missing(name)))
            }
            other => self.placed(other),
        }
    }
}

macro_rules! whole_numbers {
    ($($method:ident $visit:ident $type:ty),+) => {$(
        fn $method<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
            let number = self.whole_number(<$type>::MIN.into(), <$type>::MAX.into())?;
            match <$type>::try_from(number) {
                Ok(number) => self.placed(visitor.$visit(number)),
                Err(_) => Err(wrong_type(self.node, "a smaller number").into()),
            }
        }
    )+};
}

impl<'n> Deserializer<'n> for NodeDeserializer<'n> {
    type Error = Fault;

    fn deserialize_any<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        match &self.node.kind {
            Kind::List(items) => self.seq(items, visitor),
            Kind::Map(entries) => self.map(entries, visitor),
            Kind::Scalar(scalar) => {
                let text = scalar.text.as_str();
                self.placed(match text {
                    _ if !scalar.is_plain() => visitor.visit_borrowed_str(text),
                    "null" => visitor.visit_unit(),
                    "true" => visitor.visit_bool(true),
                    "false" => visitor.visit_bool(false),
                    _ if !number::is_number(text) => visitor.visit_borrowed_str(text),
                    _ => match text.parse::<i64>() {
                        Ok(number) if number >= 0 => visitor.visit_u64(number.unsigned_abs()),
                        Ok(number) => visitor.visit_i64(number),
                        Err(_) => visitor.visit_f64(self.number()?),
                    },
                })
            }
        }
    }

    fn deserialize_bool<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        let scalar = self.scalar("`true` or `false`")?;
        match scalar.text.as_str() {
            "true" if scalar.is_plain() => self.placed(visitor.visit_bool(true)),
            "false" if scalar.is_plain() => self.placed(visitor.visit_bool(false)),
            _ => Err(wrong_type(self.node, "`true` or `false`").into()),
        }
    }

    whole_numbers! {
        deserialize_i8 visit_i8 i8, deserialize_i16 visit_i16 i16, deserialize_i32 visit_i32 i32,
        deserialize_i64 visit_i64 i64, deserialize_u8 visit_u8 u8, deserialize_u16 visit_u16 u16,
        deserialize_u32 visit_u32 u32, deserialize_u64 visit_u64 u64
    }

    fn deserialize_f32<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        self.deserialize_f64(visitor)
    }

    fn deserialize_f64<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        let number = self.number()?;
        self.placed(visitor.visit_f64(number))
    }

    fn deserialize_char<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        self.deserialize_str(visitor)
    }

    /// Text as written: `8.8` is "8.8" and `0123` keeps its zero.
    fn deserialize_str<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        let scalar = self.scalar("text")?;
        self.placed(visitor.visit_borrowed_str(&scalar.text))
    }

    fn deserialize_string<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        self.deserialize_str(visitor)
    }

    fn deserialize_bytes<V: Visitor<'n>>(self, _: V) -> Result<V::Value, Fault> {
        Err(wrong_type(self.node, "bytes, which no file holds").into())
    }

    fn deserialize_byte_buf<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        self.deserialize_bytes(visitor)
    }

    /// A key that is there has a value: an empty one was refused when the file was parsed.
    fn deserialize_option<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        self.placed(visitor.visit_some(self))
    }

    fn deserialize_unit<V: Visitor<'n>>(self, _: V) -> Result<V::Value, Fault> {
        Err(wrong_type(self.node, "nothing").into())
    }

    fn deserialize_unit_struct<V: Visitor<'n>>(self, _: &'static str, visitor: V) -> Result<V::Value, Fault> {
        self.deserialize_unit(visitor)
    }

    fn deserialize_newtype_struct<V: Visitor<'n>>(self, name: &'static str, visitor: V) -> Result<V::Value, Fault> {
        match name {
            // Without its quotes: who reads a text counts from its first character.
            AT => hand_over(Handed::Place(self.node.text_place())),
            NODE => hand_over(Handed::Node(self.node.clone())),
            SCRIPT => hand_over(Handed::Script(script::from_node(self.node)?)),
            _ => {}
        }
        self.placed(visitor.visit_newtype_struct(self))
    }

    fn deserialize_seq<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        match &self.node.kind {
            Kind::List(items) => self.seq(items, visitor),
            _ => {
                let otherwise = "write one item per line, each after `- `, or all of them in [ ]";
                Err(wrong_type_or(self.node, "a list", otherwise).into())
            }
        }
    }

    fn deserialize_tuple<V: Visitor<'n>>(self, length: usize, visitor: V) -> Result<V::Value, Fault> {
        match &self.node.kind {
            Kind::List(items) if items.len() == length => self.seq(items, visitor),
            _ => Err(wrong_type(self.node, format!("a list of {length} items")).into()),
        }
    }

    fn deserialize_tuple_struct<V: Visitor<'n>>(
        self,
        _: &'static str,
        length: usize,
        visitor: V,
    ) -> Result<V::Value, Fault> {
        self.deserialize_tuple(length, visitor)
    }

    fn deserialize_map<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        match &self.node.kind {
            Kind::Map(entries) => self.map(entries, visitor),
            _ => Err(wrong_type(self.node, "keys with values")
                .help("write a name and a colon before each value: `NAME: ...`")
                .into()),
        }
    }

    fn deserialize_struct<V: Visitor<'n>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        self.fields(fields, visitor)
    }

    fn deserialize_enum<V: Visitor<'n>>(
        self,
        _: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        let (name, content, place) = match &self.node.kind {
            Kind::Scalar(scalar) => (scalar.text.as_str(), None, &self.node.place),
            Kind::Map(entries) => match entries.as_slice() {
                [(key, value)] => (key.value.as_str(), Some(value), &key.place),
                _ => return Err(wrong_type(self.node, format!("one of {}", listed(variants))).into()),
            },
            Kind::List(_) => return Err(wrong_type(self.node, format!("one of {}", listed(variants))).into()),
        };
        if !variants.contains(&name) {
            let problem = Diagnostic::error(Code::WrongShape, place, format!("`{name}` is none of the choices"))
                .expected(listed(variants));
            return Err(problem.nearest(name, variants.iter().copied(), format!("write {}", listed(variants))).into());
        }
        self.placed(visitor.visit_enum(Choice { name, content, node: self.node, reading: self.reading }))
    }

    fn deserialize_identifier<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        self.deserialize_str(visitor)
    }

    fn deserialize_ignored_any<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, Fault> {
        visitor.visit_unit()
    }
}
