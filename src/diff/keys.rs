//! What a step says besides its criteria: sentences, units, roles, ranges, what follows when it fails.
//!
//! Never in here: criteria and conditions (see `judged`). Changes when a step can say something new.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::plan::{CriterionSeverity, Item, Then};
use crate::quantity::parse_quantity;

use super::change::{Change, Lean, Weight};
use super::compare::Comparison;
use super::computed;
use super::condition;
use super::rows::{Row, meaning};
use super::sentences;
use super::settings;

/// Compares what a matched step says.
pub fn compare(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) {
    let (old, new) = (
        &comparison.sides.old.steps[was],
        &comparison.sides.new.steps[at],
    );
    let mut changes = Vec::new();
    let path = new.path.clone();
    sentences::compare(comparison, was, at, &mut changes);
    for key in [
        "options",
        "columns",
        "file",
        "with",
        "unit",
        "repeat",
        "range",
        "resolution",
        "pattern",
        "optional",
        "record_only",
        "after_stop",
    ] {
        if key == "unit" && new.verb == "compute" {
            continue;
        }
        if old.get(key) != new.get(key) {
            changes.extend(key_changed(key, old.get(key), new.get(key), &path));
        }
    }
    if new.verb == "compute" && old.get("unit") != new.get("unit") {
        let why = "the same value is shown in another unit";
        changes.push(Change::new(
            &path,
            Weight::Notation,
            text(old.get("unit")),
            text(new.get("unit")),
            why,
        ));
    }
    if new.verb == "each" && old.sentence() != new.sentence() {
        let why = "a row is called otherwise";
        changes.push(Change::new(
            &path,
            Weight::Notation,
            old.sentence(),
            new.sentence(),
            why,
        ));
    }
    let sides = &comparison.sides;
    settings::of_group((sides.old, was), (sides.new, at), &mut changes);
    comparison.changes.append(&mut changes);
    on_fail(comparison, was, at);
    computed::compare(comparison, was, at);
    condition::compare(comparison, was, at);
}

/// A value as its author wrote it, on one line.
pub fn text(value: Option<&Value>) -> String {
    match value {
        None | Some(Value::Null) => String::new(),
        Some(Value::String(text)) => text.clone(),
        Some(Value::Array(list)) => list
            .iter()
            .map(|v| text(Some(v)))
            .collect::<Vec<_>>()
            .join(", "),
        Some(Value::Object(map)) => row_text(map),
        Some(other) => other.to_string(),
    }
}

/// A row as a person reads it.
pub fn row_text(row: &Row) -> String {
    let fields: Vec<String> = row
        .iter()
        .map(|(key, value)| format!("{key}: {}", text(Some(value))))
        .collect();
    fields.join(", ")
}

/// The fields of a row that are in both revisions.
pub fn fields(old: &Row, new: &Row, path: &str, changes: &mut Vec<Change>) {
    for (key, now) in new {
        match old.get(key) {
            None => changes.push(Change::new(
                format!("{path}.{key}"),
                Weight::Setting,
                "",
                text(Some(now)),
                "the row has a new field",
            )),
            Some(before) if before == now => {}
            Some(before) => {
                let quantity = |value: &Value| parse_quantity(&text(Some(value))).ok();
                let both = quantity(before).zip(quantity(now));
                let is_same = both.map_or_else(
                    || meaning(before) == meaning(now),
                    |(a, b)| settings::same(&a, &b),
                );
                let (weight, why) = match is_same {
                    true => (Weight::Notation, "the same quantity, written otherwise"),
                    false => (
                        Weight::Setting,
                        "a field of the row has another value; what rests on it is told at the steps",
                    ),
                };
                changes.push(Change::new(
                    format!("{path}.{key}"),
                    weight,
                    text(Some(before)),
                    text(Some(now)),
                    why,
                ));
            }
        }
    }
    for (key, before) in old.iter().filter(|(key, _)| !new.contains_key(*key)) {
        changes.push(Change::new(
            format!("{path}.{key}"),
            Weight::Setting,
            text(Some(before)),
            "",
            "the row has lost a field",
        ));
    }
}

fn key_changed(key: &str, old: Option<&Value>, new: Option<&Value>, path: &str) -> Option<Change> {
    let (was, is) = (text(old), text(new));
    let change = |weight: Weight, why: &str, lean: Lean| {
        Some(Change::new(path, weight, &was, &is, why).leaning(lean))
    };
    match key {
        "options" => {
            let sorted = |text: Option<&Value>| {
                let mut all: Vec<String> = text
                    .and_then(Value::as_array)
                    .into_iter()
                    .flatten()
                    .map(|v| self::text(Some(v)))
                    .collect();
                all.sort();
                all
            };
            match sorted(old) == sorted(new) {
                true => change(
                    Weight::Notation,
                    "the same answers are offered in another order",
                    Lean::Neither,
                ),
                false => change(
                    Weight::Flow,
                    "other answers are offered; what is accepted is told by the criteria",
                    Lean::Neither,
                ),
            }
        }
        "columns" | "file" => change(
            Weight::Instrument,
            "the log is read otherwise",
            Lean::Neither,
        ),
        "with" => match (old, new) {
            (_, None) => change(
                Weight::Instrument,
                "no instrument of the register is read any more: no certificate, no uncertainty of it",
                Lean::Looser,
            )
            .map(|c| c.about("instrument role with")),
            (None, _) => change(
                Weight::Instrument,
                "an instrument of the register is read now",
                Lean::Tighter,
            ),
            _ => change(
                Weight::Instrument,
                "another instrument role is read",
                Lean::Neither,
            ),
        },
        "unit" => change(
            Weight::Notation,
            "the reading is asked for in another unit",
            Lean::Neither,
        ),
        "repeat" => {
            let number = |v: Option<&Value>| v.and_then(Value::as_u64).unwrap_or(1);
            match number(new).cmp(&number(old)) {
                std::cmp::Ordering::Less => {
                    change(Weight::Flow, "fewer readings are taken", Lean::Looser)
                }
                std::cmp::Ordering::Greater => {
                    change(Weight::Flow, "more readings are taken", Lean::Tighter)
                }
                std::cmp::Ordering::Equal => change(
                    Weight::Notation,
                    "one reading is what is taken without `repeat`",
                    Lean::Neither,
                ),
            }
        }
        "range" => range(old, new, path),
        "resolution" => match same_quantity(&was, &is) {
            true => change(
                Weight::Notation,
                "the same quantity, written otherwise",
                Lean::Neither,
            ),
            false => change(
                Weight::Instrument,
                "the step of the display is another",
                Lean::Neither,
            ),
        },
        "pattern" => match (old, new) {
            (None, _) => change(
                Weight::Tightened,
                "what is typed must have a form now",
                Lean::Tighter,
            ),
            (_, None) => change(
                Weight::Loosened,
                "what is typed needs no form any more",
                Lean::Looser,
            )
            .map(|c| c.about("pattern form typed")),
            _ => change(
                Weight::Undecided,
                "what is typed must have another form",
                Lean::Neither,
            ),
        },
        "optional" | "record_only" | "after_stop" => truth(key, old, new, path),
        _ => None,
    }
}

fn truth(key: &str, old: Option<&Value>, new: Option<&Value>, path: &str) -> Option<Change> {
    let is = |v: Option<&Value>| v.and_then(Value::as_bool).unwrap_or(false);
    let (was, now) = (text(old), text(new));
    let (weight, why, lean) = match (key, is(old), is(new)) {
        (_, a, b) if a == b => (Weight::Notation, "that holds without it too", Lean::Neither),
        ("optional", _, true) => (
            Weight::Flow,
            "the step may be skipped without a reason now",
            Lean::Looser,
        ),
        ("optional", ..) => (
            Weight::Flow,
            "the step may not be skipped without a reason any more",
            Lean::Tighter,
        ),
        ("after_stop", _, true) => (
            Weight::Flow,
            "it is asked after a fail has stopped the session too now",
            Lean::Tighter,
        ),
        ("after_stop", ..) => (
            Weight::Flow,
            "it is not asked any more once a fail has stopped the session",
            Lean::Looser,
        ),
        (_, _, true) => (
            Weight::Flow,
            "the value is asked for the file alone",
            Lean::Neither,
        ),
        _ => (
            Weight::Flow,
            "the value is not for the file alone any more",
            Lean::Neither,
        ),
    };
    Some(Change::new(path, weight, was, now, why).leaning(lean))
}

/// Whether two texts are one quantity.
pub fn same_quantity(a: &str, b: &str) -> bool {
    match (parse_quantity(a), parse_quantity(b)) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

/// The plausible range: outside of it a reading must be confirmed.
fn range(old: Option<&Value>, new: Option<&Value>, path: &str) -> Option<Change> {
    let ends = |v: Option<&Value>| {
        let list = v?.as_array()?;
        let end = |n: usize| parse_quantity(&text(list.get(n))).ok();
        Some((end(0)?, end(1)?))
    };
    let (was, is) = (text(old), text(new));
    let change = |weight: Weight, why: &str, lean: Lean| {
        Some(Change::new(path, weight, &was, &is, why).leaning(lean))
    };
    let (Some((a, b)), Some((c, d))) = (ends(old), ends(new)) else {
        return match old.is_none() {
            true => change(
                Weight::Flow,
                "a reading outside of a range must be confirmed now",
                Lean::Tighter,
            ),
            false => change(
                Weight::Flow,
                "no reading must be confirmed any more",
                Lean::Looser,
            ),
        };
    };
    let (Ok(low), Ok(high)) = (c.compare(&a), d.compare(&b)) else {
        return change(
            Weight::Flow,
            "the plausible range is of another kind",
            Lean::Neither,
        );
    };
    match (
        low.is_eq() && high.is_eq(),
        low.is_ge() && high.is_le(),
        low.is_le() && high.is_ge(),
    ) {
        (true, ..) => change(
            Weight::Notation,
            "the same range, written otherwise",
            Lean::Neither,
        ),
        (_, true, _) => change(
            Weight::Flow,
            "more readings must be confirmed",
            Lean::Tighter,
        ),
        (.., true) => change(
            Weight::Flow,
            "fewer readings must be confirmed",
            Lean::Looser,
        ),
        _ => change(
            Weight::Flow,
            "other readings must be confirmed",
            Lean::Neither,
        ),
    }
}

fn on_fail(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) {
    let (old, new) = (
        &comparison.sides.old.steps[was],
        &comparison.sides.new.steps[at],
    );
    let (before, now) = (old.get("on_fail"), new.get("on_fail"));
    if before == now || !new.is_leaf() {
        return;
    }
    let Some(place) = comparison.places(was, at).into_iter().next() else {
        return;
    };
    let (a, b) = (
        comparison.sides.old.at(place.old),
        comparison.sides.new.at(place.new),
    );
    let (weight, why, lean) = failing(a, b);
    let change = Change::new(&new.path, weight, text(before), text(now), why).leaning(lean);
    comparison.changes.push(change);
}

/// What follows from a fail of each severity that the step can have in either revision.
fn follows(then: Then, [a, b]: [&Item; 2]) -> Vec<u8> {
    let severities: BTreeSet<_> = [a, b]
        .iter()
        .flat_map(|item| item.criteria.iter().map(|c| c.severity))
        .collect();
    let one = |severity: CriterionSeverity| match then {
        Then::Continue => 0,
        Then::StopIfCritical => u8::from(severity == CriterionSeverity::Critical),
        Then::Stop | Then::AskAgain => 1,
    };
    severities.into_iter().map(one).collect()
}

fn failing(old: &Item, new: &Item) -> (Weight, &'static str, Lean) {
    let (a, b) = (old.on_fail, new.on_fail);
    let retries = b.retries.cmp(&a.retries);
    let then = follows(b.then, [old, new]).cmp(&follows(a.then, [old, new]));
    // Asked until it holds, or failed in the end: neither is harder than the other.
    let other = match (a.then, b.then) {
        (Then::Stop, Then::AskAgain) => {
            Some("it is asked again until it holds now; a fail ended the session")
        }
        (Then::AskAgain, Then::Stop) => {
            Some("a fail ends the session now; it was asked again until it held")
        }
        _ => None,
    };
    if let Some(why) = other {
        return (Weight::Flow, why, Lean::Neither);
    }
    match (retries.is_eq(), then.is_eq()) {
        (true, true) => (
            Weight::Notation,
            "the same follows from a fail",
            Lean::Neither,
        ),
        (false, true) if retries.is_gt() => (
            Weight::Flow,
            "it may be done again more often after a fail",
            Lean::Looser,
        ),
        (false, true) => (
            Weight::Flow,
            "it may be done again less often after a fail",
            Lean::Tighter,
        ),
        (true, false) if then.is_gt() => (
            Weight::Flow,
            "a fail has harder consequences",
            Lean::Tighter,
        ),
        (true, false) => (Weight::Flow, "a fail has milder consequences", Lean::Looser),
        _ => (
            Weight::Flow,
            "other things follow from a fail",
            Lean::Neither,
        ),
    }
}
