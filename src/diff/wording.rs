//! Sentences held against each other word by word.
//!
//! Never in here: what a changed sentence weighs. Changes when words are told apart otherwise.

use std::collections::BTreeMap;

use similar::{ChangeTag, TextDiff};

/// Longest sentence that is compared word by word, in bytes.
const MAX_LENGTH: usize = 8_000;

fn words(text: &str) -> impl Iterator<Item = String> {
    let inside = |c: char| c.is_alphanumeric() || matches!(c, '\'' | '_' | '%');
    text.split(move |c| !inside(c))
        .filter(|w| !w.is_empty())
        .map(str::to_lowercase)
}

fn counted(text: &str) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for word in words(text) {
        *counts.entry(word).or_default() += 1;
    }
    counts
}

/// How alike two sentences are: from 0 to 100, by the words that both have.
pub fn likeness(a: &str, b: &str) -> usize {
    if a == b {
        return 100;
    }
    let (x, y) = (counted(a), counted(b));
    let all: usize = x.values().chain(y.values()).sum();
    let shared: usize = x
        .iter()
        .map(|(word, n)| n.min(y.get(word).unwrap_or(&0)))
        .sum();
    (200 * shared).checked_div(all).unwrap_or_default()
}

/// What was taken out of a sentence and put in, in words.
pub fn changed_words(old: &str, new: &str) -> String {
    if old.len() + new.len() > MAX_LENGTH {
        return "the words differ".to_owned();
    }
    let diff = TextDiff::from_words(old, new);
    let (mut out, mut into) = (Vec::new(), Vec::new());
    let mut last = None;
    for change in diff.iter_all_changes() {
        let list = match change.tag() {
            ChangeTag::Delete => &mut out,
            ChangeTag::Insert => &mut into,
            // Blanks between changed words don't part them.
            ChangeTag::Equal if change.value().trim().is_empty() => continue,
            ChangeTag::Equal => {
                last = None;
                continue;
            }
        };
        let word = change.value().trim();
        if word.is_empty() {
            continue;
        }
        match (last == Some(change.tag()), list.last_mut()) {
            (true, Some(run)) => *run = format!("{run} {word}"),
            _ => list.push(word.to_owned()),
        }
        last = Some(change.tag());
    }
    let quoted = |list: &[String]| {
        list.iter()
            .map(|w| format!("`{w}`"))
            .collect::<Vec<_>>()
            .join(", ")
    };
    match (out.is_empty(), into.is_empty()) {
        (false, false) => format!("{} became {}", quoted(&out), quoted(&into)),
        (false, true) => format!("without {}", quoted(&out)),
        (true, false) => format!("now with {}", quoted(&into)),
        (true, true) => "blanks differ".to_owned(),
    }
}
