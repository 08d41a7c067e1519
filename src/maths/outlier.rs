//! Hints at readings that stand apart. A hint names a reading and says why; it never leaves one out.
//!
//! Never in here: removing readings, which takes a person and a reason. Changes when a test for outliers is added.

use super::Refusal;
use super::refusal::{enough, probability};
use super::statistics::{
    QuantileRule, count, deviations, mean, median, over, products, quantile, range, sorted, sum,
};
use super::student::student_quantile;
use crate::quantity::Exact;

/// A reading that stands farthest apart, and how far.
#[derive(Clone, Debug, PartialEq)]
pub struct Hint {
    /// Which reading, counted from zero.
    pub index: usize,
    /// The statistic of the test.
    pub statistic: f64,
    /// What the statistic is compared with.
    pub critical: f64,
    /// Whether the statistic is beyond it.
    pub stands_out: bool,
}

impl Hint {
    fn above(index: usize, statistic: f64, critical: f64) -> Self {
        Self {
            index,
            statistic,
            critical,
            stands_out: statistic > critical,
        }
    }
}

/// On which side an outlier is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Among the largest.
    Upper,
    /// Among the smallest.
    Lower,
    /// On both sides.
    Both,
}

/// The place of the greatest value; the first of equal ones.
fn greatest(values: &[Exact]) -> Option<usize> {
    (0..values.len()).reduce(|best, i| if values[i] > values[best] { i } else { best })
}

/// Grubbs' test: G = the greatest (x − x̄)/s, (x̄ − x)/s or |x − x̄|/s, against [`grubbs_critical`] at significance `alpha`
/// (NIST/SEMATECH e-Handbook 1.3.5.17.1, from memory). For readings that are normal but for one.
///
/// # Errors
/// Fewer than three readings; readings that are all equal; an `alpha` outside 0 to 1.
pub fn grubbs(readings: &[Exact], side: Side, alpha: f64) -> Result<Hint, Refusal> {
    let critical = grubbs_critical(readings.len(), side, alpha)?;
    let from_mean = deviations(readings)?;
    let apart: Vec<Exact> = from_mean
        .iter()
        .map(|d| match side {
            Side::Upper => d.clone(),
            Side::Lower => -d.clone(),
            Side::Both => d.abs(),
        })
        .collect();
    let index = greatest(&apart).unwrap_or(0);
    let square = apart[index].clone() * apart[index].clone() * count(readings.len() - 1);
    let ratio = over(
        &square,
        &products(&from_mean, &from_mean),
        "Grubbs statistic",
    )?;
    Ok(Hint::above(index, ratio.to_f64().sqrt(), critical))
}

/// The critical value (n−1)/√n·√(t²/(n−2+t²)) with t of n − 2 degrees of freedom and α/n in the tail, α/2n for both sides.
///
/// # Errors
/// An `n` below three; an `alpha` outside 0 to 1.
pub fn grubbs_critical(n: usize, side: Side, alpha: f64) -> Result<f64, Refusal> {
    enough("Grubbs' test", 3, n)?;
    probability("a significance", alpha)?;
    let n = n as f64;
    let tails = if side == Side::Both { 2.0 * n } else { n };
    let t = student_quantile(alpha / tails, n - 2.0)?;
    // Divided through by t², so that a large t does no harm.
    Ok((n - 1.0) / (n * (1.0 + (n - 2.0) / (t * t))).sqrt())
}

/// How sure Dixon's test is to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Confidence {
    /// 90 %.
    Percent90,
    /// 95 %.
    Percent95,
    /// 99 %.
    Percent99,
}

/// Critical values of Dixon's r10, two-sided, for n from 3 to 10 at 90 %, 95 % and 99 %: Rorabacher, Anal. Chem. 63 (1991)
/// 139 (from memory; simulation differs by up to 0.004).
const DIXON: [[f64; 3]; 8] = [
    [0.941, 0.970, 0.994],
    [0.765, 0.829, 0.926],
    [0.642, 0.710, 0.821],
    [0.560, 0.625, 0.740],
    [0.507, 0.568, 0.680],
    [0.468, 0.526, 0.634],
    [0.437, 0.493, 0.598],
    [0.412, 0.466, 0.568],
];

/// The critical value of Dixon's r10 for `n` readings.
///
/// # Errors
/// An `n` outside 3 to 10.
pub fn dixon_critical(n: usize, confidence: Confidence) -> Result<f64, Refusal> {
    let what = "Dixon's test";
    enough(what, 3, n)?;
    let row = DIXON.get(n - 3).ok_or(Refusal::TooMany {
        what,
        allowed: 10,
        found: n,
    })?;
    Ok(match confidence {
        Confidence::Percent90 => row[0],
        Confidence::Percent95 => row[1],
        Confidence::Percent99 => row[2],
    })
}

/// Dixon's r10: the gap between the outermost reading and its neighbour, over the range, on whichever side it is greater.
///
/// # Errors
/// Fewer than 3 or more than 10 readings; readings that are all equal.
pub fn dixon(readings: &[Exact], confidence: Confidence) -> Result<Hint, Refusal> {
    let critical = dixon_critical(readings.len(), confidence)?;
    let ordered = sorted(readings);
    let last = ordered.len() - 1;
    let below = ordered[1].clone() - ordered[0].clone();
    let above = ordered[last].clone() - ordered[last - 1].clone();
    let (gap, outermost) = if above >= below {
        (above, &ordered[last])
    } else {
        (below, &ordered[0])
    };
    let index = readings.iter().position(|x| x == outermost).unwrap_or(0);
    let ratio = over(&gap, &range(readings)?, "Dixon ratio")?;
    Ok(Hint::above(index, ratio.to_f64(), critical))
}

/// What modified z scores were scaled by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ScaledBy {
    /// The median of the absolute deviations, as usual.
    Median,
    /// Their mean, since more than half of the readings equal the median.
    Mean,
}

/// Modified z scores beyond which a reading stands out (Iglewicz & Hoaglin 1993, from memory).
pub const MODIFIED_Z_LIMIT: f64 = 3.5;

/// The modified z score of each reading: 0.6745·(x − median)/MAD, compared by its size with 3.5 (Iglewicz & Hoaglin 1993,
/// from memory). Where more than half of the readings are equal, MAD is zero and the mean absolute deviation takes its
/// place: (x − median)/(1.253314·mean) (from memory).
///
/// # Errors
/// Fewer than three readings; readings that are all equal.
pub fn modified_z(readings: &[Exact]) -> Result<(Vec<Hint>, ScaledBy), Refusal> {
    enough("a modified z score", 3, readings.len())?;
    let centre = median(readings)?;
    let apart: Vec<Exact> = readings
        .iter()
        .map(|x| x.clone() - centre.clone())
        .collect();
    let sizes: Vec<Exact> = apart.iter().map(Exact::abs).collect();
    let mad = median(&sizes)?;
    let (scale, factor, by) = if mad.is_zero() {
        (mean(&sizes)?, 1.0 / 1.253_314, ScaledBy::Mean)
    } else {
        (mad, 0.6745, ScaledBy::Median)
    };
    let score = |(index, x): (usize, &Exact)| {
        let statistic = factor * over(x, &scale, "modified z score")?.to_f64();
        Ok(Hint {
            index,
            statistic,
            critical: MODIFIED_Z_LIMIT,
            stands_out: statistic.abs() > MODIFIED_Z_LIMIT,
        })
    };
    let hints: Result<Vec<Hint>, Refusal> = apart.iter().enumerate().map(score).collect();
    Ok((hints?, by))
}

/// Tukey's fences Q1 − 1.5·IQR and Q3 + 1.5·IQR, and the readings beyond them.
#[derive(Clone, Debug, PartialEq)]
pub struct Fences {
    /// The lower fence.
    pub low: Exact,
    /// The upper fence.
    pub high: Exact,
    /// The readings beyond: the statistic is the reading, the critical value the fence.
    pub beyond: Vec<Hint>,
}

/// Tukey's fences with quartiles after `rule` (the rules give different fences); a reading on a fence is not beyond it.
///
/// # Errors
/// Fewer than three readings.
pub fn tukey_fences(readings: &[Exact], rule: QuantileRule) -> Result<Fences, Refusal> {
    enough("fences", 3, readings.len())?;
    let quarter = over(&Exact::one(), &count(4), "quartile")?;
    let third = sum([quarter.clone(), quarter.clone(), quarter.clone()]);
    let (q1, q3) = (
        quantile(readings, &quarter, rule)?,
        quantile(readings, &third, rule)?,
    );
    let reach = over(&((q3.clone() - q1.clone()) * count(3)), &count(2), "fence")?;
    let (low, high) = (q1 - reach.clone(), q3 + reach);
    let beyond = |(index, x): (usize, &Exact)| {
        let fence = if *x < low { &low } else { &high };
        (*x < low || *x > high).then(|| Hint {
            index,
            statistic: x.to_f64(),
            critical: fence.to_f64(),
            stands_out: true,
        })
    };
    let beyond = readings.iter().enumerate().filter_map(beyond).collect();
    Ok(Fences { low, high, beyond })
}
