//! Values out of `serde_yaml`, with keys that stand twice refused.
//!
//! Never in here: places. Changes never, but for a change of the value type.

use std::fmt;

use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

/// Deepest nesting.
pub const MAX_DEPTH: usize = 64;

/// A value in which every mapping has each key once.
pub struct Strict(pub Value);

impl<'de> Deserialize<'de> for Strict {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Reader).map(Self)
    }
}

struct Reader;

impl<'de> Visitor<'de> for Reader {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a mapping, a list, text, a number of at most 64 bits, or a truth")
    }

    fn visit_bool<E>(self, truth: bool) -> Result<Value, E> {
        Ok(Value::Bool(truth))
    }

    fn visit_i64<E>(self, number: i64) -> Result<Value, E> {
        Ok(Value::Number(number.into()))
    }

    fn visit_u64<E>(self, number: u64) -> Result<Value, E> {
        Ok(Value::Number(number.into()))
    }

    fn visit_f64<E>(self, number: f64) -> Result<Value, E> {
        // What is not finite becomes empty, which no key takes.
        Ok(Number::from_f64(number).map_or(Value::Null, Value::Number))
    }

    fn visit_str<E>(self, text: &str) -> Result<Value, E> {
        Ok(Value::String(text.to_owned()))
    }

    fn visit_string<E>(self, text: String) -> Result<Value, E> {
        Ok(Value::String(text))
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_none<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_some<D: Deserializer<'de>>(self, inner: D) -> Result<Value, D::Error> {
        Strict::deserialize(inner).map(|s| s.0)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(Strict(item)) = items.next_element()? {
            list.push(item);
        }
        Ok(Value::Array(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut map = Map::new();
        while let Some(key) = entries.next_key::<String>()? {
            let Strict(value) = entries.next_value()?;
            if map.contains_key(&key) {
                return Err(A::Error::custom(format!("the key `{key}` stands twice")));
            }
            map.insert(key, value);
        }
        Ok(Value::Object(map))
    }
}

/// Whether a value is nested no deeper than is allowed.
pub fn is_shallow(value: &Value, left: usize) -> bool {
    match value {
        Value::Array(items) => left > 0 && items.iter().all(|i| is_shallow(i, left - 1)),
        Value::Object(map) => left > 0 && map.values().all(|v| is_shallow(v, left - 1)),
        _ => true,
    }
}
