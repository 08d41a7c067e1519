//! Coverage factors: from degrees of freedom and a probability to k.
//!
//! Never in here: budgets. Changes when coverage is stated otherwise.

use super::EffectiveFreedom;
use super::Refusal;
use super::distribution::normal_quantile;
use super::refusal::{probability, wanted};
use super::student::student_quantile;

/// The coverage probability that is meant where none is stated: with it k = 2 for many degrees of freedom.
pub const USUAL_PROBABILITY: f64 = 0.9545;

/// How far below a whole number effective degrees of freedom still count as that number: what arithmetic on doubles loses.
const LOST_IN_ARITHMETIC: f64 = 1e-9;

/// The next lower whole number (GUM G.4.1, note 1), as the table is entered with it.
#[must_use]
pub fn truncated(degrees_of_freedom: f64) -> f64 {
    (degrees_of_freedom * (1.0 + LOST_IN_ARITHMETIC)).floor()
}

/// k for coverage probability `p`: t of (1 + p)/2 with the *truncated* degrees of freedom (GUM G.3.2, G.4.1); exactly 2
/// for 0.9545 with infinitely many (as GUM table G.2 heads its column; the quantile is 2.000 02).
///
/// # Errors
/// Unless 0 < p < 1; fewer than one degree of freedom; none that are defined.
pub fn coverage_factor(p: f64, degrees_of_freedom: EffectiveFreedom) -> Result<f64, Refusal> {
    probability("a coverage probability", p)?;
    match degrees_of_freedom {
        EffectiveFreedom::Infinite if p == USUAL_PROBABILITY => Ok(2.0),
        EffectiveFreedom::Infinite => normal_quantile(0.5 + 0.5 * p),
        EffectiveFreedom::Finite(nu) => {
            let whole = truncated(nu);
            let holds = whole >= 1.0;
            wanted(
                "effective degrees of freedom",
                nu,
                "1 or more for a coverage factor",
                holds,
            )?;
            student_quantile(0.5 + 0.5 * p, whole)
        }
        EffectiveFreedom::NotDefined => Err(Refusal::NoFreedom),
    }
}
