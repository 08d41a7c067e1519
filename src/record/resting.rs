//! What the values and verdicts of a record rest on: the instruments' roles, followed through names.
//!
//! Never in here: which instrument fills a role. Changes when a value can rest on something new.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::plan::{Bound, Plan, Slot, Verb};

use super::known::Known;

/// Most roles that are told apart; a recipe with more rests on all of them everywhere.
const MAX_ROLES: usize = 63;
/// Most recipes that are kept.
const MAX_KEPT: usize = 256;

/// For every step of a recipe the roles that its value and its criteria rest on: those that it reads from, and those
/// behind the names of its expressions and conditions.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Resting {
    /// The roles, in the order of the sets' bits.
    pub roles: Vec<String>,
    steps: HashMap<String, OfStep>,
}

/// Sets of roles, a bit each.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct OfStep {
    read_from: Option<usize>,
    value: u64,
    criteria: Vec<u64>,
}

impl Resting {
    /// Of a procedure.
    #[must_use]
    pub fn of(plan: &Plan) -> Self {
        let roles: Vec<String> = plan.roles.keys().cloned().collect();
        let mut values: Vec<u64> = Vec::with_capacity(plan.items.len());
        let mut steps = HashMap::new();
        for item in &plan.items {
            let read_from = item
                .verb
                .role()
                .and_then(|r| roles.iter().position(|n| n == r));
            // A name reads from steps before it; a step's own name adds what it reads from.
            let own = read_from.map_or(0, bit);
            let conditions = item.conditions.iter().map(|b| behind(b, &values));
            let mut value = conditions.fold(own, |all, one| all | one);
            if let Verb::Compute { expression, .. } = &item.verb {
                value |= behind(expression, &values);
            }
            let that = |c: &crate::plan::Criterion| {
                value | c.that.as_ref().map_or(0, |b| behind(b, &values))
            };
            let criteria = item.criteria.iter().map(that).collect();
            values.push(value);
            let of = OfStep {
                read_from,
                value,
                criteria,
            };
            steps.insert(item.path.clone(), of);
        }
        Self { roles, steps }
    }

    /// The role that a step reads from, as an index of the roles.
    #[must_use]
    pub fn read_from(&self, path: &str) -> Option<usize> {
        self.steps.get(path)?.read_from
    }

    /// The roles that the value of a step rests on, a bit each; all of them for a step that is not known.
    #[must_use]
    pub fn value(&self, path: &str) -> u64 {
        self.steps.get(path).map_or(u64::MAX, |s| s.value)
    }

    /// The roles that a criterion of a step rests on, a bit each; all of them for one that is not known.
    #[must_use]
    pub fn criterion(&self, path: &str, n: usize) -> u64 {
        let of = self.steps.get(path).and_then(|s| s.criteria.get(n));
        of.copied().unwrap_or(u64::MAX)
    }
}

fn bit(role: usize) -> u64 {
    if role < MAX_ROLES {
        1 << role
    } else {
        u64::MAX
    }
}

/// The roles behind the names of an expression.
fn behind(bound: &Bound, values: &[u64]) -> u64 {
    let of = |item: &usize| values.get(*item).copied().unwrap_or(0);
    let slot = |slot: &Slot| match slot {
        Slot::Constant(_) | Slot::Device(_) => 0,
        Slot::Item(item) | Slot::Column(item, _) => of(item),
        Slot::Items(items) => items.iter().fold(0, |all, item| all | of(item)),
    };
    bound.slots.iter().fold(0, |all, s| all | slot(s))
}

/// What recipes rest on, by their text.
#[derive(Debug, Default)]
pub struct RestingOf {
    known: Known,
    kept: Mutex<HashMap<String, Arc<Resting>>>,
}

impl RestingOf {
    /// Of a recipe's text; one with errors is not known to tell anything apart, so that every step rests on every role.
    #[must_use]
    pub fn source(&self, source: &str) -> Arc<Resting> {
        let lock = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = lock().get(source) {
            return Arc::clone(known);
        }
        let plan = self.known.plan(source).ok();
        let resting = Arc::new(plan.map(|p| Resting::of(&p)).unwrap_or_default());
        let mut kept = lock();
        if kept.len() == MAX_KEPT {
            kept.clear();
        }
        kept.insert(source.to_owned(), Arc::clone(&resting));
        resting
    }
}
