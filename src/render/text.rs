//! Plain text of 80 columns that reads well aloud.
//!
//! Never in here: what is told. Changes when lines are broken otherwise.

use minijinja::AutoEscape;

use crate::record::Record;

use super::held::{JOINT, joined};
use super::{Document, RenderError};

pub(super) const TEMPLATE: &str = include_str!("templates/record.txt");
const WIDTH: usize = 80;
/// Deepest indent, so that text keeps room.
const MAX_INDENT: usize = 40;

pub(super) fn write(record: &Record, document: &Document) -> Result<String, RenderError> {
    super::template::render_own(record, document, AutoEscape::None, TEMPLATE)
}

/// The filter `wrap`: lines of 80 columns, the first after `first` blanks, the others after `rest`.
pub(super) fn wrap(text: String, first: Option<usize>, rest: Option<usize>) -> String {
    let first = first.unwrap_or(0).min(MAX_INDENT);
    let rest = rest.unwrap_or(first).min(MAX_INDENT);
    let (initial, subsequent) = (" ".repeat(first), " ".repeat(rest));
    let options = textwrap::Options::new(WIDTH)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .initial_indent(&initial)
        .subsequent_indent(&subsequent);
    let joined = joined(&text.replace('\n', " "));
    textwrap::fill(&joined, &options).replace(JOINT, " ")
}
