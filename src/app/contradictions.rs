//! Criteria and conditions of a recipe that contradict each other, so that no reading can meet them; and conditions that
//! always hold, whatever is chosen.
//!
//! Never in here: the ranges that a recipe declares (see the recipe's `ranges`). Changes when more is concluded from what
//! criteria and conditions say together.

use std::sync::{Mutex, PoisonError};

use foldhash::HashMap;
use indexmap::IndexMap;

use crate::diff::{Conditions, signature};
use crate::plan::{BinaryOperator, Bound, Item, Node, Plan, Reaches, Slot};
use crate::recipe::Whole;
use crate::recipe::cursor::At;
use crate::recipe::whereabouts::{
    Steps, conditions_around, listed, place_of_criterion, place_of_row, row, steps_of,
};
use crate::text::{Code, Finding, quoted};

/// Most criteria of a step that are held against each other.
const MAX_CRITERIA: usize = 20;

/// Criteria that can't be met, and conditions that always or never hold, by what they say together; without what is told
/// of them already.
#[must_use]
pub fn check_contradictions(
    whole: &Whole,
    plan: &Plan,
    reaches: &Reaches,
    told: &[Finding],
    sought: &Sought,
) -> Vec<Finding> {
    let root = At::root(&whole.document);
    let mut seeker = Seeker {
        plan,
        said: Conditions::of(plan),
        reaches,
        sought,
    };
    let steps = steps_of(plan);
    let mut findings = seeker.conditions(&root, &steps);
    for (place, items) in &steps {
        findings.extend(seeker.criteria(&root, place, items));
    }
    let is_told = |f: &Finding| told.iter().any(|t| (t.code, &t.path) == (f.code, &f.path));
    findings.retain(|f| !is_told(f));
    findings
}

/// Whether a condition always or never holds, and why.
type Told = Option<(bool, String)>;
/// The number of a criterion that can't be met, and why.
type Unmet = Option<(usize, String)>;

/// Most answers of a kind that are kept.
const MAX_KEPT: usize = 100_000;

/// What was told of conditions and criteria, by what they rest on: recipes with one base, and the rows of a step, have most
/// of them in common.
#[derive(Debug, Default)]
pub struct Sought {
    conditions: Mutex<HashMap<String, Told>>,
    criteria: Mutex<HashMap<String, Unmet>>,
}

/// What is kept under a key, or what is found out now.
fn kept<T: Clone>(
    of: &Mutex<HashMap<String, T>>,
    key: Option<String>,
    find: impl FnOnce() -> T,
) -> T {
    let Some(key) = key else {
        return find();
    };
    // A thread that fell over left a map that is whole all the same.
    let lock = || of.lock().unwrap_or_else(PoisonError::into_inner);
    let known = lock().get(&key).cloned();
    known.unwrap_or_else(|| {
        let found = find();
        let mut all = lock();
        if all.len() < MAX_KEPT {
            all.insert(key, found.clone());
        }
        found
    })
}

struct Seeker<'p> {
    plan: &'p Plan,
    said: Conditions<'p>,
    reaches: &'p Reaches,
    sought: &'p Sought,
}

impl Seeker<'_> {
    /// Conditions that come to the same wherever they are asked.
    fn conditions(&mut self, root: &At<'_>, steps: &Steps<'_>) -> Vec<Finding> {
        let mut found: IndexMap<String, Told> = IndexMap::new();
        for (place, items) in steps {
            if items.iter().all(|item| item.conditions.is_empty()) {
                continue;
            }
            let around = conditions_around(root, place);
            for item in items {
                for (n, at) in around.iter().enumerate().take(item.conditions.len()) {
                    let told = self.condition(&item.conditions[..=n]);
                    let always = told.as_ref().map(|t| t.0);
                    let known = found.entry(at.clone()).or_insert(told);
                    *known = known.take().filter(|k| Some(k.0) == always);
                }
            }
        }
        let finding = |(at, told): (String, Told)| {
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

    /// What is to be told of the last of these conditions, the others being around it.
    fn condition(&mut self, conditions: &[Bound]) -> Told {
        let (own, outer) = conditions.split_last()?;
        if is_constant(own) {
            return None;
        }
        let all: Vec<&Bound> = conditions.iter().collect();
        let sure = self.reaches.is_sure(&own.expression.root, own);
        let key = signature(self.plan, &all).map(|told| format!("{sure} {told}"));
        let sought = self.sought;
        kept(&sought.conditions, key, || self.constant(own, outer, sure))
    }

    /// Whether a condition always or never holds under those around it, and why.
    fn constant(&mut self, own: &Bound, outer: &[Bound], sure: bool) -> Told {
        let text = quoted(&own.expression.text);
        if !self.said.can_hold(&[own]) {
            let message = format!("{text} is never true{}", self.at_once(own));
            return Some((false, message));
        }
        if sure && self.said.always_holds(own) {
            let message = format!("{text} is always true, whatever is chosen or read");
            return Some((true, message));
        }
        let outer: Vec<&Bound> = outer.iter().collect();
        let all: Vec<&Bound> = outer.iter().copied().chain([own]).collect();
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
    fn criteria(&mut self, root: &At<'_>, place: &str, items: &[&Item]) -> Option<Finding> {
        let found: Vec<_> = items
            .iter()
            .filter_map(|item| Some((*item, self.contradiction(item)?)))
            .collect();
        let Some((first, (number, message))) = found.first() else {
            return self.holds_always(root, place, items);
        };
        let at = place_of_criterion(&root.at(place)?, *number)?;
        if found.len() == items.len() {
            return Some(at.finding(Code::NeverPasses, message, "mend one of the limits"));
        }
        let rows: Vec<&str> = found.iter().map(|(item, _)| row(item)).collect();
        let at = place_of_row(root, first).unwrap_or(at);
        let message = format!("in {}, {message}", listed(&rows));
        Some(at.finding(Code::UnmeetableRow, message, "mend the row or the limit"))
    }

    /// A criterion with a choice between parts that every reading meets, in all rows of its step: an `||` where an `&&` was
    /// meant, or each option that is offered.
    fn holds_always(&mut self, root: &At<'_>, place: &str, items: &[&Item]) -> Option<Finding> {
        let criteria = items.first()?.criteria.iter().take(MAX_CRITERIA);
        let with_choice = criteria.enumerate().filter(|(_, criterion)| {
            let bound = criterion.that.as_ref();
            bound.is_some_and(|b| !is_constant(b) && chooses(&b.expression.root))
        });
        let number = with_choice.map(|(number, _)| number).find(|number| {
            items.iter().all(|item| {
                let bound = item.criteria[*number].that.as_ref();
                bound.is_some_and(|bound| self.said.always_holds(bound))
            })
        })?;
        let bound = items[0].criteria[number].that.as_ref()?;
        let text = quoted(&bound.expression.text);
        let message = format!("{text} always holds, whatever is chosen or read");
        let help = "mend it; `&&` asks for both parts, `||` for one of them";
        let at = place_of_criterion(&root.at(place)?, number)?;
        Some(at.finding(Code::NeverFails, message, help))
    }

    /// The first criterion that no reading meets, alone or together with one before it, and why.
    fn contradiction(&mut self, item: &Item) -> Unmet {
        let criteria = item.criteria.iter().enumerate().take(MAX_CRITERIA);
        let (numbers, bounds): (Vec<usize>, Vec<&Bound>) = criteria
            .filter_map(|(n, c)| Some((n, c.that.as_ref().filter(|b| !is_constant(b))?)))
            .unzip();
        if bounds.is_empty() || self.said.is_plainly_met(&bounds) {
            return None;
        }
        let key = signature(self.plan, &bounds);
        let sought = self.sought;
        let (at, why) = kept(&sought.criteria, key, || self.unmet(&bounds))?;
        Some((numbers[at], why))
    }

    /// The same by its place among those that are given.
    fn unmet(&mut self, bounds: &[&Bound]) -> Unmet {
        if self.said.surely_can_hold(bounds) {
            return None;
        }
        for (at, bound) in bounds.iter().enumerate() {
            let text = quoted(&bound.expression.text);
            if !self.said.can_hold(&[bound]) {
                return Some((at, format!("{text} never holds{}", self.at_once(bound))));
            }
            for other in &bounds[..at] {
                if !self.said.can_hold(&[other, bound]) {
                    let wanting = self.wanting(other, bound);
                    let other = quoted(&other.expression.text);
                    let message = format!("{other} and {text} never hold at once{wanting}");
                    return Some((at, message));
                }
            }
        }
        None
    }
}

/// Whether an expression can be met in several ways.
fn chooses(node: &Node) -> bool {
    match node {
        Node::Binary(BinaryOperator::Or, ..) => true,
        Node::Binary(BinaryOperator::And, a, b) => chooses(a) || chooses(b),
        Node::Not(inner) => chooses(inner),
        _ => false,
    }
}

/// Whether nothing that is read or chosen is in it: such conditions are looked at where they are read.
fn is_constant(bound: &Bound) -> bool {
    let constant = |slot: &Slot| matches!(slot, Slot::Constant(_));
    bound.slots.iter().all(constant)
}
