//! Mean, spread, correlation and quantiles of readings, in exact arithmetic with one root at the end.
//!
//! Never in here: judging readings (outliers have their own file). Changes when a statistic is added.
//!
//! Readings are exact values of one unit; means and quantiles are in that unit, variances in its square.

use super::Refusal;
use super::refusal::{enough, wanted};
use crate::quantity::Exact;

/// Which quantile of a sample is meant (numbers of Hyndman & Fan 1996, from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum QuantileRule {
    /// Type 6: at (n + 1)·p, counted from one; what many handbooks of statistics use.
    Type6,
    /// Type 7: at (n − 1)·p, counted from zero; what spreadsheets use.
    Type7,
}

/// A count as an exact number.
pub(super) fn count(n: usize) -> Exact {
    Exact::from(i64::try_from(n).unwrap_or(i64::MAX))
}

/// Σ of the values; zero for none.
pub(super) fn sum(values: impl IntoIterator<Item = Exact>) -> Exact {
    values.into_iter().fold(Exact::zero(), |sum, v| sum + v)
}

/// `part`/`whole`, refused as having no spread where the whole is zero.
pub(super) fn over(part: &Exact, whole: &Exact, what: &'static str) -> Result<Exact, Refusal> {
    part.checked_div(whole).ok_or(Refusal::NoSpread { what })
}

/// x̄ = Σx/n, exactly.
///
/// # Errors
/// No readings.
pub fn mean(readings: &[Exact]) -> Result<Exact, Refusal> {
    enough("a mean", 1, readings.len())?;
    over(
        &sum(readings.iter().cloned()),
        &count(readings.len()),
        "mean",
    )
}

/// x − x̄ for each reading.
pub(super) fn deviations(readings: &[Exact]) -> Result<Vec<Exact>, Refusal> {
    let centre = mean(readings)?;
    Ok(readings
        .iter()
        .map(|x| x.clone() - centre.clone())
        .collect())
}

/// Σ of the products of what stands at the same place.
pub(super) fn products(left: &[Exact], right: &[Exact]) -> Exact {
    sum(left.iter().zip(right).map(|(x, y)| x.clone() * y.clone()))
}

/// s² = Σ(x − x̄)²/(n − 1), exactly (GUM 4.2.2).
///
/// # Errors
/// Fewer than two readings.
pub fn variance(readings: &[Exact]) -> Result<Exact, Refusal> {
    covariance(readings, readings)
}

/// s, the root of [`variance`].
///
/// # Errors
/// Fewer than two readings.
pub fn standard_deviation(readings: &[Exact]) -> Result<f64, Refusal> {
    Ok(variance(readings)?.to_f64().sqrt())
}

/// s/√n, the standard uncertainty of the mean (type A; GUM 4.2.3), with n − 1 degrees of freedom.
///
/// # Errors
/// Fewer than two readings.
pub fn standard_deviation_of_mean(readings: &[Exact]) -> Result<f64, Refusal> {
    let of_mean = over(&variance(readings)?, &count(readings.len()), "mean")?;
    Ok(of_mean.to_f64().sqrt())
}

/// Σ(x − x̄)(y − ȳ)/(n − 1) of readings taken at the same time, exactly; the covariance of the means is 1/n of it (GUM
/// 5.2.3, eq. (17)).
///
/// # Errors
/// Lists of different length; fewer than two readings.
pub fn covariance(x: &[Exact], y: &[Exact]) -> Result<Exact, Refusal> {
    paired(x, y)?;
    enough("a spread", 2, x.len())?;
    let products = products(&deviations(x)?, &deviations(y)?);
    over(&products, &count(x.len() - 1), "spread")
}

/// The correlation coefficient of readings taken at the same time (GUM 5.2.2, eq. (14)); the means have the same.
///
/// # Errors
/// As [`covariance`]; a list of equal readings.
pub fn correlation(x: &[Exact], y: &[Exact]) -> Result<f64, Refusal> {
    let together = covariance(x, y)?;
    let spread = variance(x)? * variance(y)?;
    let square = over(
        &(together.clone() * together.clone()),
        &spread,
        "correlation",
    )?;
    Ok(signed_root(&square, together.is_negative()))
}

/// √`square`, with a minus sign where it is `negative`.
pub(super) fn signed_root(square: &Exact, negative: bool) -> f64 {
    let root = square.to_f64().sqrt();
    if negative { -root } else { root }
}

/// Refuses lists of different length.
pub(super) fn paired(x: &[Exact], y: &[Exact]) -> Result<(), Refusal> {
    if x.len() == y.len() {
        return Ok(());
    }
    let (first, second) = (x.len(), y.len());
    Err(Refusal::Unpaired { first, second })
}

/// r₁ = Σ(xᵢ − x̄)(xᵢ₊₁ − x̄)/Σ(xᵢ − x̄)², exactly: how much a reading resembles the one before (NIST StRD).
///
/// # Errors
/// Fewer than two readings; readings that are all equal.
pub fn lag_one_autocorrelation(readings: &[Exact]) -> Result<Exact, Refusal> {
    enough("an autocorrelation", 2, readings.len())?;
    let from_mean = deviations(readings)?;
    let next = products(&from_mean, &from_mean[1..]);
    over(&next, &products(&from_mean, &from_mean), "autocorrelation")
}

/// The readings in order of size.
pub(super) fn sorted(readings: &[Exact]) -> Vec<Exact> {
    let mut sorted = readings.to_vec();
    sorted.sort();
    sorted
}

/// The largest reading less the smallest.
///
/// # Errors
/// No readings.
pub fn range(readings: &[Exact]) -> Result<Exact, Refusal> {
    match (readings.iter().max(), readings.iter().min()) {
        (Some(high), Some(low)) => Ok(high.clone() - low.clone()),
        _ => enough("a range", 1, 0).map(|()| Exact::zero()),
    }
}

/// The middle reading, or halfway between the middle two.
///
/// # Errors
/// No readings.
pub fn median(readings: &[Exact]) -> Result<Exact, Refusal> {
    let ordered = sorted(readings);
    let n = ordered.len();
    enough("a median", 1, n)?;
    let both = ordered[(n - 1) / 2].clone() + ordered[n / 2].clone();
    over(&both, &count(2), "median")
}

/// The quantile of order `p`, by interpolation between readings after `rule`; beyond the ends, the first or last reading.
///
/// # Errors
/// No readings; a `p` outside 0 to 1.
pub fn quantile(readings: &[Exact], p: &Exact, rule: QuantileRule) -> Result<Exact, Refusal> {
    let ordered = sorted(readings);
    enough("a quantile", 1, ordered.len())?;
    let inside = !p.is_negative() && *p <= Exact::one();
    wanted("the order of a quantile", p.to_f64(), "0 to 1", inside)?;
    let last = ordered.len() - 1;
    let position = match rule {
        QuantileRule::Type6 => count(last + 2) * p.clone() - Exact::one(),
        QuantileRule::Type7 => count(last) * p.clone(),
    };
    if position.is_negative() {
        return Ok(ordered[0].clone());
    }
    let below = whole_part(&position);
    if below >= last {
        return Ok(ordered[last].clone());
    }
    let step = ordered[below + 1].clone() - ordered[below].clone();
    Ok(ordered[below].clone() + step * (position - count(below)))
}

/// The whole part of a number that is not negative.
fn whole_part(number: &Exact) -> usize {
    number
        .round_to(&Exact::one(), crate::quantity::Rounding::Floor)
        .and_then(|whole| whole.to_i64())
        .and_then(|whole| usize::try_from(whole).ok())
        .unwrap_or(usize::MAX)
}
