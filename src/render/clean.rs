//! Hostile text made harmless at the door: characters that hide, reorder or command become visible.
//!
//! Never in here: escaping for a form of output. Changes when a character turns out to deceive.

use std::sync::Arc;

use serde_json::{Map, Value as Json};

use crate::record::{Record, foresee};

use super::words::say;

/// A copy of a record whose texts hold no deceiving characters; without its journal, which no rendering shows.
pub(super) fn cleaned(record: &Record) -> Record {
    clean_copy(record.clone())
}

/// The same for pages: criteria that were not judged have the limits that would have held, as far as they were known.
pub(super) fn foreseen(record: &Record, files: &[Option<Arc<Vec<u8>>>]) -> Record {
    let mut copy = record.clone();
    let attached = |digest: &str| {
        let mut all = record.attachments.iter().zip(files);
        let (_, bytes) = all.find(|(a, _)| a.digest == digest)?;
        bytes.as_ref().map(|b| b.to_vec())
    };
    foresee(&mut copy, &attached);
    clean_copy(copy)
}

fn clean_copy(mut copy: Record) -> Record {
    copy.journal = Vec::new();
    let json = serde_json::to_value(&copy).expect("a record has a form as data");
    serde_json::from_value(clean_json(json)).expect("cleaning changes texts only")
}

pub(super) fn clean_json(value: Json) -> Json {
    match value {
        Json::String(text) => Json::String(clean(&text)),
        Json::Array(items) => items.into_iter().map(clean_json).collect(),
        Json::Object(map) => {
            let mut out = Map::new();
            for (key, value) in map {
                let mut key = clean(&key);
                while out.contains_key(&key) {
                    key.push('*');
                }
                out.insert(key, clean_json(value));
            }
            Json::Object(out)
        }
        other => other,
    }
}

/// The text with every deceiving character replaced by a sign that shows it; line feeds stay.
pub(super) fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\n' => out.push(c),
            _ if is_deceiving(c) => out.push_str(&shown(c)),
            _ => out.push(c),
        }
    }
    out
}

/// A character as its number.
fn shown(c: char) -> String {
    format!("[U+{:04X}]", u32::from(c))
}

/// Controls, marks that turn the direction of writing, characters without a width, and numbers that are no characters.
fn is_deceiving(c: char) -> bool {
    c.is_control()
        || u32::from(c) & 0xfffe == 0xfffe
        || matches!(c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}'
        | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
        | '\u{3164}' | '\u{fdd0}'..='\u{fdef}' | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}' | '\u{e0000}'..='\u{e0fff}')
}

/// Prose on one line: line feeds and runs of blanks become one blank.
pub(super) fn prose(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Text from a recipe or a register on one line, without deceiving characters.
pub(super) fn plain(text: &str) -> String {
    prose(&clean(text))
}

/// Most characters of a name that stands beside others.
const BRIEF: usize = 160;

/// A name on one line; of one that is too long its beginning, and how much more there is.
#[must_use]
pub fn brief(text: &str) -> String {
    let text = prose(text);
    match text.chars().count().saturating_sub(BRIEF) {
        0 => text,
        more => {
            let begun: String = text.chars().take(BRIEF).collect();
            let begun = begun.trim_end();
            say!("{text}… ({n} more characters)", text = begun, n = more)
        }
    }
}

/// Typed text on one line, with its line feeds visible.
pub(super) fn typed(text: &str) -> String {
    text.replace('\n', &shown('\n'))
}
