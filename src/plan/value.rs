//! What an expression gives and what a step is filled with.
//!
//! Never in here: types known before a run (see `expression`). Changes when a new sort of value is added.

use std::fmt;

use crate::quantity::Quantity;

/// A value.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A quantity, or a bare number.
    Quantity(Quantity),
    /// A truth.
    Truth(bool),
    /// A text.
    Text(String),
    /// Several values.
    List(Vec<Self>),
    /// The empty place of a row that did not apply, inside a list; the path of its step.
    Absent(String),
}

impl Value {
    /// The quantity, if it is one.
    #[must_use]
    pub fn as_quantity(&self) -> Option<&Quantity> {
        match self {
            Self::Quantity(q) => Some(q),
            _ => None,
        }
    }

    /// The truth, if it is one.
    #[must_use]
    pub fn as_truth(&self) -> Option<bool> {
        match self {
            Self::Truth(t) => Some(*t),
            _ => None,
        }
    }

    /// Whether all numbers in it are exact.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        match self {
            Self::Quantity(q) => q.is_exact(),
            Self::List(items) => items.iter().all(Self::is_exact),
            Self::Truth(_) | Self::Text(_) | Self::Absent(_) => true,
        }
    }
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Quantity(q) => q.fmt(f),
            Self::Truth(true) => f.write_str("yes"),
            Self::Truth(false) => f.write_str("no"),
            Self::Text(t) => f.write_str(t),
            Self::Absent(_) => f.write_str("—"),
            Self::List(items) => {
                let texts: Vec<String> = items.iter().map(ToString::to_string).collect();
                f.write_str(&texts.join("; "))
            }
        }
    }
}
