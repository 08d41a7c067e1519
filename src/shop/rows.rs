//! A table of text taken apart: rows with their places, so that a quotation mark that is never closed costs one row.
//!
//! Never in here: what cells mean. Changes when rows are told apart otherwise.

/// Longest quoted text that may run over line ends, in bytes.
const MAX_QUOTED: usize = 16 * 1024;

/// What is wrong with a row as such.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Broken {
    /// A quotation mark opens the cell of this index and nothing closes it.
    Unclosed(usize),
    /// Something stands between a closing quotation mark and the next separator, in the cell of this index.
    BehindQuote(usize),
}

/// A row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// The line that it begins in, from 1.
    pub line: usize,
    /// Its first byte.
    pub start: usize,
    /// The byte behind its last one, without the line end.
    pub end: usize,
    /// The cells without quotation marks.
    pub cells: Vec<Vec<u8>>,
    /// What is wrong with it.
    pub broken: Option<Broken>,
}

impl Row {
    /// Whether all its cells are blank.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        self.broken.is_none() && self.cells.iter().all(|c| c.trim_ascii().is_empty())
    }
}

/// A row as far as it could be read from some bytes.
struct Lexed {
    cells: Vec<Vec<u8>>,
    broken: Option<Broken>,
    /// Whether a quotation mark stands inside a cell that does not begin with one.
    stray: bool,
}

/// The separator of a first row: of `,` `;` and the tab the one that stands most often outside quotation marks.
#[must_use]
pub fn separator_of(first: &[u8]) -> u8 {
    let count = |separator: u8| {
        let mut inside = false;
        let outside = first.iter().filter(|b| {
            inside ^= **b == b'"';
            !inside && **b == separator
        });
        outside.count()
    };
    // The last of equals wins: a comma, if there is none of them.
    [b'\t', b';', b',']
        .into_iter()
        .max_by_key(|s| count(*s))
        .unwrap_or(b',')
}

/// The first line with something in it.
#[must_use]
pub fn first_line(bytes: &[u8]) -> &[u8] {
    let mut lines = bytes.split(|b| is_break(*b));
    lines
        .find(|l| !l.trim_ascii().is_empty())
        .unwrap_or_default()
}

fn is_break(byte: u8) -> bool {
    matches!(byte, b'\n' | b'\r')
}

/// All rows from a byte on, blank ones too; `width` cells are awaited, or as many as the first row has.
#[must_use]
pub fn rows(bytes: &[u8], from: usize, separator: u8) -> Vec<Row> {
    let mut reader = Reader {
        bytes,
        separator,
        width: None,
    };
    let mut found = Vec::new();
    let mut start = from;
    let mut line = 1 + line_ends(&bytes[..from]);
    while start < bytes.len() {
        let row = reader.row(start, line);
        start = reader.behind(row.end);
        line += 1 + line_ends(&bytes[row.start..row.end]);
        if reader.width.is_none() && !row.is_blank() {
            reader.width = Some(row.cells.len());
        }
        found.push(row);
    }
    found
}

/// How many lines end in some bytes: `\n`, `\r\n` and `\r` end one.
fn line_ends(bytes: &[u8]) -> usize {
    let ends = bytes.iter().enumerate().filter(|(at, byte)| {
        **byte == b'\n' || (**byte == b'\r' && bytes.get(at + 1) != Some(&b'\n'))
    });
    ends.count()
}

struct Reader<'a> {
    bytes: &'a [u8],
    separator: u8,
    width: Option<usize>,
}

impl Reader<'_> {
    fn row(&mut self, start: usize, line: usize) -> Row {
        let end = self.line_end(start);
        let alone = lex(&self.bytes[start..end], self.separator);
        if matches!(alone.broken, Some(Broken::Unclosed(_)))
            && let Some((end, cells)) = self.joined(start, end)
        {
            return Row {
                line,
                start,
                end,
                cells,
                broken: None,
            };
        }
        Row {
            line,
            start,
            end,
            cells: alone.cells,
            broken: alone.broken,
        }
    }

    /// The row with the lines that its open quotation mark runs over, if they are one row for sure: it closes, has the
    /// number of cells that is awaited, and no line of it is a row by itself.
    fn joined(&self, start: usize, first_end: usize) -> Option<(usize, Vec<Vec<u8>>)> {
        let mut end = first_end;
        loop {
            let next = self.behind(end);
            let reach = &self.bytes[next..self.bytes.len().min(start + MAX_QUOTED)];
            let quote = next + reach.iter().position(|b| *b == b'"')?;
            let mut at = next;
            while at <= quote {
                let line_end = self.line_end(at);
                if self.is_row(&self.bytes[at..line_end]) {
                    return None;
                }
                end = line_end;
                at = self.behind(line_end).max(at + 1);
            }
            let joined = lex(&self.bytes[start..end], self.separator);
            match joined.broken {
                None if self.width.is_none_or(|w| w == joined.cells.len()) => {
                    return Some((end, joined.cells));
                }
                Some(Broken::Unclosed(_)) => {}
                _ => return None,
            }
        }
    }

    /// Whether a line is a row by itself.
    fn is_row(&self, line: &[u8]) -> bool {
        let Some(width) = self.width.filter(|w| *w > 1) else {
            return false;
        };
        let alone = lex(line, self.separator);
        let whole = !matches!(alone.broken, Some(Broken::BehindQuote(_))) && !alone.stray;
        whole && alone.cells.len() == width
    }

    fn line_end(&self, start: usize) -> usize {
        let rest = &self.bytes[start..];
        start + rest.iter().position(|b| is_break(*b)).unwrap_or(rest.len())
    }

    /// The byte behind a line end.
    fn behind(&self, end: usize) -> usize {
        let rest = &self.bytes[end..];
        end + match rest {
            [b'\r', b'\n', ..] => 2,
            [_, ..] => 1,
            [] => 0,
        }
    }
}

/// Takes bytes apart as one row.
fn lex(bytes: &[u8], separator: u8) -> Lexed {
    let mut lexed = Lexed {
        cells: Vec::new(),
        broken: None,
        stray: false,
    };
    let mut at = 0;
    loop {
        let rest = &bytes[at..];
        let length = if rest.first() == Some(&b'"') {
            quoted(rest, separator, &mut lexed)
        } else {
            let length = rest.iter().position(|b| *b == separator);
            let cell = &rest[..length.unwrap_or(rest.len())];
            lexed.stray |= cell.contains(&b'"');
            lexed.cells.push(cell.to_vec());
            cell.len()
        };
        at += length;
        if at >= bytes.len() {
            return lexed;
        }
        at += 1;
    }
}

/// A cell that begins with a quotation mark; gives how many bytes it takes.
fn quoted(rest: &[u8], separator: u8, lexed: &mut Lexed) -> usize {
    let index = lexed.cells.len();
    let mut cell = Vec::new();
    let mut at = 1;
    loop {
        match (rest.get(at), rest.get(at + 1)) {
            (None, _) => {
                lexed.broken.get_or_insert(Broken::Unclosed(index));
                break;
            }
            (Some(b'"'), Some(b'"')) => {
                cell.push(b'"');
                at += 2;
            }
            (Some(b'"'), _) => {
                at += 1;
                break;
            }
            (Some(byte), _) => {
                cell.push(*byte);
                at += 1;
            }
        }
    }
    let behind = rest[at.min(rest.len())..]
        .iter()
        .position(|b| *b == separator)
        .unwrap_or(rest.len().saturating_sub(at));
    if !rest[at.min(rest.len())..][..behind].trim_ascii().is_empty() {
        lexed.broken.get_or_insert(Broken::BehindQuote(index));
        cell.extend(&rest[at..at + behind]);
    }
    lexed.cells.push(cell);
    at + behind
}

/// A cell as it is written: in quotation marks where it needs them.
#[must_use]
pub fn written(cell: &str, separator: char) -> String {
    let needs = |c: char| c == separator || matches!(c, '"' | '\n' | '\r');
    let blanks = cell.trim() != cell;
    if blanks || cell.contains(needs) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}
