//! A recipe let rest on newer revisions of its base and fragments: its text is changed in those places alone, comments and
//! layout stay.
//!
//! Never in here: files. Changes when a recipe names otherwise what it rests on.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::text::{Code, Finding, Source, Span};

use super::library::Name;
use super::yaml::{Document, escape};

/// What is said in `changes` of a revision.
#[derive(Clone, Debug)]
pub struct HistoryEntry<'a> {
    /// The revision.
    pub revision: u32,
    /// The day, `2026-03-09`.
    pub date: &'a str,
    /// The author's id.
    pub by: &'a str,
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

/// The text with its pins at these revisions, and with an entry in `changes`: a new one where its revision is newer than the
/// text's, else the one of that revision says this too.
///
/// # Errors
/// A text that can't be changed in these places alone, with the remedy.
pub fn raised(
    document: &Document,
    to: &BTreeMap<String, u32>,
    entry: &HistoryEntry<'_>,
) -> Result<String, Vec<Finding>> {
    let text = &*document.source.text;
    let mut edits: Vec<Edit> = Vec::new();
    let mut expected = document.root.clone();
    for (name, pointer) in pins(document) {
        let Some(revision) = to.get(&name.id).filter(|r| **r > name.revision) else {
            continue;
        };
        let span = document.span(&pointer);
        let written = text.get(span.start..span.end).unwrap_or_default();
        let newer = Name {
            id: name.id.clone(),
            revision: *revision,
        }
        .to_string();
        edits.push((span, written.replacen(&name.to_string(), &newer, 1)));
        set(&mut expected, &pointer, Value::from(newer));
    }
    match own_entry(document, entry.revision) {
        Some(number) => {
            let pointer = format!("/changes/{number}/why");
            let said = document.root.pointer(&pointer).and_then(Value::as_str);
            let said = said.unwrap_or_default();
            if !said.contains(entry.why) {
                let both = match said.trim().is_empty() {
                    true => entry.why.to_owned(),
                    false => format!("{said}; {}", entry.why),
                };
                edits.push((document.span(&pointer), quoted(&both)));
                set(&mut expected, &pointer, Value::from(both));
            }
        }
        None => {
            edits.push((document.span("/revision"), entry.revision.to_string()));
            edits.push(told(document, entry));
            set(&mut expected, "/revision", Value::from(entry.revision));
            add(&mut expected, entry);
        }
    }
    edits.sort_by_key(|(span, _)| span.start);
    let mut changed = text.to_owned();
    for (span, new) in edits.iter().rev() {
        changed.replace_range(span.start..span.end, new);
    }
    // What comes out is read again, and must say what was meant: a comment or an anchor can stand in the way.
    match Document::read(Source::new(&document.source.name, &changed)) {
        Ok(read) if read.root == expected => Ok(changed),
        _ => Err(vec![by_hand(document)]),
    }
}

fn by_hand(document: &Document) -> Finding {
    document.finding(
        Code::YamlSyntax,
        "/revision",
        "the text is laid out in a way in which it can't be raised without risk".to_owned(),
        "nothing was changed in it; write `revision`, `changes`, `extends` and `use` by hand, without anchors".to_owned(),
    )
}

/// The entry of a revision in the history.
fn own_entry(document: &Document, revision: u32) -> Option<usize> {
    let is_of_it =
        |of: &Value| of.get("revision").and_then(Value::as_u64) == Some(u64::from(revision));
    let same = document.root.get("revision").and_then(Value::as_u64) == Some(u64::from(revision));
    let changes = document.root.get("changes").and_then(Value::as_array)?;
    changes.iter().position(is_of_it).filter(|_| same)
}

fn set(root: &mut Value, pointer: &str, value: Value) {
    match (root.pointer_mut(pointer), pointer.rsplit_once('/')) {
        (Some(place), _) => *place = value,
        (None, Some((around, key))) => {
            if let Some(Value::Object(map)) = root.pointer_mut(around) {
                map.insert(key.to_owned(), value);
            }
        }
        (None, None) => {}
    }
}

/// The entry in the value: first, or last where the list rises.
fn add(root: &mut Value, entry: &HistoryEntry<'_>) {
    let new = serde_json::json!({"revision": entry.revision, "date": entry.date, "by": entry.by, "why": entry.why});
    let rising = rises(root);
    match root.get_mut("changes").and_then(Value::as_array_mut) {
        Some(list) if rising => list.push(new),
        Some(list) => list.insert(0, new),
        None => set(root, "/changes", Value::from(vec![new])),
    }
}

/// Whether a history begins with its oldest entry.
fn rises(root: &Value) -> bool {
    let changes = root.get("changes").and_then(Value::as_array);
    let revisions: Vec<Option<u64>> = (changes.into_iter().flatten())
        .map(|of| of.get("revision").and_then(Value::as_u64))
        .collect();
    revisions.first() < revisions.last()
}

fn quoted(text: &str) -> String {
    Value::from(text).to_string()
}

/// The entry where the newest one stands in `changes`: first, or last where the list rises; the list where there is none.
fn told(document: &Document, entry: &HistoryEntry<'_>) -> Edit {
    let text = &*document.source.text;
    let HistoryEntry {
        revision,
        date,
        by,
        why,
    } = entry;
    let item = format!(
        "{{revision: {revision}, date: {date}, by: {by}, why: {}}}",
        quoted(why)
    );
    let feed = match text.contains("\r\n") {
        true => "\r\n",
        false => "\n",
    };
    let at = |byte: usize| Span {
        start: byte,
        end: byte,
    };
    let line_end =
        |byte: usize| byte + text[byte..].find(['\r', '\n']).unwrap_or(text.len() - byte);
    let changes = document.root.get("changes");
    let count = changes.and_then(Value::as_array).map_or(0, Vec::len);
    let Some(last) = count.checked_sub(1) else {
        return match changes {
            // An empty list gives way to one with the entry.
            Some(_) => (document.span("/changes"), format!("[{item}]")),
            None => {
                let end = line_end(document.span("/revision").end);
                (at(end), format!("{feed}changes:{feed}  - {item}"))
            }
        };
    };
    let is_flow = text[document.span("/changes").start..].starts_with('[');
    let first = document.span("/changes/0").start;
    let line = text[..first].rfind('\n').map_or(0, |n| n + 1);
    // The dash with the blanks around it, as the first entry has them.
    let dash = match text[line..first].trim() {
        "-" => &text[line..first],
        _ => "  - ",
    };
    let end = || end_of(document, &format!("/changes/{last}"));
    match (is_flow, rises(&document.root)) {
        (true, false) => (at(first), format!("{item}, ")),
        (false, false) => (at(first), format!("{item}{feed}{dash}")),
        (true, true) => (at(end()), format!(", {item}")),
        (false, true) => (at(line_end(end())), format!("{feed}{dash}{item}")),
    }
}

/// Where the last word of a value ends: what a parser takes for its end may lie behind comments.
fn end_of(document: &Document, pointer: &str) -> usize {
    let (text, span) = (&*document.source.text, document.span(pointer));
    let parts: Vec<String> = match document.root.pointer(pointer) {
        Some(Value::Object(map)) => map.keys().map(|k| escape(k).into_owned()).collect(),
        Some(Value::Array(list)) => (0..list.len()).map(|n| n.to_string()).collect(),
        _ => Vec::new(),
    };
    let ends = parts
        .iter()
        .map(|part| end_of(document, &format!("{pointer}/{part}")));
    let Some(end) = ends.max() else {
        return span.start + text[span.start..span.end].trim_end().len();
    };
    match text[span.start..].chars().next() {
        Some('{') => end + text[end..].find('}').map_or(0, |n| n + 1),
        Some('[') => end + text[end..].find(']').map_or(0, |n| n + 1),
        _ => end,
    }
}
