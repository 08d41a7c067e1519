//! Which columns of a file are wanted, and what the file does not say about itself.
//!
//! Never in here: reading. Changes when something else about a file has to be stated.

use crate::quantity::{DecimalSign, Unit};

/// How the columns wanted are found in a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Mapping {
    /// The column of times.
    pub time: TimeColumn,
    /// The columns wanted; at least one, each name once.
    pub columns: Vec<Wanted>,
    /// What separates cells; found where it is not stated and only one fits.
    pub separator: Option<Separator>,
    /// The decimal sign; found where it is not stated and the cells leave no doubt.
    pub decimal: Option<DecimalSign>,
    /// Where the headings are.
    pub header: Header,
}

/// The column of times.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeColumn {
    /// Which one.
    pub column: ColumnChoice,
    /// How times are written; found from the heading's unit and the first cell where it is not stated.
    pub form: Option<TimeForm>,
}

/// A column that is wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// What it is called in the trace.
    pub name: String,
    /// Which one it is in the file.
    pub column: ColumnChoice,
    /// The unit wanted: the heading's unit must be of its kind; where the heading has none, the cells are in this one.
    pub unit: Unit,
    /// The unit of the cells, stated whatever the heading says.
    pub written_in: Option<Unit>,
}

/// A column of the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ColumnChoice {
    /// By its heading, with or without the unit in it; letter case does not count unless two headings differ only by it.
    Heading(String),
    /// By its number, from 1.
    Number(usize),
}

/// What separates the cells of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// The tab character.
    Tab,
    /// `|`
    Bar,
    /// Blanks and tabs, however many; found only where no other separator fits.
    Blanks,
}

impl Separator {
    /// Those that are looked for, those at the end only where none before them fits.
    pub(super) const ALL: [Self; 5] = [
        Self::Comma,
        Self::Semicolon,
        Self::Tab,
        Self::Bar,
        Self::Blanks,
    ];

    /// The byte between two cells; of blanks there may be several.
    pub(super) fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Bar => b'|',
            Self::Blanks => b' ',
        }
    }

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Comma => "comma",
            Self::Semicolon => "semicolon",
            Self::Tab => "tab",
            Self::Bar => "bar",
            Self::Blanks => "blanks",
        }
    }
}

/// Where the headings of a file are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Header {
    /// In the first line that has all headings wanted; with columns by number, in the line before the first readings.
    #[default]
    Find,
    /// In this line, from 1.
    Line(usize),
    /// Nowhere; all columns are chosen by number.
    None,
}

/// How times are written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TimeForm {
    /// Numbers in a unit of time.
    Number(Unit),
    /// `hh:mm:ss` with or without a fraction; hours may go beyond 24.
    HoursMinutesSeconds,
    /// `mm:ss` with or without a fraction; minutes may go beyond 60.
    MinutesSeconds,
    /// `2026-03-09 08:12:40` or with `T`, with or without a fraction and an offset (`Z`, `+01:00`).
    Timestamp,
}
