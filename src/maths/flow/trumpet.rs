//! The trumpet: largest and smallest mean flow error over observation windows of several lengths.
//!
//! Never in here: which windows a test has; a recipe holds their list. Changes when the window's formula does.

use super::fault::above_zero;
use super::{Delivery, Ends, FlowFault, Period};

/// Readings that are looked at together; only blocks with a new extreme are looked through one by one.
const BLOCK: usize = 1024;
/// Extremes kept side by side in a block.
const LANES: usize = 8;
/// Rounding steps of the largest reading within which two windows count as equal, so that the first one is named.
const ROUNDING_STEPS: f64 = 8.0;

/// The mean flow error A or B in %: 100·(Q − r)/r, for a flow and a set rate in one unit (IEC 60601-2-24, from memory).
///
/// # Errors
/// A set rate that is not above zero; a flow that is not finite.
pub fn flow_error(flow: f64, rate: f64) -> Result<f64, FlowFault> {
    let rate = above_zero("set rate", rate)?;
    if !flow.is_finite() {
        return Err(FlowFault::NotFinite {
            what: "flow",
            at: 0,
        });
    }
    Ok(100.0 * (flow - rate) / rate)
}

/// The number of windows m = (T − P)/S + 1, for an analysis period T, a window P and a sample interval S, all in one
/// unit (IEC 60601-2-24, from memory).
///
/// # Errors
/// A length or an interval that is not above zero; P > T; T or P that is no multiple of S, to 1 % of S.
pub fn window_count(period: f64, window: f64, interval: f64) -> Result<usize, FlowFault> {
    let allowed = super::Allowed::default().spacing;
    let samples = multiple("analysis period", period, interval, allowed)?;
    let length = multiple("window", window, interval, allowed)?;
    if length > samples {
        return Err(FlowFault::WindowTooLong { window, period });
    }
    Ok(samples - length + 1)
}

/// How many sample intervals a length holds.
fn multiple(
    what: &'static str,
    length: f64,
    interval: f64,
    allowed: f64,
) -> Result<usize, FlowFault> {
    let interval = above_zero("sample interval", interval)?;
    let ratio = above_zero(what, length)? / interval;
    let whole = ratio.round();
    if (ratio - whole).abs() > allowed || whole < 1.0 || whole > u32::MAX.into() {
        return Err(FlowFault::NotMultiple {
            what,
            length,
            interval,
        });
    }
    // Whole and within 32 bits, as was just seen.
    Ok(whole as usize)
}

/// A window with an extreme error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extreme {
    /// The mean flow error of the window in %.
    pub error: f64,
    /// The number of the first window that has it, from 1.
    pub window: usize,
    /// The end readings of that window, as indices of the whole series.
    pub ends: Ends,
}

/// What a trumpet has at one window length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrumpetPoint {
    /// The window P in s, as asked for.
    pub window: f64,
    /// The number m of windows.
    pub count: usize,
    /// Ep(max).
    pub largest: Extreme,
    /// Ep(min).
    pub smallest: Extreme,
}

/// The trumpet over an analysis period, for a set rate r in m³/s and windows P in s (IEC 60601-2-24:1998 cl. 50.102, :2012
/// cl. 201.12.1.102, from memory): Ep(max) and Ep(min) over j of (S/P)·Σ 100·(Q_i − r)/r, i from j to j + P/S − 1.
///
/// The sums telescope, so that only the end readings of a window matter: 100·[(V_{j+k} − V_j)/(t_{j+k} − t_j) − r]/r with
/// k = P/S; O(n) a window length. Errors that differ by less than the readings' rounding as doubles count as equal: the
/// first window of them is named.
///
/// # Errors
/// Readings that are not equidistant; r ≤ 0; P > T; P no multiple of S; a period outside the series.
pub fn trumpet(
    delivery: &Delivery<'_>,
    period: Period,
    rate: f64,
    windows: &[f64],
) -> Result<Vec<TrumpetPoint>, FlowFault> {
    let rate = above_zero("set rate", rate)?;
    let interval = delivery.interval()?;
    let (first, last) = delivery.ends(period)?;
    let (times, volumes) = (
        &delivery.times[first..=last],
        &delivery.volumes[first..=last],
    );
    let size = |values: &[f64]| values.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    let (volume, time) = (size(volumes), size(times));
    let point = |window: &f64| {
        let steps = multiple("window", *window, interval, delivery.allowed.spacing)?;
        if steps >= times.len() {
            let period = times[times.len() - 1] - times[0];
            return Err(FlowFault::WindowTooLong {
                window: *window,
                period,
            });
        }
        let span = interval * steps as f64;
        let tie = ROUNDING_STEPS * f64::EPSILON * ((volume + rate * time) / span + rate);
        let (high, low) = extremes(times, volumes, steps, tie);
        let extreme = |index: usize| {
            let flow =
                (volumes[index + steps] - volumes[index]) / (times[index + steps] - times[index]);
            Extreme {
                error: 100.0 * (flow - rate) / rate,
                window: index + 1,
                ends: (first + index, first + index + steps),
            }
        };
        Ok(TrumpetPoint {
            window: *window,
            count: times.len() - steps,
            largest: extreme(high),
            smallest: extreme(low),
        })
    };
    windows.iter().map(point).collect()
}

/// The indices of the first window of largest and of smallest flow; flows closer than `tie` are equal.
fn extremes(times: &[f64], volumes: &[f64], steps: usize, tie: f64) -> (usize, usize) {
    let count = times.len() - steps;
    let mut flows = [0.0; BLOCK];
    let mut high = (0, f64::NEG_INFINITY);
    let mut low = (0, f64::INFINITY);
    for start in (0..count).step_by(BLOCK) {
        let block = &mut flows[..BLOCK.min(count - start)];
        fill(block, &times[start..], &volumes[start..], steps);
        let (largest, smallest) = bounds(block);
        if largest > high.1 + tie {
            high = first_beyond(block, start, high, |flow, best| flow > best + tie);
        }
        if smallest < low.1 - tie {
            low = first_beyond(block, start, low, |flow, best| flow < best - tie);
        }
    }
    (high.0, low.0)
}

/// The mean flows of the windows that begin at the first readings.
fn fill(block: &mut [f64], times: &[f64], volumes: &[f64], steps: usize) {
    let length = block.len();
    let ends = volumes[steps..steps + length]
        .iter()
        .zip(&times[steps..steps + length]);
    let begins = volumes[..length].iter().zip(&times[..length]);
    for ((flow, (v1, t1)), (v0, t0)) in block.iter_mut().zip(ends).zip(begins) {
        *flow = (v1 - v0) / (t1 - t0);
    }
}

/// Largest and smallest of a block, in lanes that a processor compares side by side.
fn bounds(block: &[f64]) -> (f64, f64) {
    let mut high = [f64::NEG_INFINITY; LANES];
    let mut low = [f64::INFINITY; LANES];
    let chunks = block.chunks_exact(LANES);
    let rest = chunks.remainder();
    for chunk in chunks {
        for lane in 0..LANES {
            high[lane] = if chunk[lane] > high[lane] {
                chunk[lane]
            } else {
                high[lane]
            };
            low[lane] = if chunk[lane] < low[lane] {
                chunk[lane]
            } else {
                low[lane]
            };
        }
    }
    let all = |lanes: [f64; LANES]| lanes.into_iter().chain(rest.iter().copied());
    (
        all(high).fold(f64::NEG_INFINITY, f64::max),
        all(low).fold(f64::INFINITY, f64::min),
    )
}

/// Goes through a block and keeps the last flow that went beyond all before it.
fn first_beyond(
    block: &[f64],
    start: usize,
    before: (usize, f64),
    beyond: impl Fn(f64, f64) -> bool,
) -> (usize, f64) {
    block
        .iter()
        .enumerate()
        .fold(before, |best, (offset, flow)| {
            if beyond(*flow, best.1) {
                (start + offset, *flow)
            } else {
                best
            }
        })
}
