//! What became of the criteria and conditions of a step, in each row.
//!
//! Never in here: what a condition accepts (see `region`). Changes when changes of limits are told otherwise.

use serde_json::Value;

use crate::plan::{Bound, Criterion, Item, Slot, Verb};
use crate::quantity::Unit;

use super::change::{Change, Lean, Weight};
use super::compare::{Comparison, Place};
use super::criteria::{Side, Together, pair, together};
use super::formula::Formula;
use super::region::{self, Change as Region};
use super::revision::Step;

/// What a criterion without an expression says.
const ANSWERED: &str = "the answer is yes";

/// A step in one row: what its criteria say in both revisions.
struct Row {
    place: Place,
    olds: Vec<Formula>,
    news: Vec<Formula>,
}

/// The criteria of a step as its author wrote them.
pub fn criteria_text(step: &Step<'_>) -> String {
    let one = |value: &Value| match value {
        Value::Object(map) => map
            .get("that")
            .and_then(Value::as_str)
            .unwrap_or_default()
            .to_owned(),
        other => other.as_str().unwrap_or_default().to_owned(),
    };
    let texts: Vec<String> = match step.get("accept") {
        Some(Value::Array(list)) => list.iter().map(one).collect(),
        Some(other) => vec![one(other)],
        None if step.verb == "confirm" => vec![ANSWERED.to_owned()],
        None => Vec::new(),
    };
    texts
        .iter()
        .map(|t| format!("`{t}`"))
        .collect::<Vec<_>>()
        .join(", ")
}

fn text_of(criterion: &Criterion) -> &str {
    criterion
        .that
        .as_ref()
        .map_or(ANSWERED, |bound| &bound.expression.text)
}

fn texts(item: &Item, which: &[usize]) -> String {
    let all: Vec<&str> = which.iter().map(|n| text_of(&item.criteria[*n])).collect();
    all.join(" and ")
}

/// Compares the criteria of a matched step.
pub fn compare(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) {
    let mut rows = Vec::new();
    for place in comparison.places(was, at) {
        rows.push(row(comparison, place));
    }
    let Some(first) = rows.first() else {
        return;
    };
    let units = units(comparison, first);
    let mut changes = Vec::new();
    for unit in &units {
        comparison.unit(unit, &rows, at, &mut changes);
    }
    let step = &comparison.sides.new.steps[at];
    let words = format!("{} {}", step.id, step.called());
    comparison.changes.extend(changes.into_iter().map(|c| {
        let said = format!("{words} {} {}", c.old, c.new);
        c.about(said)
    }));
}

fn row(comparison: &mut Comparison<'_, '_>, place: Place) -> Row {
    let olds = comparison.sides.all(Side::Old, place.old);
    let news = comparison.sides.all(Side::New, place.new);
    Row { place, olds, news }
}

/// Which criteria of a step belong together, as one of its rows tells.
fn units(comparison: &Comparison<'_, '_>, row: &Row) -> Vec<Together> {
    let sides = &comparison.sides;
    let (old, new) = (sides.old.at(row.place.old), sides.new.at(row.place.new));
    pair((old, &row.olds), (new, &row.news), &|unit| {
        sides.compare(unit, &row.olds, &row.news)
    })
}

/// Which criteria of a step belong together in its rows, the first of which is at `place`.
pub fn matched(comparison: &mut Comparison<'_, '_>, place: &Place) -> Vec<Together> {
    let row = row(comparison, place.clone());
    units(comparison, &row)
}

impl Comparison<'_, '_> {
    fn unit(&self, unit: &Together, rows: &[Row], at: usize, changes: &mut Vec<Change>) {
        let place = &rows[0].place;
        let (old, new) = (self.sides.old.at(place.old), self.sides.new.at(place.new));
        let path = &self.sides.new.steps[at].path;
        let (was, is) = (texts(old, &unit.old), texts(new, &unit.new));
        match (unit.old.first(), unit.new.first()) {
            (Some(n), None) => {
                let row = &rows[0];
                let accepted = self.sides.accepted(&row.olds[*n], old.verb.unit().as_ref());
                let why = format!(
                    "a {} criterion is no more{}",
                    old.criteria[*n].severity.word(),
                    accepted.map_or_else(String::new, |a| format!("; it accepted {a}"))
                );
                changes.push(Change::new(path, Weight::CriterionRemoved, was, "", why));
            }
            (None, Some(n)) => {
                let row = &rows[0];
                let accepted = self.sides.accepted(&row.news[*n], new.verb.unit().as_ref());
                let why = format!(
                    "a {} criterion is new{}",
                    new.criteria[*n].severity.word(),
                    accepted.map_or_else(String::new, |a| format!("; it accepts {a}"))
                );
                changes.push(Change::new(path, Weight::CriterionAdded, "", is, why));
            }
            (Some(a), Some(b)) => {
                self.limits(unit, rows, at, (&was, &is), changes);
                severity(&old.criteria[*a], &new.criteria[*b], path, changes);
                self.basis(&old.criteria[*a], &new.criteria[*b], path, changes);
            }
            (None, None) => {}
        }
    }

    /// What a unit accepts, told once where that changed alike in all rows.
    fn limits(
        &self,
        unit: &Together,
        rows: &[Row],
        at: usize,
        (was, is): (&str, &str),
        changes: &mut Vec<Change>,
    ) {
        let regions: Vec<Region> = rows
            .iter()
            .map(|row| self.sides.compare(unit, &row.olds, &row.news))
            .collect();
        let step = &self.sides.new.steps[at];
        if regions.iter().all(|r| *r == Region::Same) {
            if was != is {
                let why = "the same is accepted, written otherwise";
                changes.push(Change::new(&step.path, Weight::Notation, was, is, why));
            }
            return;
        }
        let alike = regions.iter().all(|r| *r == regions[0]);
        let told = if alike { &rows[..1] } else { rows };
        for (row, region) in told
            .iter()
            .zip(&regions)
            .filter(|(_, r)| **r != Region::Same)
        {
            let path = match alike {
                true => step.path.clone(),
                false => self.sides.new.path_in(at, &row.place.rows),
            };
            let weight = match region {
                Region::Tightened => Weight::Tightened,
                Region::Loosened => Weight::Loosened,
                Region::Shifted => Weight::Shifted,
                _ => Weight::Undecided,
            };
            let mut why = self.reason(unit, row, region);
            if alike && rows.len() > 1 {
                why.push_str(&format!(
                    " (in row {} of {}; the others changed alike)",
                    row.place
                        .rows
                        .iter()
                        .map(ToString::to_string)
                        .collect::<Vec<_>>()
                        .join("."),
                    rows.len()
                ));
            }
            changes.push(Change::new(path, weight, was, is, why));
        }
    }

    fn reason(&self, unit: &Together, row: &Row, region: &Region) -> String {
        let (old, new) = (
            self.sides.old.at(row.place.old),
            self.sides.new.at(row.place.new),
        );
        if let Region::Undecided(reason) = region {
            let computed = unit.old.iter().zip(&unit.new).find_map(|(a, b)| {
                let pair = old.criteria[*a]
                    .that
                    .as_ref()
                    .zip(new.criteria[*b].that.as_ref())?;
                self.computed_otherwise(pair)
            });
            return match computed {
                Some(name) => {
                    format!("it rests on `{name}`, which is computed otherwise now: look at both")
                }
                None => format!("whether more or less is accepted can't be told: {reason}"),
            };
        }
        let said = |formulas: &[Formula], which: &[usize], unit: Option<Unit>| {
            self.sides
                .accepted(&together(formulas, which), unit.as_ref())
        };
        let before = said(&row.olds, &unit.old, old.verb.unit());
        let now = said(&row.news, &unit.new, new.verb.unit());
        match (before, now) {
            (Some(before), Some(now)) => format!("accepts {now}, before {before}"),
            _ => match region {
                Region::Tightened => "less is accepted than before".to_owned(),
                Region::Loosened => "more is accepted than before".to_owned(),
                _ => "some is accepted that was not, some not that was".to_owned(),
            },
        }
    }

    /// A name of both expressions that stands for something that is computed otherwise.
    fn computed_otherwise(&self, (old, new): (&Bound, &Bound)) -> Option<String> {
        let computed = |slot: &Slot, plan: &crate::plan::Plan| match slot {
            Slot::Item(item) => {
                matches!(plan.items[*item].verb, Verb::Compute { .. }).then_some(*item)
            }
            _ => None,
        };
        let names = new.expression.names.iter().zip(&new.slots);
        names
            .filter_map(|(name, slot)| {
                let at = old.expression.names.iter().position(|n| n == name)?;
                let before = computed(&old.slots[at], &self.sides.old.of.plan)?;
                let now = computed(slot, &self.sides.new.of.plan)?;
                let differs = self.sides.given_old.forms[before] != self.sides.given_new.forms[now];
                differs.then(|| name.clone())
            })
            .next()
    }

    fn basis(&self, old: &Criterion, new: &Criterion, path: &str, changes: &mut Vec<Change>) {
        if old.basis == new.basis {
            return;
        }
        let said = |basis: &Option<String>, plan: &crate::plan::Plan| {
            basis.as_ref().and_then(|key| plan.basis.get(key).cloned())
        };
        let (before, now) = (
            said(&old.basis, &self.sides.old.of.plan),
            said(&new.basis, &self.sides.new.of.plan),
        );
        let (was, is) = (
            old.basis.clone().unwrap_or_default(),
            new.basis.clone().unwrap_or_default(),
        );
        let (weight, why) = match before == now {
            true => (
                Weight::Notation,
                "the same source under another key".to_owned(),
            ),
            false => (
                Weight::Identity,
                format!(
                    "the limit `{}` rests on another source: {}",
                    text_of(new),
                    now.unwrap_or_else(|| "none".to_owned())
                ),
            ),
        };
        changes.push(Change::new(path, weight, was, is, why));
    }
}

fn severity(old: &Criterion, new: &Criterion, path: &str, changes: &mut Vec<Change>) {
    if old.severity == new.severity {
        return;
    }
    let lean = if new.severity > old.severity {
        Lean::Tighter
    } else {
        Lean::Looser
    };
    let why = format!("a fail of `{}` weighs otherwise", text_of(new));
    let change = Change::new(
        path,
        Weight::Severity,
        old.severity.word(),
        new.severity.word(),
        why,
    );
    changes.push(change.leaning(lean));
}

/// Compares when a step applies, in each row.
pub fn condition(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) {
    let (old, new) = (
        &comparison.sides.old.steps[was],
        &comparison.sides.new.steps[at],
    );
    let (before, now) = (old.text("when"), new.text("when"));
    let (before, now) = (before.as_deref(), now.as_deref());
    let path = new.path.clone();
    let change = |why: &str, lean: Lean| {
        let shown = |text: Option<&str>| text.unwrap_or_default().to_owned();
        Change::new(&path, Weight::Flow, shown(before), shown(now), why).leaning(lean)
    };
    let change = match (before, now) {
        (None, None) => return,
        (None, Some(_)) => change("it applies only under a condition now", Lean::Looser),
        (Some(_), None) => change("it always applies now", Lean::Tighter),
        (Some(_), Some(_)) => {
            let (around_old, around_new) = (old.conditions_around, new.conditions_around);
            let Some(place) = first_place(comparison, was, at) else {
                return;
            };
            let places = if new.is_leaf() {
                comparison.places(was, at)
            } else {
                vec![place]
            };
            let mut regions = Vec::new();
            for place in places {
                let a = comparison.sides.old.at(place.old).conditions[around_old].clone();
                let b = comparison.sides.new.at(place.new).conditions[around_new].clone();
                let (a, b) = (
                    comparison.sides.says(Side::Old, &a),
                    comparison.sides.says(Side::New, &b),
                );
                regions.push(region::compare(&a, &b, &comparison.sides.values));
            }
            match regions.iter().find(|r| **r != Region::Same) {
                None if before == now => return,
                None => Change::new(
                    &path,
                    Weight::Notation,
                    before.unwrap_or_default(),
                    now.unwrap_or_default(),
                    "the same condition, written otherwise",
                ),
                Some(region) if regions.iter().all(|r| r == region || *r == Region::Same) => {
                    match region {
                        Region::Tightened => change("it applies in fewer cases", Lean::Looser),
                        Region::Loosened => change("it applies in more cases", Lean::Tighter),
                        _ => change("it applies in other cases", Lean::Neither),
                    }
                }
                Some(_) => change(
                    "it applies in other cases, in some rows more, in some fewer",
                    Lean::Neither,
                ),
            }
        }
    };
    comparison.changes.push(change);
}

/// A place of a step, or of the first leaf inside of it that is in both revisions.
fn first_place(comparison: &Comparison<'_, '_>, was: usize, at: usize) -> Option<Place> {
    if comparison.sides.new.steps[at].is_leaf() {
        return comparison.places(was, at).into_iter().next();
    }
    let inner = comparison.sides.new.steps[at].inner.iter();
    inner
        .filter_map(|s| Some((comparison.pairing.old_of[*s]?, *s)))
        .filter(|(a, _)| comparison.sides.old.is_inside(*a, was))
        .find_map(|(a, b)| first_place(comparison, a, b))
}
