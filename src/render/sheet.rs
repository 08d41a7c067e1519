//! A worksheet for paper: what is done, its limit beside it, and room for what is read.
//!
//! Never in here: what is asked. Changes when a worksheet is laid out otherwise.

use minijinja::AutoEscape;

use super::cautions::said_once;
use super::clean::{brief, plain};
use super::document::{Block, Cell, Column, Document, Fact, section};
use super::pdf::{self, Paper};
use super::{Format, RenderError, html, markdown, text, units};

/// What a worksheet holds.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// The title.
    pub title: String,
    /// The recipe with its revision, which stands on each page.
    pub revision: String,
    /// Tag and serial number of the device, where it is known.
    pub device: Option<(String, String)>,
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

/// Signs of a line to write on over the width of the answers at the end.
mod wide {
    /// On pages of our own.
    pub(super) const PAGES: usize = 92;
    /// In a browser, whose letters are wider: no line may go on as a stub.
    pub(super) const BROWSER: usize = 72;
    /// In text of 80 columns.
    pub(super) const TEXT: usize = 56;
}
/// Lines for remarks.
const REMARKS: usize = 2;
/// What is filled in at the head of later pages.
const AGAIN: &str = "Tag ____________________  Serial ____________________  Date ______________";
/// A blank at which no line is broken.
const HELD: char = '\u{a0}';

/// The head of later pages: what is filled in there, or is known already.
fn again(sheet: &Sheet) -> String {
    match &sheet.device {
        None => AGAIN.to_owned(),
        Some((tag, serial)) => format!(
            "Tag {}  Serial {}  Date ______________",
            brief(&plain(tag)),
            brief(&plain(serial))
        ),
    }
}

/// Writes a worksheet.
///
/// # Errors
/// A rendering that grows beyond what is written.
pub fn sheet(sheet: &Sheet, format: Format) -> Result<String, RenderError> {
    let wide = match format {
        Format::Html => wide::BROWSER,
        Format::Text | Format::Markdown => wide::TEXT,
    };
    let document = units::for_people(document(sheet, wide));
    let (escape, template) = match format {
        Format::Text => (AutoEscape::None, text::TEMPLATE),
        Format::Markdown => (AutoEscape::None, markdown::TEMPLATE),
        Format::Html => (AutoEscape::Html, html::TEMPLATE),
    };
    let page = super::template::render_page(&document, escape, template)?;
    Ok(match format {
        Format::Html => page,
        Format::Text | Format::Markdown => page.replace(HELD, " "),
    })
}

/// Writes a worksheet as PDF/A; `date` is when.
///
/// # Errors
/// As [`sheet`].
pub fn sheet_pdf(sheet: &Sheet, date: &str, paper: Paper) -> Result<Vec<u8>, RenderError> {
    let around = pdf::Around {
        head_left: plain(&sheet.title),
        head_right: plain(&sheet.revision),
        head_later: again(sheet),
        date: date.to_owned(),
        ..pdf::Around::default()
    };
    let document = units::for_people(document(sheet, wide::PAGES));
    pdf::write(&document, &around, paper)
}

fn document(sheet: &Sheet, wide: usize) -> Document {
    let fact = |(label, words): &(String, String)| Fact::new(plain(label), held(words));
    let mut blocks = vec![Block::Facts {
        facts: sheet.head.iter().map(fact).collect(),
        brief: false,
    }];
    if !sheet.cautions.is_empty() {
        blocks.push(Block::Note {
            caution: true,
            title: String::new(),
            items: said_once(sheet.cautions.iter().map(|c| plain(c))),
        });
    }
    for (name, rows) in sheet.sections.iter().filter(|(_, rows)| !rows.is_empty()) {
        blocks.push(section(name));
        blocks.push(Block::Table {
            caption: String::new(),
            header: Column::all([("What is done", 43), ("Limit", 22), ("Reading", 35)]),
            rows: rows.iter().map(row).collect(),
            dense: true,
        });
    }
    blocks.push(section("Result"));
    blocks.push(Block::Table {
        caption: String::new(),
        header: Column::all([("What is asked", 20), ("Answer", 80)]),
        rows: closing(wide),
        dense: true,
    });
    Document {
        title: format!("Worksheet: {}", brief(&plain(&sheet.title))),
        language: "en".to_owned(),
        foot: again(sheet),
        blocks,
        ..Document::default()
    }
}

/// What is filled in at the end, with lines so wide.
fn closing(wide: usize) -> Vec<Vec<Cell>> {
    let line = |wide: usize| "_".repeat(wide);
    let boxes = ["pass", "fail", "incomplete"].map(|word| format!("☐{HELD}{word}"));
    let remarks = vec![line(wide); REMARKS].join(" ");
    let date = format!("date{HELD}and{HELD}time{HELD}");
    let half = (wide - 1) / 2;
    let signed = format!("{} {date}{}", line(half), line(half - date.chars().count()));
    let rows = [
        ("Result", boxes.join(" ")),
        ("Remarks", remarks),
        ("Signature", signed),
    ];
    rows.map(|(asked, answer)| vec![Cell::new(asked), Cell::new(answer)])
        .to_vec()
}

/// Text on one line that keeps the blanks at which no line is broken.
fn held(text: &str) -> String {
    let parts: Vec<String> = text.split(HELD).map(plain).collect();
    parts.join(&HELD.to_string())
}

fn row(row: &SheetRow) -> Vec<Cell> {
    match row {
        SheetRow::Part(heading) => vec![Cell::new(plain(heading))],
        SheetRow::Step(cells) => cells.iter().map(|c| Cell::new(held(c))).collect(),
    }
}
