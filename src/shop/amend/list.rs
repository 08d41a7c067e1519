//! Changing a YAML register: a list of entries with ids. What is written is read again and must be the old entries with
//! the changes, and nothing else.
//!
//! Never in here: which changes. Changes when a register's fields are written otherwise.

use std::collections::HashMap;

use serde_json::{Map, Value};

use crate::recipe::yaml::Document;
use crate::shop::import::{Change, Changed, measures_from, measures_yaml};
use crate::text::{Source, Span};

use super::Amended;
use super::scalar::scalar;

/// What is said where a text can't be changed.
const BY_HAND: &str =
    "the file is written in a form that can't be changed by itself; write the change by hand";

/// The register with some entries changed and others added at the end of the list `key`.
///
/// # Errors
/// A text that does not read; one that can't be changed without touching something else.
pub fn amend_list(source: &Source, key: &str, changes: &[Change]) -> Amended {
    let document = Document::read(source.clone()).map_err(|_| BY_HAND.to_owned())?;
    let old = document
        .root
        .get(key)
        .and_then(Value::as_array)
        .ok_or_else(|| BY_HAND.to_owned())?;
    let places: HashMap<&str, usize> = old
        .iter()
        .enumerate()
        .filter_map(|(index, item)| Some((item.get("id")?.as_str()?, index)))
        .collect();
    let mut wanted = document.root.clone();
    let mut editor = Editor {
        document: &document,
        text: &source.text,
        line_end: if source.text.contains("\r\n") {
            "\r\n"
        } else {
            "\n"
        },
        edits: Vec::new(),
    };
    let mut added = Vec::new();
    for change in changes {
        match places.get(change.id.as_str()) {
            Some(index) => {
                let pointer = format!("/{key}/{index}");
                editor.change(&pointer, &change.fields);
                let item = wanted.pointer_mut(&pointer).and_then(Value::as_object_mut);
                set(item.ok_or(BY_HAND)?, &change.fields)?;
            }
            None => added.push(change),
        }
    }
    if !added.is_empty() {
        editor.add(&format!("/{key}"), old.is_empty(), &added);
        let list = wanted
            .get_mut(key)
            .and_then(Value::as_array_mut)
            .ok_or(BY_HAND)?;
        for change in &added {
            let mut item = Map::from_iter([("id".to_owned(), Value::from(change.id.as_str()))]);
            set(&mut item, &change.fields)?;
            list.push(Value::Object(item));
        }
    }
    let text = editor.applied();
    let again = Document::read(Source::new(&source.name, &text)).map_err(|_| BY_HAND.to_owned())?;
    if again.root == wanted {
        Ok(text)
    } else {
        Err(BY_HAND.to_owned())
    }
}

/// A field's value as YAML that can stand in braces too.
fn yaml(field: &Changed) -> String {
    match field.field {
        "roles" => format!("[{}]", field.new),
        "former_keys" => {
            let keys = field.new.split(", ").filter(|k| !k.is_empty());
            format!("[{}]", keys.map(scalar).collect::<Vec<_>>().join(", "))
        }
        "measures" => {
            measures_from(&field.new).map_or_else(|_| scalar(&field.new), |m| measures_yaml(&m))
        }
        _ => scalar(&field.new),
    }
}

fn set(item: &mut Map<String, Value>, fields: &[Changed]) -> Result<(), String> {
    for field in fields {
        let text = format!("value: {}\n", yaml(field));
        let mut read = Document::read(Source::new("", &text)).map_err(|_| BY_HAND.to_owned())?;
        item.insert(field.field.to_owned(), read.root["value"].take());
    }
    Ok(())
}

struct Editor<'a> {
    document: &'a Document,
    text: &'a str,
    line_end: &'a str,
    /// What is put in place of what, none over another.
    edits: Vec<(Span, String)>,
}

impl Editor<'_> {
    fn change(&mut self, pointer: &str, fields: &[Changed]) {
        let mut new = Vec::new();
        for field in fields {
            let at = format!("{pointer}/{}", field.field);
            if self
                .document
                .root
                .pointer(&at)
                .is_some_and(|v| !v.is_null())
            {
                self.replace(&at, &yaml(field));
            } else {
                new.push(format!("{}: {}", field.field, yaml(field)));
            }
        }
        if new.is_empty() {
            return;
        }
        let content = self.content(pointer);
        if self.text[content.start..].starts_with('{') {
            let end = content.end.saturating_sub(1);
            self.insert(end, format!(", {}", new.join(", ")));
        } else {
            let start = self.text[..content.start].rfind('\n').map_or(0, |n| n + 1);
            let indent = " ".repeat(self.text[start..content.start].chars().count());
            let lines: Vec<String> = new
                .iter()
                .map(|n| format!("{}{indent}{n}", self.line_end))
                .collect();
            let end = self.line_of(content.end);
            self.insert(end, lines.concat());
        }
    }

    fn add(&mut self, pointer: &str, empty: bool, added: &[&Change]) {
        let content = self.content(pointer);
        let flow = self.text[content.start..].starts_with('[');
        if flow && !empty {
            let items: Vec<String> = added
                .iter()
                .map(|c| format!(", {}", in_braces(c)))
                .collect();
            self.insert(content.end.saturating_sub(1), items.concat());
            return;
        }
        let before = &self.text[..content.start];
        let dash = before[before.rfind('\n').map_or(0, |n| n + 1)..].to_owned();
        let indent = if empty {
            2
        } else {
            dash.chars().take_while(|c| *c == ' ').count()
        };
        let blanks = " ".repeat(indent);
        let items: String = added
            .iter()
            .map(|c| format!("{}{blanks}- {}", self.line_end, self.item(c, indent + 2)))
            .collect();
        if empty {
            let start = before.trim_end_matches(' ').len();
            let end = content.end;
            self.edits.push((Span { start, end }, items));
        } else {
            let end = self.line_of(content.end);
            self.insert(end, items);
        }
    }

    /// A new entry: in braces where it is short, else a key a line.
    fn item(&self, change: &Change, indent: usize) -> String {
        if change
            .fields
            .iter()
            .all(|f| matches!(f.field, "name" | "roles" | "left"))
        {
            return in_braces(change);
        }
        let blanks = format!("{}{}", self.line_end, " ".repeat(indent));
        pairs(change).join(&blanks)
    }

    /// Puts a value in place of another one; beside its key, where it stood on lines of its own.
    fn replace(&mut self, pointer: &str, new: &str) {
        let content = self.content(pointer);
        let key = self.document.key_span(pointer).end;
        let between = self.text.get(key..content.start).unwrap_or_default();
        match between.find(':').filter(|_| between.contains('\n')) {
            Some(colon) => {
                let start = key + colon + 1;
                let end = content.end;
                self.edits.push((Span { start, end }, format!(" {new}")));
            }
            None => self.edits.push((content, new.to_owned())),
        }
    }

    fn insert(&mut self, at: usize, text: String) {
        self.edits.push((Span { start: at, end: at }, text));
    }

    /// The place of a value without the blanks and comments that follow it.
    fn content(&self, pointer: &str) -> Span {
        let span = self.document.span(pointer);
        let text = self.text.get(span.start..span.end).unwrap_or_default();
        let value = self.document.root.pointer(pointer);
        let is_scalar = value.is_some_and(|v| !v.is_array() && !v.is_object());
        let length = match text.chars().next() {
            Some('[' | '{') => flow_end(text),
            Some('\'' | '"') if is_scalar => quoted_end(text),
            Some('|' | '>') if is_scalar => text.trim_end().len(),
            _ if is_scalar => plain_end(text),
            _ => block_end(text),
        };
        Span {
            start: span.start,
            end: span.start + length,
        }
    }

    /// The end of the line, where only a comment follows; else the place itself.
    fn line_of(&self, at: usize) -> usize {
        let rest = &self.text[at..];
        let line = rest.split(['\n', '\r']).next().unwrap_or_default();
        let comment = line.trim_start();
        if comment.is_empty() || comment.starts_with('#') {
            at + line.trim_end().len()
        } else {
            at
        }
    }

    fn applied(mut self) -> String {
        // Stable: what is inserted at one place stays in its order.
        self.edits.sort_by_key(|(span, _)| span.start);
        let mut out = String::with_capacity(self.text.len() + 1024);
        let mut at = 0;
        for (span, new) in &self.edits {
            if span.start < at {
                // Two over each other: reading it again refuses what is left out here.
                continue;
            }
            out.push_str(&self.text[at..span.start]);
            out.push_str(new);
            at = span.end;
        }
        out.push_str(&self.text[at..]);
        out
    }
}

fn pairs(change: &Change) -> Vec<String> {
    let id = format!("id: {}", scalar(&change.id));
    let fields = change
        .fields
        .iter()
        .map(|f| format!("{}: {}", f.field, yaml(f)));
    std::iter::once(id).chain(fields).collect()
}

fn in_braces(change: &Change) -> String {
    format!("{{{}}}", pairs(change).join(", "))
}

/// The length of a collection in brackets at the beginning of a text.
fn flow_end(text: &str) -> usize {
    let mut depth = 0_usize;
    let mut at = 0;
    while let Some(c) = text[at..].chars().next() {
        match c {
            '[' | '{' => depth += 1,
            ']' | '}' => depth = depth.saturating_sub(1),
            // A quotation mark opens a text only where a value begins.
            '"' | '\'' if begins_value(&text[..at]) => {
                at += quoted_end(&text[at..]);
                continue;
            }
            '#' if text[..at].ends_with(char::is_whitespace) => {
                at += text[at..].find('\n').unwrap_or(text.len() - at);
                continue;
            }
            _ => {}
        }
        at += c.len_utf8();
        if depth == 0 {
            break;
        }
    }
    at
}

/// Whether a value can begin behind this text, inside brackets.
fn begins_value(before: &str) -> bool {
    before.trim_end().ends_with([',', ':', '[', '{'])
}

/// The length of a text in quotation marks at the beginning of a text.
fn quoted_end(text: &str) -> usize {
    let quote = text.chars().next().unwrap_or('"');
    let mut characters = text.char_indices().skip(1).peekable();
    while let Some((at, c)) = characters.next() {
        if c == '\\' && quote == '"' {
            characters.next();
        } else if c == quote {
            // Twice it stands for itself.
            if quote == '\'' && characters.peek().is_some_and(|(_, next)| *next == quote) {
                characters.next();
                continue;
            }
            return at + c.len_utf8();
        }
    }
    text.len()
}

/// The length of a text without quotation marks, up to a comment.
fn plain_end(text: &str) -> usize {
    let comment = text.find(" #").unwrap_or(text.len());
    text[..comment].trim_end().len()
}

/// The length of a collection in lines, without the lines behind it that are blank or comments.
fn block_end(text: &str) -> usize {
    let mut text = text.trim_end();
    while let Some(last) = text.rfind('\n') {
        if !text[last..].trim_start().starts_with('#') {
            break;
        }
        text = text[..last].trim_end();
    }
    text.len()
}
