//! The history of a value for people: a plot, what follows from it, and the values one by one.
//!
//! Never in here: statistics. Changes when a history is told otherwise.

use minijinja::AutoEscape;

use super::clean::plain;
use super::document::{Block, Cell, Column, Document, Fact, Mark, section};
use super::plot::Plot;
use super::{Format, RenderError, html, markdown, text};

/// A history that was worked out.
#[derive(Clone, Debug, Default)]
pub struct TrendPage {
    /// The title.
    pub title: String,
    /// What the values are, and what follows from them.
    pub facts: Vec<(String, String)>,
    /// What a reader has to know.
    pub notes: Vec<String>,
    /// The plot.
    pub plot: Option<Plot>,
    /// The values, in order of time.
    pub rows: Vec<TrendRow>,
}

/// A value of a record.
#[derive(Clone, Debug, Default)]
pub struct TrendRow {
    /// The day.
    pub day: String,
    /// The record's id, and the device where there are several.
    pub record: String,
    /// The value with its unit.
    pub value: String,
    /// What is allowed.
    pub limits: String,
    /// The verdict.
    pub verdict: String,
    /// A hint at a value that stands apart.
    pub hint: String,
}

/// Writes a history.
///
/// # Errors
/// A rendering that grows beyond what is written.
pub fn trend(page: &TrendPage, format: Format) -> Result<String, RenderError> {
    let document = document(page);
    let (escape, template) = match format {
        Format::Text => (AutoEscape::None, text::TEMPLATE),
        Format::Markdown => (AutoEscape::None, markdown::TEMPLATE),
        Format::Html => (AutoEscape::Html, html::TEMPLATE),
    };
    super::template::render_page(&document, escape, template)
}

/// What drifts, as a page.
#[derive(Clone, Debug, Default)]
pub struct DriftPage {
    /// The title.
    pub title: String,
    /// What is told of it.
    pub said: String,
    /// Device and value, when it meets its limit, the newest value, what is allowed.
    pub rows: Vec<[String; 4]>,
}

/// Writes what drifts as a page of HTML.
///
/// # Errors
/// As [`trend`].
pub fn drifts(page: &DriftPage) -> Result<String, RenderError> {
    let row = |cells: &[String; 4]| cells.iter().map(|c| Cell::new(plain(c))).collect();
    let mut blocks = vec![Block::Paragraph {
        text: plain(&page.said),
    }];
    if !page.rows.is_empty() {
        blocks.push(Block::Table {
            caption: String::new(),
            header: Column::all([
                ("Device and value", 40),
                ("Limit met", 16),
                ("Newest", 22),
                ("Allowed", 22),
            ]),
            rows: page.rows.iter().map(row).collect(),
            dense: true,
        });
    }
    let document = Document {
        title: plain(&page.title),
        language: "en".to_owned(),
        blocks,
        ..Document::default()
    };
    super::template::render_page(&document, AutoEscape::Html, html::TEMPLATE)
}

fn document(page: &TrendPage) -> Document {
    let fact = |(label, words): &(String, String)| Fact::new(plain(label), plain(words));
    let mut blocks = vec![Block::Facts {
        facts: page.facts.iter().map(fact).collect(),
        brief: false,
    }];
    if !page.notes.is_empty() {
        blocks.push(Block::Note {
            caution: false,
            title: String::new(),
            items: page.notes.iter().map(|n| plain(n)).collect(),
        });
    }
    blocks.extend(page.plot.clone().map(|plot| Block::Plot {
        plot: Box::new(plot),
    }));
    blocks.push(section("Values"));
    blocks.push(Block::Table {
        caption: "In order of time; of repeats the mean".to_owned(),
        header: Column::all([
            ("Day and record", 24),
            ("Value", 17),
            ("Allowed", 25),
            ("Verdict", 14),
            ("Hint", 20),
        ]),
        rows: page.rows.iter().map(row).collect(),
        dense: true,
    });
    Document {
        title: plain(&page.title),
        language: "en".to_owned(),
        blocks,
        ..Document::default()
    }
}

fn row(of: &TrendRow) -> Vec<Cell> {
    let verdict = Cell {
        mark: (!of.verdict.is_empty()).then(|| Mark::of(&of.verdict)),
        ..Cell::default()
    };
    vec![
        Cell::new(plain(&format!("{} {}", of.day, of.record))),
        Cell::new(plain(&of.value)),
        Cell::new(plain(&of.limits)),
        verdict,
        Cell::new(plain(&of.hint)),
    ]
}
