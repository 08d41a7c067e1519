//! The sentences of a step: what the technician reads, with the values that are known, and what explains it.
//!
//! Never in here: which words turn a sense (see `sense`). Changes when a sentence weighs otherwise.

use crate::plan::{Item, Slot, Value as Known, render_prompt};

use super::change::{Change, Weight};
use super::compare::{Comparison, Place};
use super::criteria::Side;
use super::revision::Step;
use super::sense::{Sense, Sentences};
use super::values::Form;
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
            let words = changed_words(&before, &now);
            let (weight, why) = weighed((&a, &b), &words, READ, least_said(new));
            Some(Change::new(&new.path, weight, before, now, why))
        }
        Some((a, b)) if a != b && Sentences::of(&a, &b).sense() != Sense::Same => {
            let why = format!(
                "{READ} prints another value now: {}; read both",
                changed_words(&a, &b)
            );
            Some(Change::new(&new.path, Weight::Undecided, a, b, why))
        }
        None if before != now => Some(reworded(&new.path, &before, &now, READ, least_said(new))),
        _ => None,
    }
}

/// How many words a sentence has to say more, or less, for it to ask for something else: what is confirmed is the criterion
/// itself, and what is told is all that there is to do. Beside a reading, words only explain it.
fn least_said(step: &Step<'_>) -> Option<usize> {
    match step.verb {
        "confirm" => Some(1),
        "choose" if step.get("accept").is_some() => Some(1),
        "tell" => Some(2),
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
        _ => match Sentences::of(&before, &now).sense() {
            Sense::Turned(word) if matches!(key, "why" | "help" | "title") => (
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
fn reworded(path: &str, old: &str, new: &str, what: &str, least_said: Option<usize>) -> Change {
    let words = changed_words(old, new);
    let (weight, why) = weighed((old, new), &words, what, least_said);
    Change::new(path, weight, old, new, why)
}

fn weighed(
    (old, new): (&str, &str),
    words: &str,
    what: &str,
    least_said: Option<usize>,
) -> (Weight, String) {
    let both = Sentences::of(old, new);
    match both.sense() {
        Sense::Same => (
            Weight::Notation,
            format!("{what}: {words}, the same written otherwise"),
        ),
        Sense::Reworded => {
            let more = both.more_said();
            match least_said.is_some_and(|least| more >= least) {
                true => (
                    Weight::Undecided,
                    format!("{what}: {words}; one of the two says more than the other: read both"),
                ),
                false => (Weight::Wording, format!("{what}: {words}")),
            }
        }
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
        _ if likeness(old, new) >= SAME_CAUTION => {
            vec![reworded(path, old, new, "a caution", Some(1))]
        }
        _ => vec![removed(), added()],
    }
}

impl Comparison<'_, '_> {
    /// Both sentences of a step as they print before a run. Of what is read or computed the name stands, the same for what
    /// is the same in both; where the texts are alike, it and fields of rows tell of themselves.
    fn printed(&self, place: &Place, settings_alone: bool) -> Option<(String, String)> {
        let mut known: Vec<(Vec<Form>, String)> = Vec::new();
        let mut print = |side: Side, item: &Item| {
            let mut value = |(name, slot): &(String, Slot)| {
                let by_name = || Known::Text(format!("{{{name}}}"));
                let value = match slot {
                    Slot::Constant(_) if settings_alone && name.contains('.') => by_name(),
                    Slot::Constant(value) => value.clone(),
                    _ if settings_alone => by_name(),
                    Slot::Device(_) => by_name(),
                    Slot::Item(item) | Slot::Column(item, _) => {
                        Known::Text(stand_in(&mut known, self.forms(side, &[*item]), name))
                    }
                    Slot::Items(items) => {
                        Known::Text(stand_in(&mut known, self.forms(side, items), name))
                    }
                };
                (name.clone(), value)
            };
            let values: Vec<_> = item.prompt_slots.iter().map(&mut value).collect();
            render_prompt(&item.prompt, &values).ok()
        };
        let old = print(Side::Old, self.sides.old.at(place.old))?;
        Some((old, print(Side::New, self.sides.new.at(place.new))?))
    }

    fn forms(&self, side: Side, items: &[usize]) -> Vec<Form> {
        let given = self.sides.given(side);
        items.iter().map(|n| given.forms[*n].clone()).collect()
    }
}

/// The name by which a value was called first; another one of the same name has a mark.
fn stand_in(known: &mut Vec<(Vec<Form>, String)>, forms: Vec<Form>, name: &str) -> String {
    if let Some((_, text)) = known.iter().find(|(f, _)| *f == forms) {
        return text.clone();
    }
    let plain = format!("{{{name}}}");
    let text = match known.iter().any(|(_, text)| *text == plain) {
        true => format!("{{{name}#}}"),
        false => plain,
    };
    known.push((forms, text.clone()));
    text
}
