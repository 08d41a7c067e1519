//! Records for people: one neutral document, and writers for plain text, Markdown and HTML.
//!
//! Never in here: judging, files, the clock. Changes when a form is added.

mod answer;
mod appendix;
mod bar;
mod beside;
mod budget;
mod cautions;
mod clean;
mod difference;
mod digits;
pub mod document;
mod export;
mod figure;
mod graphs;
mod held;
mod house;
mod html;
mod judged;
mod kinds;
mod label;
mod logs;
mod long;
mod markdown;
mod outline;
mod past;
pub mod pdf;
mod picture;
pub mod plot;
mod register;
mod remarks;
mod rows;
mod sheet;
mod signed;
mod template;
mod text;
mod trend;
mod tried;
mod uncertain;
mod units;
mod went;
pub mod words;

pub use beside::{Addition, Beside};
pub use clean::brief;
pub use difference::{DifferencePage, DifferencePart, difference};
pub use document::Document;
pub use export::{EXPORT_FORMAT, json_line};
pub use house::{Emblem, House, MAX_PICTURE};
pub use label::{Label, NextDue};
pub use outline::{OutlinePage, outline, outline_pdf};
pub use past::{PastRecord, PastResults};
pub use picture::{Kind, Picture};
pub use plot::Plot;
pub use rows::{columns, csv_head, csv_rows};
pub use sheet::{Sheet, SheetRow, sheet, sheet_pdf};
pub use template::{RenderError, context, render_with, template_fault};
pub use trend::{DriftPage, TrendPage, TrendRow, drifts, trend};
pub use words::Words;

use crate::record::Record;
use words::say;

/// The forms in which a record can be rendered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Plain text of 80 columns.
    Text,
    /// Markdown.
    Markdown,
    /// One HTML file that needs nothing else.
    Html,
}

impl Format {
    /// The program's own template of this form, to begin another one from.
    #[must_use]
    pub fn template(self) -> &'static str {
        match self {
            Self::Text => text::TEMPLATE,
            Self::Markdown => markdown::TEMPLATE,
            Self::Html => html::TEMPLATE,
        }
    }

    /// The form of this name: `text`, `md` or `html`.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        match name {
            "text" => Some(Self::Text),
            "md" => Some(Self::Markdown),
            "html" => Some(Self::Html),
            _ => None,
        }
    }
}

/// Renders a record, with what is known beside it.
///
/// # Errors
/// A rendering that grows beyond what is written.
pub fn render(record: &Record, beside: &Beside, format: Format) -> Result<String, RenderError> {
    render_document(record, &document::of_record(record, beside), format)
}

/// Renders a document that was made of a record and may have been added to, with plots for instance.
///
/// # Errors
/// A rendering that grows beyond what is written.
pub fn render_document(
    record: &Record,
    document: &Document,
    format: Format,
) -> Result<String, RenderError> {
    match format {
        Format::Text => text::write(record, document),
        Format::Markdown => markdown::write(record, document),
        Format::Html => html::write(record, document),
    }
}

/// Renders a record as PDF/A that carries the record's own file, what was attached to it, and what was added to it since.
///
/// # Errors
/// A rendering that an archive may not keep.
pub fn render_pdf(
    record: &Record,
    beside: &Beside,
    paper: pdf::Paper,
) -> Result<Vec<u8>, RenderError> {
    let document = document::of_record(record, beside);
    let mut carried = vec![(format!("{}.json", record.record), beside.text.to_vec())];
    for (file, bytes) in record.attachments.iter().zip(&beside.files) {
        carried.extend(bytes.iter().map(|b| (clean::plain(&file.name), b.to_vec())));
    }
    let added = beside.amendments.iter().filter(|a| !a.text.is_empty());
    let added = added.map(|a| (format!("{}.json", a.id), a.text.to_vec()));
    let around = beside.house.words.speak(|| pdf::Around {
        head_left: format!("{} {}", say!("Test record"), document.record),
        head_right: clean::plain(&record.device.tag),
        foot_left: document.foot.clone(),
        numbered: format!("{} {{n}} {} {{all}}", say!("page"), say!("of")),
        date: record.finished.clone(),
        carried,
        added: added.collect(),
        ..pdf::Around::default()
    });
    pdf::write(&document, &around, paper)
}
