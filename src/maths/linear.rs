//! Numbers that carry their sensitivities: the law of propagation of uncertainty (JCGM 100:2008, 5.1.2 and 5.2.2).
//!
//! A formula that is written for any [`Scalar`] runs on doubles, and on [`Linear`] numbers, which keep for each source of
//! error what it contributes. Sources are independent of each other; what two values share, they share by the source.
//! Never in here: what a source is, degrees of freedom. Changes when formulas need another operation.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number that formulas are written for.
pub trait Scalar:
    Clone
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
    + Div<f64, Output = Self>
{
    /// A number that is known.
    fn constant(value: f64) -> Self;

    /// Its value.
    fn value(&self) -> f64;

    /// The result of a function: its value, and the partial derivative for each argument.
    fn chain(value: f64, terms: &[(f64, &Self)]) -> Self;

    /// The whole power.
    #[must_use]
    fn powi(&self, n: i32) -> Self {
        let x = self.value();
        Self::chain(x.powi(n), &[(f64::from(n) * x.powi(n - 1), self)])
    }

    /// The absolute value; at zero its slope is taken as that above zero.
    #[must_use]
    fn abs(&self) -> Self {
        if self.value() < 0.0 {
            -self.clone()
        } else {
            self.clone()
        }
    }

    /// The square root.
    #[must_use]
    fn sqrt(&self) -> Self {
        let root = self.value().sqrt();
        Self::chain(root, &[(0.5 / root, self)])
    }

    /// The natural logarithm.
    #[must_use]
    fn ln(&self) -> Self {
        let x = self.value();
        Self::chain(x.ln(), &[(x.recip(), self)])
    }

    /// The exponential.
    #[must_use]
    fn exp(&self) -> Self {
        let value = self.value().exp();
        Self::chain(value, &[(value, self)])
    }
}

impl Scalar for f64 {
    fn constant(value: f64) -> Self {
        value
    }

    fn value(&self) -> f64 {
        *self
    }

    fn chain(value: f64, _: &[(f64, &Self)]) -> Self {
        value
    }
}

/// A value with what each source contributes to its uncertainty: the sensitivity times the source's standard uncertainty,
/// signed, in the unit of the value. The square root of the sum of the squares is the combined standard uncertainty.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Linear {
    /// The value.
    pub value: f64,
    /// Contributions by the number of the source, in rising order, none of them zero.
    pub parts: Vec<(u32, f64)>,
}

impl Linear {
    /// A value that one source of error acts upon.
    #[must_use]
    pub fn with(mut self, source: u32, contribution: f64) -> Self {
        if contribution == 0.0 {
            return self;
        }
        match self.parts.binary_search_by_key(&source, |(s, _)| *s) {
            Ok(at) => self.parts[at].1 += contribution,
            Err(at) => self.parts.insert(at, (source, contribution)),
        }
        self
    }

    /// The combined standard uncertainty u_c (JCGM 100:2008, eq. (10); correlations are in the shared sources).
    #[must_use]
    pub fn standard(&self) -> f64 {
        // Scaled by the largest, so that squares of small numbers don't vanish.
        let largest = self.parts.iter().fold(0.0_f64, |m, (_, c)| m.max(c.abs()));
        if largest == 0.0 {
            return 0.0;
        }
        let squares: f64 = self.parts.iter().map(|(_, c)| (c / largest).powi(2)).sum();
        largest * squares.sqrt()
    }

    /// The covariance with another value (JCGM 100:2008, F.1.2.3, eq. (F.2)).
    #[must_use]
    pub fn covariance(&self, other: &Self) -> f64 {
        let of_other = |source: u32| {
            let at = other.parts.binary_search_by_key(&source, |(s, _)| *s);
            at.map_or(0.0, |at| other.parts[at].1)
        };
        self.parts.iter().map(|(s, c)| c * of_other(*s)).sum()
    }

    /// The value for errors that are known: `error` gives each source's in multiples of its standard uncertainty.
    pub fn shifted(&self, error: impl Fn(u32) -> f64) -> f64 {
        self.parts
            .iter()
            .fold(self.value, |sum, (source, c)| sum + c * error(*source))
    }
}

/// The sum of two contributions of one source; what rounding leaves of two that cancel is nothing.
fn added(a: f64, b: f64) -> f64 {
    const ROUNDING: f64 = 8.0 * f64::EPSILON;
    let sum = a + b;
    if sum.abs() <= ROUNDING * a.abs().max(b.abs()) {
        return 0.0;
    }
    sum
}

impl Scalar for Linear {
    fn constant(value: f64) -> Self {
        Self {
            value,
            parts: Vec::new(),
        }
    }

    fn value(&self) -> f64 {
        self.value
    }

    fn chain(value: f64, terms: &[(f64, &Self)]) -> Self {
        let scaled = terms
            .iter()
            .flat_map(|(slope, x)| x.parts.iter().map(move |(source, c)| (*source, slope * c)));
        let mut all: Vec<(u32, f64)> = scaled.collect();
        all.sort_by_key(|(source, _)| *source);
        let mut parts: Vec<(u32, f64)> = Vec::with_capacity(all.len());
        for (source, contribution) in all {
            match parts.last_mut() {
                Some((last, sum)) if *last == source => *sum = added(*sum, contribution),
                _ => parts.push((source, contribution)),
            }
        }
        parts.retain(|(_, c)| *c != 0.0);
        Self { value, parts }
    }
}

macro_rules! operations {
    ($($operation:ident $name:ident |$a:ident, $b:ident| $value:expr, $left:expr, $right:expr;)*) => { $(
        impl $operation for Linear {
            type Output = Self;

            fn $name(self, other: Self) -> Self {
                let ($a, $b) = (self.value, other.value);
                Self::chain($value, &[($left, &self), ($right, &other)])
            }
        }

        impl $operation<f64> for Linear {
            type Output = Self;

            fn $name(self, other: f64) -> Self {
                let ($a, $b) = (self.value, other);
                Self::chain($value, &[($left, &self)])
            }
        }
    )* };
}

operations! {
    Add add |a, b| a + b, 1.0, 1.0;
    Sub sub |a, b| a - b, 1.0, -1.0;
    Mul mul |a, b| a * b, b, a;
    Div div |a, b| a / b, b.recip(), -a / (b * b);
}

impl Neg for Linear {
    type Output = Self;

    fn neg(self) -> Self {
        Self::chain(-self.value, &[(-1.0, &self)])
    }
}
