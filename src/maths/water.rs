//! The density of water after three formulas.
//!
//! Never in here: buoyancy and weighing. Changes when a formula is added.

use super::domain::inside;
use super::{OutOfDomain, Scalar};

/// A formula for the density of water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WaterFormula {
    /// Tanaka et al., Metrologia 38 (2001) 301, recommended by the CIPM: air-free, ITS-90, about 1 ppm (from memory).
    Tanaka2001,
    /// Kell, J. Chem. Eng. Data 20 (1975) 97: air-free, IPTS-68; 3 ppm to 4 ppm below Tanaka.
    Kell1975,
    /// Jones & Harris, J. Res. NIST 97 (1992) 335 = ISO/TR 20461 eq. (4): air-saturated; 2 ppm to 4 ppm below Tanaka.
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

/// Density of water ρ in kg/m³ at `t_c` °C (ITS-90) and 101.325 kPa.
///
/// The choice of formula alone is worth 3 ppm to 4 ppm, so a result names it. Tap-derived water is some ppm lighter than
/// the ocean water that Tanaka's a5 is for; neither this nor the pressure of the air (0.05 ppm per hPa) is corrected for.
///
/// Kell's formula holds to 150 °C; 40 °C is the limit of all three here, so that °F typed as °C is caught at 68 °F.
/// Between 0 °C and 5 °C Jones-Harris is not stated to hold: it runs up to 10 ppm above Tanaka, and is refused.
///
/// # Errors
/// Outside 0 °C to 40 °C (Jones-Harris: 5 °C to 40 °C).
pub fn water_density<S: Scalar>(t_c: S, formula: WaterFormula) -> Result<S, OutOfDomain> {
    let low = if formula == WaterFormula::JonesHarris1992 {
        5.0
    } else {
        0.0
    };
    let t = inside("water temperature", t_c, "°C", low, 40.0)?;
    Ok(match formula {
        WaterFormula::Tanaka2001 => tanaka(&t),
        WaterFormula::Kell1975 => kell(&(t * 1.000_24)),
        WaterFormula::JonesHarris1992 => jones_harris(&t),
    })
}

/// ρ = a5·[1 − (t + a1)²·(t + a2)/(a3·(t + a4))] (Tanaka et al. 2001, eq. (1)); t in °C on ITS-90, ρ in kg/m³, a1, a2
/// and a4 in °C, a3 in °C², a5 in kg/m³. For 0 °C to 40 °C; the caller refuses what is outside.
fn tanaka<S: Scalar>(t: &S) -> S {
    let (a1, a2, a3, a4, a5) = (-3.983_035, 301.797, 522_528.9, 69.348_81, 999.974_950);
    let t = || t.clone();
    let lost = (t() + a1) * (t() + a1) * (t() + a2) / ((t() + a4) * a3);
    (-lost + 1.0) * a5
}

/// ρ = Σ aᵢ·tⁱ/(1 + b·t), Kell 1975 as quoted by Jones & Harris 1992; t in °C on IPTS-68 (t68 ≈ 1.00024·t90), ρ in kg/m³.
/// With b = 16.879850e-3 (from memory; a public copy of the text prints 16.897850e-3, which would be 270 ppm off).
/// For 0 °C to 150 °C; the caller refuses what is above 40 °C.
fn kell<S: Scalar>(t68: &S) -> S {
    let coefficients = [
        999.839_52,
        16.945_176,
        -7.987_040_1e-3,
        -46.170_461e-6,
        105.563_02e-9,
        -280.542_53e-12,
    ];
    polynomial(t68, &coefficients) / (t68.clone() * 16.879_850e-3 + 1.0)
}

/// ρ = Σ aᵢ·tⁱ, ISO/TR 20461:2000, eq. (4); t in °C, ρ in kg/m³. Coefficients after Cor.1:2008, which corrects and prints
/// a2 and a4 (of t² and t⁴); the others from memory. For 5 °C to 40 °C; the caller refuses what is outside.
fn jones_harris<S: Scalar>(t: &S) -> S {
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

fn polynomial<S: Scalar>(x: &S, coefficients: &[f64]) -> S {
    let highest_first = coefficients.iter().rev();
    highest_first.fold(S::constant(0.0), |sum, c| sum * x.clone() + *c)
}
