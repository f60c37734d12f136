//! JSON read so that nothing of it is lost: a key that stands twice is an error, and two texts are compared key by key.

use std::fmt;

use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

struct Strict(Value);

/// Errors: what is no JSON, or has a key twice.
pub(super) fn parse(bytes: &[u8]) -> Result<Value, String> {
    serde_json::from_slice::<Strict>(bytes).map(|strict| strict.0).map_err(|fault| fault.to_string())
}

impl<'de> Deserialize<'de> for Strict {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Any;
        impl<'de> Visitor<'de> for Any {
            type Value = Strict;

            fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
                formatter.write_str("a value")
            }
            fn visit_bool<E: Error>(self, value: bool) -> Result<Strict, E> {
                Ok(Strict(value.into()))
            }
            fn visit_i64<E: Error>(self, value: i64) -> Result<Strict, E> {
                Ok(Strict(value.into()))
            }
            fn visit_u64<E: Error>(self, value: u64) -> Result<Strict, E> {
                Ok(Strict(value.into()))
            }
            fn visit_f64<E: Error>(self, value: f64) -> Result<Strict, E> {
                Ok(Strict(value.into()))
            }
            fn visit_str<E: Error>(self, value: &str) -> Result<Strict, E> {
                Ok(Strict(value.into()))
            }
            fn visit_unit<E: Error>(self) -> Result<Strict, E> {
                Ok(Strict(Value::Null))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut access: A) -> Result<Strict, A::Error> {
                let mut list = Vec::new();
                while let Some(Strict(value)) = access.next_element()? {
                    list.push(value);
                }
                Ok(Strict(list.into()))
            }
            fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Strict, A::Error> {
                let mut map = Map::new();
                while let Some((key, Strict(value))) = access.next_entry::<String, Strict>()? {
                    if map.contains_key(&key) {
                        return Err(A::Error::custom(format!("`{key}` appears twice")));
                    }
                    map.insert(key, value);
                }
                Ok(Strict(map.into()))
            }
        }
        deserializer.deserialize_any(Any)
    }
}

/// In what the first differs from how the second has it.
pub(super) fn difference(found: &Value, known: &Value) -> Option<String> {
    match (found, known) {
        (Value::Object(found), Value::Object(known)) => {
            let lost = found.keys().find(|key| !known.contains_key(*key)).map(|key| format!("`{key}` is not known"));
            let added = || known.keys().find(|key| !found.contains_key(*key)).map(|key| format!("`{key}` is missing"));
            let inner = || found.iter().find_map(|(key, value)| difference(value, &known[key]));
            lost.or_else(added).or_else(inner)
        }
        (Value::Array(found), Value::Array(known)) if found.len() == known.len() => {
            found.iter().zip(known).find_map(|(found, known)| difference(found, known))
        }
        (Value::Number(found), Value::Number(known)) if found.as_f64() == known.as_f64() => None,
        (found, known) => (found != known).then(|| format!("{found}, which reads as {known}")),
    }
}
