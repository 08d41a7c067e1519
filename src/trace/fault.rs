//! What is wrong in a file, and where.
//!
//! Never in here: what is odd but readable. Changes when a fault says more.

use std::fmt;

/// Most faults that are kept; reading ends at the last of them.
const MOST: usize = 50;

/// A fault that keeps a file from being a trace.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TraceFault {
    /// The line of the file, from 1; zero where the fault is in no line.
    pub row: usize,
    /// The column, from 1; zero where the fault is in no column.
    pub column: usize,
    /// The heading of the column; empty where it has none.
    pub heading: String,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: String,
}

impl TraceFault {
    pub(super) fn new(row: usize, column: usize, message: String, help: &str) -> Self {
        Self {
            row,
            column,
            heading: String::new(),
            message,
            help: help.to_owned(),
        }
    }

    /// The same fault with the heading of its column.
    pub(super) fn below(mut self, heading: Option<&str>) -> Self {
        self.heading = heading.map(|h| h.trim().to_owned()).unwrap_or_default();
        self
    }

    /// A fault of the file as a whole.
    pub(super) fn of_file(message: &str, help: &str) -> Self {
        Self::new(0, 0, message.to_owned(), help)
    }
}

impl fmt::Display for TraceFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.row, self.column) {
            (0, 0) => {}
            (row, 0) => write!(f, "row {row}")?,
            (0, column) => write!(f, "column {column}")?,
            (row, column) => write!(f, "row {row}, column {column}")?,
        }
        if !self.heading.is_empty() {
            write!(f, " {}", quoted(&self.heading))?;
        }
        if (self.row, self.column) != (0, 0) {
            f.write_str(": ")?;
        }
        write!(f, "{}; {}", self.message, self.help)
    }
}

impl std::error::Error for TraceFault {}

/// Faults as they are met, up to a number.
#[derive(Debug, Default)]
pub(super) struct Faults(Vec<TraceFault>);

impl Faults {
    /// Keeps a fault; false once there are enough.
    pub fn add(&mut self, fault: TraceFault) -> bool {
        self.0.push(fault);
        self.0.len() < MOST
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn into_list(self) -> Vec<TraceFault> {
        self.0
    }
}

/// Text of a file as it stands in a message: short, and without control characters.
pub(super) fn quoted(text: &str) -> String {
    const LONGEST: usize = 40;
    let mut shown: String = text
        .trim()
        .chars()
        .take(LONGEST)
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect();
    if text.trim().chars().count() > LONGEST {
        shown.push('…');
    }
    format!("`{shown}`")
}
