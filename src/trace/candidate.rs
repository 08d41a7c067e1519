//! A line that may have the headings: its cells, and which of the columns wanted are among them.
//!
//! Never in here: choosing among lines. Changes when headings are compared otherwise.

use super::fault::{TraceFault, quoted};
use super::heading::Heading;
use super::rows::{cells, decoded};
use super::suffix::unit_of;
use super::{ColumnChoice, MAX_LINE, Separator};

/// Longest cell that is compared with a missing heading.
const COMPARED: usize = 80;

/// One line of the beginning of a file.
pub(super) struct Line<'a> {
    /// From 1.
    pub number: usize,
    /// Without what ends it.
    pub bytes: &'a [u8],
    /// The byte at which it begins.
    pub start: usize,
    /// The byte at which the next one begins.
    pub end: usize,
}

/// The first lines from a byte on, at most so many, and whether a line over the limit ended them.
pub(super) fn lines(bytes: &[u8], from: usize, most: usize) -> (Vec<Line<'_>>, bool) {
    let mut found: Vec<Line<'_>> = Vec::new();
    let mut start = from;
    while start < bytes.len() && found.len() < most {
        let rest = &bytes[start..bytes.len().min(start + MAX_LINE + 2)];
        let length = rest.iter().position(|b| matches!(b, b'\n' | b'\r'));
        if length.unwrap_or(rest.len()) > MAX_LINE {
            return (found, true);
        }
        let length = length.unwrap_or(rest.len());
        let ending =
            usize::from(length < rest.len()) + usize::from(rest[length..].starts_with(b"\r\n"));
        found.push(Line {
            number: found.len() + 1,
            bytes: &rest[..length],
            start,
            end: start + length + ending,
        });
        start += length + ending;
    }
    (found, false)
}

/// A line taken apart with one separator.
pub(super) struct Candidate<'a> {
    pub separator: Separator,
    pub line: &'a Line<'a>,
    /// The line behind it that is not blank.
    pub next: Option<&'a Line<'a>>,
    pub cells: Vec<Vec<u8>>,
}

impl Candidate<'_> {
    /// Which of the columns wanted is where.
    pub fn columns(&self, choices: &[&ColumnChoice]) -> Option<Vec<usize>> {
        choices.iter().map(|c| self.column(c).ok()).collect()
    }

    /// Where one column is.
    pub fn column(&self, choice: &ColumnChoice) -> Result<usize, Missing> {
        let name = match choice {
            ColumnChoice::Number(n) if (1..=self.cells.len()).contains(n) => return Ok(n - 1),
            ColumnChoice::Number(_) => return Err(Missing::NotThere),
            ColumnChoice::Heading(name) => name,
        };
        let folded = name.trim().to_lowercase();
        let rank = |cell: &Vec<u8>| {
            let text = decoded(cell);
            // A heading begins with its name; only then its unit is worth reading.
            let begins = text.to_lowercase().starts_with(&folded);
            begins.then(|| Heading::new(&text).answers(name)).flatten()
        };
        let ranked = self.cells.iter().enumerate();
        let mut fits: Vec<(u8, usize)> = ranked
            .filter_map(|(index, cell)| Some((rank(cell)?, index)))
            .collect();
        fits.sort_unstable();
        match &fits[..] {
            [] => Err(Missing::NotThere),
            [(first, _), (second, _), ..] if first == second => Err(Missing::Twice),
            [(_, index), ..] => Ok(*index),
        }
    }

    /// Whether the cells of these columns look like readings, in the line behind it.
    pub fn is_followed(&self, columns: &[usize]) -> bool {
        let next = self.next.map(|l| cells(l.bytes, self.separator));
        next.is_some_and(|cells| are_readings(&cells, columns))
    }

    /// How many of the columns are in it, and how like its headings are to the names.
    pub fn likeness(&self, choices: &[&ColumnChoice]) -> (usize, f64) {
        let found = choices.iter().filter(|c| self.column(c).is_ok()).count();
        let near = choices.iter().filter_map(|c| match c {
            ColumnChoice::Heading(name) => self.nearest(name).map(|n| n.0),
            ColumnChoice::Number(_) => None,
        });
        (found, near.sum())
    }

    /// The heading that is most like a name, and how much.
    fn nearest(&self, name: &str) -> Option<(f64, String)> {
        let short = self
            .cells
            .iter()
            .filter(|c| (1..=COMPARED).contains(&c.len()));
        let like = short.map(|c| {
            let text = decoded(c).into_owned();
            let score = strsim::jaro_winkler(&name.to_lowercase(), &text.to_lowercase());
            (score, text)
        });
        like.max_by(|a, b| a.0.total_cmp(&b.0))
    }
}

/// Why a column is not found.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Missing {
    NotThere,
    Twice,
}

/// Whether the cells of these columns look like readings: digits, signs, colons and what timestamps have, or a number with a
/// unit.
pub(super) fn are_readings(cells: &[Vec<u8>], columns: &[usize]) -> bool {
    let reading = |cell: &Vec<u8>| {
        cell.iter().any(u8::is_ascii_digit)
            && cell
                .iter()
                .all(|b| b.is_ascii_digit() || b"+-.,: TZEet".contains(b))
            || unit_of(cell).is_some()
    };
    columns.iter().all(|c| cells.get(*c).is_some_and(reading))
}

impl Candidate<'_> {
    /// What to say of a column that is not found.
    pub fn fault(&self, choice: &ColumnChoice, why: Missing) -> TraceFault {
        let row = self.line.number;
        let name = match choice {
            ColumnChoice::Number(n) => {
                let message = format!("there is no column {n}, the row has {}", self.cells.len());
                return TraceFault::new(row, 0, message, "columns count from 1");
            }
            ColumnChoice::Heading(name) => quoted(name),
        };
        if why == Missing::Twice {
            let message = format!("more than one heading fits {name}");
            let help = "choose the column by its number, or by the whole heading";
            return TraceFault::new(row, 0, message, help);
        }
        let nearest = match choice {
            ColumnChoice::Heading(name) => self.nearest(name),
            ColumnChoice::Number(_) => None,
        };
        let help = match nearest {
            Some((_, near)) => format!("the nearest heading is {}", quoted(&near)),
            None => "state the line of the headings: `header: 12`".to_owned(),
        };
        TraceFault::new(row, 0, format!("there is no column {name}"), &help)
    }
}
