//! Occlusion: the alarm threshold and time from a pressure log, and what physics expects of them.
//!
//! Never in here: pressures of a column, which `column` has. Changes when the procedure's figures do.

use super::fault::{above_zero, not_below_zero, sound};
use super::{FlowFault, peak};

/// What an occlusion test comes to. The bolus after release is [`super::Delivery::volume_after`] the release.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Occlusion {
    /// The occlusion alarm threshold in Pa: the largest pressure from the occlusion to the alarm.
    pub threshold: f64,
    /// The index of the first reading that has it.
    pub index: usize,
    /// The time from the occlusion to the alarm in s.
    pub time_to_alarm: f64,
}

/// Threshold and alarm time, for pressures in Pa at times in s, the time of switching the stopcock and that of the alarm
/// (IEC 60601-2-24:2012 cl. 201.12.4.4.104, read in an extract of its adoption AS 60601.2.24:2018; clause from memory).
///
/// The threshold is the largest reading from the occlusion to the alarm, both included; nothing is interpolated.
///
/// # Errors
/// Different numbers of times and pressures, values that are not finite, times that don't increase; an occlusion or an
/// alarm outside the series; an alarm not after the occlusion; no reading between the two.
pub fn occlusion(
    times: &[f64],
    pressures: &[f64],
    occluded_at: f64,
    alarm_at: f64,
) -> Result<Occlusion, FlowFault> {
    sound(times, pressures, "pressure", 1)?;
    let (start, end) = (times[0], times[times.len() - 1]);
    let inside = |what, time: f64, from: f64| {
        if (from..=end).contains(&time) {
            return Ok(());
        }
        Err(FlowFault::Outside {
            what,
            time,
            from,
            to: end,
        })
    };
    inside("occlusion", occluded_at, start)?;
    inside("alarm", alarm_at, occluded_at)?;
    let first = times.partition_point(|t| *t < occluded_at);
    let behind = times.partition_point(|t| *t <= alarm_at);
    let highest = peak(&pressures[first..behind.max(first)]).ok_or(FlowFault::TooFew {
        readings: 0,
        needed: 1,
    })?;
    Ok(Occlusion {
        threshold: highest.value,
        index: first + highest.index,
        time_to_alarm: alarm_at - occluded_at,
    })
}

/// The time to alarm in s that a linear compliance gives: t = C·Δp/Q, for C in m³/Pa, Δp in Pa, Q in m³/s (general
/// physics, not from the standard).
///
/// # Errors
/// A compliance or a pressure below zero; a flow that is not above zero.
pub fn alarm_time(compliance: f64, threshold: f64, flow: f64) -> Result<f64, FlowFault> {
    Ok(occlusion_bolus(compliance, threshold)? / above_zero("flow", flow)?)
}

/// The bolus in m³ that a linear compliance stores: V = C·Δp, for C in m³/Pa and Δp in Pa (general physics).
///
/// # Errors
/// A compliance or a pressure below zero.
pub fn occlusion_bolus(compliance: f64, pressure: f64) -> Result<f64, FlowFault> {
    Ok(not_below_zero("compliance", compliance)? * not_below_zero("pressure", pressure)?)
}
