//! Markdown that no text of a record can break out of.
//!
//! Never in here: what is told. Changes when a reader of Markdown finds another meaning in a character.

use minijinja::AutoEscape;

use crate::record::Record;

use super::{Document, RenderError};

pub(super) const TEMPLATE: &str = include_str!("templates/record.md");

pub(super) fn write(record: &Record, document: &Document) -> Result<String, RenderError> {
    super::template::render_own(record, document, AutoEscape::None, TEMPLATE)
}

/// The filter `md`: text in which nothing is mark-up.
pub(super) fn escape(text: String) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    for (i, c) in text.char_indices() {
        let inside = match c {
            '_' => !is_word_inside(&text, i),
            ':' => text[i..].starts_with("://"),
            '.' => text[..i].to_ascii_lowercase().ends_with("www"),
            '\\' | '`' | '*' | '[' | ']' | '<' | '>' | '|' | '~' | '&' | '$' | '@' | '{' | '}' => {
                true
            }
            _ => false,
        };
        // At the start of a line these make lists, headings and rules.
        let at_start = match c {
            '-' | '+' | '#' | '=' => i == 0,
            '.' | ')' => i > 0 && i == digits,
            _ => false,
        };
        match c {
            '\n' => out.push(' '),
            _ if inside || at_start => out.extend(['\\', c]),
            _ => out.push(c),
        }
    }
    out
}

/// Whether an underscore stands between letters or digits, where it is no mark-up.
fn is_word_inside(text: &str, at: usize) -> bool {
    let word = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    word(text[..at].chars().next_back()) && word(text[at + 1..].chars().next())
}

/// The filter `md_code`: code where the text allows that, else escaped text.
pub(super) fn code(text: String) -> String {
    let harmless = |c: char| {
        c.is_alphanumeric()
            || matches!(
                c,
                ' ' | '.' | ',' | ';' | ':' | '_' | '-' | '+' | '/' | '%' | '(' | ')'
            )
    };
    let trimmed = text.trim() == text && !text.is_empty();
    if trimmed && !text.contains("://") && text.chars().all(harmless) {
        format!("`{text}`")
    } else {
        escape(text)
    }
}
