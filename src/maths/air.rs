//! The density of moist air after three formulas.
//!
//! Never in here: buoyancy. Changes when a formula is added.

use super::domain::inside;
use super::{OutOfDomain, Scalar};

/// A formula for the density of moist air.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AirFormula {
    /// CIPM-2007: Picard et al., Metrologia 45 (2008) 149 (from memory).
    Cipm2007,
    /// OIML R 111-1:2004, E.3, approximate (from memory).
    R111,
    /// ISO/TR 20461:2000, eq. (5) (from memory).
    Tr20461,
}

impl AirFormula {
    /// The formula of this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Cipm2007, Self::R111, Self::Tr20461]
            .into_iter()
            .find(|f| f.name() == name)
    }

    /// The name that recipes use.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Cipm2007 => "cipm2007",
            Self::R111 => "r111",
            Self::Tr20461 => "tr20461",
        }
    }
}

/// Density of moist air ρ in kg/m³ at t = `t_c` °C, p = `p_hpa` hPa and h = `rh_percent` % relative humidity.
///
/// * CIPM-2007: see `cipm2007` below in the source; stated to hold from 600 hPa to 1100 hPa and 15 °C to 27 °C (from memory).
/// * OIML R 111-1:2004, E.3 (from memory): ρ = (0.34848·p − 0.009·h·e^(0.061·t))/(273.15 + t); stated to hold within 2e-4
///   from 900 hPa to 1100 hPa, 10 °C to 30 °C and below 80 %.
/// * ISO/TR 20461:2000, eq. (5) (from memory): ρ = (0.34844·p + h·(−0.00252·t + 0.020582))/(t + 273.15).
///
/// One domain is kept for all three, wider than what they state, for shops at altitude: they stay within 1e-3 kg/m³ of
/// each other where they were compared (850 hPa to 1030 hPa, 15 °C to 27 °C), which is 0.9 ppm of a weighed volume.
///
/// # Errors
/// Outside 0 °C to 40 °C, 600 hPa to 1100 hPa, 0 % to 100 %. A pressure typed in Pa or kPa falls outside.
pub fn air_density<S: Scalar>(
    t_c: S,
    p_hpa: S,
    rh_percent: S,
    formula: AirFormula,
) -> Result<S, OutOfDomain> {
    let t = inside("air temperature", t_c, "°C", 0.0, 40.0)?;
    let p = inside("air pressure", p_hpa, "hPa", 600.0, 1100.0)?;
    let rh = inside("relative humidity", rh_percent, "%", 0.0, 100.0)?;
    Ok(match formula {
        AirFormula::Cipm2007 => cipm2007(t, p * 100.0, rh / 100.0),
        AirFormula::R111 => {
            let vapour = (t.clone() * 0.061).exp() * rh * 0.009;
            (p * 0.348_48 - vapour) / (t + 273.15)
        }
        AirFormula::Tr20461 => {
            let vapour = rh * (t.clone() * -0.002_52 + 0.020_582);
            (p * 0.348_44 + vapour) / (t + 273.15)
        }
    })
}

/// ρ = p·M_a/(Z·R·T)·[1 − x·(1 − M_v/M_a)], Picard et al. 2008, eq. (1), with 400 ppm of carbon dioxide; constants from memory.
///
/// t in °C, p in Pa, h as a ratio; T in K; x = h·f·p_sv/p the mole fraction of vapour, p_sv its saturation pressure in Pa
/// and f the enhancement factor; Z the compressibility; M_a and M_v in kg/mol (dry air, water); R in J/(mol·K).
fn cipm2007<S: Scalar>(t: S, p: S, h: S) -> S {
    let kelvin = t.clone() + 273.15;
    let (t, p, k) = (|| t.clone(), || p.clone(), || kelvin.clone());
    let saturation = (k() * k() * 1.237_884_7e-5 - k() * 1.912_131_6e-2 + 33.937_110_47
        - S::constant(6.343_164_5e3) / k())
    .exp();
    let enhancement = p() * 3.14e-8 + t() * t() * 5.6e-7 + 1.000_62;
    let x = h * enhancement * saturation / p();
    let linear = t() * t() * 1.104_3e-10 - t() * 2.933_1e-8
        + 1.581_23e-6
        + (t() * -2.051e-8 + 5.707e-6) * x.clone()
        + (t() * -2.376e-6 + 1.989_8e-4) * x.clone() * x.clone();
    let ratio = p() / k();
    let second = -(x.clone() * x.clone() * 0.765e-8) + 1.83e-11;
    let compressibility = -(ratio.clone() * linear) + ratio.clone() * ratio * second + 1.0;
    let (dry, vapour, gas) = (28.965_46e-3, 18.015_28e-3, 8.314_472);
    p() * dry / (compressibility * k() * gas) * (-(x * (1.0 - vapour / dry)) + 1.0)
}
