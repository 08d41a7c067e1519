//! The normal and the gamma distribution: densities, probabilities, quantiles.
//!
//! Never in here: what they are used for. Changes when a distribution is added.

use std::f64::consts::{PI, SQRT_2};

use super::Refusal;
use super::refusal::{positive, probability};
use super::root::{central_root, tail_root};

/// Most steps of a series or a continued fraction.
const MOST_STEPS: u32 = 100_000;

/// Density of the standard normal distribution at `x`. For every number; NaN gives NaN.
#[must_use]
pub fn normal_density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * PI).sqrt()
}

/// Φ(x), the probability of a value up to `x` under the standard normal distribution, in full precision also far below
/// zero; for what lies above use [`normal_tail`]. By the complementary error function. For every number; NaN gives NaN.
#[must_use]
pub fn normal_cdf(x: f64) -> f64 {
    normal_tail(-x)
}

/// 1 − Φ(x), without the loss of digits that the subtraction would bring; good to x²·1e-16 of its value, which far out is
/// what the double x itself leaves open. For every number; NaN gives NaN.
#[must_use]
pub fn normal_tail(x: f64) -> f64 {
    0.5 * libm::erfc(x / SQRT_2)
}

/// The x with Φ(x) = `p`, to about 1e-15 of its value, by Newton's method on [`normal_cdf`].
///
/// # Errors
/// Unless 0 < p < 1.
pub fn normal_quantile(p: f64) -> Result<f64, Refusal> {
    probability("a probability", p)?;
    let (tail, sign) = if p < 0.5 { (p, -1.0) } else { (1.0 - p, 1.0) };
    let from_centre = if p < 0.5 { 0.5 - p } else { p - 0.5 };
    let distance = if from_centre < 0.25 {
        central_root(from_centre, |x| 0.5 * libm::erf(x / SQRT_2), normal_density)
    } else {
        tail_root(tail, normal_tail, normal_density)
    };
    Ok(sign * distance)
}

/// A gamma distribution: shape k and scale θ, mean kθ. Values are in the unit of θ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gamma {
    shape: f64,
    scale: f64,
}

impl Gamma {
    /// A gamma distribution; with `shape` up to 1e4 its probabilities are good to about 1e-11.
    ///
    /// # Errors
    /// A shape or scale that is not above zero, or a shape above 1e4.
    pub fn new(shape: f64, scale: f64) -> Result<Self, Refusal> {
        positive("a scale", scale)?;
        super::refusal::wanted(
            "a shape",
            shape,
            "above 0 and at most 1e4",
            shape > 0.0 && shape <= 1e4,
        )?;
        Ok(Self { shape, scale })
    }

    /// The shape k.
    #[must_use]
    pub fn shape(&self) -> f64 {
        self.shape
    }

    /// The mean kθ.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.shape * self.scale
    }

    /// The standard deviation √k·θ.
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        self.shape.sqrt() * self.scale
    }

    /// The density at `x`: (x/θ)^(k−1)·e^(−x/θ)/(Γ(k)·θ); zero below zero.
    #[must_use]
    pub fn density(&self, x: f64) -> f64 {
        if x < 0.0 {
            return 0.0;
        }
        let z = x / self.scale;
        if z == 0.0 {
            return match self.shape {
                k if k < 1.0 => f64::INFINITY,
                1.0 => 1.0 / self.scale,
                _ => 0.0,
            };
        }
        ((self.shape - 1.0) * z.ln() - z - libm::lgamma(self.shape)).exp() / self.scale
    }

    /// The probability of a value up to `x`: the regularised incomplete gamma function P(k, x/θ).
    #[must_use]
    pub fn cdf(&self, x: f64) -> f64 {
        let z = (x / self.scale).max(0.0);
        if z < self.shape + 1.0 {
            self.lower_series(z)
        } else {
            1.0 - self.upper_fraction(z)
        }
    }

    /// The probability of a value above `x`: Q(k, x/θ).
    #[must_use]
    pub fn tail(&self, x: f64) -> f64 {
        let z = (x / self.scale).max(0.0);
        if z < self.shape + 1.0 {
            1.0 - self.lower_series(z)
        } else {
            self.upper_fraction(z)
        }
    }

    /// z^k·e^(−z)/Γ(k), the factor before both expansions.
    fn factor(&self, z: f64) -> f64 {
        (self.shape * z.ln() - z - libm::lgamma(self.shape)).exp()
    }

    /// P(k, z) = z^k·e^(−z)/Γ(k)·Σ zⁿ/(k(k+1)…(k+n)), Abramowitz & Stegun 6.5.29 (from memory); for z < k + 1.
    fn lower_series(&self, z: f64) -> f64 {
        if z == 0.0 {
            return 0.0;
        }
        let (mut term, mut sum, mut k) = (1.0 / self.shape, 1.0 / self.shape, self.shape);
        for _ in 0..MOST_STEPS {
            k += 1.0;
            term *= z / k;
            sum += term;
            if term < sum * f64::EPSILON {
                break;
            }
        }
        sum * self.factor(z)
    }

    /// Q(k, z) by its continued fraction, Abramowitz & Stegun 6.5.31 (from memory), after Lentz; for z ≥ k + 1.
    fn upper_fraction(&self, z: f64) -> f64 {
        if z == f64::INFINITY {
            return 0.0;
        }
        let mut b = z + 1.0 - self.shape;
        let mut c = f64::MAX;
        let mut d = 1.0 / b;
        let mut h = d;
        for i in 1..MOST_STEPS {
            let n = f64::from(i);
            let a = -n * (n - self.shape);
            b += 2.0;
            d = 1.0 / (a * d + b);
            c = b + a / c;
            h *= d * c;
            if (d * c - 1.0).abs() < f64::EPSILON {
                break;
            }
        }
        h * self.factor(z)
    }
}
