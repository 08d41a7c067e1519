//! Conditions of one recipe held against each other: whether they can hold at once, and whether they always do.
//!
//! Never in here: a second revision, findings. Changes when the conditions of a recipe are asked something else.

use crate::plan::{Bound, Plan, Slot, Verb};

use super::criteria::{accepted_in_words as in_words, bare};
use super::formula::Formula;
use super::lower::Given;
use super::region::{self, Change as Region};
use super::values::Values;

/// The conditions of a plan in normal form.
#[derive(Debug)]
pub struct Conditions<'p> {
    plan: &'p Plan,
    given: Given,
    values: Values,
}

impl<'p> Conditions<'p> {
    /// Works out what each step of a plan gives.
    #[must_use]
    pub fn of(plan: &'p Plan) -> Self {
        let mut of = Self {
            plan,
            given: Given::default(),
            values: Values::default(),
        };
        for number in 0..plan.items.len() {
            of.given.add(&mut of.values, plan, number);
        }
        of
    }

    fn says(&mut self, bound: &Bound) -> Formula {
        let said = bare(&mut self.values, self.plan, &self.given, bound);
        self.given.in_force(said)
    }

    /// Whether there are readings at which all of them hold.
    pub fn can_hold(&mut self, all: &[&Bound]) -> bool {
        let said = all.iter().map(|b| self.says(b)).collect();
        self.is_possible(&Formula::all(said))
    }

    /// Whether one holds at all readings.
    pub fn always_holds(&mut self, bound: &Bound) -> bool {
        let said = bare(&mut self.values, self.plan, &self.given, bound);
        !self.is_possible(&self.given.in_force(said.negated()))
    }

    fn is_possible(&self, formula: &Formula) -> bool {
        region::compare(formula, &Formula::Always(false), &self.values) != Region::Same
    }

    /// What one accepts, part by part, as far as a part is about one value.
    pub fn wants(&mut self, bound: &Bound) -> Option<String> {
        let said = bare(&mut self.values, self.plan, &self.given, bound);
        let parts = match said {
            Formula::All(parts) => parts,
            other => vec![other],
        };
        let words = parts.iter().map(|part| in_words(part, &self.values));
        Some(words.collect::<Option<Vec<_>>>()?.join(" and "))
    }

    /// Whether a condition rests on a count: such a number is whole.
    #[must_use]
    pub fn is_whole(&self, bound: &Bound) -> bool {
        let counts = |slot: &Slot| match slot {
            Slot::Item(item) => matches!(self.plan.items[*item].verb, Verb::Count { .. }),
            _ => false,
        };
        bound.slots.iter().any(counts)
    }
}
