//! One HTML file without script and without anything from elsewhere.
//!
//! Never in here: what is told; the look stands in the template. Changes when a value has to be escaped in a new place.

use std::fmt::Write;

use minijinja::AutoEscape;

use crate::record::Record;

use super::{Document, RenderError};

pub(super) const TEMPLATE: &str = include_str!("templates/record.html");

pub(super) fn write(record: &Record, document: &Document) -> Result<String, RenderError> {
    super::template::render_own(record, document, AutoEscape::Html, TEMPLATE)
}

/// The filter `css`: text for the inside of a quoted string of a style sheet.
pub(super) fn css(text: String) -> minijinja::Value {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || matches!(c, '-' | ' ') {
            out.push(c);
        } else {
            let _ = write!(out, "\\{:06x} ", u32::from(c));
        }
    }
    minijinja::Value::from_safe_string(out)
}

/// Longest word that is left whole, in characters.
const WHOLE: usize = 12;

/// The filter `soft`: text for HTML in which long words may break behind a dot, a bracket or a line below, not anywhere.
pub(super) fn soft(text: String) -> minijinja::Value {
    let mut out = String::with_capacity(text.len() + 16);
    for word in text.split_inclusive(' ') {
        let long = word.chars().count() > WHOLE;
        let mut rest = word;
        while let Some(at) = rest.find(['.', '(', '_', '/']).filter(|_| long) {
            let (part, after) = rest.split_at(at + 1);
            let _ = write!(out, "{}", minijinja::HtmlEscape(part));
            if after.starts_with(char::is_alphanumeric) {
                out.push_str("<wbr>");
            }
            rest = after;
        }
        let _ = write!(out, "{}", minijinja::HtmlEscape(rest));
    }
    minijinja::Value::from_safe_string(out)
}
