//! Lays the text of a YAML file out evenly: indents of two, blanks in flow collections and behind dashes, ends of lines,
//! blank lines. Order, quotes, words and comments stay as the author wrote them.
//!
//! What comes out is read again, and must say the same. Never in here: files. Changes when more of a text's layout is evened.

mod flow;
mod indent;
mod said;

use std::collections::HashSet;

use crate::text::{Code, Finding, Source, Span};

use super::yaml::Document;
use said::said;

/// The lists at the top of a recipe whose items an author may set apart by blank lines.
const LISTS: [&str; 2] = ["setup", "steps"];

/// Lays a text out evenly.
///
/// # Errors
/// Text that is not YAML, or beyond the limits; text of which the outcome would not be sure to say the same.
pub fn format(source: &Source) -> Result<String, Vec<Finding>> {
    let document = Document::read(source.clone())?;
    let even = ends_of_lines(&source.text);
    // A text that is nothing but a text has no layout.
    if document.root.is_string() {
        return Ok(even);
    }
    let outcome = said(&even).and_then(|before| {
        let text = indent::indent(&even, &before);
        let text = flow::flow(&text, &said(&text)?);
        let text = blanks(&text, &said(&text)?);
        let after = said(&text)?;
        (after.events == before.events && after.comments(&text) == before.comments(&even))
            .then_some(text)
    });
    outcome.ok_or_else(|| {
        vec![Finding {
            code: Code::YamlSyntax,
            message: "the text is laid out in a way that can't be evened without risk".to_owned(),
            help: "nothing was changed; lay it out by hand".to_owned(),
            source: source.clone(),
            span: Span::default(),
            path: String::new(),
            chain: Vec::new(),
        }]
    })
}

/// Lines that end as on this system's files: with a line feed, the last one too; no mark of the byte order.
fn ends_of_lines(text: &str) -> String {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    text.replace("\r\n", "\n").replace('\r', "\n")
}

/// Takes blanks at ends of lines and needless blank lines away, and puts one between the longer steps.
fn blanks(text: &str, said: &said::Said) -> String {
    let mut lines: Vec<&str> = Vec::new();
    let mut start = 0;
    let breaks = steps_apart(text, said);
    let body = text.strip_suffix('\n').unwrap_or(text);
    for (number, line) in body.split('\n').enumerate() {
        let inside = said.is_inside(start);
        let ends_inside = said.is_inside(start + line.len());
        let trimmed = if ends_inside {
            line
        } else {
            line.trim_end_matches([' ', '\t'])
        };
        let after_blank = lines.last().is_none_or(|last: &&str| last.is_empty());
        if breaks.contains(&number) && !after_blank {
            lines.push("");
        }
        if !trimmed.is_empty() || inside || !after_blank {
            lines.push(trimmed);
        }
        start += line.len() + 1;
    }
    let mut even = lines.join("\n");
    // What ends with a literal text may end with blank lines that belong to it.
    let ends_inside = said.is_inside(body.len());
    if !ends_inside {
        even.truncate(even.trim_end_matches('\n').len());
    }
    if !ends_inside || text.ends_with('\n') {
        even.push('\n');
    }
    even
}

/// The lines before which a blank one belongs: items of the lists of steps with the comments before them, where the author
/// set at least half of them apart.
fn steps_apart(text: &str, said: &said::Said) -> HashSet<usize> {
    let lines: Vec<&str> = text.split('\n').collect();
    let ends: Vec<usize> = text.match_indices('\n').map(|(at, _)| at).collect();
    let line_of = |byte: usize| ends.partition_point(|end| *end < byte);
    let begins = |byte: &usize| {
        let number = line_of(*byte);
        let above = lines[..number].iter().rev();
        let comments = above.take_while(|l| l.trim_start().starts_with('#'));
        number - comments.count()
    };
    let is_apart = |number: &&usize| {
        lines[..**number]
            .last()
            .is_some_and(|l| l.trim().is_empty())
    };
    let mut apart = HashSet::new();
    for items in said.items_of(&LISTS) {
        let numbers: Vec<usize> = items.iter().skip(1).map(begins).collect();
        if numbers.iter().filter(is_apart).count() * 2 >= numbers.len() {
            apart.extend(numbers);
        }
    }
    apart
}
