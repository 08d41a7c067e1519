//! Errors drawn at random, for values and limits of a session where first order may not be enough.
//!
//! Never in here: the drawing itself (see `plan`). Changes when something else of a session rests on uncertainty.

use crate::plan::{Plan, Trials, Verb, trials};

use super::State;
use super::limits::drawn;
use super::values::Values;

/// What drawing gave for a step: for its value, and for what its criteria hold against limits.
#[derive(Clone, Debug, Default)]
pub struct DrawnStep {
    /// For the value of a `compute`.
    pub value: Option<Trials>,
    /// For each criterion, one for each of its limits.
    pub limits: Vec<Vec<Option<Trials>>>,
}

/// Draws errors for a step; `left` counts down how many drawings a record may still have.
#[must_use]
pub fn draw(plan: &Plan, state: &State, index: usize, left: &mut usize) -> DrawnStep {
    if *left == 0 {
        return DrawnStep::default();
    }
    let (item, went) = (&plan.items[index], &state.items[index]);
    if went.value().is_none() && !matches!(item.verb, Verb::Judge) {
        return DrawnStep::default();
    }
    let mut counted = |trials: Option<Trials>| {
        *left = left.saturating_sub(usize::from(trials.is_some()));
        trials
    };
    let own = went.value().map(|v| (v, went.spread()));
    let scope = |bound| Values {
        bound,
        plan,
        state,
        index,
        own,
    };
    let value = match &item.verb {
        Verb::Compute { expression, .. } => {
            counted(trials(&expression.expression.root, &scope(expression)))
        }
        _ => None,
    };
    let mut limits = Vec::new();
    for criterion in &item.criteria {
        let mut of_criterion = Vec::new();
        if let Some(bound) = &criterion.that {
            let (expression, scope) = (&bound.expression, scope(bound));
            for held in drawn(&expression.root, &expression.names, &scope) {
                let known = value.filter(|_| scope.is_own(held.node));
                of_criterion.push(known.or_else(|| counted(trials(held.node, &scope))));
            }
        }
        limits.push(of_criterion);
    }
    DrawnStep { value, limits }
}
