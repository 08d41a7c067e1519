//! How large the errors of readings are that a value rests on: what its sensitivity to a shared calibration refers to.
//!
//! Never in here: sensitivities. Changes when a value can rest on something else than readings.

use std::collections::{BTreeSet, HashMap};

use crate::maths::Linear;
use crate::plan::{Bound, Node, Plan, Slot, Sources, Spread, Verb, names_in};

use super::State;

/// Most steps that are gone back through.
const MAX_STEPS: usize = 1_000;

/// For each calibration that acts with several sizes, its size on the readings that a value rests on; nothing where they have
/// several among them.
#[derive(Clone, Debug, Default)]
pub struct Sizes(HashMap<u32, Option<f64>>);

impl Sizes {
    /// Those of readings.
    #[must_use]
    pub fn of<'l>(readings: impl IntoIterator<Item = &'l Linear>, sources: &Sources) -> Self {
        let mut all = Self::default();
        let parts = readings.into_iter().flat_map(|r| &r.parts);
        for (source, size) in parts.filter(|(s, _)| sources.is_varying(*s)) {
            let known = all.0.entry(*source).or_insert(Some(*size));
            *known = known.filter(|k| k == size);
        }
        all
    }

    /// The size of a source in SI units, with the sign with which it acts; the same for all readings.
    #[must_use]
    pub fn size(&self, source: u32) -> Option<f64> {
        self.0.get(&source).copied().flatten()
    }
}

/// The sizes behind a part of an expression.
pub(super) fn sizes_behind(node: &Node, bound: &Bound, plan: &Plan, state: &State) -> Sizes {
    let sources = state.sources.borrow();
    let mut left: Vec<usize> = Vec::new();
    let mut seen = BTreeSet::new();
    let mut readings: Vec<&Linear> = Vec::new();
    if !sources.has_varying() || !add(&names_in(node), bound, &mut left) {
        return Sizes::default();
    }
    while let Some(item) = left.pop() {
        if !seen.insert(item) {
            continue;
        }
        let known = match &plan.items[item].verb {
            Verb::Trace { .. } => false,
            Verb::Compute { expression, .. } => {
                let names = names_in(&expression.expression.root);
                add(&names, expression, &mut left)
            }
            _ => {
                let spread = state.items[item].spread();
                readings.extend(spread.map(Spread::numbers).unwrap_or_default());
                true
            }
        };
        // What rests on a log, or on too much, is not looked into.
        if !known || seen.len() > MAX_STEPS {
            return Sizes::default();
        }
    }
    Sizes::of(readings, &sources)
}

/// Adds the steps that names stand for; false where one is a column of a log.
fn add(names: &[usize], bound: &Bound, to: &mut Vec<usize>) -> bool {
    for name in names {
        match bound.slots.get(*name) {
            Some(Slot::Item(item)) => to.push(*item),
            Some(Slot::Items(items)) => to.extend(items),
            Some(Slot::Column(..)) => return false,
            Some(Slot::Constant(_) | Slot::Device(_)) | None => {}
        }
    }
    true
}
