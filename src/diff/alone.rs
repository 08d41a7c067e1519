//! Conditions of one recipe held against each other: whether they can hold at once, and whether they always do.
//!
//! Never in here: a second revision, findings. Changes when the conditions of a recipe are asked something else.

use std::collections::BTreeSet;

use crate::plan::{BinaryOperator, Bound, Function, Node, Plan, Slot, Value, Verb};
use crate::quantity::Quantity;

use super::criteria::{accepted_in_words as in_words, bare};
use super::formula::Formula;
use super::given::UNKNOWN;
use super::lower::Given;
use super::region::{self, Change as Region};
use super::values::Values;

/// Most computed values that are opened to see whether they can come to any value.
const MAX_OPENED: usize = 8;

/// What was looked at on the way through an expression.
#[derive(Default)]
struct Seen {
    /// The readings.
    read: BTreeSet<usize>,
    /// How many computed values were opened.
    opened: usize,
}

/// The conditions of a plan in normal form.
#[derive(Debug)]
pub struct Conditions<'p> {
    plan: &'p Plan,
    given: Given,
    values: Values,
    /// Of which items it is known what they give.
    known: Vec<bool>,
}

impl<'p> Conditions<'p> {
    /// Those of a plan.
    #[must_use]
    pub fn of(plan: &'p Plan) -> Self {
        Self {
            plan,
            given: Given {
                forms: vec![UNKNOWN; plan.items.len()],
                ..Given::default()
            },
            values: Values::default(),
            known: vec![false; plan.items.len()],
        }
    }

    /// Works out what the items give that an expression rests on.
    fn give(&mut self, bound: &Bound) {
        let mut open: Vec<usize> = bound.items().collect();
        let mut wanted = BTreeSet::new();
        while let Some(item) = open.pop() {
            if self.known[item] || !wanted.insert(item) {
                continue;
            }
            if let Verb::Compute { expression, .. } = &self.plan.items[item].verb {
                open.extend(expression.items());
            }
        }
        // What a value is computed from comes before it.
        for item in wanted {
            self.known[item] = true;
            self.given.set(&mut self.values, self.plan, item, item);
        }
    }

    /// What a bound expression says, choices aside.
    fn bare(&mut self, bound: &Bound) -> Formula {
        self.give(bound);
        bare(&mut self.values, self.plan, &self.given, bound)
    }

    fn says(&mut self, bound: &Bound) -> Formula {
        let said = self.bare(bound);
        self.given.in_force(said)
    }

    /// How what all of them accept together differs from nothing.
    fn together(&mut self, all: &[&Bound]) -> Region {
        let said = all.iter().map(|b| self.says(b)).collect();
        self.against_nothing(&Formula::all(said))
    }

    fn against_nothing(&self, formula: &Formula) -> Region {
        region::compare(formula, &Formula::Always(false), &self.values)
    }

    /// Whether there are readings at which all of them hold; also where that can't be told.
    pub fn can_hold(&mut self, all: &[&Bound]) -> bool {
        self.together(all) != Region::Same
    }

    /// Whether there are for sure readings at which all of them hold.
    pub fn surely_can_hold(&mut self, all: &[&Bound]) -> bool {
        self.together(all) == Region::Tightened
    }

    /// Whether they are no more than one measured value held against known ones, which some value meets: told without
    /// taking anything apart.
    #[must_use]
    pub fn is_plainly_met(&self, all: &[&Bound]) -> bool {
        matches!(all, [one] if self.is_met(one))
    }

    /// What a name of an expression stands for.
    fn slot<'b>(node: &Node, bound: &'b Bound) -> Option<&'b Slot> {
        match node {
            Node::Name(index) => bound.slots.get(*index),
            _ => None,
        }
    }

    /// Whether a part of an expression can come to any value: a reading, one that stands for readings that may be alike, or a
    /// product or quotient of such that have no reading in common.
    fn is_free(&self, node: &Node, bound: &Bound, seen: &mut Seen) -> bool {
        use BinaryOperator as Op;
        let mut is_measured = |node: &Node, several: bool| match Self::slot(node, bound) {
            Some(Slot::Item(item)) => match self.plan.items[*item].verb {
                Verb::Measure { repeat, .. } => (repeat > 1) == several && seen.read.insert(*item),
                _ => false,
            },
            _ => false,
        };
        match node {
            Node::Call(
                Function::Mean | Function::Min | Function::Max | Function::First | Function::Last,
                parts,
            ) => matches!(&parts[..], [series] if is_measured(series, true)),
            Node::Binary(Op::Multiply | Op::Divide, a, b) => {
                self.is_free(a, bound, seen) && self.is_other_than_none(b, bound, seen)
            }
            _ if is_measured(node, false) => true,
            _ => match Self::slot(node, bound) {
                Some(Slot::Item(item)) => match &self.plan.items[*item].verb {
                    Verb::Compute { expression, .. } if seen.opened < MAX_OPENED => {
                        seen.opened += 1;
                        self.is_free(&expression.expression.root, expression, seen)
                    }
                    _ => false,
                },
                _ => false,
            },
        }
    }

    /// Whether a part can be something other than zero, whatever the readings are that were looked at before.
    fn is_other_than_none(&self, node: &Node, bound: &Bound, seen: &mut Seen) -> bool {
        match Self::slot(node, bound) {
            Some(Slot::Item(item)) => match self.plan.items[*item].verb {
                Verb::Time { repeat: 1, .. } => seen.read.insert(*item),
                _ => self.is_free(node, bound, seen),
            },
            _ => self.is_free(node, bound, seen),
        }
    }

    fn is_met(&self, bound: &Bound) -> bool {
        use BinaryOperator as Op;
        let is_free = |node: &Node| self.is_free(node, bound, &mut Seen::default());
        let known = |node: &Node| -> Option<Quantity> {
            match (node, Self::slot(node, bound)) {
                (Node::Quantity(q), _) | (_, Some(Slot::Constant(Value::Quantity(q)))) => {
                    Some(q.clone())
                }
                _ => None,
            }
        };
        match &bound.expression.root {
            Node::Binary(Op::Less | Op::LessOrEqual | Op::Greater | Op::GreaterOrEqual, a, b) => {
                (is_free(a) && known(b).is_some()) || (known(a).is_some() && is_free(b))
            }
            Node::Call(Function::Within, parts) => match &parts[..] {
                [x, nominal, tolerance] => {
                    let is_none = |q: Quantity| q.si().to_exact().is_negative();
                    let tolerance = known(tolerance);
                    is_free(x) && known(nominal).is_some() && tolerance.is_some_and(|t| !is_none(t))
                }
                _ => false,
            },
            Node::Call(Function::Between, parts) => match &parts[..] {
                [x, low, high] => {
                    let ends = known(low).zip(known(high));
                    let is_run =
                        |(a, b): (Quantity, Quantity)| a.compare(&b).is_ok_and(|o| o.is_le());
                    is_free(x) && ends.is_some_and(is_run)
                }
                _ => false,
            },
            _ => false,
        }
    }

    /// Whether one holds at all readings.
    pub fn always_holds(&mut self, bound: &Bound) -> bool {
        let said = self.bare(bound);
        self.against_nothing(&self.given.in_force(said.negated())) == Region::Same
    }

    /// What one accepts, part by part, as far as a part is about one value.
    pub fn wants(&mut self, bound: &Bound) -> Option<String> {
        let said = self.bare(bound);
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
