//! The rows of readings, in one pass over the bytes, and the faults of their cells.
//!
//! Never in here: headings and units. Changes when a row may look otherwise.

use csv::ByteRecord;

use super::MAX_ROWS;
use super::clock::Clock;
use super::fault::{Faults, TraceFault, quoted};
use super::layout::{Layout, not_utf8, too_long};
use super::packed::Packed;
use super::rows::{Next, Rows, decoded, is_foreign, line_of};
use super::suffix::Cells;
use crate::quantity::{DecimalSign, Unit};

/// Rows between two places that are kept, from which the line of any row is found again.
pub(super) const MARK_EVERY: usize = 1024;

/// Readings as they are collected row by row.
pub(super) struct Readings {
    /// Times in s.
    pub times: Packed,
    /// Values in the units of the cells, column by column.
    pub values: Vec<Packed>,
    /// The byte at which every 1024th row begins.
    pub marks: Vec<usize>,
}

/// What rows are read with.
struct Reader<'a> {
    bytes: &'a [u8],
    layout: &'a Layout,
    clock: Clock,
    decimal: DecimalSign,
    columns: Vec<Cells>,
    last: f64,
}

impl Readings {
    /// Reads all rows, or tells all faults up to a number.
    pub fn of(
        bytes: &[u8],
        layout: &Layout,
        clock: Clock,
        decimal: DecimalSign,
        units: &[Unit],
    ) -> Result<Self, Vec<TraceFault>> {
        let mut reader = Reader {
            bytes,
            layout,
            clock,
            decimal,
            columns: units.iter().map(|u| Cells::of(u, decimal)).collect(),
            last: f64::NEG_INFINITY,
        };
        let room = room(&bytes[layout.from..], units.len() + 1);
        let mut readings = Self {
            times: Packed::with_room(room),
            values: units.iter().map(|_| Packed::with_room(room)).collect(),
            marks: Vec::new(),
        };
        let mut faults = Faults::default();
        let mut rows = Rows::new(bytes, layout.from, layout.separator);
        loop {
            let fault = match rows.next() {
                Next::End => break,
                Next::TooLong => too_long(line_of(bytes, rows.start())),
                Next::Row if readings.times.len() == MAX_ROWS => reader.too_many(rows.start()),
                Next::Row => {
                    if readings.times.len().is_multiple_of(MARK_EVERY) {
                        readings.marks.push(rows.start());
                    }
                    if reader.row(rows.record(), rows.start(), &mut readings, &mut faults) {
                        continue;
                    }
                    break;
                }
            };
            faults.add(fault);
            break;
        }
        if faults.is_empty() {
            Ok(readings)
        } else {
            Err(faults.into_list())
        }
    }
}

/// Rows to make room for: as many as there are lines, and no more than so many columns could have.
fn room(bytes: &[u8], columns: usize) -> usize {
    let ends = |sign| bytes.iter().filter(|b| **b == sign).count();
    let lines = ends(b'\n').max(ends(b'\r')) + 1;
    // A cell takes a digit and what ends it.
    lines.min(bytes.len() / (2 * columns) + 1).min(MAX_ROWS)
}

impl Reader<'_> {
    /// Takes a row in; false once there are enough faults.
    fn row(
        &mut self,
        record: &ByteRecord,
        start: usize,
        into: &mut Readings,
        faults: &mut Faults,
    ) -> bool {
        let place = self.layout.columns[0];
        let Some(cell) = record.get(place) else {
            return faults.add(self.too_narrow(start, place, record.len()));
        };
        match self.clock.read(cell) {
            Some(time) if time >= self.last => {
                self.last = time;
                into.times.push(time);
            }
            Some(_) => {
                if !faults.add(self.falling(start, place, cell)) {
                    return false;
                }
            }
            None => {
                let help = self.clock.wanted();
                if !faults.add(self.unreadable(start, place, cell, help)) {
                    return false;
                }
            }
        }
        for (n, values) in into.values.iter_mut().enumerate() {
            let place = self.layout.columns[n + 1];
            let cell = record.get(place).unwrap_or_default();
            let Some(number) = self.columns[n].number(cell) else {
                let fault = match record.get(place) {
                    Some(_) => self.no_number(start, n, cell),
                    None => self.too_narrow(start, place, record.len()),
                };
                if !faults.add(fault) {
                    return false;
                }
                continue;
            };
            values.push(number);
        }
        let width = self.layout.headings.len();
        let surplus = |cell: &[u8]| !cell.trim_ascii().is_empty();
        if width > 0 && record.len() > width && record.iter().skip(width).any(surplus) {
            return faults.add(self.too_wide(start, record.len()));
        }
        true
    }

    fn number_wanted(&self) -> &'static str {
        match self.decimal {
            DecimalSign::Point => {
                "a cell holds one number, decimal sign `.`, no grouping, and at most the unit of its column; state the decimal sign if it is another"
            }
            DecimalSign::Comma => {
                "a cell holds one number, decimal sign `,`, no grouping, and at most the unit of its column; state the decimal sign if it is another"
            }
        }
    }

    fn at(&self, start: usize, column: usize, message: String, help: &str) -> TraceFault {
        let heading = column
            .checked_sub(1)
            .and_then(|c| self.layout.headings.get(c));
        TraceFault::new(line_of(self.bytes, start), column, message, help)
            .below(heading.map(|h| h.text.as_str()))
    }

    /// A cell of a column wanted that is no number, or one in another unit than the column.
    fn no_number(&self, start: usize, n: usize, cell: &[u8]) -> TraceFault {
        let place = self.layout.columns[n + 1];
        let cells = &self.columns[n];
        let Some(other) = cells.other_unit(cell) else {
            return self.unreadable(start, place, cell, self.number_wanted());
        };
        let message = format!(
            "{} is in {other}, where the column is in {}",
            quoted(&decoded(cell)),
            cells.unit()
        );
        let help = "state the unit of the cells in the recipe, `{column: Weight, unit: kg}`, and have one unit in the whole column";
        self.at(start, place + 1, message, help)
    }

    fn too_narrow(&self, start: usize, place: usize, cells: usize) -> TraceFault {
        let has = if cells == 1 {
            "1 cell".to_owned()
        } else {
            format!("{cells} cells")
        };
        let message = match self.layout.headings.len() {
            0 => format!("the row has {has} only"),
            width => format!("the row has {has} only, the headings are {width}"),
        };
        let help = "complete the row or take it out; a row in a preamble or at the end of the log does not belong to the readings";
        self.at(start, place + 1, message, help)
    }

    fn unreadable(&self, start: usize, place: usize, cell: &[u8], help: &str) -> TraceFault {
        if is_foreign(cell) {
            return not_utf8(line_of(self.bytes, start), place);
        }
        let what = if place == self.layout.columns[0] {
            "time"
        } else {
            "number"
        };
        let message = if cell.trim_ascii().is_empty() {
            format!("an empty cell where a {what} should be")
        } else {
            format!("{} is not a {what}", quoted(&decoded(cell)))
        };
        self.at(start, place + 1, message, help)
    }

    fn falling(&self, start: usize, place: usize, cell: &[u8]) -> TraceFault {
        let message = format!(
            "the time {} is before the one above",
            quoted(&decoded(cell))
        );
        let help = match self.clock {
            Clock::Colons(_) => "put the rows in order; clock times that pass midnight need a date",
            _ => "put the rows in order of time",
        };
        self.at(start, place + 1, message, help)
    }

    fn too_wide(&self, start: usize, cells: usize) -> TraceFault {
        let width = self.layout.headings.len();
        let headings = if width == 1 { "heading" } else { "headings" };
        let message = format!("{cells} cells below {width} {headings}");
        let help = "a decimal comma between commas splits numbers: export with semicolons, or with a decimal point";
        self.at(start, width + 1, message, help)
    }

    fn too_many(&self, start: usize) -> TraceFault {
        let message = format!("more than {MAX_ROWS} rows");
        self.at(start, 0, message, "split the log, or log less often")
    }
}
