//! Where formulas hold, and what is said where they don't.
//!
//! Never in here: formulas. Changes when the message does.

use std::fmt;

use super::Scalar;

/// A value outside the domain of a formula.
#[derive(Clone, Debug, PartialEq)]
pub struct OutOfDomain {
    /// What it is a value of.
    pub what: &'static str,
    /// The value.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// The lowest value allowed; where the value is this itself, only what is above it.
    pub low: f64,
    /// The highest value allowed.
    pub high: f64,
}

impl fmt::Display for OutOfDomain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            what,
            value,
            unit,
            low,
            high,
        } = self;
        if value == low {
            return write!(f, "{what} of {value} {unit} is not above {low} {unit}");
        }
        write!(
            f,
            "{what} of {value} {unit} is outside {low} {unit} to {high} {unit}"
        )
    }
}

impl OutOfDomain {
    /// A value of zero where it has to be above that.
    pub(super) fn at_zero(what: &'static str, unit: &'static str, high: f64) -> Self {
        Self {
            what,
            value: 0.0,
            unit,
            low: 0.0,
            high,
        }
    }
}

/// Passes `value` if it lies in the domain; NaN does not.
pub(super) fn inside<S: Scalar>(
    what: &'static str,
    value: S,
    unit: &'static str,
    low: f64,
    high: f64,
) -> Result<S, OutOfDomain> {
    if (low..=high).contains(&value.value()) {
        Ok(value)
    } else {
        Err(OutOfDomain {
            what,
            value: value.value(),
            unit,
            low,
            high,
        })
    }
}
