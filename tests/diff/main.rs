//! Pairs of revisions with a known change: what is said of each was worked out by hand.
//!
//! Never in here: laws that hold for all pairs (see `tests/property`). Changes when a change is weighed otherwise.

mod computed;
mod device;
mod limits;
mod pairs;
mod rest;
mod said;
mod sentences;
mod steps;
mod swapped;

use stepwell::diff::{Difference, Revision, compare};
use stepwell::text::Source;

/// A recipe with each kind of step.
pub const BASE: &str = include_str!("base.yaml");

/// A recipe without errors, taken apart.
pub fn revision(text: &str) -> Revision {
    let reading = stepwell::recipe::read(Source::new("pair.yaml", text));
    let plan = reading.plan.unwrap_or_else(|| {
        panic!(
            "{:?}\n{text}",
            reading
                .findings
                .iter()
                .map(|f| &f.message)
                .collect::<Vec<_>>()
        )
    });
    Revision::new("pair.yaml", plan).expect("what was read before")
}

/// The base with some of its text replaced; each part stands in it once.
pub fn edited(edits: &[(&str, &str)]) -> String {
    let mut text = BASE.to_owned();
    for (old, new) in edits {
        assert_eq!(
            text.matches(old).count(),
            1,
            "`{old}` stands once in the base"
        );
        text = text.replace(old, new);
    }
    text
}

/// What is said of two texts.
pub fn difference(old: &str, new: &str) -> Difference {
    compare(&revision(old), &revision(new))
}

/// The changes as `weight path`, in order of the alphabet.
pub fn weights(of: &Difference) -> Vec<String> {
    let mut all: Vec<String> = of
        .changes
        .iter()
        .map(|c| format!("{} {}", c.weight.word(), c.path).trim().to_owned())
        .collect();
    all.sort();
    all
}
