//! How files with these headings were read before: `imports.yaml`.
//!
//! Never in here: reading and writing the file. Changes when more is kept of an import.

use crate::recipe::cursor::At;
use crate::recipe::schema::{Form, faults};
use crate::recipe::yaml::Document;
use crate::text::{Code, Finding, Source, counted};

use super::columns::Column;
use super::date::DateForm;
use super::field::Register;
use super::sheet::Encoding;

const OPENING: &str = "# How the columns of imported files are read, by register and headings: written by `import`, so that it asks once.
# `columns` says for each heading the field that it is; `-` passes over it, `?` asks.
imports:
";

/// How a file is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Way {
    /// The register.
    pub register: Register,
    /// Its headings.
    pub headings: Vec<String>,
    /// For each the name of a field, or `-`.
    pub columns: Vec<String>,
    /// How days are written.
    pub dates: Option<DateForm>,
    /// How letters are written.
    pub encoding: Encoding,
}

/// The ways that are kept, with the text they stand in.
#[derive(Clone, Debug, Default)]
pub struct Stored {
    /// The ways.
    pub ways: Vec<Way>,
}

impl Stored {
    /// The way for a register and headings.
    #[must_use]
    pub fn find(&self, register: Register, headings: &[String]) -> Option<&Way> {
        let fits = |w: &&Way| w.register == register && w.headings == headings;
        // The last one was told last.
        self.ways.iter().rev().find(fits)
    }

    /// Whether a file with these headings was read in an encoding before.
    #[must_use]
    pub fn reads(&self, register: Register, headings: &[String], encoding: Encoding) -> bool {
        let fits =
            |w: &Way| w.register == register && w.headings == headings && w.encoding == encoding;
        self.ways.iter().any(fits)
    }
}

/// Reads `imports.yaml`.
#[must_use]
pub fn read_ways(source: Source) -> (Stored, Vec<Finding>) {
    let document = match Document::read(source) {
        Ok(document) => document,
        Err(findings) => return (Stored::default(), findings),
    };
    let mut findings = faults(&document, Form::Imports);
    let mut ways = Vec::new();
    for at in At::root(&document)
        .get("imports")
        .iter()
        .flat_map(At::items)
    {
        let register = at.text_of("register").and_then(|n| Register::from_name(&n));
        let Some(register) = register else { continue };
        let list = |key: &str| -> Vec<String> {
            let list = at.get(key);
            list.iter()
                .flat_map(At::items)
                .filter_map(|i| i.text())
                .collect()
        };
        let way = Way {
            register,
            headings: list("headings"),
            columns: list("columns"),
            dates: at.text_of("dates").and_then(|d| DateForm::from_name(&d)),
            encoding: at
                .text_of("encoding")
                .and_then(|e| Encoding::from_name(&e))
                .unwrap_or_default(),
        };
        if way.columns.len() != way.headings.len() {
            let message = format!(
                "{} for {}",
                counted(way.columns.len(), "column"),
                counted(way.headings.len(), "heading")
            );
            findings.push(at.finding(
                Code::ShopFault,
                message,
                "name a field for each heading, or `-`",
            ));
        }
        let words = at.get("columns");
        for word in words.iter().flat_map(At::items) {
            if let Some(Err(message)) = word.text().map(|w| Column::from_word(register, &w)) {
                findings.push(word.finding(
                    Code::ShopFault,
                    message,
                    "or remove this entry; `import` asks again",
                ));
            }
        }
        ways.push(way);
    }
    (Stored { ways }, findings)
}

/// The text of `imports.yaml` with one more way at its end, which counts before earlier ones of the same headings.
#[must_use]
pub fn with_way(text: Option<&str>, way: &Way) -> String {
    let mut text = text
        .filter(|t| !t.trim().is_empty())
        .unwrap_or(OPENING)
        .to_owned();
    if !text.ends_with('\n') {
        text.push('\n');
    }
    let list = |words: &[String]| {
        let quoted = words
            .iter()
            .map(|w| serde_json::Value::from(w.as_str()).to_string());
        format!("[{}]", quoted.collect::<Vec<_>>().join(", "))
    };
    text.push_str(&format!(
        "  - register: {}\n    headings: {}\n    columns: {}\n",
        way.register.name(),
        list(&way.headings),
        list(&way.columns)
    ));
    if let Some(form) = way.dates {
        text.push_str(&format!("    dates: {}\n", form.name()));
    }
    if way.encoding != Encoding::default() {
        text.push_str(&format!("    encoding: {}\n", way.encoding.name()));
    }
    text
}
