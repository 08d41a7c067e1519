//! One HTML file without script and without anything from elsewhere.
//!
//! Never in here: what is told; the look stands in the template. Changes when a value has to be escaped in a new place.

use std::fmt::Write;

use minijinja::AutoEscape;

use crate::record::Record;

use super::held::{JOINT, is_whole, joined};
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

/// The filter `held`: text for HTML in which values, ids and dates are not broken where a line has room for them.
pub(super) fn held(text: String) -> minijinja::Value {
    minijinja::Value::from_safe_string(marked(&joined(&text), &plain))
}

/// The filter `soft`: the same, and long words may break behind a dot, a bracket or a line below, not anywhere.
pub(super) fn soft(text: String) -> minijinja::Value {
    minijinja::Value::from_safe_string(marked(&joined(&text), &broken))
}

/// The text for HTML, with words that are kept whole marked; `other` writes all others.
fn marked(text: &str, other: &dyn Fn(&str, &mut String)) -> String {
    let mut out = String::with_capacity(text.len() + 16);
    for word in text.split_inclusive([' ', JOINT]) {
        let around = |c: char| {
            matches!(
                c,
                '(' | ')' | ',' | ';' | '.' | ':' | '“' | '”' | ' ' | JOINT
            )
        };
        let core = word.trim_matches(around);
        if !is_whole(core) {
            other(word, &mut out);
            continue;
        }
        let (before, after) = word.split_once(core).unwrap_or((word, ""));
        plain(before, &mut out);
        out.push_str("<span class=\"whole\">");
        plain(core, &mut out);
        out.push_str("</span>");
        plain(after, &mut out);
    }
    out
}

fn plain(word: &str, out: &mut String) {
    let _ = write!(out, "{}", minijinja::HtmlEscape(word));
}

/// A word that may break inside where it is long.
fn broken(word: &str, out: &mut String) {
    let long = word.chars().count() > WHOLE;
    let mut rest = word;
    while let Some(at) = rest.find(['.', '(', '_', '/']).filter(|_| long) {
        let (part, after) = rest.split_at(at + 1);
        plain(part, out);
        if after.starts_with(char::is_alphanumeric) {
            out.push_str("<wbr>");
        }
        rest = after;
    }
    plain(rest, out);
}
