//! A node of any shape as a field of a typed document.

use std::fmt;

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};

use super::at::{Handed, NODE, taken};
use super::node::{Kind, Node, nowhere};
use crate::At;

impl<'de> Deserialize<'de> for Node {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_newtype_struct(NODE, NodeVisitor)
    }
}

/// Through our reader the node comes ready made; from any other it is built up, without places.
struct NodeVisitor;

impl<'de> Visitor<'de> for NodeVisitor {
    type Value = Node;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a value")
    }

    fn visit_newtype_struct<D: Deserializer<'de>>(self, deserializer: D) -> Result<Node, D::Error> {
        match taken() {
            Some(Handed::Node(node)) => Ok(node),
            _ => deserializer.deserialize_any(Self),
        }
    }

    fn visit_bool<E>(self, value: bool) -> Result<Node, E> {
        Ok(Node::text(value.to_string()))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Node, E> {
        Ok(Node::text(value.to_string()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Node, E> {
        Ok(Node::text(value.to_string()))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Node, E> {
        Ok(Node::text(value.to_string()))
    }

    fn visit_str<E>(self, text: &str) -> Result<Node, E> {
        Ok(Node::text(text))
    }

    fn visit_unit<E>(self) -> Result<Node, E> {
        Ok(Node::text("null"))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Node, A::Error> {
        let mut list = Vec::new();
        while let Some(item) = items.next_element()? {
            list.push(item);
        }
        Ok(Node { kind: Kind::List(list), place: nowhere() })
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Node, A::Error> {
        let mut map = Vec::new();
        while let Some((key, value)) = entries.next_entry::<Node, Node>()? {
            let key = key.as_text().unwrap_or_default().to_string();
            map.push((At::new(key, nowhere()), value));
        }
        Ok(Node { kind: Kind::Map(map), place: nowhere() })
    }
}
