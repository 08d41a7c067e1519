//! What the names of an expression stand for.
//!
//! Never in here: evaluation. Changes when more has to be known of a name.

use std::cell::RefCell;

use super::{EvaluationError, Node, Sources, Spread, Value};

/// Where the names of an expression get their values.
pub trait Scope {
    /// The value of the name with this index.
    ///
    /// # Errors
    /// [`EvaluationError::Missing`] where it has none.
    fn value(&self, index: usize) -> Result<Value, EvaluationError>;

    /// The value of the name with its sensitivities to sources of error; none act on it where nothing else is said.
    ///
    /// # Errors
    /// As for the value.
    fn spread(&self, index: usize) -> Result<Spread, EvaluationError> {
        self.value(index).map(|value| Spread::known(&value))
    }

    /// Where the value of the name comes from.
    ///
    /// # Errors
    /// As for the value.
    fn origin(&self, index: usize) -> Result<Origin, EvaluationError> {
        self.spread(index).map(Origin::Given)
    }

    /// What lies behind the value of the name: nothing but a reading where nothing else is said.
    fn behind(&self, index: usize) -> Behind {
        Behind::reading(self.spread(index).ok().as_ref())
    }

    /// What a computed value was computed by: its tree, and what the names of that stand for.
    fn computed(&self, _id: usize) -> Option<(&Node, Box<dyn Scope + '_>)> {
        None
    }

    /// The sources of error, and the item that is evaluated.
    fn sources(&self) -> Option<(&RefCell<Sources>, usize)> {
        None
    }
}

/// Where the value of a name comes from.
#[derive(Clone, Debug)]
pub enum Origin {
    /// It was given, with what acts on it.
    Given(Spread),
    /// It was computed, from values with lower numbers.
    Computed(usize),
    /// Several.
    List(Vec<Self>),
}

/// What lies behind a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Behind {
    /// Whether nothing but sums, means and multiples leads to it from readings: to first order nothing is lost there.
    pub straight: bool,
    /// Whether any source of error acts on what it was computed from, even if nothing of it is left in the value.
    pub acted_upon: bool,
}

impl Behind {
    /// What lies behind a value that is taken as known.
    pub const NOTHING: Self = Self {
        straight: true,
        acted_upon: false,
    };

    /// What lies behind a value that was entered.
    #[must_use]
    pub fn reading(spread: Option<&Spread>) -> Self {
        let numbers = spread.map(Spread::numbers).unwrap_or_default();
        Self {
            acted_upon: numbers.iter().any(|n| !n.parts.is_empty()),
            ..Self::NOTHING
        }
    }
}
