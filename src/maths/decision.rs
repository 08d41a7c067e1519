//! Whether a measured value conforms: probabilities on the measured value, and verdicts after a decision rule.
//!
//! Never in here: risks over a whole process, and how guard bands are chosen. Changes when a decision rule is added.
//!
//! All values of one call are in one unit, whichever.

use std::fmt;

use super::Refusal;
use super::distribution::{normal_cdf, normal_tail};
use super::refusal::{positive, wanted};
use super::student::student_cdf;
use crate::quantity::Exact;

/// A tolerance or acceptance interval: a lower limit, an upper one, or both. Limits count as inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval<T> {
    low: Option<T>,
    high: Option<T>,
}

impl<T: PartialOrd + fmt::Display> Interval<T> {
    /// An interval between limits.
    ///
    /// # Errors
    /// No limit at all; a lower limit that is not below the upper one, or that can't be compared with it.
    pub fn new(low: Option<T>, high: Option<T>) -> Result<Self, Refusal> {
        match (&low, &high) {
            (None, None) => Err(Refusal::NoLimit),
            (Some(l), Some(h)) if l.partial_cmp(h) != Some(std::cmp::Ordering::Less) => {
                Err(Refusal::CrossedLimits {
                    low: l.to_string(),
                    high: h.to_string(),
                })
            }
            // A limit that is no number can't even be compared with itself.
            (Some(l), None) | (None, Some(l)) if l.partial_cmp(l).is_none() => {
                Err(Refusal::NoLimit)
            }
            _ => Ok(Self { low, high }),
        }
    }

    /// The lower limit.
    pub fn low(&self) -> Option<&T> {
        self.low.as_ref()
    }

    /// The upper limit.
    pub fn high(&self) -> Option<&T> {
        self.high.as_ref()
    }
}

impl Interval<f64> {
    /// The interval less a guard band `w` at each of its limits; a negative `w` widens it, which only a relaxed rule asks for.
    ///
    /// # Errors
    /// A guard band that is not a number; one that leaves nothing, or only one value.
    pub fn guarded(&self, w: f64) -> Result<Self, Refusal> {
        wanted("a guard band", w, "a number", true)?;
        let inner = Self::new(self.low.map(|l| l + w), self.high.map(|h| h - w));
        inner.map_err(|_| Refusal::EmptyZone {
            guard: w.to_string(),
        })
    }

    /// The limits, unbounded where there is none.
    pub(super) fn ends(&self) -> (f64, f64) {
        (
            self.low.unwrap_or(f64::NEG_INFINITY),
            self.high.unwrap_or(f64::INFINITY),
        )
    }
}

/// How what is known about a measured value is distributed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Knowledge {
    /// Normal: the degrees of freedom of u are many.
    Normal,
    /// Student's t, shifted to y and scaled by u, with these degrees of freedom (JCGM 106 A.3, JCGM 101 6.4.9, from memory).
    Student(f64),
}

/// The probability that the true value lies inside `tolerance`, given a measured `y` with standard uncertainty `u`:
/// Φ((T_U − y)/u) − Φ((T_L − y)/u), or the same with Student's t (JCGM 106:2012, 7.2 to 7.4, from memory).
///
/// # Errors
/// A `u` that is not above zero, a `y` that is not a number, degrees of freedom that are not above zero.
pub fn conformance_probability(
    y: f64,
    u: f64,
    tolerance: &Interval<f64>,
    knowledge: Knowledge,
) -> Result<f64, Refusal> {
    let (below, above) = outside(y, u, tolerance, knowledge)?;
    Ok((1.0 - below - above).max(0.0))
}

/// The risk that this one item does not conform although it is accepted: one less the conformance probability, without
/// the loss of digits of the subtraction (JCGM 106:2012, 9.3.2, from memory).
///
/// # Errors
/// As [`conformance_probability`].
pub fn specific_risk(
    y: f64,
    u: f64,
    tolerance: &Interval<f64>,
    knowledge: Knowledge,
) -> Result<f64, Refusal> {
    let (below, above) = outside(y, u, tolerance, knowledge)?;
    Ok((below + above).min(1.0))
}

/// The probabilities of a true value below and above the tolerance.
fn outside(
    y: f64,
    u: f64,
    tolerance: &Interval<f64>,
    knowledge: Knowledge,
) -> Result<(f64, f64), Refusal> {
    positive("a standard uncertainty", u)?;
    wanted("a measured value", y, "a number", true)?;
    let (low, high) = tolerance.ends();
    let (below, above) = ((low - y) / u, (high - y) / u);
    match knowledge {
        Knowledge::Normal => Ok((normal_cdf(below), normal_tail(above))),
        Knowledge::Student(nu) => Ok((student_cdf(below, nu)?, student_cdf(-above, nu)?)),
    }
}

/// A rule for deciding (ILAC-G8:09/2019, 4.2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecisionRule {
    /// No guard band: accepted up to the limits.
    Simple,
    /// A guard band w inside each limit: pass or fail.
    Guarded,
    /// A guard band w on both sides of each limit: pass, conditional pass, conditional fail, fail.
    Banded,
}

/// What is decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Inside by the guard band or more.
    Pass,
    /// Inside, but by less than the guard band.
    ConditionalPass,
    /// Outside, but by the guard band at most.
    ConditionalFail,
    /// Outside, by more than the rule allows.
    Fail,
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Pass => "pass",
            Self::ConditionalPass => "conditional pass",
            Self::ConditionalFail => "conditional fail",
            Self::Fail => "fail",
        })
    }
}

/// How far `y` lies inside the nearer limit; below zero outside. Exactly.
#[must_use]
pub fn margin(y: &Exact, tolerance: &Interval<Exact>) -> Exact {
    let from_low = tolerance.low().map(|low| y.clone() - low.clone());
    let from_high = tolerance.high().map(|high| high.clone() - y.clone());
    match (from_low, from_high) {
        (Some(low), Some(high)) => low.min(high),
        (Some(only), None) | (None, Some(only)) => only,
        // `Interval::new` refuses an interval without limits.
        (None, None) => Exact::zero(),
    }
}

/// The four-way verdict of a margin with a guard band `w`: pass from `w` on, conditional pass from zero, conditional fail
/// down to −`w`, else fail (ILAC-G8:09/2019, 4.2.2 and 4.2.3). Exactly; on a limit counts as inside (this project's
/// convention, the guides don't fix it). With `w` = 0 it is pass or fail.
#[must_use]
pub fn banded(margin: &Exact, w: &Exact) -> Verdict {
    if *margin >= *w {
        Verdict::Pass
    } else if !margin.is_negative() {
        Verdict::ConditionalPass
    } else if *margin >= -w.clone() {
        Verdict::ConditionalFail
    } else {
        Verdict::Fail
    }
}

/// How far doubles may stray by rounding, as a share of the magnitudes that they came from. Rounding comes to some 1e-15 of
/// these, and no instrument of the trade tells 1e-9 of a reading: what lies nearer to an edge than this is on it.
pub const ON_EDGE: f64 = 1e-12;

/// Whether `distance` is at least `guard`, which was found in doubles from numbers up to `magnitude`; on the edge counts as
/// inside. A guard of exactly zero is no double that was rounded: there the distance decides exactly.
#[must_use]
pub fn reaches(distance: &Exact, guard: f64, magnitude: f64) -> bool {
    if guard == 0.0 {
        return !distance.is_negative();
    }
    let tolerance = ON_EDGE * magnitude.abs().max(guard.abs());
    distance.to_f64() >= guard - tolerance
}

/// The verdict on a measured `y` after `rule` with guard band `w` (not used by the simple rule). Exactly; on a limit counts
/// as inside.
///
/// # Errors
/// A guard band below zero; one that leaves nothing to accept (twice `w` above the width: exactly the width leaves one value).
pub fn decide(
    y: &Exact,
    tolerance: &Interval<Exact>,
    rule: DecisionRule,
    w: &Exact,
) -> Result<Verdict, Refusal> {
    let inside = margin(y, tolerance);
    if rule == DecisionRule::Simple {
        return Ok(banded(&inside, &Exact::zero()));
    }
    let not_below = !w.is_negative();
    wanted("a guard band", w.to_f64(), "0 or above", not_below)?;
    if let (Some(low), Some(high)) = (tolerance.low(), tolerance.high())
        && w.clone() + w.clone() > high.clone() - low.clone()
    {
        let guard = w.to_text();
        return Err(Refusal::EmptyZone { guard });
    }
    Ok(match (rule, banded(&inside, w)) {
        (DecisionRule::Guarded, Verdict::Pass) => Verdict::Pass,
        (DecisionRule::Guarded, _) => Verdict::Fail,
        (_, verdict) => verdict,
    })
}
