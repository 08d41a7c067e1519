//! The functions of the language that speak of uncertainty: `uncertain`, `expanded`, `risk`.
//!
//! Never in here: how sensitivities are found (see `propagate`). Changes when such a function is added.

use crate::maths::decision::{Interval, Knowledge, conformance_probability};
use crate::quantity::{Exact, Number, Quantity, Unit};

use super::evaluate::{Outcome, quantity};
use super::{EvaluationError, Function, Node, Scope, Shape, Source, Uncertainty, Value, propagate};

/// The uncertainty of a part of an expression; nothing where no source of error acts on it.
///
/// # Errors
/// As the evaluation itself.
pub fn uncertainty_of(
    node: &Node,
    scope: &dyn Scope,
) -> Result<Option<Uncertainty>, EvaluationError> {
    let spread = propagate(node, scope)?;
    let Some((sources, _)) = scope.sources() else {
        return Ok(None);
    };
    let number = spread.as_number();
    Ok(number.and_then(|n| sources.borrow().uncertainty(n)))
}

pub(super) fn chance(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome {
    let x = quantity(&arguments[0], scope)?;
    if function == Function::Uncertain {
        stated_source(arguments, scope)?;
        return Ok(Value::Quantity(x));
    }
    let uncertainty = uncertainty_of(&arguments[0], scope)?;
    if function == Function::Expanded {
        let expanded = uncertainty.map_or(0.0, |u| u.expanded_si);
        return inexact(expanded, x.unit().of_difference());
    }
    let (low, high) = (
        quantity(&arguments[1], scope)?,
        quantity(&arguments[2], scope)?,
    );
    if low.compare(&high)?.is_ge() {
        return Err(EvaluationError::Domain(format!(
            "the low limit {low} is not below the high limit {high}"
        )));
    }
    let inside = conformance(&x, Some(&low), Some(&high), uncertainty.as_ref())?;
    inexact(1.0 - inside, Unit::one())
}

/// The source of error that `uncertain(x, u)` or `uncertain(x, u, freedom)` states.
pub(super) fn stated_source(arguments: &[Node], scope: &dyn Scope) -> Outcome<Source> {
    let (x, u) = (
        quantity(&arguments[0], scope)?,
        quantity(&arguments[1], scope)?,
    );
    let freedom = match arguments.get(2) {
        Some(freedom) => quantity(freedom, scope)?.si().to_f64(),
        None => f64::INFINITY,
    };
    if u.si().to_exact() < Exact::zero() || freedom < 1.0 {
        return Err(EvaluationError::Domain(
            "a standard uncertainty is not below zero, and has one degree of freedom at least"
                .to_owned(),
        ));
    }
    Ok(Source {
        label: format!("stated for {x}"),
        standard_si: u.si().to_f64(),
        unit: u.unit().clone(),
        freedom,
        shape: Shape::Normal,
    })
}

/// The probability that the true value lies inside the limits (JCGM 106:2012, 7.2 to 7.4): normal, or with few degrees of
/// freedom Student's t. Without an uncertainty it is 0 or 1.
///
/// # Errors
/// Kinds that differ.
pub fn conformance(
    x: &Quantity,
    low: Option<&Quantity>,
    high: Option<&Quantity>,
    uncertainty: Option<&Uncertainty>,
) -> Result<f64, EvaluationError> {
    let Some(u) = uncertainty else {
        let above = low.map_or(Ok(true), |l| x.compare(l).map(std::cmp::Ordering::is_ge))?;
        let below = high.map_or(Ok(true), |h| x.compare(h).map(std::cmp::Ordering::is_le))?;
        return Ok(if above && below { 1.0 } else { 0.0 });
    };
    let end = |q: Option<&Quantity>| q.map(|q| q.si().to_f64());
    let knowledge = if u.freedom.is_finite() {
        Knowledge::Student(u.freedom)
    } else {
        Knowledge::Normal
    };
    let probability = Interval::new(end(low), end(high)).and_then(|limits| {
        conformance_probability(x.si().to_f64(), u.standard_si, &limits, knowledge)
    });
    probability.map_err(|refusal| EvaluationError::Domain(refusal.to_string()))
}

fn inexact(si: f64, unit: Unit) -> Outcome {
    let number = Number::inexact(si, 1e-12 * si.abs()).ok_or(EvaluationError::TooLarge)?;
    Ok(Value::Quantity(Quantity::from_si(number, unit)))
}
