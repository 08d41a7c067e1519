//! A worksheet for paper: what is done, its limit beside it, and room for what is read.
//!
//! Never in here: what is asked. Changes when a worksheet is laid out otherwise.

use minijinja::AutoEscape;

use super::clean::{brief, plain};
use super::document::{Block, Cell, Column, Document, Fact, section};
use super::pdf::{self, Paper};
use super::{Format, RenderError, html, markdown, text, units};

/// What a worksheet holds.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// The title.
    pub title: String,
    /// What is filled in once.
    pub head: Vec<(String, String)>,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// Setup and steps: what they are called, and their rows.
    pub sections: Vec<(String, Vec<SheetRow>)>,
}

/// A row of a worksheet.
#[derive(Clone, Debug)]
pub enum SheetRow {
    /// The heading of the rows below it.
    Part(String),
    /// A step: what is done, its limit, where the answer goes.
    Step([String; 3]),
}

/// What is filled in at the end.
const CLOSING: [[&str; 2]; 4] = [
    ["Result", "☐ pass ☐ fail ☐ incomplete"],
    ["Remarks", "________________________________________"],
    ["Signature", "________________________________________"],
    ["Date and time", "____________________"],
];

/// Writes a worksheet.
///
/// # Errors
/// A rendering that grows beyond what is written.
pub fn sheet(sheet: &Sheet, format: Format) -> Result<String, RenderError> {
    let document = units::for_people(document(sheet));
    let (escape, template) = match format {
        Format::Text => (AutoEscape::None, text::TEMPLATE),
        Format::Markdown => (AutoEscape::None, markdown::TEMPLATE),
        Format::Html => (AutoEscape::Html, html::TEMPLATE),
    };
    super::template::render_page(&document, escape, template)
}

/// Writes a worksheet as PDF/A; `date` is when.
///
/// # Errors
/// As [`sheet`].
pub fn sheet_pdf(sheet: &Sheet, date: &str, paper: Paper) -> Result<Vec<u8>, RenderError> {
    pdf::page(&units::for_people(document(sheet)), date, paper)
}

fn document(sheet: &Sheet) -> Document {
    let fact = |(label, words): &(String, String)| Fact::new(plain(label), plain(words));
    let mut blocks = vec![Block::Facts {
        facts: sheet.head.iter().map(fact).collect(),
        brief: false,
    }];
    if !sheet.cautions.is_empty() {
        blocks.push(Block::Note {
            caution: true,
            title: String::new(),
            items: sheet.cautions.iter().map(|c| plain(c)).collect(),
        });
    }
    for (name, rows) in sheet.sections.iter().filter(|(_, rows)| !rows.is_empty()) {
        blocks.push(section(name));
        blocks.push(Block::Table {
            caption: String::new(),
            header: Column::all([("What is done", 46), ("Limit", 26), ("Reading", 28)]),
            rows: rows.iter().map(row).collect(),
            dense: true,
        });
    }
    blocks.push(section("Result"));
    blocks.push(Block::Table {
        caption: String::new(),
        header: Column::all([("What is asked", 30), ("Answer", 70)]),
        rows: CLOSING
            .iter()
            .map(|cells| cells.map(Cell::new).to_vec())
            .collect(),
        dense: true,
    });
    Document {
        title: format!("Worksheet: {}", brief(&plain(&sheet.title))),
        language: "en".to_owned(),
        blocks,
        ..Document::default()
    }
}

fn row(row: &SheetRow) -> Vec<Cell> {
    match row {
        SheetRow::Part(heading) => vec![Cell::new(plain(heading))],
        SheetRow::Step(cells) => cells.iter().map(|c| Cell::new(plain(c))).collect(),
    }
}
