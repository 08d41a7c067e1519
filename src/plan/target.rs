//! What errors are carried or drawn for: a part of an expression, or how far inside an end of what is allowed it lies.
//!
//! Never in here: limits as a recipe writes them (see the engine). Changes when a limit can have another form.

use crate::maths::{Linear, Scalar};

use super::evaluate::Outcome;
use super::propagate::{FirstOrder, Numbers, number};
use super::{Node, Scope};

/// What errors are carried or drawn for, in SI units.
#[derive(Clone, Copy, Debug)]
pub enum Target<'n> {
    /// A part of an expression.
    Value(&'n Node),
    /// The first less the second: a distance to a limit, in which errors that both share cancel.
    Difference(&'n Node, &'n Node),
    /// How far a value lies inside an end of nominal ± tolerance.
    Inside(Tolerated<'n>),
}

/// A value and an end of nominal ± tolerance.
#[derive(Clone, Copy, Debug)]
pub struct Tolerated<'n> {
    /// What is held against the end.
    pub of: &'n Node,
    /// The middle of what is allowed.
    pub nominal: &'n Node,
    /// How far the ends lie from it.
    pub tolerance: &'n Node,
    /// Whether the tolerance is a ratio of the nominal value.
    pub relative: bool,
    /// Whether the upper end is meant.
    pub high: bool,
}

impl<'n> Target<'n> {
    /// The parts of the expression that it is made of.
    pub(super) fn nodes(&self) -> Vec<&'n Node> {
        match self {
            Self::Value(node) => vec![node],
            Self::Difference(a, b) => vec![a, b],
            Self::Inside(t) => vec![t.of, t.nominal, t.tolerance],
        }
    }

    pub(super) fn walk<S: Scalar>(&self, from: &dyn Numbers<S>) -> Outcome<S> {
        match self {
            Self::Value(node) => number(node, from),
            Self::Difference(a, b) => Ok(number(a, from)? - number(b, from)?),
            Self::Inside(t) => t.walk(from),
        }
    }

    /// The number with its sensitivities, to first order (JCGM 100:2008, 5.1.2).
    ///
    /// # Errors
    /// As the evaluation of its parts.
    pub fn first_order(&self, scope: &dyn Scope) -> Outcome<Linear> {
        self.walk(&FirstOrder(scope))
    }
}

impl Tolerated<'_> {
    fn walk<S: Scalar>(&self, from: &dyn Numbers<S>) -> Outcome<S> {
        let (x, nominal) = (number(self.of, from)?, number(self.nominal, from)?);
        let tolerance = number(self.tolerance, from)?;
        let half = if self.relative {
            nominal.abs() * tolerance
        } else {
            tolerance
        };
        Ok(if self.high {
            nominal + half - x
        } else {
            x - (nominal - half)
        })
    }
}
