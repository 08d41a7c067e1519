//! What is wrong in a row, and where.
//!
//! Never in here: what is odd but readable. Changes when a fault says more.

use std::fmt;

/// Longest part of a cell that is shown, in characters.
const SHOWN: usize = 60;

/// Something that keeps a row from being taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The line of the file that the row begins in, from 1; zero where it stands in no file.
    pub line: usize,
    /// The column, from 1, with its heading; nothing where the row as a whole is faulty.
    pub column: Option<(usize, String)>,
    /// The cell, or the row as it stands.
    pub cell: String,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: String,
}

/// Text of a file as it stands in a message: short, and without control characters.
pub(super) fn shown(text: &str) -> String {
    let mut short: String = text
        .chars()
        .take(SHOWN)
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect();
    if text.chars().nth(SHOWN).is_some() {
        short.push('…');
    }
    short
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line > 0 {
            write!(f, "line {}, ", self.line)?;
        }
        match &self.column {
            Some((0, name)) => write!(f, "`{}`: ", shown(name))?,
            Some((number, heading)) => write!(f, "column {number} `{}`: ", shown(heading))?,
            None => f.write_str("the row: ")?,
        }
        if !self.cell.is_empty() {
            write!(f, "`{}`: ", shown(&self.cell))?;
        }
        write!(f, "{}; {}", self.message, self.help)
    }
}
