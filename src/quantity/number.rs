//! A number that knows whether it is exact.
//!
//! Never in here: units. Changes when another kind of inexactness has to be told apart.

use std::cmp::Ordering;

use super::Exact;

/// An exact rational, or a double that came out of a root, a logarithm or a physical formula.
#[derive(Clone, Debug)]
pub enum Number {
    /// Exact; all that `+ - * /` and comparison do to it stays exact.
    Exact(Exact),
    /// Inexact, always finite.
    Inexact(f64),
}

impl Number {
    /// The nearest double.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        match self {
            Self::Exact(e) => e.to_f64(),
            Self::Inexact(f) => *f,
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
            Self::Inexact(f) => Exact::from_f64(*f).unwrap_or_default(),
        }
    }

    /// An inexact number; nothing where the double is not finite.
    #[must_use]
    pub fn inexact(value: f64) -> Option<Self> {
        value.is_finite().then_some(Self::Inexact(value))
    }

    /// Applies an exact operation where both are exact, else the one on doubles. Nothing where the result is none.
    pub fn combine(
        &self,
        other: &Self,
        exact: impl FnOnce(&Exact, &Exact) -> Option<Exact>,
        double: impl FnOnce(f64, f64) -> f64,
    ) -> Option<Self> {
        match (self, other) {
            (Self::Exact(a), Self::Exact(b)) => {
                exact(a, b).filter(|e| !e.is_oversized()).map(Self::Exact)
            }
            _ => Self::inexact(double(self.to_f64(), other.to_f64())),
        }
    }

    /// The sum.
    #[must_use]
    pub fn add(&self, other: &Self) -> Option<Self> {
        self.combine(other, |a, b| Some(a.clone() + b.clone()), |a, b| a + b)
    }

    /// The difference.
    #[must_use]
    pub fn sub(&self, other: &Self) -> Option<Self> {
        self.combine(other, |a, b| Some(a.clone() - b.clone()), |a, b| a - b)
    }

    /// The product.
    #[must_use]
    pub fn mul(&self, other: &Self) -> Option<Self> {
        self.combine(other, |a, b| Some(a.clone() * b.clone()), |a, b| a * b)
    }

    /// The quotient; nothing where the divisor is zero.
    #[must_use]
    pub fn div(&self, other: &Self) -> Option<Self> {
        self.combine(other, Exact::checked_div, |a, b| a / b)
    }

    /// The negative.
    #[must_use]
    pub fn neg(&self) -> Self {
        match self {
            Self::Exact(e) => Self::Exact(-e.clone()),
            Self::Inexact(f) => Self::Inexact(-f),
        }
    }

    /// The absolute value.
    #[must_use]
    pub fn abs(&self) -> Self {
        match self {
            Self::Exact(e) => Self::Exact(e.abs()),
            Self::Inexact(f) => Self::Inexact(f.abs()),
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
            Self::Inexact(f) => format!("{f}"),
        }
    }
}

impl From<Exact> for Number {
    fn from(value: Exact) -> Self {
        Self::Exact(value)
    }
}
