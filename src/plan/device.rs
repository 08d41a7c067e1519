//! What is known when a session begins, as recipes name it: what the register says of the device under test
//! (`device.serial`), and who runs the session (`session.by`).
//!
//! Never in here: the register itself, or a record's form. Changes when a recipe may name another field.

use std::sync::Arc;

use super::{Absence, EvaluationError, Value};

/// The name that goes before the fields of the register.
pub const DEVICE: &str = "device";
/// The name that goes before what is known of the session.
pub const SESSION: &str = "session";

/// A field of the register, or of the session.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the words of the register")]
pub enum DeviceField {
    Tag,
    Serial,
    Maker,
    Model,
    Category,
    Location,
    By,
}

impl DeviceField {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Tag,
        Self::Serial,
        Self::Maker,
        Self::Model,
        Self::Category,
        Self::Location,
        Self::By,
    ];

    /// Those of the register.
    pub fn of_register() -> impl Iterator<Item = Self> {
        Self::ALL.into_iter().filter(|f| *f != Self::By)
    }

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
            Self::By => "by",
        }
    }

    /// The field of this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.name() == name)
    }

    /// What it is, in a sentence.
    #[must_use]
    pub fn said(self) -> String {
        match self {
            Self::By => "the id of who runs the session".to_owned(),
            _ => format!("the {} in the register", self.word()),
        }
    }

    /// The name that it has in recipes.
    #[must_use]
    pub fn name(self) -> String {
        let of = match self {
            Self::By => SESSION,
            _ => DEVICE,
        };
        format!("{of}.{}", self.word())
    }
}

/// The device as the register had it on the day, and who runs the session; nothing of it is known where a procedure is
/// only looked at.
#[derive(Clone, Debug, Default)]
pub struct Device(Arc<[String; 7]>);

impl Device {
    /// With what `of` gives for each field.
    #[must_use]
    pub fn new(of: impl Fn(DeviceField) -> String) -> Self {
        Self(Arc::new(DeviceField::ALL.map(of)))
    }

    /// What the field says.
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
