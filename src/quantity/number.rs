//! A number that knows whether it is exact.
//!
//! Never in here: units. Changes when another kind of inexactness has to be told apart.

use std::cmp::Ordering;

use super::Exact;

/// Half the distance of two doubles next to 1: the most that rounding an operation to a double loses, as a ratio.
const ROUNDING: f64 = f64::EPSILON / 2.0;

/// An exact rational, or a double that came out of a root, a logarithm or a physical formula.
#[derive(Clone, Debug)]
pub enum Number {
    /// Exact; all that `+ - * /` and comparison do to it stays exact.
    Exact(Exact),
    /// Inexact, always finite, with a bound of its numerical error: how far off rounding can have taken it. That is not a
    /// measurement uncertainty.
    Inexact(f64, f64),
}

impl Number {
    /// The nearest double.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        match self {
            Self::Exact(e) => e.to_f64(),
            Self::Inexact(f, _) => *f,
        }
    }

    /// How far its double can lie from the number meant.
    #[must_use]
    pub fn error(&self) -> f64 {
        match self {
            Self::Exact(e) => e.to_f64().abs() * ROUNDING,
            Self::Inexact(_, error) => *error,
        }
    }

    /// Whether the number is exact.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        matches!(self, Self::Exact(_))
    }

    /// The value as an exact rational: of an inexact one, the rational that the double stands for.
    #[must_use]
    pub fn to_exact(&self) -> Exact {
        match self {
            Self::Exact(e) => e.clone(),
            Self::Inexact(f, _) => Exact::from_f64(*f).unwrap_or_default(),
        }
    }

    /// An inexact number, off by at most `error` and the rounding of its last digit; nothing where it is not finite.
    #[must_use]
    pub fn inexact(value: f64, error: f64) -> Option<Self> {
        value
            .is_finite()
            .then(|| Self::Inexact(value, error + value.abs() * ROUNDING))
    }

    /// Applies an exact operation where both are exact, else the one on doubles with the bound of its error. Nothing where
    /// the result is none.
    fn combine(
        &self,
        other: &Self,
        exact: impl FnOnce(&Exact, &Exact) -> Option<Exact>,
        double: impl FnOnce((f64, f64), (f64, f64)) -> (f64, f64),
    ) -> Option<Self> {
        match (self, other) {
            (Self::Exact(a), Self::Exact(b)) => {
                exact(a, b).filter(|e| !e.is_oversized()).map(Self::Exact)
            }
            _ => {
                let (value, error) = double(
                    (self.to_f64(), self.error()),
                    (other.to_f64(), other.error()),
                );
                Self::inexact(value, error)
            }
        }
    }

    /// The sum.
    #[must_use]
    pub fn add(&self, other: &Self) -> Option<Self> {
        self.combine(
            other,
            |a, b| Some(a.clone() + b.clone()),
            |(a, off_a), (b, off_b)| (a + b, off_a + off_b),
        )
    }

    /// The difference.
    #[must_use]
    pub fn sub(&self, other: &Self) -> Option<Self> {
        self.combine(
            other,
            |a, b| Some(a.clone() - b.clone()),
            |(a, off_a), (b, off_b)| (a - b, off_a + off_b),
        )
    }

    /// The product.
    #[must_use]
    pub fn mul(&self, other: &Self) -> Option<Self> {
        self.combine(
            other,
            |a, b| Some(a.clone() * b.clone()),
            |(a, off_a), (b, off_b)| (a * b, a.abs() * off_b + b.abs() * off_a + off_a * off_b),
        )
    }

    /// The quotient; nothing where the divisor is zero.
    #[must_use]
    pub fn div(&self, other: &Self) -> Option<Self> {
        self.combine(other, Exact::checked_div, |(a, off_a), (b, off_b)| {
            let quotient = a / b;
            // A divisor that can't be told from zero bounds nothing.
            let least = (b.abs() - off_b).max(0.0);
            (quotient, (off_a + quotient.abs() * off_b) / least)
        })
    }

    /// The whole power; nothing where the number is beyond what is kept.
    #[must_use]
    pub fn powi(&self, n: i32) -> Option<Self> {
        match self {
            Self::Exact(e) => e.powi(n).filter(|e| !e.is_oversized()).map(Self::Exact),
            Self::Inexact(x, off) => {
                let (value, slope) = (x.powi(n), f64::from(n) * x.powi(n - 1));
                // The largest slope in reach, and a rounding for each factor.
                let steepest = slope.abs() * (1.0 + off / x.abs()).powi(n.abs());
                Self::inexact(
                    value,
                    steepest * off + value.abs() * ROUNDING * f64::from(n.abs()),
                )
            }
        }
    }

    /// What a smooth function gives, of which the caller states value and slope; `self` is its argument.
    #[must_use]
    pub fn through(&self, value: f64, slope: f64) -> Option<Self> {
        // A mathematics library may be off by some units in the last place.
        Self::inexact(
            value,
            slope.abs() * self.error() + 4.0 * value.abs() * f64::EPSILON,
        )
    }

    /// Whether two numbers can't be told apart: one is inexact, and they lie nearer than their numerical errors.
    #[must_use]
    pub fn is_near(&self, other: &Self) -> bool {
        let error = |n: &Self| if n.is_exact() { 0.0 } else { n.error() };
        if self.is_exact() && other.is_exact() {
            return false;
        }
        let apart = (self.to_exact() - other.to_exact()).abs();
        apart.to_f64() <= error(self) + error(other)
    }

    /// The negative.
    #[must_use]
    pub fn neg(&self) -> Self {
        match self {
            Self::Exact(e) => Self::Exact(-e.clone()),
            Self::Inexact(f, error) => Self::Inexact(-f, *error),
        }
    }

    /// The absolute value.
    #[must_use]
    pub fn abs(&self) -> Self {
        match self {
            Self::Exact(e) => Self::Exact(e.abs()),
            Self::Inexact(f, error) => Self::Inexact(f.abs(), *error),
        }
    }

    /// Which of the two is larger; a double is compared by the rational that it stands for.
    #[must_use]
    pub fn compare(&self, other: &Self) -> Ordering {
        self.to_exact().cmp(&other.to_exact())
    }

    /// Decimal text: exact numbers whole or with 17 significant digits, doubles with the digits that tell them apart.
    #[must_use]
    pub fn to_text(&self) -> String {
        match self {
            Self::Exact(e) => e.to_text(),
            Self::Inexact(f, _) => format!("{f}"),
        }
    }
}

impl From<Exact> for Number {
    fn from(value: Exact) -> Self {
        Self::Exact(value)
    }
}
