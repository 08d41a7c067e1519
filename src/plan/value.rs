//! What an expression gives and what a step is filled with.
//!
//! Never in here: types known before a run (see `expression`). Changes when a new sort of value is added.

use std::fmt;
use std::sync::Arc;

use crate::quantity::{Kind, Quantity};

use super::{Logged, Type};

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
    /// A logged series.
    Trace(Arc<Logged>),
    /// A column of a logged series, by its index.
    Series(Arc<Logged>, usize),
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

    /// Its type.
    #[must_use]
    pub fn type_of(&self) -> Type {
        match self {
            Self::Quantity(q) => Type::Quantity {
                kind: q.kind(),
                exact: q.is_exact(),
            },
            Self::Truth(_) => Type::Truth,
            Self::Text(_) | Self::Absent(_) => Type::Text,
            Self::List(items) => {
                Type::List(Box::new(items.first().map_or(Type::Text, Self::type_of)))
            }
            Self::Trace(logged) => {
                let columns = logged.trace.columns.iter();
                Type::Trace(columns.map(|c| (c.name.clone(), c.unit.kind())).collect())
            }
            Self::Series(logged, at) => {
                let column = logged.trace.columns.get(*at);
                Type::Series(column.map_or(Kind::RATIO, |c| c.unit.kind()))
            }
        }
    }

    /// Whether all numbers in it are exact.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        match self {
            Self::Quantity(q) => q.is_exact(),
            Self::List(items) => items.iter().all(Self::is_exact),
            Self::Trace(_) | Self::Series(..) => false,
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
            Self::Trace(logged) => f.write_str(&logged.summary()),
            Self::Series(logged, at) => {
                let name = logged.trace.columns.get(*at).map(|c| c.name.as_str());
                write!(f, "{} of {}", name.unwrap_or_default(), logged.name)
            }
            Self::List(items) => {
                let texts: Vec<String> = items.iter().map(ToString::to_string).collect();
                f.write_str(&texts.join("; "))
            }
        }
    }
}
