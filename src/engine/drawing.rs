//! Errors drawn at random, for values and limits of a session where first order may not be enough.
//!
//! Never in here: the drawing itself (see `plan`). Changes when something else of a session rests on uncertainty.

use crate::plan::{Decision, Node, Plan, Scope, Trials, Verb, trials};

use super::State;
use super::limits::{Drawn, drawn};
use super::sizes::{Sizes, sizes_behind};
use super::values::Values;

/// What drawing gave for a step: for its value, and for what its criteria hold against limits.
#[derive(Clone, Debug, Default)]
pub struct DrawnStep {
    /// For the value of a `compute`.
    pub value: Option<Trials>,
    /// For each criterion, one for each of its limits.
    pub limits: Vec<Vec<DrawnLimit>>,
    /// How large the errors behind the value of a `compute` are.
    pub sizes: Sizes,
}

/// What drawing gave for a limit.
#[derive(Clone, Debug)]
pub struct DrawnLimit {
    /// For what is held against it.
    pub trials: Option<Trials>,
    /// For the probability that the true value is inside.
    pub conformance: Conformance,
    /// How large the errors behind it are.
    pub sizes: Sizes,
}

/// Where the probability that a true value is inside comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Conformance {
    /// As it was judged: first order is enough, or errors were drawn for the decision already.
    AsJudged,
    /// The share of the draws that are inside, with the distance to the nearer end.
    Drawn(f64, Option<Trials>),
    /// It is not known; why.
    Unknown(&'static str),
}

/// How many drawings a record may still have.
#[derive(Clone, Copy, Debug)]
pub struct DrawingsLeft {
    /// For values.
    pub values: usize,
    /// For distances to limits.
    pub limits: usize,
}

impl DrawingsLeft {
    fn trials(&mut self, node: &Node, scope: &dyn Scope) -> Option<Trials> {
        if self.values == 0 {
            return None;
        }
        let trials = trials(node, scope);
        self.values -= usize::from(trials.is_some());
        trials
    }

    /// Under the simple rule nothing was drawn for the decision, which rests on the value itself.
    fn conformance(&mut self, held: &mut Drawn<'_>, scope: &dyn Scope) -> Conformance {
        if self.limits == 0 {
            return match held.is_first_order_enough(scope) {
                true => Conformance::AsJudged,
                false => Conformance::Unknown(
                    "errors were drawn for as many limits of this record as may be",
                ),
            };
        }
        match held.draw(scope) {
            Ok(disagrees) => {
                let distance = held.limit.distance.drawn;
                self.limits -= usize::from(distance.is_some());
                let share = held.limit.conformance.filter(|_| disagrees);
                share.map_or(Conformance::AsJudged, |s| Conformance::Drawn(s, distance))
            }
            Err(why) => Conformance::Unknown(why),
        }
    }
}

/// Draws errors for a step.
#[must_use]
pub fn draw(
    plan: &Plan,
    state: &State,
    index: usize,
    decision: Decision,
    left: &mut DrawingsLeft,
) -> DrawnStep {
    let (item, went) = (&plan.items[index], &state.items[index]);
    if went.value().is_none() && !matches!(item.verb, Verb::Judge) {
        return DrawnStep::default();
    }
    let own = went.value().map(|v| (v, went.spread()));
    let scope = |bound| Values {
        bound,
        plan,
        state,
        index,
        own,
    };
    let (value, sizes) = match &item.verb {
        Verb::Compute { expression, .. } => {
            let tree = &expression.expression.root;
            let trials = left.trials(tree, &scope(expression));
            (trials, sizes_behind(tree, expression, plan, state))
        }
        _ => (None, Sizes::default()),
    };
    let mut limits = Vec::new();
    for criterion in &item.criteria {
        let mut of_criterion = Vec::new();
        if let Some(bound) = &criterion.that {
            let (expression, scope) = (&bound.expression, scope(bound));
            for mut held in drawn(&expression.root, &expression.names, &scope) {
                let known = value.filter(|_| scope.is_own(held.node));
                let trials = known.or_else(|| left.trials(held.node, &scope));
                let conformance = match decision {
                    Decision::Simple if held.limit.value.is_some() => {
                        left.conformance(&mut held, &scope)
                    }
                    _ => Conformance::AsJudged,
                };
                of_criterion.push(DrawnLimit {
                    trials,
                    conformance,
                    sizes: sizes_behind(held.node, bound, plan, state),
                });
            }
        }
        limits.push(of_criterion);
    }
    DrawnStep {
        value,
        limits,
        sizes,
    }
}
