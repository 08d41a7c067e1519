//! A recipe let rest on newer revisions of its base and fragments: its text is changed in those places alone, comments and
//! layout stay.
//!
//! Never in here: files. Changes when a recipe names otherwise what it rests on.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::text::Span;

use super::library::Name;
use super::yaml::{Document, escape};

/// What is said in `changes` of a revision.
#[derive(Clone, Debug)]
pub struct HistoryEntry<'a> {
    /// The new revision.
    pub revision: u32,
    /// The day, `2026-03-09`.
    pub date: &'a str,
    /// The author's id, if it is to be said.
    pub by: Option<&'a str>,
    /// Why.
    pub why: &'a str,
}

/// A place of a text, and what is to stand there.
type Edit = (Span, String);

/// What a text says it rests on (`extends`, `use`), each with the pointer to where that is said.
#[must_use]
pub fn pins(document: &Document) -> Vec<(Name, String)> {
    let mut found = Vec::new();
    add_pins(&document.root, String::new(), &mut found);
    found
}

fn add_pins(value: &Value, pointer: String, found: &mut Vec<(Name, String)>) {
    let inner: Vec<(String, &Value)> = match value {
        Value::Object(map) => {
            let parts = map.iter().map(|(key, v)| (escape(key).into_owned(), v));
            parts.collect()
        }
        Value::Array(list) => list
            .iter()
            .enumerate()
            .map(|(n, v)| (n.to_string(), v))
            .collect(),
        _ => return,
    };
    for (key, value) in inner {
        let at = format!("{pointer}/{key}");
        let name = matches!(key.as_str(), "extends" | "use").then(|| value.as_str());
        match name.flatten().and_then(Name::parse) {
            Some(name) => found.push((name, at)),
            None => add_pins(value, at, found),
        }
    }
}

/// The text with its pins at these revisions; with an entry, it is a revision of its own.
#[must_use]
pub fn raised(
    document: &Document,
    to: &BTreeMap<String, u32>,
    entry: Option<&HistoryEntry<'_>>,
) -> String {
    let text = &*document.source.text;
    let mut edits: Vec<Edit> = Vec::new();
    for (name, pointer) in pins(document) {
        let Some(revision) = to.get(&name.id).filter(|r| **r > name.revision) else {
            continue;
        };
        let span = document.span(&pointer);
        let written = text.get(span.start..span.end).unwrap_or_default();
        let newer = Name {
            id: name.id.clone(),
            revision: *revision,
        };
        edits.push((
            span,
            written.replacen(&name.to_string(), &newer.to_string(), 1),
        ));
    }
    if let Some(entry) = entry {
        edits.push((document.span("/revision"), entry.revision.to_string()));
        edits.push(told(document, entry));
    }
    edits.sort_by_key(|(span, _)| span.start);
    let mut changed = text.to_owned();
    for (span, new) in edits.iter().rev() {
        changed.replace_range(span.start..span.end, new);
    }
    changed
}

/// The entry where the newest one stands in `changes`: first, or last where the list rises; the list where there is none.
fn told(document: &Document, entry: &HistoryEntry<'_>) -> Edit {
    let text = &*document.source.text;
    let quoted = |text: &str| Value::from(text).to_string();
    let by = entry
        .by
        .map_or_else(String::new, |by| format!(", by: {by}"));
    let item = format!(
        "{{revision: {}, date: {}{by}, why: {}}}",
        entry.revision,
        entry.date,
        quoted(entry.why)
    );
    let at = |byte: usize| Span {
        start: byte,
        end: byte,
    };
    let line_end = |byte: usize| text[byte..].find('\n').map_or(text.len(), |n| byte + n);
    let changes = document.root.get("changes");
    let revisions: Vec<Option<u64>> = (changes.and_then(Value::as_array).into_iter().flatten())
        .map(|of| of.get("revision").and_then(Value::as_u64))
        .collect();
    let Some(last) = revisions.len().checked_sub(1) else {
        return match changes {
            // An empty list gives way to one with the entry.
            Some(_) => (document.span("/changes"), format!("[{item}]")),
            None => {
                let end = line_end(document.span("/revision").end);
                (at(end), format!("\nchanges:\n  - {item}"))
            }
        };
    };
    let is_flow = text[document.span("/changes").start..].starts_with('[');
    let first = document.span("/changes/0").start;
    let line = text[..first].rfind('\n').map_or(0, |n| n + 1);
    let dash = text[line..first].trim_end_matches(' ');
    let dash = match dash.trim() {
        "-" => dash,
        // On the line of the key, or behind something else.
        _ => "  -",
    };
    match (is_flow, revisions[0] < revisions[last]) {
        (true, false) => (at(first), format!("{item}, ")),
        (false, false) => (at(first), format!("{item}\n{dash} ")),
        (true, true) => (
            at(end_of(document, &format!("/changes/{last}"))),
            format!(", {item}"),
        ),
        (false, true) => {
            let end = end_of(document, &format!("/changes/{last}"));
            (at(line_end(end)), format!("\n{dash} {item}"))
        }
    }
}

/// Where the last word of a value ends: what a parser takes for its end may lie behind comments.
fn end_of(document: &Document, pointer: &str) -> usize {
    let (text, span) = (&*document.source.text, document.span(pointer));
    let whole = || span.start + text[span.start..span.end].trim_end().len();
    if text[span.start..].starts_with(['{', '[']) {
        return whole();
    }
    let inner = |pointers: Vec<String>| pointers.iter().map(|p| end_of(document, p)).max();
    let last = match document.root.pointer(pointer) {
        Some(Value::Object(map)) => inner(
            map.keys()
                .map(|k| format!("{pointer}/{}", escape(k)))
                .collect(),
        ),
        Some(Value::Array(list)) => {
            inner((0..list.len()).map(|n| format!("{pointer}/{n}")).collect())
        }
        _ => None,
    };
    last.unwrap_or_else(whole)
}
