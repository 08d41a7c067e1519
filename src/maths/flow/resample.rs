//! Equidistant points made from readings that are not, by linear interpolation; only ever when asked for.
//!
//! Never in here: filters. Changes when another interpolation is offered.

use super::FlowFault;
use super::fault::{above_zero, sound};

/// Most points of a resampled series.
const MAX_POINTS: usize = 5_000_000;

/// A resampled series: points that were computed, not read. A record that uses it has to say so.
#[derive(Clone, Debug, PartialEq)]
pub struct Resampled {
    /// Times in s.
    pub times: Vec<f64>,
    /// Values in the unit of the readings.
    pub values: Vec<f64>,
    /// How many points stand at the time of a reading.
    pub read: usize,
}

/// Points every `interval` s from the first reading to the last whole step, linear between the readings around them.
///
/// Interpolation smooths: the short windows of a trumpet come out narrower than they were. Nothing is extrapolated.
///
/// # Errors
/// Fewer than two readings, readings that are not finite, times that don't increase; an interval that is not above zero
/// or longer than the series; more than 5,000,000 points.
pub fn resample(times: &[f64], values: &[f64], interval: f64) -> Result<Resampled, FlowFault> {
    sound(times, values, "value", 2)?;
    let interval = above_zero("sample interval", interval)?;
    let span = times[times.len() - 1] - times[0];
    // A last step that rounding puts just behind the last reading is at it.
    let steps = (span / interval + 1e-9).floor();
    if steps < 1.0 {
        return Err(FlowFault::WindowTooLong {
            window: interval,
            period: span,
        });
    }
    if steps >= MAX_POINTS as f64 {
        return Err(FlowFault::TooMany {
            points: steps + 1.0,
            limit: MAX_POINTS,
        });
    }
    let mut made = Resampled {
        times: Vec::new(),
        values: Vec::new(),
        read: 0,
    };
    let mut at = 0;
    // Whole and below the limit, as was just seen.
    for step in 0..=steps as usize {
        let time = (times[0] + interval * step as f64).min(times[times.len() - 1]);
        while at + 2 < times.len() && times[at + 1] <= time {
            at += 1;
        }
        let part = (time - times[at]) / (times[at + 1] - times[at]);
        made.read += usize::from(part == 0.0 || part == 1.0);
        made.times.push(time);
        made.values
            .push(values[at] * (1.0 - part) + values[at + 1] * part);
    }
    Ok(made)
}
