//! Limits that are known before a run: what steps will hold their own readings against.
//!
//! Never in here: instruments. Changes when more can be told ahead.

use crate::maths::decision::ON_EDGE;
use crate::plan::{Function, Node, Plan, Scope, Slot};
use crate::quantity::Quantity;

use super::limits::drawn;
use super::values::Values;
use super::{Bench, State, begin};

/// The limits that a step holds its own reading against, or a mean, a minimum or a maximum of its readings.
#[derive(Clone, Debug)]
pub struct Ahead {
    /// The step, as an index of the plan's items.
    pub item: usize,
    /// The first criterion that draws one of them.
    pub criterion: usize,
    /// The lower limit.
    pub low: Option<Quantity>,
    /// The upper limit.
    pub high: Option<Quantity>,
}

impl Ahead {
    /// How far the limits let a reading stray, in SI: half the width between them; with one limit, its own size.
    #[must_use]
    pub fn leeway_si(&self) -> Option<f64> {
        let si = |q: &Quantity| q.si().to_f64();
        let exact = |q: &Quantity| q.si().to_exact();
        let leeway = match (&self.low, &self.high) {
            // Exactly, since little may be left of two large limits.
            (Some(low), Some(high)) => (exact(high) - exact(low)).to_f64() / 2.0,
            (Some(only), None) | (None, Some(only)) => {
                (si(only) - only.unit().offset().to_f64()).abs()
            }
            (None, None) => return None,
        };
        (leeway > 0.0).then_some(leeway)
    }

    /// The limit that lies farthest from zero, where instruments err most.
    #[must_use]
    pub fn farthest(&self) -> Option<&Quantity> {
        let size = |q: &&Quantity| (q.si().to_f64() - q.unit().offset().to_f64()).abs();
        let ends = [self.low.as_ref(), self.high.as_ref()];
        ends.into_iter()
            .flatten()
            .max_by(|a, b| size(a).total_cmp(&size(b)))
    }
}

/// Whether a ratio of doubles is at least the one that is wanted; exactly that is enough, whatever rounding makes of it.
#[must_use]
pub fn is_reached(ratio: f64, wanted: f64) -> bool {
    ratio >= wanted * (1.0 - ON_EDGE)
}

/// The limits of all steps that read from an instrument, as far as they are known before a run.
#[must_use]
pub fn limits_ahead(plan: &Plan) -> Vec<Ahead> {
    let state = begin(plan, &Bench::default());
    let read = |(_, item): &(usize, &crate::plan::Item)| item.verb.role().is_some();
    let items = plan.items.iter().enumerate().filter(read);
    items
        .filter_map(|(index, _)| of_item(plan, &state, index))
        .collect()
}

fn of_item(plan: &Plan, state: &State, index: usize) -> Option<Ahead> {
    let mut ahead: Option<Ahead> = None;
    for (n, criterion) in plan.items[index].criteria.iter().enumerate() {
        let Some(bound) = &criterion.that else {
            continue;
        };
        let scope = Values {
            bound,
            plan,
            state,
            index,
            own: None,
        };
        let expression = &bound.expression;
        for found in drawn(&expression.root, &expression.names, &scope as &dyn Scope) {
            if !is_own(found.node, &bound.slots, index) {
                continue;
            }
            let known = ahead.get_or_insert(Ahead {
                item: index,
                criterion: n,
                low: None,
                high: None,
            });
            known.low = tighter(known.low.take(), found.limit.low, true);
            known.high = tighter(known.high.take(), found.limit.high, false);
        }
    }
    ahead
}

/// Whether a part is the step's own reading, or one picked or averaged from its repeats.
fn is_own(node: &Node, slots: &[Slot], index: usize) -> bool {
    match node {
        Node::Name(name) => matches!(slots.get(*name), Some(Slot::Item(item)) if *item == index),
        Node::Call(
            Function::Mean
            | Function::Min
            | Function::Max
            | Function::First
            | Function::Last
            | Function::Convert,
            parts,
        ) => parts.first().is_some_and(|p| is_own(p, slots, index)),
        _ => false,
    }
}

fn tighter(a: Option<Quantity>, b: Option<Quantity>, low: bool) -> Option<Quantity> {
    match (a, b) {
        (Some(a), Some(b)) => {
            let b_is_larger = b.compare(&a).is_ok_and(std::cmp::Ordering::is_gt);
            Some(if b_is_larger == low { b } else { a })
        }
        (a, b) => a.or(b),
    }
}
