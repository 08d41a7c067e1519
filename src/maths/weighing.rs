//! Volume from a weighing in air.
//!
//! Never in here: evaporation. Changes when the convention on weights does.

use super::{AirFormula, OutOfDomain, WaterFormula, air_density, water_density};

/// Density of the weights that balances are adjusted with, in kg/m³ (OIML R 111 convention).
const WEIGHTS: f64 = 8000.0;

/// Z = (1/ρ_w)·(1 − ρ_a/ρ_b)/(1 − ρ_a/ρ_w) (ISO 8655-6:2002, Annex A), in mL/g.
fn millilitres_per_gram(water: f64, air: f64) -> f64 {
    1000.0 / water * (1.0 - air / WEIGHTS) / (1.0 - air / water)
}

/// The Z factor of ISO 8655-6 in mL/g (= µL/mg), with the water and air of ISO/TR 20461.
///
/// # Errors
/// Outside the domains of [`water_density`] and [`air_density`].
pub fn z_factor(t_c: f64, p_hpa: f64, rh_percent: f64) -> Result<f64, OutOfDomain> {
    let water = water_density(t_c, WaterFormula::JonesHarris1992)?;
    Ok(millilitres_per_gram(
        water,
        air_density(t_c, p_hpa, rh_percent, AirFormula::Tr20461)?,
    ))
}

/// The volume in mL of water that a balance shows as `mass_g` g, with Tanaka's water and CIPM-2007 air.
///
/// # Errors
/// Outside the domains of [`water_density`] and [`air_density`]; a mass below zero.
pub fn weighed_volume(
    mass_g: f64,
    t_c: f64,
    p_hpa: f64,
    rh_percent: f64,
) -> Result<f64, OutOfDomain> {
    let mass = super::domain::inside("weighed mass", mass_g, "g", 0.0, 100_000.0)?;
    let water = water_density(t_c, WaterFormula::Tanaka2001)?;
    Ok(mass
        * millilitres_per_gram(
            water,
            air_density(t_c, p_hpa, rh_percent, AirFormula::Cipm2007)?,
        ))
}
