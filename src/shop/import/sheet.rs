//! A file as a sheet: encoding, separator, headings, rows.
//!
//! Never in here: what columns mean. Changes when another way of saving a spreadsheet is met.

use crate::shop::devices::MAX_DEVICES;
use crate::shop::rows::{Row, first_line, rows, separator_of};

/// Largest file that is read, in bytes.
pub const MAX_FILE: u64 = 64 * 1024 * 1024;
/// Most rows below the headings.
pub const MAX_ROWS: usize = MAX_DEVICES;
/// Most columns.
const MAX_COLUMNS: usize = 500;

/// How the letters of a file are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, with or without a byte order mark.
    #[default]
    Utf8,
    /// Windows-1252, of older spreadsheets.
    Windows1252,
}

impl Encoding {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Utf8, Self::Windows1252];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Windows1252 => "windows-1252",
        }
    }

    /// The encoding of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|e| e.name() == name)
    }
}

/// A file, taken apart.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The headings, without blanks around them.
    pub headings: Vec<String>,
    /// The rows below them; blank ones are left out.
    pub rows: Vec<Row>,
    /// What stands between cells.
    pub separator: char,
    /// The bytes that the places of rows count in.
    pub bytes: Vec<u8>,
}

/// Takes a file apart.
///
/// # Errors
/// What is no CSV text; headings that can't be read; too many rows or columns.
pub fn read_sheet(bytes: Vec<u8>, encoding: Encoding) -> Result<Sheet, String> {
    let bytes = plain(bytes, encoding)?;
    let (mut from, mut separator) = (0, separator_of(first_line(&bytes)));
    // Some spreadsheets write the separator into a line of its own.
    let first = bytes
        .split(|b| matches!(b, b'\n' | b'\r'))
        .next()
        .unwrap_or_default();
    if let [b's' | b'S', b'e' | b'E', b'p' | b'P', b'=', named] = first {
        separator = *named;
        from = first.len();
    }
    let mut all = rows(&bytes, from, separator);
    all.retain(|row| !row.is_blank());
    if all.is_empty() {
        return Err("the file is empty; its first line names the columns".to_owned());
    }
    let head = all.remove(0);
    if head.broken.is_some() {
        return Err(format!(
            "line {}: the headings have a quotation mark that does not close; mend that line",
            head.line
        ));
    }
    if head.cells.len() > MAX_COLUMNS {
        return Err(format!(
            "more than {MAX_COLUMNS} columns; leave out those that are of no use here"
        ));
    }
    if all.len() > MAX_ROWS {
        return Err(format!("more than {MAX_ROWS} rows; split the file"));
    }
    let heading = |cell: &Vec<u8>| {
        let text = std::str::from_utf8(cell).map_err(|_| {
            "the headings are not UTF-8 text; save the file as CSV UTF-8, or say `--encoding windows-1252` where that is how it is written"
        })?;
        Ok(text.split_whitespace().collect::<Vec<_>>().join(" "))
    };
    let headings: Result<Vec<String>, &str> = head.cells.iter().map(heading).collect();
    Ok(Sheet {
        headings: headings?,
        rows: all,
        separator: char::from(separator),
        bytes,
    })
}

/// The bytes as UTF-8, as far as they are.
fn plain(bytes: Vec<u8>, encoding: Encoding) -> Result<Vec<u8>, String> {
    match &bytes[..] {
        [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => {
            Err("the file is UTF-16 text; save it as `CSV UTF-8`".to_owned())
        }
        [b'P', b'K', 3, 4, ..] | [0xD0, 0xCF, 0x11, 0xE0, ..] => {
            Err("this is a spreadsheet's own file; save it as `CSV UTF-8`".to_owned())
        }
        [0xEF, 0xBB, 0xBF, rest @ ..] => Ok(rest.to_vec()),
        _ if encoding == Encoding::Windows1252 => {
            let text: String = bytes.iter().map(|b| windows_1252(*b)).collect();
            Ok(text.into_bytes())
        }
        _ => Ok(bytes),
    }
}

/// The character of a byte in Windows-1252 (the WHATWG encoding standard's table; its five free places are control
/// characters).
fn windows_1252(byte: u8) -> char {
    const HIGH: [char; 32] = [
        '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž',
        '\u{8f}', '\u{90}', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}',
        'ž', 'Ÿ',
    ];
    match byte {
        0x80..=0x9F => HIGH[usize::from(byte - 0x80)],
        other => char::from(other),
    }
}
