//! What became of the conditions under which a step applies, in each row.
//!
//! Never in here: criteria. Changes when a changed condition is told otherwise.

use super::change::{Change, Lean, Weight};
use super::compare::{Comparison, Place};
use super::criteria::Side;
use super::formula::Formula;
use super::region::Change as Region;

/// Compares when a step applies, in each row.
pub fn compare(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) {
    let (old, new) = (
        &comparison.sides.old.steps[was],
        &comparison.sides.new.steps[at],
    );
    let (before, now) = (old.text("when"), new.text("when"));
    if before.is_none() && now.is_none() {
        return;
    }
    let regions = regions(comparison, was, at);
    let Some(mut told) = weighed(&regions, before.as_deref(), now.as_deref()) else {
        return;
    };
    if told.0 == Weight::Flow && applies_as_before(comparison, was, at) {
        let why = "it applies in the same cases: the conditions stand elsewhere around it";
        told = (Weight::Notation, why, Lean::Neither);
    }
    let (weight, why, lean) = told;
    let shown = |text: Option<&str>| text.unwrap_or_default().to_owned();
    let (was, is) = (shown(before.as_deref()), shown(now.as_deref()));
    let change = Change::new(&new.path, weight, was, is, why).leaning(lean);
    comparison.changes.push(change);
}

/// How the cases in which a step applies differ in each row; nothing where no step inside tells.
fn regions(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) -> Vec<Region> {
    let Some(place) = first_place(comparison, was, at) else {
        return Vec::new();
    };
    let places = match comparison.sides.new.steps[at].is_leaf() {
        true => comparison.places(was, at),
        false => vec![place],
    };
    let each = places.iter().map(|place| {
        let before = says(comparison, Side::Old, was, place.old);
        let now = says(comparison, Side::New, at, place.new);
        held(comparison, &before, &now)
    });
    each.collect()
}

/// Whether all conditions around a step, or around each step inside of it, say together what they said before.
fn applies_as_before(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) -> bool {
    if !comparison.sides.new.steps[at].is_leaf() {
        let inner = comparison.sides.new.steps[at].inner.clone();
        return !inner.is_empty()
            && inner.into_iter().all(|step| {
                let old = comparison.pairing.old_of[step];
                let old = old.filter(|old| comparison.sides.old.is_inside(*old, was));
                old.is_some_and(|old| applies_as_before(comparison, old, step))
            });
    }
    let places = comparison.places(was, at);
    !places.is_empty()
        && places.iter().all(|place| {
            let before = all_around(comparison, Side::Old, place.old);
            let now = all_around(comparison, Side::New, place.new);
            held(comparison, &before, &now) == Region::Same
        })
}

/// How the cases of two conditions differ; where that can't be told by computed values, by what these are made of.
fn held(comparison: &mut Comparison<'_, '_>, before: &Formula, now: &Formula) -> Region {
    let told = comparison.sides.held(before, now);
    match told {
        Region::Undecided(_) => {
            let (before, now) = comparison.sides.opened(before, now);
            comparison.sides.held(&before, &now)
        }
        told => told,
    }
}

/// What the conditions of an item say together, its own and those of the groups around it.
pub fn all_around(comparison: &mut Comparison<'_, '_>, side: Side, item: usize) -> Formula {
    let conditions = comparison.sides.tree(side).at(item).conditions.clone();
    let said = conditions
        .iter()
        .map(|own| comparison.sides.says(side, own));
    Formula::all(said.collect())
}

/// What the own condition of a step says at one of its items: without one it always applies.
fn says(comparison: &mut Comparison<'_, '_>, side: Side, step: usize, item: usize) -> Formula {
    let tree = comparison.sides.tree(side);
    let of = &tree.steps[step];
    match of.get("when") {
        None => Formula::Always(true),
        Some(_) => {
            let own = tree.at(item).conditions[of.conditions_around].clone();
            comparison.sides.says(side, &own)
        }
    }
}

fn weighed(
    regions: &[Region],
    before: Option<&str>,
    now: Option<&str>,
) -> Option<(Weight, &'static str, Lean)> {
    let first = regions.iter().find(|r| **r != Region::Same);
    let all_alike = regions
        .iter()
        .all(|r| Some(r) == first || *r == Region::Same);
    let flow = |why, lean| Some((Weight::Flow, why, lean));
    match (before, now) {
        _ if first.is_none() && before == now => None,
        (Some(_), Some(_)) if first.is_none() => Some((
            Weight::Notation,
            "the same condition, written otherwise",
            Lean::Neither,
        )),
        (None, Some(_)) | (Some(_), None) if first.is_none() && !regions.is_empty() => Some((
            Weight::Notation,
            "the condition always holds at the settings in force",
            Lean::Neither,
        )),
        (None, _) => flow("it applies only under a condition now", Lean::Looser),
        (_, None) => flow("it always applies now", Lean::Tighter),
        _ if !all_alike => flow(
            "it applies in other cases, in some rows more, in some fewer",
            Lean::Neither,
        ),
        _ => match first {
            Some(Region::Tightened) => flow("it applies in fewer cases", Lean::Looser),
            Some(Region::Loosened) => flow("it applies in more cases", Lean::Tighter),
            _ => flow("it applies in other cases", Lean::Neither),
        },
    }
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
