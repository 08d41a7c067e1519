//! What the newer recipe leaves unsaid of itself: its revision, and its entry in `changes`.
//!
//! Whether an entry speaks of a change is guessed by its words: the step's id, a longer word of its title or of the
//! criterion, or, where one change of the kind is all there is or the entry says `all`, a word for the kind of change
//! (`limit`, `widened`, `removed`). An entry that says the opposite speaks of none. Never in here: changes themselves.
//! Changes when a history has to say more.

use std::collections::BTreeSet;

use super::change::{Change, Lean, Warning, Weight};
use super::revision::Revision;

/// Shortest word of a title by which an entry can speak of a step.
const SHORTEST: usize = 5;
/// Words that speak of a loosened limit, whichever it is.
const LOOSENED: [&str; 10] = [
    "limit", "loosen", "widen", "wider", "relax", "toleran", "raise", "lower", "increase", "allow",
];
/// Words of an entry that says that nothing was eased, or the opposite.
const AGAINST: [&str; 14] = [
    "narrow",
    "tighten",
    "stricter",
    "no limit",
    "no change",
    "unchanged",
    "nothing",
    "reworded",
    "wording",
    "not touched",
    "not changed",
    "not widen",
    "not raise",
    "not loosen",
];
/// Words that speak of whatever was changed.
const ALL: [&str; 4] = ["all", "every", "each", "both"];
/// Words that speak of something that is no more.
const REMOVED: [&str; 7] = [
    "remov",
    "drop",
    "delet",
    "no longer",
    "without",
    "omit",
    "withdrawn",
];

/// What should be looked into besides the changes.
pub fn warnings(old: &Revision, new: &Revision, changes: &[Change]) -> Vec<Warning> {
    let (a, b) = (&old.plan, &new.plan);
    if changes.is_empty() || a.recipe != b.recipe {
        return Vec::new();
    }
    let mut warnings = Vec::new();
    let mut warn = |path: &str, message: String| {
        warnings.push(Warning {
            path: path.to_owned(),
            message,
        });
    };
    if b.revision < a.revision {
        warn(
            "revision",
            format!(
                "the revision went down from {} to {}; give each text a higher one than the last",
                a.revision, b.revision
            ),
        );
    } else if b.revision == a.revision {
        warn(
            "revision",
            format!(
                "the revision was not raised: both are {}; a revision stands for one text",
                a.revision
            ),
        );
    }
    if b.changes.iter().all(|c| c.revision != b.revision) {
        warn(
            "changes",
            format!(
                "there is no entry for revision {}; say what was changed, and why",
                b.revision
            ),
        );
        return warnings;
    }
    let since = b
        .changes
        .iter()
        .filter(|c| c.revision > a.revision.min(b.revision.saturating_sub(1)));
    let said: Vec<String> = since.map(|c| c.why.to_lowercase()).collect();
    let said = said.join("\n");
    let of_kind = |kind: &[&str]| {
        let step = |c: &Change| c.path.replace(|c: char| c.is_ascii_digit(), "");
        let alike = changes
            .iter()
            .filter(|c| is_to_be_told(c) && general(c) == kind);
        alike.map(step).collect::<BTreeSet<_>>().len()
    };
    for change in changes.iter().filter(|c| {
        let only = of_kind(general(c)) == 1;
        is_to_be_told(c) && !speaks_of(&said, c, only.then_some(changes))
    }) {
        let what = match change.weight {
            Weight::StepRemoved => "a step that was removed",
            Weight::CriterionRemoved => "a criterion that was removed",
            Weight::Loosened => "what was loosened",
            _ => "what was eased",
        };
        warn(
            "changes",
            format!(
                "the entry for revision {} does not speak of {what}: {}",
                b.revision, change.path
            ),
        );
    }
    warnings
}

fn is_to_be_told(change: &Change) -> bool {
    change.lean == Lean::Looser
}

/// The words that speak of a kind of change.
fn general(change: &Change) -> &'static [&'static str] {
    match change.weight {
        Weight::Loosened => &LOOSENED,
        Weight::CriterionRemoved | Weight::StepRemoved => &REMOVED,
        _ => &[],
    }
}

/// The words by which an entry names what changed.
fn names(change: &Change) -> BTreeSet<String> {
    let step = change.path.rsplit('.').next().unwrap_or_default();
    let words = format!("{} {step} {}", change.about, step.replace('_', " ")).to_lowercase();
    words
        .split(|c: char| !c.is_alphanumeric() && c != '_')
        .filter(|word| word.len() >= SHORTEST)
        .map(str::to_owned)
        .collect()
}

/// Whether entries speak of a change. Where it is the only one of its kind `among` has all changes: a word for the kind
/// speaks of it then, but for one said of another. Part by part: what one says of a change another does not take back.
fn speaks_of(said: &str, change: &Change, among: Option<&[Change]>) -> bool {
    let words = names(change);
    let of_limits = |c: &&Change| {
        use Weight::{Loosened, Shifted, Tightened};
        matches!(c.weight, Loosened | Tightened | Shifted)
    };
    let others = among.into_iter().flatten().filter(of_limits);
    let mut others: BTreeSet<String> = others.flat_map(names).collect();
    others.retain(|word| !LOOSENED.iter().any(|general| word.contains(general)));
    let has =
        |part: &str, word: &String| part.contains(word) || part.contains(&word.replace('_', " "));
    let in_general = |part: &str| {
        let mut said = part.split(|c: char| !c.is_alphanumeric());
        let of_another = others.difference(&words).any(|word| has(part, word));
        (among.is_some() && !of_another || said.any(|word| ALL.contains(&word)))
            && general(change).iter().any(|word| part.contains(word))
    };
    let names = |part: &str| words.iter().any(|word| has(part, word));
    let says_against = |part: &str| {
        change.weight == Weight::Loosened && AGAINST.iter().any(|word| part.contains(word))
    };
    said.split(['\n', ';', ',', '.'])
        .any(|part| !says_against(part) && (in_general(part) || names(part)))
}
