//! Pressure under a column of water at a temperature.
//!
//! Never in here: conventional columns, which are exact and belong to the units. Changes when local gravity is asked for.

use super::{OutOfDomain, Scalar, WaterFormula, water_density};

/// Standard acceleration of gravity in m/s² (3rd CGPM, 1901). Local gravity differs by up to 0.3 %.
const STANDARD_GRAVITY: f64 = 9.806_65;

/// p = ρ·g·h in Pa (hydrostatics) for h = `h_m` m of water at `t_c` °C; ρ in kg/m³ after Tanaka 2001, g the standard
/// acceleration. A level below the reference is a negative height. That water is compressible (2.3 ppm more per metre of
/// column) is left out; a height that is no number gives none.
///
/// # Errors
/// Outside the domain of [`water_density`].
pub fn column_pressure_at<S: Scalar>(h_m: S, t_c: S) -> Result<S, OutOfDomain> {
    Ok(water_density(t_c, WaterFormula::Tanaka2001)? * h_m * STANDARD_GRAVITY)
}
