//! What a cell of a register may not hold, whoever wrote it there: characters that nobody sees, and texts without an end.
//!
//! Never in here: what a cell means. Changes when another character turns out to deceive.

/// Longest cell, in characters.
const MAX_CELL: usize = 500;

/// What is wrong with the text of a cell, and what to do; nothing where it can be read by people.
pub(super) fn illegible(text: &str) -> Option<(&'static str, &'static str)> {
    let unseen = |c: char| {
        c.is_control()
            || matches!(c, '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
    };
    if text.chars().any(unseen) {
        return Some((
            "a character that can't be seen, such as a tab",
            "remove it, or type the cell anew",
        ));
    }
    let is_long = text.chars().nth(MAX_CELL).is_some();
    is_long.then_some((
        "more than 500 characters",
        "shorten it; longer texts belong in a file of their own",
    ))
}
