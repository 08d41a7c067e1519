//! Guard bands, and the test uncertainty ratio that some of them follow from.
//!
//! Never in here: risks over a process (they have their own file). Changes when a guard band is added.
//!
//! Tolerances are half-widths T, U is the expanded uncertainty; all of one call in one unit.

use super::Refusal;
use super::distribution::{normal_quantile, normal_tail};
use super::refusal::{positive, probability, wanted};

/// TUR = T/U95, the half-width of the tolerance over the expanded uncertainty at 95 % (ANSI/NCSL Z540.3, from memory). The
/// test *accuracy* ratio has the specification of the instrument in place of U, and is not this.
///
/// # Errors
/// A tolerance or an uncertainty that is not above zero.
pub fn test_uncertainty_ratio(half_tolerance: f64, expanded: f64) -> Result<f64, Refusal> {
    positive("a tolerance", half_tolerance)?;
    positive("an expanded uncertainty", expanded)?;
    Ok(half_tolerance / expanded)
}

/// A/T = √(1 − 1/TUR²): how much of the tolerance the root-sum-of-squares guard band leaves (from memory).
///
/// # Errors
/// A ratio that is not above 1: nothing would be left.
pub fn rss_acceptance(tur: f64) -> Result<f64, Refusal> {
    wanted("a test uncertainty ratio", tur, "above 1", tur > 1.0)?;
    Ok((1.0 - 1.0 / (tur * tur)).sqrt())
}

/// w/U = 1.04 − e^(0.38·ln TUR − 0.54), which keeps the risk of false acceptance at 2 % or below whatever the process
/// (Dobbert 2008, from memory); zero from a ratio of about 4.6 on, where it needs no guard band.
///
/// # Errors
/// A ratio that is not above zero.
pub fn dobbert_multiplier(tur: f64) -> Result<f64, Refusal> {
    positive("a test uncertainty ratio", tur)?;
    Ok((1.04 - (0.38 * tur.ln() - 0.54).exp()).max(0.0))
}

/// How a guard band is chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GuardBand {
    /// w = r·U; ILAC-G8 takes r = 1 (and 0 for simple acceptance).
    OfExpanded(f64),
    /// T − √(T² − U²), see [`rss_acceptance`].
    Rss,
    /// See [`dobbert_multiplier`].
    Dobbert,
}

/// The width of a guard band for a half-tolerance and an expanded uncertainty.
///
/// # Errors
/// A tolerance or uncertainty that is not above zero; a multiple below zero; a ratio of 1 or less for RSS.
pub fn guard_band(band: GuardBand, half_tolerance: f64, expanded: f64) -> Result<f64, Refusal> {
    let tur = test_uncertainty_ratio(half_tolerance, expanded)?;
    match band {
        GuardBand::OfExpanded(r) => {
            Ok(wanted("a multiple of U", r, "0 or above", r >= 0.0)? * expanded)
        }
        GuardBand::Rss => Ok(half_tolerance * (1.0 - rss_acceptance(tur)?)),
        GuardBand::Dobbert => Ok(dobbert_multiplier(tur)? * expanded),
    }
}

/// w = z·u, with which a value on the acceptance limit conforms with probability `p` to the one limit that matters
/// (JCGM 106:2012, 8.3.2 and table 1, from memory). Below zero for `p` under one half.
///
/// # Errors
/// A `u` that is not above zero; unless 0 < p < 1.
pub fn guard_band_for_probability(p: f64, u: f64) -> Result<f64, Refusal> {
    probability("a conformance probability", p)?;
    Ok(normal_quantile(p)? * positive("a standard uncertainty", u)?)
}

/// The smallest measured value that is above a lower limit with probability `p` where u is `relative` times the measured
/// value: T_L/(1 − z·`relative`) (the speed-limit example of JCGM 106:2012, from memory).
///
/// # Errors
/// A limit or relative uncertainty that is not above zero; one so large that no value would do.
pub fn least_above_limit(limit: f64, relative: f64, p: f64) -> Result<f64, Refusal> {
    positive("a limit", limit)?;
    let reach = guard_band_for_probability(p, relative)?;
    wanted("a relative guard band", reach, "below 1", reach < 1.0)?;
    Ok(limit / (1.0 - reach))
}

/// The largest measured value that is below an upper limit with probability `p` where u is `relative` times the measured
/// value: T_U/(1 + z·`relative`).
///
/// # Errors
/// As [`least_above_limit`].
pub fn greatest_below_limit(limit: f64, relative: f64, p: f64) -> Result<f64, Refusal> {
    positive("a limit", limit)?;
    let reach = guard_band_for_probability(p, relative)?;
    wanted("a relative guard band", reach, "above -1", reach > -1.0)?;
    Ok(limit / (1.0 + reach))
}

/// The risk of false acceptance of a value exactly on the acceptance limit, with w = `multiple`·U and U = `k`·u:
/// 1 − Φ(k·multiple) (ILAC-G8:09/2019, table 1, from memory).
///
/// # Errors
/// A `k` that is not above zero; a multiple that is not a number.
pub fn risk_on_acceptance_limit(multiple: f64, k: f64) -> Result<f64, Refusal> {
    positive("a coverage factor", k)?;
    wanted("a multiple of U", multiple, "a number", true)?;
    Ok(normal_tail(k * multiple))
}
