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
    /// Both together: a distance to a limit with the sign turned.
    Sum(&'n Node, &'n Node),
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
            Self::Difference(a, b) | Self::Sum(a, b) => vec![a, b],
            Self::Inside(t) => vec![t.of, t.nominal, t.tolerance],
        }
    }

    pub(super) fn walk<S: Scalar>(&self, from: &dyn Numbers<S>) -> Outcome<S> {
        let parts = self.nodes().into_iter().map(|node| number(node, from));
        Ok(self.of_parts(&parts.collect::<Outcome<Vec<S>>>()?))
    }

    fn of_parts<S: Scalar>(&self, parts: &[S]) -> S {
        match (self, parts) {
            (Self::Difference(..), [a, b]) => a.clone() - b.clone(),
            (Self::Sum(..), [a, b]) => a.clone() + b.clone(),
            (Self::Inside(t), [of, nominal, tolerance]) => {
                let half = match t.relative {
                    true => nominal.abs() * tolerance.clone(),
                    false => tolerance.clone(),
                };
                match t.high {
                    true => nominal.clone() + half - of.clone(),
                    false => of.clone() - (nominal.clone() - half),
                }
            }
            _ => parts
                .first()
                .map_or_else(|| S::constant(0.0), |only| only.clone()),
        }
    }

    /// The same as [`Self::first_order`], where the number of `of` is known already.
    ///
    /// # Errors
    /// As the evaluation of its parts.
    pub fn first_order_with(
        &self,
        of: &Node,
        known: &Linear,
        scope: &dyn Scope,
    ) -> Outcome<Linear> {
        let one = |node: &Node| match std::ptr::eq(node, of) {
            true => Ok(known.clone()),
            false => number(node, &FirstOrder(scope)),
        };
        let parts = self.nodes().into_iter().map(one);
        Ok(self.of_parts(&parts.collect::<Outcome<Vec<Linear>>>()?))
    }

    /// The number with its sensitivities, to first order (JCGM 100:2008, 5.1.2).
    ///
    /// # Errors
    /// As the evaluation of its parts.
    pub fn first_order(&self, scope: &dyn Scope) -> Outcome<Linear> {
        self.walk(&FirstOrder(scope))
    }
}
