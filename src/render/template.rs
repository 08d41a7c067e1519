//! Running a template over a document, with an end to its time and its output, and with no way to files.
//!
//! Never in here: what a document holds, what a form escapes. Changes when templates get other means.

use std::fmt;
use std::io;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Serde, Value};
use minijinja::{AutoEscape, Environment, Error, ErrorKind, UndefinedBehavior, context};

use crate::record::Record;

use super::beside::Beside;
use super::clean::{clean, cleaned};
use super::document::{Document, of_record};
use super::plot::cut;

/// Steps that a shop's template may take for one record.
const FUEL: u64 = 4_000_000;
/// Steps on top of that for each block of the document.
const FUEL_A_BLOCK: u64 = 4_000;
/// Longest rendering, in bytes.
const MAX_OUTPUT: usize = 64 << 20;

/// Why a record could not be rendered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RenderError {
    /// Line of the template, from 1.
    pub line: Option<usize>,
    /// What is wrong.
    pub message: String,
}

/// Most columns that are shown of a line.
const WIDEST: usize = 100;
/// Lines that are shown before and after the one that is wrong.
const AROUND: usize = 2;

impl RenderError {
    /// The error with its place in a template of this name, and the lines around it.
    #[must_use]
    pub fn within(&self, name: &str, template: &str) -> String {
        let Some(wrong) = self.line else {
            return format!("{name}: {}", self.message);
        };
        let mut told = format!("{name}:{wrong}: {}", self.message);
        let lines = template.lines().zip(1..);
        let near = lines.filter(|(_, n)| wrong.abs_diff(*n) <= AROUND);
        for (line, n) in near {
            let mark = if n == wrong { '>' } else { ' ' };
            told.push_str(&format!("\n{mark} {n:>4} | {}", cut(&clean(line), WIDEST)));
        }
        told
    }
}

impl fmt::Display for RenderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "line {line} of the template: {}", self.message),
            None => f.write_str(&self.message),
        }
    }
}

impl std::error::Error for RenderError {}

impl From<Error> for RenderError {
    fn from(error: Error) -> Self {
        let message = match (error.kind(), error.detail()) {
            (ErrorKind::OutOfFuel, _) => {
                "it runs too long; look for a loop inside loops".to_owned()
            }
            (ErrorKind::WriteFailure, _) => {
                format!("the rendering is longer than {} MiB", MAX_OUTPUT >> 20)
            }
            (ErrorKind::UndefinedError, None) => "a name that has no value".to_owned(),
            (kind, None) => kind.to_string(),
            (kind, Some(detail)) => format!("{kind}: {detail}"),
        };
        Self {
            line: error.line(),
            message,
        }
    }
}

/// Renders a record with a shop's own template (minijinja).
///
/// The template sees `document` (see [`Document`]) and `record` (the record's data without its journal),
/// `amendments` and `corrects` (see [`Beside`]); [`context()`] gives them as data. It has the filters `say`, `wrap`,
/// `md`, `md_code`, `css`, `soft` and `held`, for plots `drawing` (with an id) and `chart`, and the built-in ones. Deceiving characters are already replaced. A template that has tags in it
/// escapes values for HTML.
///
/// # Errors
/// A template that can't be read, uses what isn't there, or runs too long.
pub fn render_with(
    record: &Record,
    beside: &Beside,
    template: &str,
) -> Result<String, RenderError> {
    let document = of_record(record, beside);
    let (record, beside) = (cleaned(record), beside.cleaned());
    let mut environment = environment();
    let fuel = FUEL + FUEL_A_BLOCK * document.blocks.len() as u64;
    environment.set_fuel(Some(fuel));
    let escape = if has_tags(template) {
        AutoEscape::Html
    } else {
        AutoEscape::None
    };
    run(
        environment,
        escape,
        template,
        Some(&record),
        &document,
        &beside,
    )
}

/// What is wrong with a shop's own template before it sees a record.
#[must_use]
pub fn template_fault(template: &str) -> Option<RenderError> {
    let read = environment().template_from_str(template).err();
    read.map(|e| explained(e, template))
}

/// What a template sees of a record, as data.
#[must_use]
pub fn context(record: &Record, beside: &Beside) -> serde_json::Value {
    let document = of_record(record, beside);
    let (record, beside) = (cleaned(record), beside.cleaned());
    serde_json::json!({
        "document": document,
        "record": record,
        "amendments": beside.amendments,
        "corrects": beside.corrects,
    })
}

/// Renders with a template of our own.
pub(super) fn render_own(
    record: &Record,
    document: &Document,
    escape: AutoEscape,
    template: &str,
) -> Result<String, RenderError> {
    run(
        environment(),
        escape,
        template,
        Some(&cleaned(record)),
        document,
        &Beside::default(),
    )
}

/// Renders a document that is about no single record with a template of our own.
pub(super) fn render_page(
    document: &Document,
    escape: AutoEscape,
    template: &str,
) -> Result<String, RenderError> {
    let beside = Beside::default();
    run(environment(), escape, template, None, document, &beside)
}

fn environment() -> Environment<'static> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    let mut syntax = SyntaxConfig::builder();
    syntax.trim_blocks(true).lstrip_blocks(true);
    environment.set_syntax(syntax.build().expect("the usual signs"));
    environment.add_filter("say", super::words::filter);
    environment.add_filter("wrap", super::text::wrap);
    environment.add_filter("md", super::markdown::escape);
    environment.add_filter("md_code", super::markdown::code);
    environment.add_filter("css", super::html::css);
    environment.add_filter("soft", super::html::soft);
    environment.add_filter("held", super::html::held);
    environment.add_filter("drawing", super::plot::svg::drawing);
    environment.add_filter("chart", super::plot::chart::chart);
    environment
}

fn run(
    mut environment: Environment<'_>,
    escape: AutoEscape,
    template: &str,
    record: Option<&Record>,
    document: &Document,
    beside: &Beside,
) -> Result<String, RenderError> {
    environment.set_auto_escape_callback(move |_| escape.clone());
    let text = template;
    let template = environment
        .template_from_str(text)
        .map_err(|e| explained(e, text))?;
    let seen = context! {
        document => Value::from(Serde(document)),
        record => Value::from(Serde(record)),
        amendments => Value::from(Serde(&beside.amendments)),
        corrects => Value::from(Serde(&beside.corrects)),
    };
    let mut out = Capped(Vec::new());
    document
        .house
        .words
        .speak(|| template.render_captured_to(seen, &mut out))
        .map_err(|e| explained(e, text))?;
    String::from_utf8(out.0).map_err(|_| RenderError {
        line: None,
        message: "the template wrote broken text".to_owned(),
    })
}

/// What is wrong with a template, with the block that is not closed, or the places where a name has no value.
fn explained(error: Error, template: &str) -> RenderError {
    let kind = error.kind();
    let mut told = RenderError::from(error);
    let line = told
        .line
        .and_then(|n| template.lines().nth(n.checked_sub(1)?));
    match kind {
        ErrorKind::SyntaxError => {
            if let Some((name, line)) = unclosed(template) {
                told.message
                    .push_str(&format!("; `{{% {name} %}}` of line {line} is not closed: end it with `{{% end{name} %}}`"));
            }
        }
        ErrorKind::UndefinedError => {
            let tags = line.map(tags_of).unwrap_or_default();
            let tags: Vec<String> = tags.iter().map(|(_, tag)| format!("`{tag}`")).collect();
            if !tags.is_empty() {
                told.message.push_str(&format!(
                    " in {}; `stepwell render RECORD --context` prints all that a template sees",
                    tags.join(" or ")
                ));
            }
        }
        _ => {}
    }
    told
}

/// The tags of a text, with where they begin.
fn tags_of(text: &str) -> Vec<(usize, &str)> {
    let mut tags = Vec::new();
    let mut at = 0;
    while let Some(begin) = text[at..].find('{').map(|n| at + n) {
        let end = match text[begin..].get(..2) {
            Some("{{") => "}}",
            Some("{%") => "%}",
            Some("{#") => "#}",
            _ => {
                at = begin + 1;
                continue;
            }
        };
        let Some(close) = text[begin..].find(end).map(|n| begin + n + end.len()) else {
            break;
        };
        if end != "#}" {
            tags.push((begin, &text[begin..close]));
        }
        at = close;
    }
    tags
}

/// The first block that is not closed where another one ends, or at the end: its name and its line.
fn unclosed(template: &str) -> Option<(&str, usize)> {
    const BLOCKS: [&str; 8] = [
        "for",
        "if",
        "macro",
        "filter",
        "with",
        "call",
        "block",
        "autoescape",
    ];
    let mut open: Vec<(&str, usize)> = Vec::new();
    for (at, tag) in tags_of(template) {
        let Some(inside) = tag.strip_prefix("{%") else {
            continue;
        };
        let word = inside
            .trim_start_matches(['-', '+'])
            .split_whitespace()
            .next();
        let Some(word) = word.map(|w| w.trim_end_matches(['-', '+', '%', '}'])) else {
            continue;
        };
        if BLOCKS.contains(&word) {
            open.push((word, template[..at].matches('\n').count() + 1));
        } else if let Some(name) = word.strip_prefix("end") {
            match open.pop() {
                Some((last, _)) if last == name => {}
                other => return other,
            }
        }
    }
    open.pop()
}

/// Whether a text holds something that a browser would take for a tag.
fn has_tags(text: &str) -> bool {
    let mut after = text.split('<').skip(1);
    after.any(|t| t.starts_with(|c: char| c.is_ascii_alphabetic() || matches!(c, '!' | '/' | '?')))
}

/// Takes bytes up to the longest rendering.
struct Capped(Vec<u8>);

impl io::Write for Capped {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.0.len() + bytes.len() > MAX_OUTPUT {
            return Err(io::Error::other("too long"));
        }
        self.0.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
