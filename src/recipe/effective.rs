//! The effective text: a recipe that was put together, written out as one file that rests on no other.
//!
//! The same parts give the same text on every machine: it is what is digested, approved, run and kept in records. Never in
//! here: putting together. Changes never without need: texts that were approved are compared with it.

use std::fmt::Write as _;

use serde_json::{Map, Value};

use super::cursor::At;
use super::library::{Name, Whole};

/// Longest list or mapping that is written in one line.
const MAX_LINE: usize = 100;
/// The keys whose lists and mappings are written in one line where they fit.
const IN_LINE: [&str; 10] = [
    "applies_to",
    "changes",
    "instruments",
    "measures",
    "models",
    "in",
    "options",
    "range",
    "accept",
    "on_fail",
];

/// Writes a recipe out.
pub fn effective_text(whole: &Whole) -> String {
    let mut text = String::with_capacity(whole.weight * 3 / 2);
    let _ = writeln!(
        text,
        "# {} written out as one recipe. Made from what follows; change that, not this.",
        whole.name
    );
    for (how, other) in &whole.rests_on {
        let _ = writeln!(text, "#   {} {}", in_line(how), other.digest());
    }
    for edit in &whole.edits {
        let _ = writeln!(text, "#   {}", in_line(edit));
    }
    let root = At::root(&whole.document);
    mapping(&root, 0, &mut text);
    text
}

/// The bases and fragments that an effective text names at its head, each with the digest of its own effective text.
#[must_use]
pub fn rests_on(text: &str) -> Vec<(Name, String)> {
    let head = text.lines().take_while(|line| line.starts_with('#'));
    let named = |line: &str| {
        let mut words = line.strip_prefix("#   ")?.split(' ');
        let name = match words.next()? {
            "extends" | "use" => Name::parse(words.next()?)?,
            _ => return None,
        };
        let digest = words.next_back()?;
        digest
            .starts_with("sha256:")
            .then(|| (name, digest.to_owned()))
    };
    head.filter_map(named).collect()
}

/// A remark in one line.
fn in_line(remark: &str) -> String {
    let plain = |c: char| if is_plain(c) { c } else { ' ' };
    remark.chars().map(plain).collect()
}

/// The lines of a mapping.
fn mapping(at: &At<'_>, indent: usize, text: &mut String) {
    for (index, (key, value)) in at.entries().enumerate() {
        // The first key stands behind its hyphen or blanks already.
        if index > 0 {
            blanks(indent, text);
        }
        scalar(key, text);
        text.push(':');
        inside(&value, key, indent, text);
    }
}

/// What stands behind a key.
fn inside(at: &At<'_>, key: &str, indent: usize, text: &mut String) {
    let in_line = IN_LINE.contains(&key).then(|| line(at)).flatten();
    match (at.value, in_line) {
        (_, Some(line)) => {
            text.push(' ');
            text.push_str(&line);
            text.push('\n');
        }
        (Value::Object(map), None) if !map.is_empty() => {
            text.push('\n');
            blanks(indent + 2, text);
            mapping(at, indent + 2, text);
        }
        (Value::Array(items), None) if !items.is_empty() => {
            text.push('\n');
            for item in at.items() {
                blanks(indent + 2, text);
                text.push_str("- ");
                listed(&item, key, indent + 4, text);
            }
        }
        _ => {
            text.push(' ');
            value(at, text);
            text.push('\n');
        }
    }
}

/// An item of a list, behind its hyphen.
fn listed(at: &At<'_>, list: &str, indent: usize, text: &mut String) {
    let in_line = IN_LINE.contains(&list).then(|| line(at)).flatten();
    match (at.value, in_line) {
        (_, Some(line)) => {
            text.push_str(&line);
            text.push('\n');
        }
        (Value::Object(map), None) if !map.is_empty() => mapping(at, indent, text),
        _ => {
            value(at, text);
            text.push('\n');
        }
    }
}

/// A value in one line, if it fits.
fn line(at: &At<'_>) -> Option<String> {
    if !matches!(at.value, Value::Object(_) | Value::Array(_)) {
        return None;
    }
    let mut text = String::new();
    value(at, &mut text);
    (text.len() <= MAX_LINE).then_some(text)
}

/// A value in one line.
fn value(at: &At<'_>, text: &mut String) {
    match at.value {
        Value::Null => text.push_str("null"),
        Value::Bool(truth) => text.push_str(if *truth { "true" } else { "false" }),
        // As it was typed.
        Value::Number(_) => text.push_str(&at.text().unwrap_or_default()),
        Value::String(string) => scalar(string, text),
        Value::Array(_) => {
            text.push('[');
            for (index, item) in at.items().enumerate() {
                text.push_str(if index > 0 { ", " } else { "" });
                value(&item, text);
            }
            text.push(']');
        }
        Value::Object(_) => {
            text.push('{');
            for (index, (key, item)) in at.entries().enumerate() {
                text.push_str(if index > 0 { ", " } else { "" });
                scalar(key, text);
                text.push_str(": ");
                value(&item, text);
            }
            text.push('}');
        }
    }
}

fn blanks(count: usize, text: &mut String) {
    text.extend(std::iter::repeat_n(' ', count));
}

/// A text: as it is where YAML reads it as the same text, else in double quotes.
fn scalar(string: &str, text: &mut String) {
    if reads_as_itself(string) {
        text.push_str(string);
        return;
    }
    text.push('"');
    for c in string.chars() {
        match c {
            '"' | '\\' => {
                text.push('\\');
                text.push(c);
            }
            '\n' => text.push_str("\\n"),
            '\t' => text.push_str("\\t"),
            '\r' => text.push_str("\\r"),
            c if is_plain(c) => text.push(c),
            c if u32::from(c) <= 0xffff => _ = write!(text, "\\u{:04x}", u32::from(c)),
            c => _ = write!(text, "\\U{:08x}", u32::from(c)),
        }
    }
    text.push('"');
}

/// Whether a character stands for itself in YAML, whatever is around it inside of quotes.
fn is_plain(c: char) -> bool {
    !c.is_control()
        && !matches!(
            c,
            '\u{2028}' | '\u{2029}' | '\u{feff}' | '\u{fffe}' | '\u{ffff}'
        )
}

/// Whether a text without quotes is read as itself, in a line of its own or in brackets.
fn reads_as_itself(string: &str) -> bool {
    const TAKEN: &str = " _-./()+*<>=%;'\"°µ";
    let taken = |c: char| c.is_ascii_alphanumeric() || TAKEN.contains(c);
    let reserved = ["true", "false", "null", "yes", "no", "on", "off", "y", "n"];
    let begins_well = string.starts_with(|c: char| c.is_ascii_alphabetic())
        || is_quantity(string)
        || crate::text::is_day(string);
    begins_well
        && string.chars().all(taken)
        && !string.ends_with(' ')
        && !reserved.contains(&string.to_ascii_lowercase().as_str())
}

/// Whether a text is a decimal number, a blank and a unit: no reader of YAML takes that for a number.
fn is_quantity(string: &str) -> bool {
    let Some((number, unit)) = string.split_once(' ') else {
        return false;
    };
    let number = number.strip_prefix('-').unwrap_or(number);
    number.starts_with(|c: char| c.is_ascii_digit())
        && number.chars().all(|c| c.is_ascii_digit() || c == '.')
        && unit.starts_with(|c: char| c.is_ascii_alphabetic() || matches!(c, '%' | '°' | 'µ'))
}

/// Whether a tree is the same as another one, numbers as they were typed.
#[must_use]
pub fn is_same_tree(a: &At<'_>, b: &At<'_>) -> bool {
    match (a.value, b.value) {
        (Value::Object(left), Value::Object(right)) => {
            same_keys(left, right)
                && a.entries()
                    .zip(b.entries())
                    .all(|((_, a), (_, b))| is_same_tree(&a, &b))
        }
        (Value::Array(left), Value::Array(right)) => {
            left.len() == right.len() && a.items().zip(b.items()).all(|(a, b)| is_same_tree(&a, &b))
        }
        (Value::Number(_), Value::Number(_)) => a.text() == b.text(),
        (left, right) => left == right,
    }
}

fn same_keys(left: &Map<String, Value>, right: &Map<String, Value>) -> bool {
    left.len() == right.len() && left.keys().zip(right.keys()).all(|(l, r)| l == r)
}
