//! Whether two sentences say the same numbers, however they are worded.
//!
//! Never in here: what sentences are about. Changes when numbers are written otherwise in sentences.

/// Whether the decimal numbers in two texts are the same, each with its sign, in the same order.
#[must_use]
pub fn same_numbers(a: &str, b: &str) -> bool {
    numbers(a) == numbers(b)
}

/// The decimal numbers in a text, as written: `-0.02`, `12.5`; a hyphen behind a letter or digit is no sign.
fn numbers(text: &str) -> Vec<String> {
    let signs: Vec<char> = text.chars().collect();
    let mut found = Vec::new();
    let mut at = 0;
    while at < signs.len() {
        if !signs[at].is_ascii_digit() {
            at += 1;
            continue;
        }
        let end = end_of_number(&signs, at);
        let digits: String = signs[at..end].iter().collect();
        let sign = if is_negative(&signs, at) { "-" } else { "" };
        found.push(format!("{sign}{digits}"));
        at = end;
    }
    found
}

/// Where a number that begins at a digit ends: digits, and a point between digits.
fn end_of_number(signs: &[char], from: usize) -> usize {
    let digit = |at: usize| signs.get(at).is_some_and(char::is_ascii_digit);
    let mut end = from;
    while digit(end) || (signs.get(end) == Some(&'.') && digit(end + 1)) {
        end += 1;
    }
    end
}

/// Whether a minus sign stands before a number.
fn is_negative(signs: &[char], at: usize) -> bool {
    let before = |n: usize| at.checked_sub(n).and_then(|i| signs.get(i));
    matches!(before(1), Some('-' | '\u{2212}')) && !before(2).is_some_and(|c| c.is_alphanumeric())
}
