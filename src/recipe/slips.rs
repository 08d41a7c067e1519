//! Slips behind a fault of YAML's syntax: what was most likely meant, and how to write it.
//!
//! Never in here: places, and faults of what was read. Changes when a slip is told better.

use crate::text::{Code, Span};

use super::places::Fault;

/// A fault of the syntax, with the remedy for what is most often behind it.
pub(super) fn syntax_fault(text: &str, at: usize, info: &str) -> Fault {
    if let Some((sign, place)) = odd_blank(text, at) {
        let message = format!("a sign that looks like a blank and is none ({sign})");
        let help = "write a blank instead; it may have come with text that was copied";
        return fault(message, help.to_owned(), place);
    }
    if let Some((message, help)) = askew(text, at, info) {
        return fault(message, help, at);
    }
    let rest = &text[at..];
    let tab = rest.find('\t').filter(|_| info.contains("tab"));
    let (message, help, at) = if let Some(tab) = tab {
        (
            "a tab in the indentation".to_owned(),
            "indent with blanks, not with tabs",
            at + tab,
        )
    } else if let Some(tab) = tab_at(text, at) {
        (
            "a tab where a blank has to stand".to_owned(),
            "write a blank instead of the tab",
            tab,
        )
    } else if info.contains("mapping values") {
        let help = "put text that holds a colon and a blank into quotes, or mend the indentation";
        ("a colon where no key can stand".to_owned(), help, at)
    } else if info.contains("trailing content") {
        let help = "a quotation mark inside single quotes is written twice (`'the pump''s'`); an expression that begins with a quoted text stands in single quotes as a whole: `'\"6 psi\" <= x'`";
        ("text behind a closing quotation mark".to_owned(), help, at)
    } else if rest.starts_with(['%', '@', '`']) {
        let message = format!("text that begins with `{}`", &rest[..1]);
        (message, IN_QUOTES, at)
    } else if let Some((begun, sign)) = unquoted(text, at) {
        let message = format!("text that begins with `{sign}`, which means something else to YAML");
        (message, IN_QUOTES, begun)
    } else if let Some(lone) = without_colon(text, at).filter(|_| info.contains("simple key")) {
        let message = "a line that is neither a key nor in a list".to_owned();
        let help = "write the key with a colon and a blank behind it: `title: Occlusion`";
        (message, help, lone)
    } else {
        (
            info.to_owned(),
            "check the indentation, the quotes and the colons around this place",
            at,
        )
    };
    fault(message, help.to_owned(), at)
}

fn fault(message: String, help: String, at: usize) -> Fault {
    let span = Span {
        start: at,
        end: at + 1,
    };
    (Code::YamlSyntax, message, help, span)
}

/// A sign at a place, or above, that looks like a blank: before the first word of its line, or behind a colon or dash.
fn odd_blank(text: &str, at: usize) -> Option<(String, usize)> {
    let is_odd = |c: char| {
        c != ' ' && c != '\t' && (c.is_whitespace() || c == '\u{200b}' || c == '\u{feff}')
    };
    lines_at(text, at).find_map(|(begin, line)| {
        let mut before = '\n';
        for (place, sign) in line.char_indices() {
            if is_odd(sign) && matches!(before, '\n' | ':' | '-') {
                let name = format!("U+{:04X}", u32::from(sign));
                return Some((name, begin + place));
            }
            if sign != ' ' || before != '\n' {
                before = sign;
            }
        }
        None
    })
}

fn indent(line: &str) -> usize {
    line.len() - line.trim_start_matches(' ').len()
}

/// Where the first key of a line begins: behind the dash of a list.
fn column(line: &str) -> usize {
    let blanks = indent(line);
    match line[blanks..].strip_prefix('-') {
        Some(rest) => blanks + 1 + indent(rest),
        None => blanks,
    }
}

/// A line whose first word stands neither below that of the line above nor below one that it could belong to.
fn askew(text: &str, at: usize, info: &str) -> Option<(String, String)> {
    if !(info.contains("'-' indicator")
        || info.contains("expected key")
        || info.contains("mapping values"))
    {
        return None;
    }
    let begin = text[..at].rfind('\n').map_or(0, |n| n + 1);
    let line = text[begin..].lines().next().unwrap_or_default();
    let mut above = (text[..begin].lines().rev())
        .filter(|l| !l.trim().is_empty() && !l.trim().starts_with('#'));
    let (this, before) = (indent(line), above.next()?);
    let that = column(before);
    let ends_in_value = !before.trim_end().ends_with(':');
    let is_off = match this > that {
        true => ends_in_value && this < that + 4,
        false => this < that && above.all(|l| column(l) != this && indent(l) != this),
    };
    (is_off && line.contains(':')).then(|| {
        let message = format!("a line that is indented by {this} where the one above it has {that}");
        let help = "keys of one step begin below each other; what belongs to a key is indented by two more".to_owned();
        (message, help)
    })
}

/// What to do about text that YAML takes for something else.
const IN_QUOTES: &str =
    "put the whole text in quotes: `'…'`, or `\"…\"` where it holds no double quotes";

/// The beginning of the line at a place, and that of the line above.
fn lines_at(text: &str, at: usize) -> impl Iterator<Item = (usize, &str)> {
    let begin = |end: usize| text[..end].rfind('\n').map_or(0, |n| n + 1);
    let this = begin(at);
    let above = (this > 0).then(|| begin(this - 1));
    let line = |begin: usize| (begin, text[begin..].lines().next().unwrap_or_default());
    [Some(this), above].into_iter().flatten().map(line)
}

/// The value of a key at a place, or in the line above, that begins with a sign of YAML's own though it is meant as text.
fn unquoted(text: &str, at: usize) -> Option<(usize, char)> {
    lines_at(text, at).find_map(|(begin, line)| {
        let value = begin + line.find(": ")? + 2;
        let rest = text[value..begin + line.len()].trim();
        let sign = rest.chars().next()?;
        let is_meant = match sign {
            '!' | '&' | '*' => true,
            '{' => rest.starts_with("{{"),
            '[' => rest
                .find(']')
                .is_some_and(|end| !rest[end + 1..].trim().is_empty()),
            _ => false,
        };
        is_meant.then_some((value, sign))
    })
}

/// The first word of a line at a place, or above, that has no colon and begins no item of a list.
fn without_colon(text: &str, at: usize) -> Option<usize> {
    lines_at(text, at).find_map(|(begin, line)| {
        let word = line.trim_start();
        let blanks = line.len() - word.len();
        let lone = !word.is_empty() && !word.contains(": ") && !word.ends_with(':');
        (lone && !word.starts_with(['-', '#'])).then_some(begin + blanks)
    })
}

/// The tab at a place or right before it.
fn tab_at(text: &str, at: usize) -> Option<usize> {
    let is_tab = |n: &usize| text.as_bytes().get(*n) == Some(&b'\t');
    [Some(at), at.checked_sub(1)]
        .into_iter()
        .flatten()
        .find(is_tab)
}

/// What to do about a bracket that was opened in a line above a fault and is not closed.
pub(super) fn closing(text: &str, open: usize, at: usize) -> Option<String> {
    let line = |byte: usize| text[..byte].matches('\n').count() + 1;
    let bracket = text.get(open..=open)?;
    let closing = if bracket == "{" { "}" } else { "]" };
    let number = line(open);
    (number < line(at)).then(|| {
        format!(
            "the `{bracket}` in line {number} is not closed; write `{closing}` where its contents end"
        )
    })
}

/// The first bracket before a place that begins a value and is not closed there; texts in quotes are passed over.
pub(super) fn unclosed(text: &str, at: usize) -> Option<usize> {
    let (mut open, mut quote, mut before) = (Vec::new(), None, '\n');
    for (place, character) in text[..at].char_indices() {
        let begins = matches!(before, ':' | '-' | ',' | '[' | '{' | '\n');
        match (character, quote) {
            (c, Some(q)) if c == q => quote = None,
            (_, Some(_)) => {}
            ('"' | '\'', None) if begins => quote = Some(character),
            ('{' | '[', None) if begins => open.push(place),
            ('}' | ']', None) => drop(open.pop()),
            _ => {}
        }
        if character != ' ' {
            before = character;
        }
    }
    open.first().copied()
}
