//! The density of water after three formulas.
//!
//! Never in here: buoyancy and weighing. Changes when a formula is added.

use super::OutOfDomain;
use super::domain::inside;

/// A formula for the density of water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WaterFormula {
    /// Tanaka et al., Metrologia 38 (2001) 301, recommended by the CIPM: air-free, ITS-90.
    Tanaka2001,
    /// Kell, J. Chem. Eng. Data 20 (1975) 97: air-free, IPTS-68.
    Kell1975,
    /// Jones & Harris, J. Res. NIST 97 (1992) 335 = ISO/TR 20461 eq. (4): air-saturated.
    JonesHarris1992,
}

impl WaterFormula {
    /// The formula of this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Tanaka2001, Self::Kell1975, Self::JonesHarris1992]
            .into_iter()
            .find(|f| f.name() == name)
    }

    /// The name that recipes use.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Tanaka2001 => "tanaka2001",
            Self::Kell1975 => "kell1975",
            Self::JonesHarris1992 => "jones-harris1992",
        }
    }
}

/// Density of water in kg/m³ at `t_c` °C (ITS-90) and 101.325 kPa.
///
/// # Errors
/// Outside 0 °C to 40 °C (Jones-Harris: 5 °C to 40 °C).
pub fn water_density(t_c: f64, formula: WaterFormula) -> Result<f64, OutOfDomain> {
    let low = if formula == WaterFormula::JonesHarris1992 {
        5.0
    } else {
        0.0
    };
    let t = inside("water temperature", t_c, "°C", low, 40.0)?;
    Ok(match formula {
        WaterFormula::Tanaka2001 => tanaka(t),
        WaterFormula::Kell1975 => kell(1.000_24 * t),
        WaterFormula::JonesHarris1992 => jones_harris(t),
    })
}

/// ρ = a5·[1 − (t + a1)²·(t + a2)/(a3·(t + a4))], eq. (1).
fn tanaka(t: f64) -> f64 {
    let (a1, a2, a3, a4, a5) = (-3.983_035, 301.797, 522_528.9, 69.348_81, 999.974_950);
    a5 * (1.0 - (t + a1) * (t + a1) * (t + a2) / (a3 * (t + a4)))
}

/// As quoted by Jones & Harris, eq. (1), with the denominator coefficient 16.879850e-3 (from memory; a public
/// copy of the text prints 16.897850e-3, which would be 270 ppm off).
fn kell(t68: f64) -> f64 {
    let coefficients = [
        999.839_52,
        16.945_176,
        -7.987_040_1e-3,
        -46.170_461e-6,
        105.563_02e-9,
        -280.542_53e-12,
    ];
    polynomial(t68, &coefficients) / (1.0 + 16.879_850e-3 * t68)
}

/// Coefficients after ISO/TR 20461:2000/Cor.1:2008 (second and fourth read, others from memory).
fn jones_harris(t: f64) -> f64 {
    polynomial(
        t,
        &[
            999.853_08,
            6.326_93e-2,
            -8.523_829e-3,
            6.943_248e-5,
            -3.821_216e-7,
        ],
    )
}

fn polynomial(x: f64, coefficients: &[f64]) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}
