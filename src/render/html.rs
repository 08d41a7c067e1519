//! One HTML file without script and without anything from elsewhere.
//!
//! Never in here: what is told; the look stands in the template. Changes when a value has to be escaped in a new place.

use std::fmt::Write;

use minijinja::AutoEscape;

use crate::record::Record;

use super::{Document, RenderError};

const TEMPLATE: &str = include_str!("templates/record.html");

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
