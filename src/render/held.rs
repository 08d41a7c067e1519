//! What is not broken over lines: a number and its unit, a sign and its number, value and U, ids and dates.
//!
//! Never in here: lines themselves. Changes when something else belongs together.

use crate::quantity::Unit;

use super::units;

/// Stands for a blank at which no line is broken.
pub(super) const JOINT: char = '\u{a0}';
/// Longest word that is kept with a line to write on, in characters with what follows it.
const UNIT: usize = 8;
/// Longest id or date that is kept whole, in characters.
const ID: usize = 28;
/// Most lines to write on that are held together.
const TOGETHER: usize = 4;

/// The text with what belongs together held together by joints instead of blanks.
pub(super) fn joined(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let mut before = "";
    let mut lines = 0;
    for (n, word) in text.split(' ').enumerate() {
        let is_line = word.starts_with("____");
        let short = word.chars().count() <= UNIT;
        let is_beside = before.ends_with('_') && (is_line && lines < TOGETHER || !is_line && short);
        lines = match (is_line, is_beside) {
            (true, true) => lines + 1,
            (true, false) => 1,
            (false, _) => 0,
        };
        if n > 0 {
            let held = is_beside || belongs(before, word);
            out.push(if held { JOINT } else { ' ' });
        }
        out.push_str(word);
        before = word;
    }
    out
}

/// Whether two words stand on one line.
fn belongs(before: &str, word: &str) -> bool {
    let first = word.chars().next();
    let is_number = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let ends_in_number =
        is_number(before.trim_end_matches(')').chars().next_back()) && !before.ends_with("))");
    let to_number = is_number(first) || matches!(first, Some('(' | '-' | '−' | '≈'));
    match before.chars().next_back() {
        Some('±') => true,
        Some('≈' | '<' | '>' | '≤' | '≥' | '=') if before.chars().count() == 1 => to_number,
        _ if word == "±" => true,
        // A name of a letter or two: k = 2.
        _ if word == "=" => before.chars().count() <= 2,
        _ => ends_in_number && is_unit(word),
    }
}

/// Whether a word is a unit, as data or as pages have it, with punctuation behind it or without.
fn is_unit(word: &str) -> bool {
    let core = word.trim_end_matches([',', ';', '.', ':', ')', ']']);
    core.starts_with('%') || units::is_told(core) || Unit::parse(core).is_ok()
}

/// Whether a word without its punctuation is an id, a date, or a sign that stands for a hidden character.
pub(super) fn is_whole(word: &str) -> bool {
    let mark = word.starts_with("[U+") && word.ends_with(']');
    let inside = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
    let id = word.contains('-')
        && word.contains(|c: char| c.is_ascii_digit())
        && word.chars().all(inside)
        && word.chars().count() <= ID;
    mark || id
}
