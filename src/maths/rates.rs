//! Rates and what follows from them: ramps, steps, emptying, doses, drops, syringes.
//!
//! Coherent SI units throughout (m³, s, m³/s, kg, m; drops as a count); every formula holds in any other coherent set.
//! Never in here: series of readings. Changes when another conversion is added.

use std::f64::consts::PI;

use super::flow::FlowFault;
use super::flow::{above_zero, not_below_zero};

/// The volume of a linear ramp: V = (Q₀ + Q₁)/2·T.
///
/// # Errors
/// A flow or a duration below zero.
pub fn ramp_volume(from: f64, to: f64, duration: f64) -> Result<f64, FlowFault> {
    let mean = f64::midpoint(not_below_zero("flow", from)?, not_below_zero("flow", to)?);
    Ok(mean * not_below_zero("duration", duration)?)
}

/// The flow of a linear ramp at a time after its begin: Q₀ + (Q₁ − Q₀)·t/T.
///
/// # Errors
/// A flow below zero; a duration that is not above zero; a time outside the ramp.
pub fn ramp_flow_at(from: f64, to: f64, duration: f64, time: f64) -> Result<f64, FlowFault> {
    let (from, to) = (not_below_zero("flow", from)?, not_below_zero("flow", to)?);
    let duration = above_zero("duration", duration)?;
    if !(0.0..=duration).contains(&time) {
        return Err(FlowFault::Outside {
            what: "time",
            time,
            from: 0.0,
            to: duration,
        });
    }
    Ok(from + (to - from) * time / duration)
}

/// The volume of steps of a flow and a duration each: V = Σ Q_i·t_i; zero of no steps.
///
/// # Errors
/// A flow or a duration below zero.
pub fn stepped_volume(steps: &[(f64, f64)]) -> Result<f64, FlowFault> {
    steps.iter().try_fold(0.0, |sum, (flow, duration)| {
        Ok(sum + not_below_zero("flow", *flow)? * not_below_zero("duration", *duration)?)
    })
}

/// The mean flow of steps, weighted by their durations.
///
/// # Errors
/// A flow or a duration below zero; no duration at all.
pub fn stepped_mean(steps: &[(f64, f64)]) -> Result<f64, FlowFault> {
    let volume = stepped_volume(steps)?;
    Ok(volume / above_zero("duration", steps.iter().map(|s| s.1).sum())?)
}

/// The time to deliver a volume at a flow, which is the time to empty and the time that a test takes: t = V/Q.
///
/// # Errors
/// A volume below zero; a flow that is not above zero.
pub fn time_to_empty(volume: f64, flow: f64) -> Result<f64, FlowFault> {
    Ok(not_below_zero("volume", volume)? / above_zero("flow", flow)?)
}

/// The flow for a dose rate: Q = dose·m/c, where the dose is by body mass and time, c the amount in a volume. In the
/// trade's units mL/h = dose(µg/kg/min)·m(kg)·60/(c(mg/mL)·1000). Without a body mass, m = 1.
///
/// # Errors
/// A dose below zero; a body mass or a concentration that is not above zero.
pub fn flow_for_dose(dose: f64, body_mass: f64, concentration: f64) -> Result<f64, FlowFault> {
    let amount = not_below_zero("dose rate", dose)? * above_zero("body mass", body_mass)?;
    Ok(amount / above_zero("concentration", concentration)?)
}

/// The dose rate that a flow gives: the inverse of [`flow_for_dose`].
///
/// # Errors
/// A flow below zero; a body mass or a concentration that is not above zero.
pub fn dose_for_flow(flow: f64, body_mass: f64, concentration: f64) -> Result<f64, FlowFault> {
    let amount = not_below_zero("flow", flow)? * above_zero("concentration", concentration)?;
    Ok(amount / above_zero("body mass", body_mass)?)
}

/// The drip rate of a flow, for a drop factor in drops a volume: n = Q·DF. In the trade's units gtt/min = mL/h·DF/60.
///
/// # Errors
/// A flow below zero; a drop factor that is not above zero.
pub fn drip_rate(flow: f64, drop_factor: f64) -> Result<f64, FlowFault> {
    Ok(not_below_zero("flow", flow)? * above_zero("drop factor", drop_factor)?)
}

/// Whole drops: a half goes up, as nursing practice has it and unlike rounding after ASTM E29 (published examples, read).
/// A drip rate that is a half but for the last digits of a double counts as one.
///
/// # Errors
/// A drip rate below zero.
pub fn whole_drops(drip_rate: f64) -> Result<f64, FlowFault> {
    let rate = not_below_zero("drip rate", drip_rate)?;
    Ok((rate + 0.5 + 4.0 * f64::EPSILON * rate).floor())
}

/// The speed of the plunger: v = Q/(π·d²/4), for the inner diameter d.
///
/// # Errors
/// A flow below zero; a diameter that is not above zero.
pub fn syringe_speed(flow: f64, inner_diameter: f64) -> Result<f64, FlowFault> {
    let diameter = above_zero("inner diameter", inner_diameter)?;
    Ok(not_below_zero("flow", flow)? / (PI * diameter * diameter / 4.0))
}

/// By how many % the flow is off if the diameter is off by that many: ((1 + x/100)² − 1)·100; about twice as many.
///
/// # Errors
/// A diameter error of −100 % or less.
pub fn flow_error_of_diameter(percent: f64) -> Result<f64, FlowFault> {
    let ratio = above_zero("diameter ratio", 1.0 + percent / 100.0)?;
    Ok((ratio * ratio - 1.0) * 100.0)
}
