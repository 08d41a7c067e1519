//! What expressions of a plan rest on, as a text that is the same in all recipes where they say the same.
//!
//! Never in here: what they accept. Changes when an expression can rest on something new.

use std::collections::VecDeque;
use std::fmt::Write;

use foldhash::HashMap;

use crate::plan::{Bound, Plan, Slot, Value, Verb};
use crate::quantity::Unit;

/// Most items that a text tells of.
const MAX_ITEMS: usize = 50;

/// A text that tells all that expressions rest on together: their own texts, known values, and the readings behind them by
/// the order in which they are named. Where two are equal the expressions accept the same. Nothing where they rest on very
/// many items.
#[must_use]
pub fn signature(plan: &Plan, bounds: &[&Bound]) -> Option<String> {
    let mut writer = Writer {
        plan,
        text: String::new(),
        numbers: HashMap::default(),
        open: VecDeque::new(),
    };
    for bound in bounds {
        writer.bound(bound);
    }
    while let Some(item) = writer.open.pop_front() {
        if writer.numbers.len() > MAX_ITEMS {
            return None;
        }
        writer.verb(item);
    }
    Some(writer.text)
}

struct Writer<'p> {
    plan: &'p Plan,
    text: String,
    /// The items that were named, by the order of their first mention.
    numbers: HashMap<usize, usize>,
    /// Those of them that are still to be told of.
    open: VecDeque<usize>,
}

impl Writer<'_> {
    /// Adds a part with its length before it, so that no two parts can be taken for one.
    fn part(&mut self, part: &str) {
        let _ = write!(self.text, "{}:{part}", part.len());
    }

    fn bound(&mut self, bound: &Bound) {
        self.part(&bound.expression.text);
        for slot in &bound.slots {
            match slot {
                Slot::Constant(value) => self.constant(value),
                Slot::Item(item) => self.item(*item),
                Slot::Items(items) => {
                    self.part(&format!("rows {}", items.len()));
                    items.iter().for_each(|item| self.item(*item));
                }
                Slot::Column(item, column) => {
                    self.part(&format!("column {column}"));
                    self.item(*item);
                }
                Slot::Device(field) => self.part(field.word()),
            }
        }
    }

    fn constant(&mut self, value: &Value) {
        let text = match value {
            Value::Quantity(q) => format!("{:?} {}", q.si(), q.unit()),
            other => format!("{other:?}"),
        };
        self.part(&text);
    }

    fn item(&mut self, item: usize) {
        let next = self.numbers.len();
        let number = *self.numbers.entry(item).or_insert(next);
        self.part(&format!("#{number}"));
        if number == next {
            self.open.push_back(item);
        }
    }

    /// What a reading can be, or what a value is computed from.
    fn verb(&mut self, item: usize) {
        let plan = self.plan;
        let verb = &plan.items[item].verb;
        self.part(verb.word());
        match verb {
            Verb::Choose(options) => {
                self.part(&options.len().to_string());
                options.iter().for_each(|option| self.part(option));
            }
            Verb::Compute { expression, unit } => {
                self.part(unit.as_ref().map_or("", Unit::text));
                self.bound(expression);
            }
            Verb::Trace { mapping, .. } => self.part(&format!("{mapping:?}")),
            _ => {
                let unit = verb.unit();
                self.part(unit.as_ref().map_or("", Unit::text));
                self.part(&verb.entries().to_string());
            }
        }
    }
}
