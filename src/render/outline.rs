//! A procedure for people, before it is walked.
//!
//! Never in here: where its parts come from. Changes when an outline is told otherwise.

use minijinja::AutoEscape;

use super::clean::plain;
use super::document::{Block, Cell, Column, Document, Fact, section};
use super::pdf::{self, Paper};
use super::{Format, RenderError, html, markdown, text};

/// What is told of a procedure.
#[derive(Clone, Debug, Default)]
pub struct OutlinePage {
    /// The title.
    pub title: String,
    /// What it is, and what it rests on.
    pub facts: Vec<(String, String)>,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// The constants: name, value, where it is said.
    pub settings: Vec<[String; 3]>,
    /// Setup and steps: what they are called; path, what is done, what must hold, where it comes from.
    pub sections: Vec<(String, Vec<[String; 4]>)>,
}

/// Writes an outline.
///
/// # Errors
/// A rendering that grows beyond what is written.
pub fn outline(page: &OutlinePage, format: Format) -> Result<String, RenderError> {
    let document = document(page);
    let (escape, template) = match format {
        Format::Text => (AutoEscape::None, text::TEMPLATE),
        Format::Markdown => (AutoEscape::None, markdown::TEMPLATE),
        Format::Html => (AutoEscape::Html, html::TEMPLATE),
    };
    super::template::render_page(&document, escape, template)
}

/// Writes an outline as PDF/A; `date` is when.
///
/// # Errors
/// As [`outline`].
pub fn outline_pdf(page: &OutlinePage, date: &str, paper: Paper) -> Result<Vec<u8>, RenderError> {
    pdf::page(&document(page), date, paper)
}

fn document(page: &OutlinePage) -> Document {
    let fact = |(label, words): &(String, String)| Fact::new(plain(label), plain(words));
    let mut blocks = vec![Block::Facts {
        facts: page.facts.iter().map(fact).collect(),
        brief: false,
    }];
    if !page.cautions.is_empty() {
        blocks.push(Block::Note {
            caution: true,
            title: String::new(),
            items: page.cautions.iter().map(|c| plain(c)).collect(),
        });
    }
    if !page.settings.is_empty() {
        blocks.push(section("Settings"));
        let one = |[name, value, from]: &[String; 3]| {
            Fact::new(plain(name), plain(value)).aside(plain(from))
        };
        blocks.push(Block::Facts {
            facts: page.settings.iter().map(one).collect(),
            brief: false,
        });
    }
    for (name, rows) in page.sections.iter().filter(|(_, rows)| !rows.is_empty()) {
        blocks.push(section(name));
        let header = Column::all([
            ("Step", 20),
            ("What is done", 40),
            ("Must hold", 25),
            ("From", 15),
        ]);
        blocks.push(table(header, rows));
    }
    Document {
        title: plain(&page.title),
        language: "en".to_owned(),
        blocks,
        ..Document::default()
    }
}

fn table<const N: usize>(header: Vec<Column>, rows: &[[String; N]]) -> Block {
    let row = |cells: &[String; N]| cells.iter().map(|c| Cell::new(plain(c))).collect();
    Block::Table {
        caption: String::new(),
        header,
        rows: rows.iter().map(row).collect(),
        dense: false,
    }
}
