//! A user's text in a message.
//!
//! Never in here: messages. Changes when texts are repeated otherwise.

/// Longest text that is repeated, in characters.
const MAX_SAID: usize = 120;

/// A text in backticks; `this` where it is too long to be repeated.
#[must_use]
pub fn quoted(text: &str) -> String {
    let text = text.trim();
    match text.chars().count() {
        0..=MAX_SAID => format!("`{text}`"),
        _ => "this".to_owned(),
    }
}
