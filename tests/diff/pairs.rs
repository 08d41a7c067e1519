//! The pairs, one by one, turned around, and two at a time.
//!
//! Never in here: the pairs themselves (see `limits`, `steps`, `rest`). Changes when a law of pairs is added.

use stepwell::diff::{Change, Weight, compare};

use crate::limits::LIMITS;
use crate::rest::REST;
use crate::steps::{CRITERIA, STEPS};
use crate::{BASE, difference, edited, revision, weights};

/// A name, the edits of the base, and the changes that they come to.
pub type Pair = (
    &'static str,
    &'static [(&'static str, &'static str)],
    &'static [&'static str],
);

#[test]
fn each_pair_is_weighed_as_worked_out_by_hand() {
    let mut wrong = Vec::new();
    for (name, edits, expected) in [LIMITS, CRITERIA, STEPS, REST].concat() {
        let said = weights(&difference(BASE, &edited(edits)));
        if said != *expected {
            wrong.push(format!(
                "{name}:\n  expected {expected:?}\n  said     {said:?}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What is said of two texts, and what is said of them the other way about, must be each other's opposite. Of two steps that
/// changed places either may be said to have moved.
fn opposite(a: &str, b: &str, name: &str) {
    let (a, b) = (revision(a), revision(b));
    let (there, back) = (compare(&a, &b), compare(&b, &a));
    let told = |c: &Change, old: &str, new: &str| match c.weight {
        Weight::StepMoved => (String::new(), String::new()),
        _ => (old.to_owned(), new.to_owned()),
    };
    let mirrored = |c: &Change| (c.weight.mirrored(), told(c, &c.new, &c.old));
    let said = |c: &Change| (c.weight, told(c, &c.old, &c.new));
    let mut mirrored: Vec<_> = there.changes.iter().map(mirrored).collect();
    let mut said: Vec<_> = back.changes.iter().map(said).collect();
    mirrored.sort();
    said.sort();
    assert_eq!(mirrored, said, "{name}");
}

#[test]
fn each_pair_turned_around_says_the_opposite() {
    for (name, edits, _) in [LIMITS, CRITERIA, STEPS, REST].concat() {
        opposite(BASE, &edited(edits), name);
    }
}

/// Two changes at once: neither hides the other, and turned around they say the opposite.
#[test]
fn mixed_pairs_say_both() {
    let all = [LIMITS, CRITERIA, STEPS, REST].concat();
    let mut mixed = 0;
    for (n, (name, edits, expected)) in all.iter().enumerate() {
        let (other, more, also) = all[(n * 37 + 11) % all.len()];
        let both: Vec<_> = edits.iter().chain(more).copied().collect();
        let Some(text) = applied(&both) else {
            continue;
        };
        if stepwell::recipe::read(stepwell::text::Source::new("mixed", &text))
            .plan
            .is_none()
        {
            continue;
        }
        mixed += 1;
        let name = format!("{name}; {other}");
        opposite(BASE, &text, &name);
        if APART.iter().any(|group| {
            group
                .iter()
                .any(|key| expected.iter().any(|e| e.contains(key)))
                && group.iter().any(|key| also.iter().any(|e| e.contains(key)))
        }) {
            continue;
        }
        let mut wanted: Vec<&str> = expected
            .iter()
            .chain(also)
            .copied()
            .filter(|e| *e != "notation")
            .collect();
        wanted.sort_unstable();
        assert_eq!(weights(&difference(BASE, &text)), wanted, "{name}");
    }
    assert!(mixed > 40, "{mixed} pairs could be mixed");
}

/// Paths that two changes must not both touch, for what is said of them to be the sum.
const APART: [&[&str]; 9] = [
    &["accuracy", "settings.tolerance"],
    &["occlusion"],
    &["head", "fluid"],
    &["error", "settings.tolerance", "collected", "density"],
    &["cord"],
    &["time"],
    &["bubbles", "bolus"],
    &["cautions"],
    &["revision", "changes"],
];

/// The base with all edits, if each still finds its place.
fn applied(edits: &[(&str, &str)]) -> Option<String> {
    let mut text = BASE.to_owned();
    for (old, new) in edits {
        if text.matches(old).count() != 1 {
            return None;
        }
        text = text.replace(old, new);
    }
    Some(text)
}
