//! Shewhart's charts of means and ranges, and of single readings: their constants and limits.
//!
//! Never in here: rules for runs of points. Changes when a chart is added.

use super::Refusal;
use super::distribution::{normal_cdf, normal_density, normal_tail};
use super::integral::integral;
use super::refusal::{enough, wanted};
use super::statistics::mean;
use crate::quantity::Exact;

/// Largest subgroup that the constants are given for.
pub const LARGEST_SUBGROUP: usize = 25;
/// Where the normal density is as good as zero: 1e-22 of its peak.
const REACH: i32 = 10;

/// The constants of charts for subgroups of n readings (names of ISO 7870-2 and ASTM E2587, from memory), computed from
/// the distribution of the range of n normal values to about 1e-12. Printed tables round d2 and d3 first, so that their
/// D3 and D4 may differ by one in the third decimal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChartConstants {
    /// Readings in a subgroup.
    pub n: usize,
    /// Mean of the range, in standard deviations.
    pub d2: f64,
    /// Standard deviation of the range, in standard deviations.
    pub d3: f64,
    /// Mean of s, in standard deviations.
    pub c4: f64,
}

impl ChartConstants {
    /// The constants for subgroups of `n`.
    ///
    /// # Errors
    /// An `n` outside 2 to 25.
    pub fn of(n: usize) -> Result<Self, Refusal> {
        let holds = (2..=LARGEST_SUBGROUP).contains(&n);
        wanted("a subgroup size", n as f64, "2 to 25", holds)?;
        let size = n as f64;
        let d2 = mean_range(size);
        let d3 = (mean_square_range(size) - d2 * d2).sqrt();
        let gammas = (libm::lgamma(0.5 * size) - libm::lgamma(0.5 * (size - 1.0))).exp();
        let c4 = (2.0 / (size - 1.0)).sqrt() * gammas;
        Ok(Self { n, d2, d3, c4 })
    }

    /// A2 = 3/(d2·√n): limits of means from the mean range.
    #[must_use]
    pub fn a2(&self) -> f64 {
        3.0 / (self.d2 * (self.n as f64).sqrt())
    }

    /// D3 = 1 − 3·d3/d2, or zero: the lower limit of ranges.
    #[must_use]
    pub fn lower_range_factor(&self) -> f64 {
        (1.0 - 3.0 * self.d3 / self.d2).max(0.0)
    }

    /// D4 = 1 + 3·d3/d2: the upper limit of ranges.
    #[must_use]
    pub fn upper_range_factor(&self) -> f64 {
        1.0 + 3.0 * self.d3 / self.d2
    }

    /// The standard deviation that a mean range stands for: R̄/d2.
    #[must_use]
    pub fn standard_deviation(&self, mean_range: f64) -> f64 {
        mean_range / self.d2
    }

    /// The chart of means: x̄ ± A2·R̄, in the unit of the readings.
    ///
    /// # Errors
    /// A mean range below zero; values that are not numbers.
    pub fn mean_limits(&self, grand_mean: f64, mean_range: f64) -> Result<ChartLimits, Refusal> {
        wanted("a grand mean", grand_mean, "a number", true)?;
        let reach = self.a2() * checked_range(mean_range)?;
        Ok(ChartLimits {
            low: grand_mean - reach,
            centre: grand_mean,
            high: grand_mean + reach,
        })
    }

    /// The chart of ranges: D3·R̄ and D4·R̄, in the unit of the readings.
    ///
    /// # Errors
    /// A mean range below zero, or not a number.
    pub fn range_limits(&self, mean_range: f64) -> Result<ChartLimits, Refusal> {
        let centre = checked_range(mean_range)?;
        Ok(ChartLimits {
            low: self.lower_range_factor() * centre,
            centre,
            high: self.upper_range_factor() * centre,
        })
    }
}

/// The charts of single readings and of their moving ranges |xᵢ − xᵢ₋₁|, in the unit of the readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Individuals {
    /// x̄ ± 3·MR̄/d2, with the d2 of two readings: 1.128.
    pub values: ChartLimits,
    /// 0 to D4·MR̄.
    pub ranges: ChartLimits,
}

/// The limits of charts of individuals from readings in order of time (NIST/SEMATECH e-Handbook 6.3.2.2, from memory).
///
/// # Errors
/// Fewer than two readings.
pub fn individuals(readings: &[Exact]) -> Result<Individuals, Refusal> {
    enough("a chart of individuals", 2, readings.len())?;
    let moving: Vec<Exact> = readings
        .windows(2)
        .map(|w| (w[1].clone() - w[0].clone()).abs())
        .collect();
    let constants = ChartConstants::of(2)?;
    let (centre, mean_range) = (mean(readings)?.to_f64(), mean(&moving)?.to_f64());
    let reach = 3.0 * constants.standard_deviation(mean_range);
    Ok(Individuals {
        values: ChartLimits {
            low: centre - reach,
            centre,
            high: centre + reach,
        },
        ranges: constants.range_limits(mean_range)?,
    })
}

/// The three lines of a chart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChartLimits {
    /// The lower limit.
    pub low: f64,
    /// The centre line.
    pub centre: f64,
    /// The upper limit.
    pub high: f64,
}

fn checked_range(mean_range: f64) -> Result<f64, Refusal> {
    wanted("a mean range", mean_range, "0 or above", mean_range >= 0.0)
}

fn panels() -> Vec<f64> {
    (-REACH..=REACH).map(f64::from).collect()
}

/// d2 = ∫ 1 − Φⁿ − (1 − Φ)ⁿ (Tippett 1925, from memory), twice its half above zero.
fn mean_range(n: f64) -> f64 {
    let outside = |x: f64| {
        let tail = normal_tail(x);
        -(n * (-tail).ln_1p()).exp_m1() - tail.powf(n)
    };
    2.0 * integral(outside, 0.0, f64::from(REACH), &panels())
}

/// The mean of the squared range: ∫ 2w·P(R > w), with P(R ≤ w) = n·∫ φ(x)·(Φ(x + w) − Φ(x))ⁿ⁻¹ (from memory).
fn mean_square_range(n: f64) -> f64 {
    let reach = f64::from(REACH);
    let ends = panels();
    let within = |w: f64| {
        let density =
            |x: f64| n * normal_density(x) * (normal_cdf(x + w) - normal_cdf(x)).powf(n - 1.0);
        integral(density, -reach, reach, &ends)
    };
    let more_ends: Vec<f64> = (1..2 * REACH).map(f64::from).collect();
    integral(
        |w| 2.0 * w * (1.0 - within(w)),
        0.0,
        1.6 * reach,
        &more_ends,
    )
}
