//! Risks over a whole process: what is accepted though it should not be, and rejected though it conforms.
//!
//! Never in here: the risk of one measured item. Changes when a kind of process is added.
//!
//! All values of one call are in one unit, whichever.

use super::Refusal;
use super::decision::Interval;
use super::distribution::{Gamma, normal_cdf, normal_density, normal_tail};
use super::integral::integral;
use super::refusal::{positive, probability, wanted};

/// Standard deviations at which a normal density is left off: 1e-22 of its peak.
const REACH: i32 = 10;
/// Standard deviations above its mean at which a gamma density is left off.
const GAMMA_REACH: i32 = 60;
/// Halvings of an interval until its ends are neighbours, or nearly.
const HALVINGS: u32 = 100;

/// What comes out of a process before it is measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Process {
    /// Normal values.
    Normal {
        /// Their mean.
        mean: f64,
        /// Their standard deviation.
        standard_deviation: f64,
    },
    /// Values after a gamma distribution, whose shape is 1 or more.
    Gamma(Gamma),
}

impl Process {
    fn checked(&self) -> Result<(), Refusal> {
        match self {
            Self::Normal {
                mean,
                standard_deviation,
            } => {
                wanted("a process mean", *mean, "a number", true)?;
                positive("a process standard deviation", *standard_deviation)?;
            }
            Self::Gamma(gamma) => {
                let shape = gamma.shape();
                wanted("the shape of a process", shape, "1 or above", shape >= 1.0)?;
            }
        }
        Ok(())
    }

    fn density(&self, x: f64) -> f64 {
        match self {
            Self::Normal {
                mean,
                standard_deviation,
            } => normal_density((x - mean) / standard_deviation) / standard_deviation,
            Self::Gamma(gamma) => gamma.density(x),
        }
    }

    /// Ends of panels over all that matters, a standard deviation apart.
    fn panels(&self) -> Vec<f64> {
        match self {
            Self::Normal {
                mean,
                standard_deviation,
            } => spaced(*mean, *standard_deviation, -REACH, REACH),
            Self::Gamma(gamma) => {
                let mut ends = spaced(gamma.mean(), gamma.standard_deviation(), -100, GAMMA_REACH);
                ends.retain(|end| *end > 0.0);
                ends.insert(0, 0.0);
                ends
            }
        }
    }
}

fn spaced(centre: f64, step: f64, from: i32, to: i32) -> Vec<f64> {
    (from..=to).map(|k| centre + f64::from(k) * step).collect()
}

/// Risks over a process (JCGM 106:2012, 9.5, from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GlobalRisk {
    /// Global consumer's risk: the share of items that are accepted and don't conform.
    pub consumer: f64,
    /// Global producer's risk: the share of items that are rejected and do conform.
    pub producer: f64,
    /// The share of items that conform.
    pub conforming: f64,
}

impl GlobalRisk {
    /// The share of items that are accepted.
    #[must_use]
    pub fn accepted(&self) -> f64 {
        self.conforming - self.producer + self.consumer
    }

    /// The share of the accepted items that don't conform; nothing where none is accepted.
    #[must_use]
    pub fn conditional_false_accept(&self) -> Option<f64> {
        let accepted = self.accepted();
        (accepted > 0.0).then(|| self.consumer / accepted)
    }
}

/// The probability that an item whose true value is `x` is accepted: as a difference of the smaller tails, which keeps its
/// digits, and its sign, far outside.
fn accept(x: f64, u: f64, acceptance: &Interval<f64>) -> f64 {
    let (low, high) = acceptance.ends();
    let (below, above) = ((low - x) / u, (high - x) / u);
    let inside = if below + above > 0.0 {
        normal_tail(below) - normal_tail(above)
    } else {
        normal_cdf(above) - normal_cdf(below)
    };
    inside.max(0.0)
}

/// The probability that it is rejected.
fn reject(x: f64, u: f64, acceptance: &Interval<f64>) -> f64 {
    let (low, high) = acceptance.ends();
    normal_cdf((low - x) / u) + normal_tail((high - x) / u)
}

/// R_C = ∫ outside T of g₀(η)·P(accept | η), R_P = ∫ inside T of g₀(η)·P(reject | η), for a process of density g₀ and a
/// measurement that is normal about η with standard uncertainty `u` (JCGM 106:2012, eqs. (19) and (20), from memory). By
/// Gauss-Legendre quadrature over panels of at most one standard deviation of process or measurement; good to 1e-10.
///
/// # Errors
/// A `u` or a process standard deviation that is not above zero; a gamma process with a shape below 1.
pub fn global_risk(
    process: &Process,
    u: f64,
    tolerance: &Interval<f64>,
    acceptance: &Interval<f64>,
) -> Result<GlobalRisk, Refusal> {
    process.checked()?;
    positive("a standard uncertainty", u)?;
    let panels = process.panels();
    let (start, end) = (panels[0], panels[panels.len() - 1]);
    let steps = [acceptance.low(), acceptance.high()];
    let more = steps
        .into_iter()
        .flatten()
        .flat_map(|limit| spaced(*limit, u, -REACH, REACH));
    let breaks: Vec<f64> = panels.iter().copied().chain(more).collect();
    let (low, high) = tolerance.ends();
    let false_accept = |x| process.density(x) * accept(x, u, acceptance);
    let false_reject = |x| process.density(x) * reject(x, u, acceptance);
    let (from, to) = (low.max(start), high.min(end));
    Ok(GlobalRisk {
        consumer: integral(false_accept, start, low.min(end), &breaks)
            + integral(false_accept, high.max(start), end, &breaks),
        producer: integral(false_reject, from, to, &breaks),
        conforming: integral(|x| process.density(x), from, to, &breaks),
    })
}

/// The guard band w, the same on each limit, with which the global consumer's risk is `target`; zero where it is met
/// without one (JCGM 106:2012, 9.5.4, from memory). Acceptance limits follow by [`Interval::guarded`].
///
/// # Errors
/// As [`global_risk`]; a target that is not between 0 and 1; one that only an empty acceptance zone would meet.
pub fn guard_band_for_global_risk(
    target: f64,
    process: &Process,
    u: f64,
    tolerance: &Interval<f64>,
) -> Result<f64, Refusal> {
    probability("a target risk", target)?;
    let risk = |w: f64| {
        let acceptance = tolerance.guarded(w)?;
        Ok::<f64, Refusal>(global_risk(process, u, tolerance, &acceptance)?.consumer)
    };
    if risk(0.0)? <= target {
        return Ok(0.0);
    }
    let mut enough = widest(u, tolerance);
    // Where there is one limit only, the band can grow until the risk is met.
    let bounded = tolerance.low().is_some() && tolerance.high().is_some();
    while !bounded && risk(enough)? > target {
        enough *= 2.0;
    }
    let mut short = 0.0;
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(short, enough);
        if middle <= short || middle >= enough {
            break;
        }
        match risk(middle) {
            Ok(found) if found > target => short = middle,
            _ => enough = middle,
        }
    }
    risk(enough)?;
    Ok(enough)
}

/// A guard band to begin with: half the width between two limits, or the measurement's uncertainty.
fn widest(u: f64, tolerance: &Interval<f64>) -> f64 {
    match (tolerance.low(), tolerance.high()) {
        (Some(low), Some(high)) => 0.5 * (high - low),
        _ => u,
    }
}
