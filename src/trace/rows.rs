//! The rows of a file one after the other, with the byte at which each begins.
//!
//! Never in here: what cells mean. Changes when rows are told apart otherwise.

use std::borrow::Cow;

use csv::{ByteRecord, Reader, ReaderBuilder};

use super::MAX_LINE;

/// Reads rows from a byte of the file on; rows whose cells are all blank are passed over.
pub(super) struct Rows<'a> {
    bytes: &'a [u8],
    base: usize,
    reader: Reader<&'a [u8]>,
    record: ByteRecord,
    start: usize,
}

/// What came next.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Next {
    /// A row; its cells are [`Rows::record`].
    Row,
    /// A row that is too long, or a quotation mark that is never closed.
    TooLong,
    /// Nothing.
    End,
}

impl<'a> Rows<'a> {
    pub fn new(bytes: &'a [u8], from: usize, separator: u8) -> Self {
        let reader = ReaderBuilder::new()
            .delimiter(separator)
            .has_headers(false)
            .flexible(true)
            .from_reader(&bytes[from..]);
        Self {
            bytes,
            base: from,
            reader,
            record: ByteRecord::new(),
            start: from,
        }
    }

    /// Goes to the next row.
    pub fn next(&mut self) -> Next {
        loop {
            let before = self.at();
            // Reading from memory into bytes has no way to fail; if it had, the file would end here.
            if !self
                .reader
                .read_byte_record(&mut self.record)
                .unwrap_or(false)
            {
                return Next::End;
            }
            let after = self.at();
            let breaks = self.bytes[before..after]
                .iter()
                .take_while(|b| is_break(**b))
                .count();
            self.start = before + breaks;
            if after - self.start > MAX_LINE {
                return Next::TooLong;
            }
            if self.record.iter().any(|cell| !cell.trim_ascii().is_empty()) {
                return Next::Row;
            }
        }
    }

    fn at(&self) -> usize {
        let read = usize::try_from(self.reader.position().byte()).unwrap_or(usize::MAX);
        self.base.saturating_add(read).min(self.bytes.len())
    }

    /// The cells of the row.
    pub fn record(&self) -> &ByteRecord {
        &self.record
    }

    /// The byte at which the row begins.
    pub fn start(&self) -> usize {
        self.start
    }
}

fn is_break(byte: u8) -> bool {
    matches!(byte, b'\n' | b'\r')
}

/// The number of the line in which a byte is, from 1; `\n`, `\r\n` and `\r` end a line.
pub(super) fn line_of(bytes: &[u8], at: usize) -> usize {
    let before = &bytes[..at.min(bytes.len())];
    let ends = before.iter().enumerate().filter(|(index, byte)| {
        **byte == b'\n' || (**byte == b'\r' && bytes.get(index + 1) != Some(&b'\n'))
    });
    1 + ends.count()
}

/// The cells of one line, without blanks around them; none of a blank line.
pub(super) fn cells(line: &[u8], separator: u8) -> Vec<Vec<u8>> {
    let owned = |cell: &[u8]| cell.trim_ascii().to_owned();
    // Without quotation marks every separator parts, and a reader need not be set up.
    if !line.contains(&b'"') {
        let all: Vec<Vec<u8>> = line.split(|b| *b == separator).map(owned).collect();
        let blank = all.iter().all(Vec::is_empty);
        return if blank { Vec::new() } else { all };
    }
    let mut rows = Rows::new(line, 0, separator);
    match rows.next() {
        Next::Row => rows.record().iter().map(owned).collect(),
        Next::TooLong | Next::End => Vec::new(),
    }
}

/// Text of bytes: UTF-8, or else Latin-1, in which every byte is a character.
pub(super) fn decoded(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect()),
    }
}

/// Whether bytes are neither UTF-8 nor ASCII with the Latin-1 signs of units: `°`, `µ`, `²`, `³`.
pub(super) fn is_foreign(bytes: &[u8]) -> bool {
    let unit_sign = |b: &u8| b.is_ascii() || matches!(b, 0xB0 | 0xB5 | 0xB2 | 0xB3);
    std::str::from_utf8(bytes).is_err() && !bytes.iter().all(unit_sign)
}
