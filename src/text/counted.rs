//! A number with what it counts.
//!
//! Never in here: words that are not made plural by an `s`. Changes when one of them is needed often.

/// `1 row`, `2 rows`.
#[must_use]
pub fn counted(n: usize, word: &str) -> String {
    match n {
        1 => format!("1 {word}"),
        _ => format!("{n} {word}s"),
    }
}
