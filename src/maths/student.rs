//! Student's t distribution, for any degrees of freedom above zero, whole or not.
//!
//! Never in here: coverage factors. Changes when its accuracy must.

use std::f64::consts::PI;

use super::Refusal;
use super::distribution::{normal_density, normal_quantile, normal_tail};
use super::integral::{integral, panel};
use super::refusal::{positive, probability};
use super::root::{central_root, tail_root};

/// Degrees of freedom from which quantiles are taken from the expansion about the normal distribution; its next term is
/// below 1e-12 there.
const NEARLY_NORMAL: f64 = 1e5;
/// Degrees of freedom from which probabilities are: far out in a tail the expansion must be nearer.
const NORMAL_IN_TAILS: f64 = 1e8;
/// Half degrees of freedom from which the ratio of gamma functions is taken from its series.
const SERIES_FROM: f64 = 50.0;
/// Degrees of freedom from which probabilities come by quadrature.
const INTEGRATED_FROM: f64 = 50.0;
/// Most steps of the continued fraction.
const MOST_STEPS: u32 = 10_000;
/// Most panels of the quadrature; fifty are usual.
const MOST_PANELS: u32 = 1000;

/// The probability of a value up to `t` with `nu` degrees of freedom; infinitely many give the normal distribution.
///
/// # Errors
/// Degrees of freedom that are not above zero; a `t` that is not a number.
pub fn student_cdf(t: f64, nu: f64) -> Result<f64, Refusal> {
    checked(nu)?;
    if t.is_nan() {
        let (what, must) = ("a t value", "a number");
        return Err(Refusal::Value {
            what,
            value: t,
            must,
        });
    }
    Ok(if t < 0.0 {
        tail(-t, nu)
    } else {
        1.0 - tail(t, nu)
    })
}

/// The probability of a value above `t` with `nu` degrees of freedom, in full precision where it is small.
///
/// # Errors
/// As [`student_cdf`].
pub fn student_tail(t: f64, nu: f64) -> Result<f64, Refusal> {
    student_cdf(-t, nu)
}

/// The t with probability `p` up to it, with `nu` degrees of freedom; infinitely many give the normal quantile.
/// Good to 1e-10 of its value or better for p from 1e-5 to 0.99999 and `nu` from 1.
///
/// # Errors
/// Unless 0 < p < 1 and `nu` is above zero.
pub fn student_quantile(p: f64, nu: f64) -> Result<f64, Refusal> {
    checked(nu)?;
    probability("a probability", p)?;
    if nu >= NEARLY_NORMAL {
        return Ok(from_normal(normal_quantile(p)?, nu));
    }
    let (outside, from_centre, sign) = if p < 0.5 {
        (p, 0.5 - p, -1.0)
    } else {
        (1.0 - p, p - 0.5, 1.0)
    };
    let distance = if from_centre < 0.25 {
        central_root(from_centre, |t| central(t, nu), |t| density(t, nu))
    } else {
        tail_root(outside, |t| tail(t, nu), |t| density(t, nu))
    };
    Ok(sign * distance)
}

fn checked(nu: f64) -> Result<f64, Refusal> {
    if nu == f64::INFINITY {
        Ok(nu)
    } else {
        positive("degrees of freedom", nu)
    }
}

/// The t that belongs to the normal value z: Abramowitz & Stegun 26.7.5 (from memory), three terms; for `nu` from 1e5.
fn from_normal(z: f64, nu: f64) -> f64 {
    let s = z * z;
    let first = z * (s + 1.0) / 4.0;
    let second = z * ((5.0 * s + 16.0) * s + 3.0) / 96.0;
    let third = z * (((3.0 * s + 19.0) * s + 17.0) * s - 15.0) / 384.0;
    z + (first + (second + third / nu) / nu) / nu
}

/// The probability above t ≥ 0.
fn tail(t: f64, nu: f64) -> f64 {
    match expanded(t, nu) {
        Part::Above(tail) => tail,
        Part::FromCentre(central) => 0.5 - central,
    }
}

/// The probability between 0 and t ≥ 0.
fn central(t: f64, nu: f64) -> f64 {
    match expanded(t, nu) {
        Part::Above(tail) => 0.5 - tail,
        Part::FromCentre(central) => central,
    }
}

/// Which part of the half above zero was computed; the other follows by subtraction.
enum Part {
    /// The probability above t.
    Above(f64),
    /// The probability between 0 and t.
    FromCentre(f64),
}

/// The part that is computed. Its continued fraction must converge: with x = ν/(ν + t²), I_x(ν/2, ½)/2 above, I_(1−x)(½, ν/2)/2 from the centre.
fn expanded(t: f64, nu: f64) -> Part {
    if nu >= NORMAL_IN_TAILS {
        return Part::Above(normal_like_tail(t, nu));
    }
    let square = t * t / nu;
    if square == f64::INFINITY {
        return Part::Above(0.0);
    }
    if nu >= INTEGRATED_FROM {
        return integrated(t, nu);
    }
    let outside = square / (1.0 + square);
    if outside < 1.5 / (0.5 * nu + 2.5) {
        Part::FromCentre(factor(t, nu) * fraction(0.5, 0.5 * nu, outside))
    } else {
        let inside = 1.0 / (1.0 + square);
        Part::Above(factor(t, nu) * fraction(0.5 * nu, 0.5, inside) / nu)
    }
}

/// The part by quadrature of the density, for `nu` from 50, where the continued fraction would lose digits.
fn integrated(t: f64, nu: f64) -> Part {
    let whole: Vec<f64> = (1..=3).map(f64::from).collect();
    if t < 1.5 {
        return Part::FromCentre(integral(|x| density(x, nu), 0.0, t, &whole));
    }
    let (mut from, mut sum) = (t, 0.0);
    for _ in 0..MOST_PANELS {
        // The distance over which the density falls to 1/e.
        let width = (nu + from * from) / ((nu + 1.0) * from);
        let more = panel(&|x| density(x, nu), from, from + width);
        sum += more;
        from += width;
        if more <= sum * 1e-17 {
            break;
        }
    }
    Part::Above(sum)
}

/// 1 − Φ(t) + φ(t)·Σ of the terms in 1/ν, 1/ν² (Fisher's expansion, from memory); for `nu` from 1e8.
fn normal_like_tail(t: f64, nu: f64) -> f64 {
    if t == f64::INFINITY {
        return 0.0;
    }
    let s = t * t;
    let first = t * (s + 1.0) / 4.0;
    let second = t * (((3.0 * s - 7.0) * s - 5.0) * s - 3.0) / 96.0;
    let tail = normal_tail(t);
    let more = normal_density(t) * (first + second / nu) / nu;
    if more.is_finite() { tail + more } else { tail }
}

/// The density at `t`: Γ((ν+1)/2)/(Γ(ν/2)·√(πν))·(1 + t²/ν)^(−(ν+1)/2); for `nu` below 1e8.
fn density(t: f64, nu: f64) -> f64 {
    let power = -0.5 * (nu + 1.0) * (t * t / nu).ln_1p();
    gamma_ratio(0.5 * nu) / (PI * nu).sqrt() * power.exp()
}

/// √(1−x)·x^(ν/2)/B(ν/2, 1/2) with x = ν/(ν + t²): what stands before the continued fractions.
fn factor(t: f64, nu: f64) -> f64 {
    let square = t * t / nu;
    let power = (-0.5 * nu * square.ln_1p()).exp();
    (square / (1.0 + square)).sqrt() * power * gamma_ratio(0.5 * nu) / PI.sqrt()
}

/// Γ(a + ½)/Γ(a). From a = 50 by its asymptotic series (from memory), since the difference of two large logarithms would
/// cost digits.
fn gamma_ratio(a: f64) -> f64 {
    if a < SERIES_FROM {
        return (libm::lgamma(a + 0.5) - libm::lgamma(a)).exp();
    }
    let coefficients = [
        1.0,
        -1.0 / 8.0,
        1.0 / 128.0,
        5.0 / 1024.0,
        -21.0 / 32_768.0,
        -399.0 / 262_144.0,
    ];
    let sum = coefficients.iter().rev().fold(0.0, |sum, c| sum / a + c);
    a.sqrt() * sum
}

/// The continued fraction of the incomplete beta function I_x(a, b), Abramowitz & Stegun 26.5.8 (from memory), after
/// Lentz; for x < (a + 1)/(a + b + 2), where it converges within about √max(a, b) steps.
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    let mut c = 1.0;
    let mut d = 1.0 / (1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for step in 1..MOST_STEPS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        for term in [even, odd] {
            d = 1.0 / (1.0 + term * d);
            c = 1.0 + term / c;
            h *= c * d;
        }
        if (c * d - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    h
}
