//! Volume from a weighing in air.
//!
//! Never in here: evaporation. Changes when the convention on weights does.

use super::{AirFormula, OutOfDomain, Scalar, WaterFormula, air_density, water_density};

/// Density of the weights that balances are adjusted with, in kg/m³ (OIML R 111 convention).
const WEIGHTS: f64 = 8000.0;

/// Z = (1/ρ_w)·(1 − ρ_a/ρ_b)/(1 − ρ_a/ρ_w) (ISO 8655-6:2002, Annex A), in mL/g for ρ of water, air and weights in kg/m³.
/// Needs ρ_w > ρ_a, which the domains of the densities see to.
fn millilitres_per_gram<S: Scalar>(water: S, air: S) -> S {
    let (weights, displaced) = (air.clone() / WEIGHTS, air / water.clone());
    (-weights + 1.0) / (-displaced + 1.0) / water * 1000.0
}

/// The Z factor of ISO 8655-6 in mL/g (= µL/mg), with the water and air of ISO/TR 20461 (eq. (4) and (5), from memory).
///
/// At 50 % relative humidity it meets the printed table (15 °C to 30 °C, 800 hPa to 1067 hPa) to 6e-5; outside the table,
/// and inside the domains of the densities, it is the formula's.
///
/// # Errors
/// Outside the domains of [`water_density`] and [`air_density`].
pub fn z_factor<S: Scalar>(t_c: S, p_hpa: S, rh_percent: S) -> Result<S, OutOfDomain> {
    let water = water_density(t_c.clone(), WaterFormula::JonesHarris1992)?;
    Ok(millilitres_per_gram(
        water,
        air_density(t_c, p_hpa, rh_percent, AirFormula::Tr20461)?,
    ))
}

/// The volume V = m·Z in mL of water that a balance shows as m = `mass_g` g, with Tanaka's water and CIPM-2007 air.
///
/// The water is taken as air-free: about 3.5 ppm less than with [`z_factor`] at 20 °C. Evaporation is not added: at 1 mL/h
/// a loss of 0.012 g/h is 1.2 %, which the recipe has to measure. Above zero, up to 100 kg.
///
/// # Errors
/// Outside the domains of [`water_density`] and [`air_density`]; a mass that is not above zero.
pub fn weighed_volume<S: Scalar>(
    mass_g: S,
    t_c: S,
    p_hpa: S,
    rh_percent: S,
) -> Result<S, OutOfDomain> {
    let mass = super::domain::inside("weighed mass", mass_g, "g", 0.0, 100_000.0)?;
    if mass.value() == 0.0 {
        return Err(OutOfDomain::at_zero("weighed mass", "g", 100_000.0));
    }
    let water = water_density(t_c.clone(), WaterFormula::Tanaka2001)?;
    Ok(mass
        * millilitres_per_gram(
            water,
            air_density(t_c, p_hpa, rh_percent, AirFormula::Cipm2007)?,
        ))
}
