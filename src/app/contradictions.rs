//! Criteria and conditions of a recipe that contradict each other, so that no reading can meet them; and conditions that
//! always hold, whatever is chosen.
//!
//! Never in here: the ranges that a recipe declares (see the recipe's `ranges`). Changes when more is concluded from what
//! criteria and conditions say together.

use indexmap::IndexMap;

use crate::diff::Conditions;
use crate::plan::{Bound, Item, Plan, Reaches, Slot};
use crate::recipe::Whole;
use crate::recipe::cursor::At;
use crate::recipe::whereabouts::{
    conditions_around, listed, place_of_criterion, place_of_row, row, steps_of,
};
use crate::text::{Code, Finding, quoted};

/// Most criteria of a step that are held against each other.
const MAX_CRITERIA: usize = 20;

/// Criteria that can't be met, and conditions that always or never hold, by what they say together; without what is told
/// of them already.
#[must_use]
pub fn check_contradictions(whole: &Whole, plan: &Plan, told: &[Finding]) -> Vec<Finding> {
    let root = At::root(&whole.document);
    let mut seeker = Seeker {
        said: Conditions::of(plan),
        reaches: Reaches::of(&plan.items),
    };
    let steps = steps_of(plan);
    let mut findings = seeker.conditions(&root, &steps);
    for (place, items) in &steps {
        let step = root.at(place);
        findings.extend(step.and_then(|step| seeker.criteria(&root, &step, items)));
    }
    let is_told = |f: &Finding| told.iter().any(|t| (t.code, &t.path) == (f.code, &f.path));
    findings.retain(|f| !is_told(f));
    findings
}

struct Seeker<'p> {
    said: Conditions<'p>,
    reaches: Reaches,
}

impl Seeker<'_> {
    /// Conditions that come to the same wherever they are asked.
    fn conditions(&mut self, root: &At<'_>, steps: &IndexMap<&str, Vec<&Item>>) -> Vec<Finding> {
        let mut found: IndexMap<String, Option<(bool, String)>> = IndexMap::new();
        for (place, items) in steps {
            let around = conditions_around(root, place);
            for item in items {
                for (n, at) in around.iter().enumerate().take(item.conditions.len()) {
                    let told = self.condition(&item.conditions, n);
                    let always = told.as_ref().map(|t| t.0);
                    let known = found.entry(at.clone()).or_insert(told);
                    *known = known.take().filter(|k| Some(k.0) == always);
                }
            }
        }
        let finding = |(at, told): (String, Option<(bool, String)>)| {
            let (always, message) = told?;
            let help = match always {
                true => "remove `when`",
                false => "remove the step, or mend what contradicts",
            };
            Some(
                root.at(&at)?
                    .finding(Code::ConstantCondition, message, help),
            )
        };
        found.into_iter().filter_map(finding).collect()
    }

    /// Whether one of the conditions of a step always or never holds, and why.
    fn condition(&mut self, conditions: &[Bound], n: usize) -> Option<(bool, String)> {
        let own = &conditions[n];
        if is_constant(own) {
            return None;
        }
        let text = quoted(&own.expression.text);
        if !self.said.can_hold(&[own]) {
            let message = format!("{text} is never true{}", self.at_once(own));
            return Some((false, message));
        }
        let sure = self.reaches.is_sure(&own.expression.root, own);
        if sure && self.said.always_holds(own) {
            let message = format!("{text} is always true, whatever is chosen or read");
            return Some((true, message));
        }
        let outer: Vec<&Bound> = conditions[..n].iter().collect();
        let all: Vec<&Bound> = conditions[..=n].iter().collect();
        if !self.said.can_hold(&outer) || self.said.can_hold(&all) {
            return None;
        }
        let around = outer.into_iter().find(|b| !self.said.can_hold(&[b, own]));
        let told = around.map_or_else(
            || "the conditions around it hold".to_owned(),
            |b| {
                format!(
                    "{} around it is{}",
                    quoted(&b.expression.text),
                    self.wanting(b, own)
                )
            },
        );
        Some((false, format!("{text} is never true where {told}")))
    }

    /// What two that contradict each other accept.
    fn wanting(&mut self, one: &Bound, other: &Bound) -> String {
        match (self.said.wants(one), self.said.wants(other)) {
            (Some(a), Some(b)) => format!(": the one wants {a}, the other {b}"),
            _ => String::new(),
        }
    }

    /// What the parts of one that contradicts itself accept.
    fn at_once(&mut self, bound: &Bound) -> String {
        let whole = match self.said.is_whole(bound) {
            true => ", and a count is whole",
            false => "",
        };
        let wants = self.said.wants(bound);
        wants.map_or_else(String::new, |w| format!(": it wants {w}{whole}"))
    }

    /// Criteria of a step that can't be met, in all of its rows or in some.
    fn criteria(&mut self, root: &At<'_>, step: &At<'_>, items: &[&Item]) -> Option<Finding> {
        let found: Vec<_> = items
            .iter()
            .filter_map(|item| Some((*item, self.contradiction(item)?)))
            .collect();
        let (first, (number, message)) = found.first()?;
        let at = place_of_criterion(step, *number)?;
        if found.len() == items.len() {
            return Some(at.finding(Code::NeverPasses, message, "mend one of the limits"));
        }
        let rows: Vec<&str> = found.iter().map(|(item, _)| row(item)).collect();
        let at = place_of_row(root, first).unwrap_or(at);
        let message = format!("in {}, {message}", listed(&rows));
        Some(at.finding(Code::UnmeetableRow, message, "mend the row or the limit"))
    }

    /// The first criterion that no reading meets, alone or together with one before it, and why.
    fn contradiction(&mut self, item: &Item) -> Option<(usize, String)> {
        let criteria = item.criteria.iter().enumerate().take(MAX_CRITERIA);
        let bounds: Vec<(usize, &Bound)> = criteria
            .filter_map(|(n, c)| Some((n, c.that.as_ref().filter(|b| !is_constant(b))?)))
            .collect();
        for (at, (n, bound)) in bounds.iter().enumerate() {
            let text = quoted(&bound.expression.text);
            if !self.said.can_hold(&[bound]) {
                return Some((*n, format!("{text} never holds{}", self.at_once(bound))));
            }
            for (_, other) in &bounds[..at] {
                if !self.said.can_hold(&[other, bound]) {
                    let wanting = self.wanting(other, bound);
                    let other = quoted(&other.expression.text);
                    let message = format!("{other} and {text} never hold at once{wanting}");
                    return Some((*n, message));
                }
            }
        }
        None
    }
}

/// Whether nothing that is read or chosen is in it: such conditions are looked at where they are read.
fn is_constant(bound: &Bound) -> bool {
    let constant = |slot: &Slot| matches!(slot, Slot::Constant(_));
    bound.slots.iter().all(constant)
}
