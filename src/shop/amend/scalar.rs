//! Text as a YAML value that reads back as that text.
//!
//! Never in here: where it stands. Changes when values are to look otherwise.

use crate::text::is_day;

/// Words that YAML readers take for something else than text.
const WORDS: [&str; 10] = [
    "true", "false", "null", "yes", "no", "on", "off", "y", "n", "nan",
];

/// The text without quotes where it is plain for any reader, else in double quotes.
pub(super) fn scalar(text: &str) -> String {
    if is_day(text) || is_plain(text) {
        text.to_owned()
    } else {
        // Every text of JSON is one of YAML.
        serde_json::Value::from(text).to_string()
    }
}

fn is_plain(text: &str) -> bool {
    let begins = text.starts_with(|c: char| c.is_alphabetic());
    let goes_on = text
        .chars()
        .all(|c| c.is_alphanumeric() || matches!(c, ' ' | '.' | '_' | '/' | '-' | '(' | ')' | '+'));
    let word = WORDS.contains(&text.to_lowercase().as_str());
    begins && goes_on && !word && !text.ends_with(' ')
}
