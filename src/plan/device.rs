//! What the register says of the device under test, as recipes name it: `device.serial`.
//!
//! Never in here: the register itself, or a record's form. Changes when a recipe may name another field.

use std::sync::Arc;

use super::{Absence, EvaluationError, Value};

/// The name that goes before the fields.
pub const DEVICE: &str = "device";

/// A field of the register.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the words of the register")]
pub enum DeviceField {
    Tag,
    Serial,
    Maker,
    Model,
    Category,
    Location,
}

impl DeviceField {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Tag,
        Self::Serial,
        Self::Maker,
        Self::Model,
        Self::Category,
        Self::Location,
    ];

    /// The word that recipes use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Tag => "tag",
            Self::Serial => "serial",
            Self::Maker => "maker",
            Self::Model => "model",
            Self::Category => "category",
            Self::Location => "location",
        }
    }

    /// The field of this word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.word() == word)
    }

    /// The name that it has in recipes.
    #[must_use]
    pub fn name(self) -> String {
        format!("{DEVICE}.{}", self.word())
    }
}

/// The device as the register had it on the day; nothing of it is known where a procedure is only looked at.
#[derive(Clone, Debug, Default)]
pub struct Device(Arc<[String; 6]>);

impl Device {
    /// With what `of` gives for each field.
    #[must_use]
    pub fn new(of: impl Fn(DeviceField) -> String) -> Self {
        Self(Arc::new(DeviceField::ALL.map(of)))
    }

    /// What the register says.
    ///
    /// # Errors
    /// A field that is empty there: what is compared with it can't be told.
    pub fn value(&self, field: DeviceField) -> Result<Value, EvaluationError> {
        let text = self.0[field as usize].trim();
        if text.is_empty() {
            return Err(EvaluationError::Missing {
                absence: Absence::Unregistered,
                path: field.name(),
            });
        }
        Ok(Value::Text(text.to_owned()))
    }
}
