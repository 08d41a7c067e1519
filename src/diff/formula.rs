//! What a criterion says, in normal form: conditions on values, joined by and, or, not.
//!
//! Never in here: how an expression gets there (see `lower`), or what it accepts (see `region`). Changes when another kind
//! of condition is taken apart.

use std::collections::BTreeSet;

use crate::quantity::Exact;

use super::polynomial::{Atom, Polynomial};

/// How a value is compared with a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Order {
    /// `<`
    Below,
    /// `<=`
    AtMost,
    /// `>`
    Above,
    /// `>=`
    AtLeast,
    /// `==`
    At,
}

impl Order {
    /// As it reads from the other side.
    pub fn turned(self) -> Self {
        match self {
            Self::Below => Self::Above,
            Self::AtMost => Self::AtLeast,
            Self::Above => Self::Below,
            Self::AtLeast => Self::AtMost,
            Self::At => Self::At,
        }
    }

    /// Whether a value stands in this order to a number.
    pub fn holds(self, value: &Exact, bound: &Exact) -> bool {
        match self {
            Self::Below => value < bound,
            Self::AtMost => value <= bound,
            Self::Above => value > bound,
            Self::AtLeast => value >= bound,
            Self::At => value == bound,
        }
    }
}

/// What a condition is about.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Axis {
    /// A number: a sum of products without a constant, whose first factor is one.
    Number(Polynomial),
    /// A truth.
    Truth(Atom),
    /// A text.
    Text(Atom),
}

/// A condition.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Formula {
    /// Always, or never.
    Always(bool),
    /// A number against a bound.
    Number(Polynomial, Order, Exact),
    /// A truth.
    Truth(Atom),
    /// One of these texts.
    Text(Atom, BTreeSet<String>),
    /// Not.
    Not(Box<Self>),
    /// All of them.
    All(Vec<Self>),
    /// One of them at least.
    Any(Vec<Self>),
}

impl Formula {
    /// All of them, without those that always hold; sorted, each once.
    pub fn all(parts: Vec<Self>) -> Self {
        Self::joined(parts, true)
    }

    /// One of them at least.
    pub fn any(parts: Vec<Self>) -> Self {
        Self::joined(parts, false)
    }

    fn joined(parts: Vec<Self>, all: bool) -> Self {
        let mut flat = BTreeSet::new();
        for part in parts {
            match part {
                Self::Always(truth) if truth == all => {}
                Self::Always(_) => return Self::Always(!all),
                Self::All(inner) if all => flat.extend(inner),
                Self::Any(inner) if !all => flat.extend(inner),
                other => _ = flat.insert(other),
            }
        }
        let mut flat = Self::without_implied(flat, all);
        match flat.len() {
            0 => Self::Always(all),
            1 => flat.remove(0),
            _ if all => Self::All(flat),
            _ => Self::Any(flat),
        }
    }

    /// Leaves out what the others imply: `a && (a || b)` is `a`, and so is `a || (a && b)`.
    fn without_implied(flat: BTreeSet<Self>, all: bool) -> Vec<Self> {
        let has = |part: &Self| match part {
            Self::All(parts) if all => parts.iter().all(|p| flat.contains(p)),
            Self::Any(parts) if !all => parts.iter().all(|p| flat.contains(p)),
            other => flat.contains(other),
        };
        let widens = |parts: &[Self]| {
            flat.iter().any(|other| match other {
                Self::Any(fewer) | Self::All(fewer) => {
                    fewer.len() < parts.len() && fewer.iter().all(|p| parts.contains(p))
                }
                _ => false,
            })
        };
        let implied = |part: &Self| match part {
            Self::Any(parts) if all => parts.iter().any(has) || widens(parts),
            Self::All(parts) if !all => parts.iter().any(has) || widens(parts),
            _ => false,
        };
        let kept = flat.iter().filter(|part| !implied(part));
        kept.cloned().collect()
    }

    /// The opposite.
    pub fn negated(self) -> Self {
        match self {
            Self::Always(truth) => Self::Always(!truth),
            Self::Not(inner) => *inner,
            other => Self::Not(Box::new(other)),
        }
    }

    /// What a number times a factor plus a constant must be to stand in an order to zero.
    pub fn against_zero(sum: &Polynomial, order: Order) -> Self {
        let zero = Exact::zero();
        if let Some(constant) = sum.as_constant() {
            return Self::Always(order.holds(&constant, &zero));
        }
        let Some((factor, rest, constant)) = sum.apart() else {
            return Self::Always(false);
        };
        let order = if factor.is_negative() {
            order.turned()
        } else {
            order
        };
        let bound = (-constant).checked_div(&factor).unwrap_or_default();
        Self::Number(rest, order, bound)
    }

    /// How many parts it has, as far as that many.
    pub fn size(&self, most: usize) -> usize {
        let all = |parts: &[Self]| {
            let add = |sum: usize, part: &Self| match sum > most {
                true => sum,
                false => sum + part.size(most - sum),
            };
            parts.iter().fold(1, add)
        };
        match self {
            Self::Not(inner) => 1 + inner.size(most.saturating_sub(1)),
            Self::All(parts) | Self::Any(parts) => all(parts),
            _ => 1,
        }
    }

    /// Shows each condition on a value.
    pub fn visit(&self, on: &mut dyn FnMut(Axis, &Self)) {
        match self {
            Self::Always(_) => {}
            Self::Number(of, ..) => on(Axis::Number(of.clone()), self),
            Self::Truth(of) => on(Axis::Truth(*of), self),
            Self::Text(of, _) => on(Axis::Text(*of), self),
            Self::Not(inner) => inner.visit(on),
            Self::All(parts) | Self::Any(parts) => parts.iter().for_each(|p| p.visit(on)),
        }
    }
}
