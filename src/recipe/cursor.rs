//! Walking a document: a value with its pointer.
//!
//! Never in here: what keys mean. Changes when documents are walked otherwise.

use serde_json::Value;

use crate::text::{Code, Finding, Span};

use super::yaml::{Document, escape};

/// Most keys of a mapping that are looked through one by one.
const FEW: usize = 16;

/// A value in a document.
#[derive(Clone, Debug)]
pub struct At<'d> {
    /// The document.
    pub document: &'d Document,
    /// The value's JSON pointer.
    pub pointer: String,
    /// The value.
    pub value: &'d Value,
}

impl<'d> At<'d> {
    /// The whole document.
    #[must_use]
    pub fn root(document: &'d Document) -> Self {
        Self {
            document,
            pointer: String::new(),
            value: &document.root,
        }
    }

    /// The value at a JSON pointer below this one.
    #[must_use]
    pub fn at(&self, pointer: &str) -> Option<Self> {
        Some(Self {
            document: self.document,
            pointer: format!("{}{pointer}", self.pointer),
            value: self.value.pointer(pointer)?,
        })
    }

    fn down(&self, part: &str, value: &'d Value) -> Self {
        let mut pointer = String::with_capacity(self.pointer.len() + 1 + part.len());
        pointer.push_str(&self.pointer);
        pointer.push('/');
        pointer.push_str(part);
        Self {
            document: self.document,
            pointer,
            value,
        }
    }

    /// The value of a key, if it is there and not empty.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<Self> {
        let value = self.value_of(key)?;
        Some(self.down(&escape(key), value))
    }

    /// Whether a key is there and not empty.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.value_of(key).is_some()
    }

    fn value_of(&self, key: &str) -> Option<&'d Value> {
        let map = self.value.as_object()?;
        // Of the few keys that a step has, looking at each is quicker than hashing.
        let value = if map.len() <= FEW {
            map.iter().find(|(k, _)| *k == key).map(|(_, v)| v)
        } else {
            map.get(key)
        };
        value.filter(|v| !v.is_null())
    }

    /// The place of a key, whether or not it has a value.
    #[must_use]
    pub fn down_to(&self, key: &str) -> Self {
        self.down(&escape(key), self.value.get(key).unwrap_or(&Value::Null))
    }

    /// The items of a list.
    pub fn items(&self) -> impl Iterator<Item = Self> + use<'d, '_> {
        let list = self.value.as_array().map(Vec::as_slice).unwrap_or_default();
        list.iter()
            .enumerate()
            .map(|(i, v)| self.down(&i.to_string(), v))
    }

    /// The keys and values of a mapping.
    pub fn entries(&self) -> impl Iterator<Item = (&'d str, Self)> + use<'d, '_> {
        let map = self.value.as_object();
        map.into_iter()
            .flatten()
            .map(|(k, v)| (k.as_str(), self.down(&escape(k), v)))
    }

    /// The text of a scalar as it was written.
    #[must_use]
    pub fn text(&self) -> Option<String> {
        match self.value {
            Value::String(text) => Some(text.clone()),
            Value::Number(number) => Some(
                self.document
                    .scalar(&self.pointer)
                    .map_or_else(|| number.to_string(), str::to_owned),
            ),
            Value::Bool(truth) => Some(truth.to_string()),
            _ => None,
        }
    }

    /// The text of a key, if it is there.
    #[must_use]
    pub fn text_of(&self, key: &str) -> Option<String> {
        match self.value_of(key)? {
            // As nearly always: where it stands need not be known.
            Value::String(text) => Some(text.clone()),
            _ => self.get(key)?.text(),
        }
    }

    /// The whole number, if it is one.
    #[must_use]
    pub fn whole(&self) -> Option<u32> {
        self.value.as_u64().and_then(|n| u32::try_from(n).ok())
    }

    /// The place of the value.
    #[must_use]
    pub fn span(&self) -> Span {
        self.document.span(&self.pointer)
    }

    /// A finding at the value.
    #[must_use]
    pub fn finding(
        &self,
        code: Code,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Finding {
        self.document
            .finding(code, &self.pointer, message.into(), help.into())
    }

    /// A finding at the value's key.
    #[must_use]
    pub fn finding_at_key(
        &self,
        code: Code,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Finding {
        let span = self.document.key_span(&self.pointer);
        self.document
            .finding_at(code, &self.pointer, span, message.into(), help.into())
    }

    /// A finding at a part of the value's text.
    #[must_use]
    pub fn finding_within(
        &self,
        code: Code,
        (start, end): (usize, usize),
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Finding {
        let span = self.document.span_within(&self.pointer, start, end);
        self.document
            .finding_at(code, &self.pointer, span, message.into(), help.into())
    }
}
