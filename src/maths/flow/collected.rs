//! From what a balance shows to volumes: density and evaporation.
//!
//! Never in here: buoyancy, which `weighing` has. Changes when another correction of readings is added.

use super::FlowFault;
use super::fault::{above_zero, not_below_zero};

/// Volumes in m³ of masses in kg of a liquid of `density` kg/m³: V = m/d.
///
/// IEC 60601-2-24 computes with d = 998 kg/m³ for water at 20 °C (from memory); leaving out buoyancy reads about 0.1 % low.
/// A density of 1/Z, Z after ISO 8655-6, takes buoyancy in. Zero and negative readings pass: a tare is not a fault.
///
/// # Errors
/// A density that is not above zero; a mass that is not finite.
pub fn volumes_from_masses(masses: &[f64], density: f64) -> Result<Vec<f64>, FlowFault> {
    let density = above_zero("density", density)?;
    match masses.iter().position(|m| !m.is_finite()) {
        Some(at) => Err(FlowFault::NotFinite { what: "mass", at }),
        None => Ok(masses.iter().map(|m| m / density).collect()),
    }
}

/// Masses in kg with what evaporated since the first reading added: m + e·(t − t₁), for e = `rate` kg/s and t in s.
///
/// e is found in a blank run of the same duration (after ISO 8655-6, from memory). At 1 mL/h a rate of 0.012 g/h is 1.2 %.
///
/// # Errors
/// A rate below zero; times and masses of different number, not finite, or times that don't increase.
pub fn corrected_for_evaporation(
    times: &[f64],
    masses: &[f64],
    rate: f64,
) -> Result<Vec<f64>, FlowFault> {
    let rate = not_below_zero("evaporation rate", rate)?;
    super::fault::sound(times, masses, "mass", 1)?;
    let lost = |time: &f64| rate * (time - times[0]);
    Ok(times.iter().zip(masses).map(|(t, m)| m + lost(t)).collect())
}
