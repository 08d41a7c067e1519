//! Intervals of numbers in SI: what arithmetic can come to for all numbers between two ends.
//!
//! Never too narrow: an end that is not known for sure is left open. Never in here: units, expressions. Changes when
//! arithmetic with numbers does.

use std::cmp::Ordering;

use crate::quantity::{Exact, Number};

/// All numbers from `low` to `high`, ends included; an end that is nothing is open.
#[derive(Clone, Debug, PartialEq)]
pub struct Interval {
    /// The least number.
    pub low: Option<Exact>,
    /// The greatest number.
    pub high: Option<Exact>,
    /// Whether the numbers in it are exact, so that arithmetic with them rounds nothing.
    pub exact: bool,
}

/// An end of an interval, in order.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
enum End {
    Below,
    At(Exact),
    Above,
}

impl End {
    fn sign(&self) -> i8 {
        match self {
            Self::Below => -1,
            Self::At(e) if e.is_zero() => 0,
            Self::At(e) if e.is_negative() => -1,
            Self::At(_) | Self::Above => 1,
        }
    }

    fn times(&self, other: &Self) -> Self {
        match (self, other) {
            (Self::At(a), Self::At(b)) => Self::At(a.clone() * b.clone()),
            _ => match self.sign() * other.sign() {
                0 => Self::At(Exact::zero()),
                1.. => Self::Above,
                _ => Self::Below,
            },
        }
    }

    fn number(self) -> Option<Exact> {
        match self {
            Self::At(e) => Some(e),
            Self::Below | Self::Above => None,
        }
    }
}

impl Interval {
    /// Any number at all.
    pub const ANY: Self = Self {
        low: None,
        high: None,
        exact: false,
    };

    /// Exact numbers between two ends.
    #[must_use]
    pub fn between(low: Option<Exact>, high: Option<Exact>) -> Self {
        Self {
            low,
            high,
            exact: true,
        }
    }

    /// One number.
    #[must_use]
    pub fn point(number: &Number) -> Self {
        Self {
            low: Some(number.to_exact()),
            high: Some(number.to_exact()),
            exact: number.is_exact(),
        }
    }

    /// Numbers that are zero or above, and not exact.
    #[must_use]
    pub fn not_negative() -> Self {
        Self {
            low: Some(Exact::zero()),
            ..Self::ANY
        }
    }

    /// The only number in it, if there is but one.
    #[must_use]
    pub fn only(&self) -> Option<&Exact> {
        self.low.as_ref().filter(|_| self.low == self.high)
    }

    /// Whether anything is known of it.
    #[must_use]
    pub fn is_bounded(&self) -> bool {
        self.low.is_some() || self.high.is_some()
    }

    fn low_end(&self) -> End {
        self.low.clone().map_or(End::Below, End::At)
    }

    fn high_end(&self) -> End {
        self.high.clone().map_or(End::Above, End::At)
    }

    /// The outcome of arithmetic. Rounding of inexact numbers can move it past its ends, but never past zero; numbers
    /// beyond what is kept are not looked into.
    fn outcome(low: Option<Exact>, high: Option<Exact>, exact: bool) -> Self {
        let end = |end: Option<Exact>, past_zero: fn(&Exact) -> bool| {
            let end = end.filter(|e| !e.is_oversized())?;
            match exact {
                true => Some(end),
                false => (!past_zero(&end)).then(Exact::zero),
            }
        };
        Self {
            low: end(low, Exact::is_negative),
            high: end(high, |e| !e.is_negative() && !e.is_zero()),
            exact,
        }
    }

    /// The sum of a number of each.
    #[must_use]
    pub fn add(&self, other: &Self) -> Self {
        let sum = |a: &Option<Exact>, b: &Option<Exact>| Some(a.clone()? + b.clone()?);
        Self::outcome(
            sum(&self.low, &other.low),
            sum(&self.high, &other.high),
            self.exact && other.exact,
        )
    }

    /// The difference of a number of each.
    #[must_use]
    pub fn sub(&self, other: &Self) -> Self {
        self.add(&other.neg())
    }

    /// The negative.
    #[must_use]
    pub fn neg(&self) -> Self {
        Self {
            low: self.high.clone().map(|e| -e),
            high: self.low.clone().map(|e| -e),
            exact: self.exact,
        }
    }

    /// The absolute value.
    #[must_use]
    pub fn abs(&self) -> Self {
        let is_at_least_zero = |end: &Option<Exact>| end.as_ref().is_some_and(|e| !e.is_negative());
        if is_at_least_zero(&self.low) {
            return self.clone();
        }
        let turned = self.neg();
        if is_at_least_zero(&turned.low) {
            return turned;
        }
        Self {
            low: Some(Exact::zero()),
            high: self.high_end().max(turned.high_end()).number(),
            exact: self.exact,
        }
    }

    /// The product of a number of each.
    #[must_use]
    pub fn mul(&self, other: &Self) -> Self {
        let ends = [self.low_end(), self.high_end()];
        let others = [other.low_end(), other.high_end()];
        let products = || ends.iter().flat_map(|a| others.iter().map(|b| a.times(b)));
        Self::outcome(
            products().min().and_then(End::number),
            products().max().and_then(End::number),
            self.exact && other.exact,
        )
    }

    /// The quotient of a number of each; a divisor of zero gives none.
    #[must_use]
    pub fn div(&self, other: &Self) -> Self {
        self.mul(&other.reciprocal())
    }

    fn reciprocal(&self) -> Self {
        let one_by = |end: &Option<Exact>| match end {
            Some(e) => Exact::one().checked_div(e),
            None => Some(Exact::zero()),
        };
        // One by zero is none: such an end is left open, as is all where zero lies between the ends.
        match (self.low_end().sign(), self.high_end().sign()) {
            (0.., 1..) | (..=-1, ..=0) => Self {
                low: one_by(&self.high),
                high: one_by(&self.low),
                exact: self.exact,
            },
            _ => Self::ANY,
        }
    }

    /// The whole power of a number of it.
    #[must_use]
    pub fn powi(&self, n: i8) -> Self {
        let times = i32::from(n).abs();
        let raised = |end: &Option<Exact>| end.as_ref().and_then(|e| e.powi(times));
        let of = if times % 2 == 0 {
            self.abs()
        } else {
            self.clone()
        };
        let power = Self::outcome(raised(&of.low), raised(&of.high), self.exact);
        if n < 0 {
            Self::point(&Exact::one().into()).div(&power)
        } else {
            power
        }
    }

    /// What both may be.
    #[must_use]
    pub fn join(&self, other: &Self) -> Self {
        Self {
            low: self.low_end().min(other.low_end()).number(),
            high: self.high_end().max(other.high_end()).number(),
            exact: self.exact && other.exact,
        }
    }

    /// The least of a number of each.
    #[must_use]
    pub fn least(&self, other: &Self) -> Self {
        Self {
            low: self.low_end().min(other.low_end()).number(),
            high: self.high_end().min(other.high_end()).number(),
            exact: self.exact && other.exact,
        }
    }

    /// Whether a number of it is sure to be below one of the other, or sure not to be; nothing where both can be.
    /// `or_equal` says whether the same number counts as below.
    #[must_use]
    pub fn is_below(&self, other: &Self, or_equal: bool) -> Option<bool> {
        let order = |a: &Option<Exact>, b: &Option<Exact>| Some(a.as_ref()?.cmp(b.as_ref()?));
        let always = order(&self.high, &other.low);
        let never = order(&self.low, &other.high);
        match (always, never) {
            (Some(Ordering::Less), _) => Some(true),
            (Some(Ordering::Equal), _) if or_equal => Some(true),
            (_, Some(Ordering::Greater)) => Some(false),
            (_, Some(Ordering::Equal)) if !or_equal => Some(false),
            _ => None,
        }
    }
}
