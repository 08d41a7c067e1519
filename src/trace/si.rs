//! From a unit to SI in doubles, with one rounding wherever the factor allows.
//!
//! Never in here: exact values, which `quantity` has. Changes when a unit needs more than a factor and an offset.

use crate::quantity::{Exact, Unit};

/// Whole numbers up to here are exact as doubles.
const WHOLE: f64 = 9_007_199_254_740_992.0;

/// Multiplies, divides and adds.
#[derive(Clone, Copy, Debug)]
pub(super) struct ToSi {
    times: f64,
    over: f64,
    offset: f64,
}

impl ToSi {
    /// Leaves numbers as they are.
    pub const NONE: Self = Self {
        times: 1.0,
        over: 1.0,
        offset: 0.0,
    };

    /// A factor of 1/1000 is a division by 1000, which rounds once; 0.001 as a double would round twice.
    pub fn of(unit: &Unit) -> Self {
        let factor = unit.factor();
        let over = Exact::one()
            .checked_div(factor)
            .filter(Exact::is_whole)
            .map(|e| e.to_f64())
            .filter(|over| *over <= WHOLE);
        Self {
            times: over.map_or(factor.to_f64(), |_| 1.0),
            over: over.unwrap_or(1.0),
            offset: unit.offset().to_f64(),
        }
    }

    pub fn apply(self, value: f64) -> f64 {
        value * self.times / self.over + self.offset
    }
}
