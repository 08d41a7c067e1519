//! What changed between two revisions, for people: what matters most first, before and now side by side.
//!
//! Never in here: weighing changes. Changes when a difference is told otherwise.

use minijinja::AutoEscape;

use super::clean::plain;
use super::document::{Block, Cell, Column, Document, section};
use super::past::{self, PastResults};
use super::{Format, RenderError, html, markdown, text};

/// A difference that was worked out.
#[derive(Clone, Debug, Default)]
pub struct DifferencePage {
    /// The title.
    pub title: String,
    /// How many changes of which weight.
    pub summary: String,
    /// What should be looked into besides.
    pub warnings: Vec<String>,
    /// The changes under their headings.
    pub parts: Vec<DifferencePart>,
    /// What it does to past results, where that was asked.
    pub past: Option<PastResults>,
}

/// Changes of one weight.
#[derive(Clone, Debug, Default)]
pub struct DifferencePart {
    /// The weight.
    pub heading: String,
    /// The changes: where, before, now, what follows.
    pub rows: Vec<[String; 4]>,
}

/// Writes a difference.
///
/// # Errors
/// A rendering that grows beyond what is written.
pub fn difference(page: &DifferencePage, format: Format) -> Result<String, RenderError> {
    let document = document(page);
    let (escape, template) = match format {
        Format::Text => (AutoEscape::None, text::TEMPLATE),
        Format::Markdown => (AutoEscape::None, markdown::TEMPLATE),
        Format::Html => (AutoEscape::Html, html::TEMPLATE),
    };
    super::template::render_page(&document, escape, template)
}

fn document(page: &DifferencePage) -> Document {
    let mut blocks = vec![Block::Paragraph {
        text: plain(&page.summary),
    }];
    if !page.warnings.is_empty() {
        blocks.push(Block::Note {
            caution: true,
            title: "what the recipe leaves unsaid".to_owned(),
            items: page.warnings.iter().map(|w| plain(w)).collect(),
        });
    }
    for part in &page.parts {
        blocks.push(section(&part.heading));
        blocks.push(Block::Table {
            caption: format!("{} in all", part.rows.len()),
            header: Column::all([("Where", 18), ("Before", 26), ("Now", 26), ("Why", 30)]),
            rows: part.rows.iter().map(row).collect(),
            dense: false,
        });
    }
    blocks.extend(page.past.iter().flat_map(past::blocks));
    Document {
        title: plain(&page.title),
        language: "en".to_owned(),
        blocks,
        ..Document::default()
    }
}

fn row(cells: &[String; 4]) -> Vec<Cell> {
    cells.iter().map(|text| Cell::new(plain(text))).collect()
}
