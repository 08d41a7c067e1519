//! The sentences of a step: what the technician reads, with the values that are known, and what explains it.
//!
//! Never in here: which words turn a sense (see `sense`). Changes when a sentence weighs otherwise.

use std::hash::{DefaultHasher, Hash, Hasher};

use crate::plan::{Item, Slot, Value as Known, render_prompt};

use super::change::{Change, Weight};
use super::compare::{Comparison, Place};
use super::criteria::Side;
use super::revision::Step;
use super::sense::{self, Sense};
use super::wording::{changed_words, likeness};

/// How alike two cautions are, of 100, for the one to be a rewording of the other.
pub const SAME_CAUTION: usize = 50;

const READ: &str = "what the technician reads";

/// Compares the sentences of a matched step.
pub fn compare(comparison: &Comparison<'_, '_>, was: usize, at: usize, changes: &mut Vec<Change>) {
    let (old, new) = (
        &comparison.sides.old.steps[was],
        &comparison.sides.new.steps[at],
    );
    if !matches!(new.verb, "compute" | "each") {
        changes.extend(prompt(comparison, (was, old), (at, new)));
    }
    for key in ["title", "why", "help", "picture"] {
        changes.extend(note(key, old, new));
    }
    let caution = |step: &Step<'_>| step.text("caution").unwrap_or_default().into_owned();
    let (before, now) = (caution(old), caution(new));
    if before != now {
        changes.extend(cautions(&new.path, &before, &now));
    }
}

/// What the technician reads, with the values that are known before a run in it.
fn prompt(
    comparison: &Comparison<'_, '_>,
    (was, old): (usize, &Step<'_>),
    (at, new): (usize, &Step<'_>),
) -> Option<Change> {
    let (before, now) = (old.sentence(), new.sentence());
    let place = new
        .is_leaf()
        .then(|| comparison.places(was, at).into_iter().next());
    let printed = place
        .flatten()
        .and_then(|place| comparison.printed(&place, before == now));
    match printed {
        Some((a, b)) if a == b && before != now => {
            let why = format!("{READ} is the same, written otherwise");
            Some(Change::new(&new.path, Weight::Notation, before, now, why))
        }
        Some((a, b)) if before != now => {
            let (weight, why) = weighed(&a, &b, READ);
            Some(Change::new(&new.path, weight, before, now, why))
        }
        Some((a, b)) if a != b && sense::compare(&a, &b) != Sense::Same => {
            let why = format!(
                "{READ} prints another value now: {}; read both",
                changed_words(&a, &b)
            );
            Some(Change::new(&new.path, Weight::Undecided, a, b, why))
        }
        None if before != now => Some(reworded(&new.path, &before, &now, READ)),
        _ => None,
    }
}

fn note(key: &str, old: &Step<'_>, new: &Step<'_>) -> Option<Change> {
    let said = |step: &Step<'_>| step.text(key).unwrap_or_default().into_owned();
    let (before, now) = (said(old), said(new));
    if before == now {
        return None;
    }
    let words = changed_words(&before, &now);
    let (weight, why) = match (before.is_empty(), now.is_empty()) {
        (true, _) => (Weight::Wording, format!("`{key}` is new")),
        (_, true) => (Weight::Wording, format!("`{key}` is no more")),
        _ => match sense::compare(&before, &now) {
            Sense::Turned(word) if matches!(key, "why" | "help") => (
                Weight::Undecided,
                format!("`{key}`: {words}; `{word}` may change what is done: read both"),
            ),
            // What explains may be said in other words altogether.
            _ => (Weight::Wording, format!("`{key}`: {words}")),
        },
    };
    Some(Change::new(&new.path, weight, before, now, why))
}

/// Another wording of a sentence that somebody follows. One in which a number or a word that turns its sense differs is not
/// mere wording.
fn reworded(path: &str, old: &str, new: &str, what: &str) -> Change {
    let (weight, why) = weighed(old, new, what);
    Change::new(path, weight, old, new, why)
}

fn weighed(old: &str, new: &str, what: &str) -> (Weight, String) {
    let words = changed_words(old, new);
    match sense::compare(old, new) {
        Sense::Same => (
            Weight::Notation,
            format!("{what}: {words}, the same written otherwise"),
        ),
        Sense::Reworded => (Weight::Wording, format!("{what}: {words}")),
        Sense::Turned(word) => (
            Weight::Undecided,
            format!("{what}: {words}; `{word}` may change what is done: read both"),
        ),
        Sense::Another => (
            Weight::Undecided,
            format!("{what}: {words}; it has nothing in common with what it was: read both"),
        ),
    }
}

/// A caution that is no more, new, or reworded.
pub fn cautions(path: &str, old: &str, new: &str) -> Vec<Change> {
    let removed = || {
        Change::new(path, Weight::Loosened, old, "", "a caution is no more")
            .about(format!("caution {old}"))
    };
    let added = || Change::new(path, Weight::Tightened, "", new, "a caution is new");
    match (old.is_empty(), new.is_empty()) {
        (false, true) => vec![removed()],
        (true, false) => vec![added()],
        (true, true) => Vec::new(),
        _ if likeness(old, new) >= SAME_CAUTION => vec![reworded(path, old, new, "a caution")],
        _ => vec![removed(), added()],
    }
}

impl Comparison<'_, '_> {
    /// Both sentences of a step as they print before a run, what is read in a run by its step. Fields of rows can be left
    /// as they are: of a changed one the row tells.
    fn printed(&self, place: &Place, settings_alone: bool) -> Option<(String, String)> {
        let print = |side: Side, item: &Item| {
            let value = |(name, slot): &(String, Slot)| {
                let value = match slot {
                    Slot::Constant(_) if settings_alone && name.contains('.') => {
                        Known::Text(format!("{{{name}}}"))
                    }
                    Slot::Constant(value) => value.clone(),
                    Slot::Device(_) => Known::Text(format!("{{{name}}}")),
                    Slot::Item(item) | Slot::Column(item, _) => self.stands_for(side, &[*item]),
                    Slot::Items(items) => self.stands_for(side, items),
                };
                (name.clone(), value)
            };
            let values: Vec<_> = item.prompt_slots.iter().map(value).collect();
            render_prompt(&item.prompt, &values).ok()
        };
        let old = print(Side::Old, self.sides.old.at(place.old))?;
        Some((old, print(Side::New, self.sides.new.at(place.new))?))
    }

    /// A text for what is read or computed, the same for matched steps.
    fn stands_for(&self, side: Side, items: &[usize]) -> Known {
        let given = match side {
            Side::Old => &self.sides.given_old,
            Side::New => &self.sides.given_new,
        };
        let mut hasher = DefaultHasher::new();
        items
            .iter()
            .for_each(|n| given.forms.get(*n).hash(&mut hasher));
        Known::Text(format!("{{{:x}}}", hasher.finish()))
    }
}
