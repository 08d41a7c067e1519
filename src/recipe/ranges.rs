//! Criteria and conditions that the ranges of readings decide ahead: what never holds, always holds, or never does in a row.
//!
//! Each finding tells the numbers that show it. Never in here: what expressions can come to (see the plan's `reach`).
//! Changes when more is concluded from ranges.

use std::collections::HashSet;

use indexmap::IndexMap;

use crate::plan::{
    BinaryOperator, Bound, Decision, Interval, Item, Node, Plan, Reach, Reaches, Slot, conjuncts,
};
use crate::quantity::{Exact, Kind, Quantity, Unit};
use crate::text::{Code, Finding, quoted};

use super::Whole;
use super::cursor::At;
use super::whereabouts::{
    Steps, conditions_around, listed, place_of_criterion, place_of_row, row, steps_of,
};

/// Most parts of an expression of which a finding tells the numbers.
const MAX_FACTS: usize = 4;

/// Findings about criteria and conditions that no reading in its range can change.
#[must_use]
pub fn check_ranges(whole: &Whole, plan: &Plan, reaches: &Reaches) -> Vec<Finding> {
    let root = At::root(&whole.document);
    let ahead = Ahead(reaches);
    let steps = steps_of(plan);
    let mut findings = ahead.conditions(&root, &steps);
    for (place, items) in &steps {
        for number in 0..items[0].criteria.len() {
            let at = || place_of_criterion(&root.at(place)?, number);
            findings.extend(ahead.criterion(&root, &at, items, number, plan.decision));
        }
    }
    findings
}

/// What is known of a plan ahead.
struct Ahead<'r>(&'r Reaches);

impl Ahead<'_> {
    /// Whether what an expression gives is decided ahead, though it rests on readings.
    fn decided(&self, bound: &Bound) -> Option<bool> {
        let constant = |slot: &Slot| matches!(slot, Slot::Constant(_));
        if bound.slots.iter().all(constant) {
            return None;
        }
        match self.0.holds(bound) {
            (true, false) => Some(true),
            (false, true) => Some(false),
            _ => None,
        }
    }

    /// Conditions that are decided in the same way wherever they are asked.
    fn conditions(&self, root: &At<'_>, steps: &Steps<'_>) -> Vec<Finding> {
        let mut found: IndexMap<String, (Option<bool>, &Bound)> = IndexMap::new();
        for (place, items) in steps {
            if items.iter().all(|item| item.conditions.is_empty()) {
                continue;
            }
            let places = conditions_around(root, place);
            let all = items
                .iter()
                .flat_map(|item| places.iter().zip(&item.conditions));
            for (at, bound) in all {
                // That something always is what it is, if it is there, can be asked to see whether it is there.
                let sure = self.0.is_sure(&bound.expression.root, bound);
                let decided = self.decided(bound).filter(|always| sure || !always);
                let known = found.entry(at.clone()).or_insert((decided, bound));
                known.0 = known.0.filter(|before| Some(*before) == decided);
            }
        }
        let told = |(at, (decided, bound)): (String, (Option<bool>, &Bound))| {
            let (always, at) = (decided?, root.at(&at)?);
            let (word, help) = match always {
                true => (
                    "is always true",
                    "remove `when`, or mend its limit or `range`",
                ),
                false => (
                    "is never true",
                    "remove the step, or mend the limit or `range`",
                ),
            };
            let message = self.told(bound, always, word);
            Some(at.finding(Code::ConstantCondition, message, help))
        };
        found.into_iter().filter_map(told).collect()
    }

    /// What is decided of a criterion of a step, over the rows that it stands in; `at` finds its place.
    fn criterion<'d>(
        &self,
        root: &At<'d>,
        at: &dyn Fn() -> Option<At<'d>>,
        items: &[&Item],
        number: usize,
        decision: Option<Decision>,
    ) -> Option<Finding> {
        // A row in which the step is never done asks for nothing.
        let is_done = |item: &&&Item| item.conditions.iter().all(|c| self.0.holds(c).0);
        let done: Vec<&Item> = items.iter().filter(is_done).copied().collect();
        let decided = |item: &&Item| self.decided(item.criteria[number].that.as_ref()?);
        let outcomes: Vec<Option<bool>> = done.iter().map(decided).collect();
        let never: Vec<&Item> = done
            .iter()
            .zip(&outcomes)
            .filter(|(_, outcome)| **outcome == Some(false))
            .map(|(item, _)| *item)
            .collect();
        let help = "mend the limit, or the `range` of the reading";
        if let Some(first) = never.first() {
            let bound = first.criteria[number].that.as_ref()?;
            let message = self.told(bound, false, "never holds");
            if never.len() == done.len() {
                return Some(at()?.finding(Code::NeverPasses, message, help));
            }
            let rows: Vec<&str> = never.iter().map(|item| row(item)).collect();
            let at = place_of_row(root, first).or_else(at)?;
            let message = format!("in {}, {message}", listed(&rows));
            let help = "mend the row, the limit, or the `range` of the reading";
            return Some(at.finding(Code::UnmeetableRow, message, help));
        }
        // Under the other rules a value inside of its limits can fail.
        let simple = matches!(decision, None | Some(Decision::Simple));
        if simple && !done.is_empty() && outcomes.iter().all(|o| *o == Some(true)) {
            let bound = done[0].criteria[number].that.as_ref()?;
            let message = self.told(bound, true, "always holds");
            let help = "mend the limit or the `range` of the reading, or remove the criterion";
            return Some(at()?.finding(Code::NeverFails, message, help));
        }
        None
    }

    /// What is decided, with the numbers that show it.
    fn told(&self, bound: &Bound, outcome: bool, word: &str) -> String {
        let root = &bound.expression.root;
        let parts = self.deciding(root, bound, outcome);
        let said = match parts[..] {
            [part] if !std::ptr::eq(part, root) => quoted(&part.written(&bound.expression.names)),
            _ => quoted(&bound.expression.text),
        };
        let mut facts = Vec::new();
        let mut known = HashSet::new();
        for part in parts {
            self.facts(part, bound, &mut known, &mut facts);
        }
        facts.truncate(MAX_FACTS);
        match facts.is_empty() {
            true => format!("{said} {word}"),
            false => format!("{said} {word}: {}", facts.join(", ")),
        }
    }

    /// The smallest parts that make a truth what it is.
    fn deciding<'n>(&self, node: &'n Node, bound: &Bound, outcome: bool) -> Vec<&'n Node> {
        let is = |part: &&Node| match self.0.truth(part, bound) {
            (true, false) => outcome,
            (false, true) => !outcome,
            _ => false,
        };
        match (node, outcome) {
            (Node::Binary(BinaryOperator::And, ..), true) => conjuncts(node)
                .into_iter()
                .flat_map(|part| self.deciding(part, bound, true))
                .collect(),
            (Node::Binary(BinaryOperator::And, ..), false) => {
                match conjuncts(node).into_iter().find(is) {
                    Some(part) => self.deciding(part, bound, false),
                    None => vec![node],
                }
            }
            (Node::Binary(BinaryOperator::Or, left, right), true) => {
                match [&**left, &**right].into_iter().find(is) {
                    Some(part) => self.deciding(part, bound, true),
                    None => vec![node],
                }
            }
            (Node::Binary(BinaryOperator::Or, left, right), false) => [left, right]
                .into_iter()
                .flat_map(|part| self.deciding(part, bound, false))
                .collect(),
            _ => vec![node],
        }
    }

    /// The numbers of what stands in a comparison, `within` or `between`; of anything else those of its names.
    fn facts(
        &self,
        part: &Node,
        bound: &Bound,
        known: &mut HashSet<String>,
        facts: &mut Vec<String>,
    ) {
        let compared: Vec<&Node> = match part {
            Node::Binary(_, left, right) => vec![left, right],
            Node::Call(_, parts) => parts.iter().collect(),
            Node::Not(inner) => return self.facts(inner, bound, known, facts),
            _ => vec![part],
        };
        // What is compared in several units is told in the first of them too.
        let mut first = None;
        for node in compared {
            let Reach::Quantity(interval, unit) = self.0.of_part(node, bound) else {
                continue;
            };
            let written = node.written(&bound.expression.names);
            if matches!(node, Node::Quantity(_)) || !known.insert(written.clone()) {
                continue;
            }
            let Some(unit) = unit else { continue };
            let Some(fact) = lies(&interval, &unit) else {
                continue;
            };
            let beside = first.get_or_insert(unit.clone());
            facts.push(format!(
                "`{written}` {fact}{}",
                in_other(&interval, &unit, beside)
            ));
        }
    }
}

/// Where the values of an interval lie.
fn lies(interval: &Interval, unit: &Unit) -> Option<String> {
    let shown = |end: &Exact| Quantity::from_si(end.clone().into(), unit.clone()).shown();
    match (&interval.low, &interval.high) {
        (Some(low), Some(high)) if low == high => Some(format!("is {}", shown(low))),
        (Some(low), Some(high)) => Some(format!("lies between {} and {}", shown(low), shown(high))),
        (Some(low), None) => Some(format!("is at least {}", shown(low))),
        (None, Some(high)) => Some(format!("is at most {}", shown(high))),
        (None, None) => None,
    }
}

/// The ends of an interval in another unit of the same kind, in parentheses.
fn in_other(interval: &Interval, unit: &Unit, other: &Unit) -> String {
    if unit == other || unit.kind() != other.kind() || unit.kind() == Kind::RATIO {
        return String::new();
    }
    let shown = |end: &Exact| Quantity::from_si(end.clone().into(), other.clone()).shown();
    let ends = [&interval.low, &interval.high].into_iter().flatten();
    let mut ends: Vec<String> = ends.map(shown).collect();
    ends.dedup();
    format!(" ({})", ends.join(" to "))
}
