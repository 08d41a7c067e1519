//! A text with its name, and places in it.
//!
//! Never in here: reading files. Changes when places are counted otherwise.

use std::sync::Arc;

/// A range of bytes in a source.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// First byte.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
}

/// A line and a column, both from 1, the column in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// A named text.
#[derive(Clone, Debug)]
pub struct Source {
    /// The name that messages give: a path as the user wrote it.
    pub name: Arc<str>,
    /// The text.
    pub text: Arc<str>,
    line_starts: Arc<[usize]>,
}

impl Source {
    /// Takes a text under a name.
    #[must_use]
    pub fn new(name: &str, text: &str) -> Self {
        let starts = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1));
        Self {
            name: name.into(),
            text: text.into(),
            line_starts: starts.collect(),
        }
    }

    /// The bytes of a span, widened to whole characters and kept inside the text.
    #[must_use]
    pub fn characters(&self, span: Span) -> std::ops::Range<usize> {
        let mut end = span.end.max(span.start).min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end += 1;
        }
        let mut start = span.start.min(end);
        while !self.text.is_char_boundary(start) {
            start -= 1;
        }
        start..end
    }

    /// The bytes of the lines that a span stands in, without the last one's end.
    #[must_use]
    pub fn lines_of(&self, span: Span) -> std::ops::Range<usize> {
        let range = self.characters(span);
        let start = self.text[..range.start].rfind('\n').map_or(0, |at| at + 1);
        let length = self.text[range.end..].find('\n');
        start..length.map_or(self.text.len(), |length| range.end + length)
    }

    /// The line and column of a byte.
    #[must_use]
    pub fn place(&self, byte: usize) -> Place {
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte -= 1;
        }
        let line = self.line_starts.partition_point(|start| *start <= byte);
        let start = self.line_starts[line - 1];
        Place {
            line,
            column: self.text[start..byte].chars().count() + 1,
        }
    }
}
