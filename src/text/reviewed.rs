//! Findings as services that review changes take them: SARIF 2.1.0 (OASIS), and GitHub's workflow commands.
//!
//! Never in here: making findings. Changes when these forms do.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use serde_json::{Value, json};

use super::{Code, Finding, Severity};

/// The word of SARIF for a severity.
fn level(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Hint => "note",
    }
}

/// A path as a relative URI reference or a `file:` URI (RFC 3986): letters, digits and `-._~/` stay, all else is escaped.
fn uri(path: &str) -> String {
    let path = path.replace('\\', "/");
    let path = path.strip_prefix("./").unwrap_or(&path);
    let mut uri = String::from(if path.starts_with('/') { "file://" } else { "" });
    for byte in path.bytes() {
        match byte {
            b'-' | b'.' | b'_' | b'~' | b'/' => uri.push(char::from(byte)),
            _ if byte.is_ascii_alphanumeric() => uri.push(char::from(byte)),
            _ => {
                let _ = write!(uri, "%{byte:02X}");
            }
        }
    }
    uri
}

/// The findings as a SARIF log of one run; a rule for each code that was found.
#[must_use]
pub fn findings_as_sarif(findings: &[Finding]) -> Value {
    let codes: Vec<Code> = findings
        .iter()
        .map(|f| f.code)
        .collect::<BTreeSet<Code>>()
        .into_iter()
        .collect();
    let results = findings.iter().map(|f| result(f, &codes));
    json!({
        "$schema": "https://json.schemastore.org/sarif-2.1.0.json",
        "version": "2.1.0",
        "runs": [{
            "tool": {"driver": {
                "name": "stepwell",
                "version": env!("CARGO_PKG_VERSION"),
                "rules": codes.iter().map(|code| rule(*code)).collect::<Vec<Value>>(),
            }},
            "columnKind": "unicodeCodePoints",
            "results": results.collect::<Vec<Value>>(),
        }],
    })
}

fn rule(code: Code) -> Value {
    json!({
        "id": code.name(),
        "shortDescription": {"text": code.title()},
        "help": {"text": code.page(), "markdown": code.page()},
        "defaultConfiguration": {"level": level(code.severity())},
    })
}

fn result(finding: &Finding, codes: &[Code]) -> Value {
    let start = finding.source.place(finding.span.start);
    let end = finding.source.place(finding.span.end);
    json!({
        "ruleId": finding.code.name(),
        "ruleIndex": codes.iter().position(|c| *c == finding.code),
        "level": level(finding.severity()),
        "message": {"text": in_words(finding)},
        "locations": [{"physicalLocation": {
            "artifactLocation": {"uri": uri(&finding.source.name)},
            "region": {
                "startLine": start.line, "startColumn": start.column,
                "endLine": end.line, "endColumn": end.column,
            },
        }}],
    })
}

/// What is wrong, how to mend it, and what led there, a line each.
fn in_words(finding: &Finding) -> String {
    let lines = [&finding.message, &finding.help].into_iter();
    let all: Vec<&str> = lines.chain(&finding.chain).map(String::as_str).collect();
    all.join("\n")
}

/// The findings as commands to a workflow of GitHub, a line each: they then stand beside the lines of a change.
#[must_use]
pub fn findings_as_github(findings: &[Finding]) -> String {
    findings.iter().map(command).collect()
}

fn command(finding: &Finding) -> String {
    let word = match finding.severity() {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Hint => "notice",
    };
    let start = finding.source.place(finding.span.start);
    let end = finding.source.place(finding.span.end);
    let file = finding.source.name.replace('\\', "/");
    // Where a finding spans lines, columns can't be told.
    let place = if start.line == end.line {
        format!(
            "line={},col={},endColumn={}",
            start.line, start.column, end.column
        )
    } else {
        format!("line={},endLine={}", start.line, end.line)
    };
    format!(
        "::{word} file={},{place},title={}::{}\n",
        property(&file),
        property(finding.code.name()),
        data(&in_words(finding))
    )
}

/// Text behind the second `::`.
fn data(text: &str) -> String {
    text.replace('%', "%25")
        .replace('\r', "%0D")
        .replace('\n', "%0A")
}

/// Text of a property.
fn property(text: &str) -> String {
    data(text).replace(':', "%3A").replace(',', "%2C")
}
