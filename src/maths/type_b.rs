//! Standard uncertainties from what is known without repeated readings (type B; GUM 4.3).
//!
//! Never in here: readings. Changes when a distribution is added.

use super::Refusal;
use super::distribution::normal_quantile;
use super::refusal::{positive, probability, wanted};

/// What is known about a quantity, and so what its half-width is divided by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TypeB {
    /// Anything within ±a, nothing outside: √3 (GUM 4.3.7).
    Rectangular,
    /// Within ±a, the middle likeliest: √6 (GUM 4.3.9).
    Triangular,
    /// Swinging between −a and a: √2 (the arcsine distribution; JCGM 101 6.4.6, from memory).
    UShaped,
    /// A trapezoid with a top of β times its base: √(6/(1 + β²)) (GUM 4.3.9). β is 0 to 1.
    Trapezoidal(f64),
    /// An expanded uncertainty with coverage factor k (GUM 4.3.3).
    Expanded(f64),
    /// ±a stated to hold with probability p, normal (GUM 4.3.4).
    NormalInterval(f64),
    /// A full step d of a display: d/√12 (GUM F.2.2.1).
    Resolution,
}

impl TypeB {
    /// What a half-width (for `Resolution` a full step) is divided by.
    ///
    /// # Errors
    /// A β outside 0 to 1, a k that is not above zero, a p outside 0 to 1.
    pub fn divisor(self) -> Result<f64, Refusal> {
        Ok(match self {
            Self::Rectangular => 3.0_f64.sqrt(),
            Self::Triangular => 6.0_f64.sqrt(),
            Self::UShaped => 2.0_f64.sqrt(),
            Self::Trapezoidal(beta) => {
                let holds = (0.0..=1.0).contains(&beta);
                let beta = wanted("the top of a trapezoid", beta, "0 to 1 of its base", holds)?;
                (6.0 / (1.0 + beta * beta)).sqrt()
            }
            Self::Expanded(k) => positive("a coverage factor", k)?,
            Self::NormalInterval(p) => {
                normal_quantile(0.5 + 0.5 * probability("a coverage probability", p)?)?
            }
            Self::Resolution => 12.0_f64.sqrt(),
        })
    }

    /// The standard uncertainty of a half-width (or step) `a`, in its unit.
    ///
    /// # Errors
    /// As [`TypeB::divisor`]; an `a` below zero.
    pub fn standard_uncertainty(self, a: f64) -> Result<f64, Refusal> {
        Ok(wanted("a half-width", a, "0 or above", a >= 0.0)? / self.divisor()?)
    }
}
