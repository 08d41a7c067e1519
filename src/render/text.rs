//! Plain text of 80 columns that reads well aloud.
//!
//! Never in here: what is told. Changes when lines are broken otherwise.

use minijinja::AutoEscape;

use crate::record::Record;

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

/// Stands for a blank at which no line is broken.
const JOINT: char = '\u{a0}';
/// Longest unit that is kept with its number, in characters with what follows it.
const UNIT: usize = 7;

/// Most lines to write on that are held together.
const TOGETHER: usize = 4;

/// The text with what belongs together held together: a number and its unit, a sign and its number, lines to write on and
/// their unit.
fn joined(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let mut lines = 0;
    for word in text.split(' ') {
        let before = out.chars().next_back();
        let first = word.chars().next();
        let is_unit = before.is_some_and(|c| c.is_ascii_digit())
            && first.is_some_and(|c| c.is_alphabetic() || matches!(c, '%' | '°' | '±'))
            && word.chars().count() <= UNIT;
        let is_line = word.starts_with("____");
        let is_beside = before == Some('_')
            && (is_line && lines < TOGETHER || !is_line && word.chars().count() <= UNIT);
        lines = match (is_line, is_beside) {
            (true, true) => lines + 1,
            (true, false) => 1,
            (false, _) => 0,
        };
        let is_signed = matches!(before, Some('±' | '≈' | '<' | '>'));
        if before.is_some() {
            out.push(if is_unit || is_signed || is_beside {
                JOINT
            } else {
                ' '
            });
        }
        out.push_str(word);
    }
    out
}
