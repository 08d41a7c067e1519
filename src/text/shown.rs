//! Findings as a person and as a program reads them.
//!
//! Never in here: making findings. Changes when their look or their data form does.

use std::fmt::Write as _;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use serde_json::{Value, json};

use super::{Finding, Severity};

/// Longest line of a source that is shown around a finding, in bytes.
const MAX_SHOWN_LINE: usize = 400;
/// Most findings that are told to a person at once.
const MAX_TOLD: usize = 200;

/// The findings with the lines they are about, for a terminal.
#[must_use]
pub fn findings_as_text(findings: &[Finding], colour: bool) -> String {
    let renderer = if colour {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let mut text = String::new();
    for finding in findings.iter().take(MAX_TOLD) {
        text.push_str(&one(finding, &renderer));
        text.push_str("\n\n");
    }
    let more = findings.len().saturating_sub(MAX_TOLD);
    if more > 0 {
        let _ = write!(text, "and {} more; mend these first\n\n", more);
    }
    text
}

fn one(finding: &Finding, renderer: &Renderer) -> String {
    let level = match finding.severity() {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Hint => Level::NOTE.with_name("hint"),
    };
    let place = finding.source.place(finding.span.start);
    // The lines at hand alone: each finding of a long text would else be looked for from its beginning.
    let shown = finding.source.lines_of(finding.span);
    let lines = &finding.source.text[shown.clone()];
    if lines.lines().next().unwrap_or_default().len() > MAX_SHOWN_LINE {
        let word = finding.severity().word();
        let (name, message) = (finding.code.name(), &finding.message);
        let chain: String = finding
            .chain
            .iter()
            .map(|c| format!("\n  note: {c}"))
            .collect();
        return format!(
            "{word}[{name}]: {message}\n  --> {}:{}:{}\n  help: {}{chain}",
            finding.source.name, place.line, place.column, finding.help
        );
    }
    let characters = finding.source.characters(finding.span);
    let within = characters.start - shown.start..characters.end - shown.start;
    let snippet = Snippet::source(lines)
        .line_start(place.line)
        .path(&*finding.source.name)
        .annotation(AnnotationKind::Primary.span(within));
    let title = level
        .primary_title(&finding.message)
        .id(finding.code.name());
    let notes = finding.chain.iter().map(|note| Level::NOTE.message(note));
    let group = Group::with_title(title)
        .element(snippet)
        .element(Level::HELP.message(&finding.help))
        .elements(notes);
    renderer.render(&[group])
}

/// The findings as the list that `check --format json` prints.
#[must_use]
pub fn findings_as_json(findings: &[Finding]) -> Value {
    let one = |f: &Finding| {
        let (start, end) = (f.source.place(f.span.start), f.source.place(f.span.end));
        let mut told = json!({
            "code": f.code.name(), "severity": f.severity().word(), "message": f.message, "help": f.help,
            "file": &*f.source.name, "line": start.line, "column": start.column,
            "end_line": end.line, "end_column": end.column, "path": f.path,
        });
        if !f.chain.is_empty() {
            told["chain"] = json!(f.chain);
        }
        told
    };
    Value::Array(findings.iter().map(one).collect())
}
