//! The rows of a file one after the other, with the byte at which each begins.
//!
//! Never in here: what cells mean. Changes when rows are told apart otherwise.

use std::borrow::Cow;

use csv::{ByteRecord, Reader, ReaderBuilder};

use super::{MAX_LINE, Separator};

/// What parts no cells in a text file.
const UNIT_SEPARATOR: u8 = 0x1F;

/// Reads rows from a byte of the file on; rows whose cells are all blank are passed over.
pub(super) struct Rows<'a> {
    bytes: &'a [u8],
    base: usize,
    reader: Reader<&'a [u8]>,
    record: ByteRecord,
    separator: Separator,
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
    pub fn new(bytes: &'a [u8], from: usize, separator: Separator) -> Self {
        let blanks = separator == Separator::Blanks;
        let reader = ReaderBuilder::new()
            // A line that is parted at blanks is one cell for the reader.
            .delimiter(if blanks {
                UNIT_SEPARATOR
            } else {
                separator.byte()
            })
            .quoting(!blanks)
            .has_headers(false)
            .flexible(true)
            .from_reader(&bytes[from..]);
        Self {
            bytes,
            base: from,
            reader,
            record: ByteRecord::new(),
            separator,
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
            if self.separator == Separator::Blanks {
                let line = self.bytes[self.start..after].trim_ascii();
                self.record = at_blanks(line).into_iter().collect();
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
pub(super) fn cells(line: &[u8], separator: Separator) -> Vec<Vec<u8>> {
    let owned = |cell: &[u8]| cell.trim_ascii().to_owned();
    if separator == Separator::Blanks {
        return at_blanks(line).into_iter().map(owned).collect();
    }
    // Without quotation marks every separator parts, and a reader need not be set up.
    if !line.contains(&b'"') {
        let all = line.split(|b| *b == separator.byte()).map(owned);
        let all: Vec<Vec<u8>> = all.collect();
        let blank = all.iter().all(Vec::is_empty);
        return if blank { Vec::new() } else { all };
    }
    let mut rows = Rows::new(line, 0, separator);
    match rows.next() {
        Next::Row => rows.record().iter().map(owned).collect(),
        Next::TooLong | Next::End => Vec::new(),
    }
}

/// The cells of a line of headings. Between blanks a heading may hold single ones: `Time (s)  Mass (g)`; where none of its blanks
/// are several, a unit in brackets belongs to the word before it.
pub(super) fn headings(line: &[u8], separator: Separator) -> Vec<Vec<u8>> {
    if separator != Separator::Blanks || line.contains(&b'"') {
        return cells(line, separator);
    }
    let line = line.trim_ascii();
    let several = line.windows(2).any(|w| is_blank(w[0]) && is_blank(w[1]));
    let mut all: Vec<Vec<u8>> = Vec::new();
    let mut blanks = 2;
    for word in line.split(|b| is_blank(*b)) {
        if word.is_empty() {
            blanks += 1;
            continue;
        }
        let joined = match several {
            true => blanks < 2,
            false => matches!(word[0], b'(' | b'['),
        };
        match all.last_mut().filter(|_| joined) {
            Some(last) => last.extend([b" ", word].concat()),
            None => all.push(word.to_owned()),
        }
        blanks = 1;
    }
    all
}

/// The words of a line; blanks inside quotation marks part nothing.
fn at_blanks(line: &[u8]) -> Vec<&[u8]> {
    let mut all = Vec::new();
    let mut rest = line.trim_ascii();
    while let Some(first) = rest.first() {
        let quoted = rest[1..].iter().position(|b| *b == b'"');
        let (word, behind) = match (first, quoted) {
            (b'"', Some(end)) => (&rest[1..=end], &rest[end + 2..]),
            _ => {
                let end = rest.iter().position(|b| is_blank(*b));
                rest.split_at(end.unwrap_or(rest.len()))
            }
        };
        all.push(word);
        rest = behind.trim_ascii_start();
    }
    all
}

fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t')
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
