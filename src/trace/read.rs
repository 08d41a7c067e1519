//! Reading a file into a trace: its layout, its units, its rows, and what is odd in them.
//!
//! Never in here: how the file is laid out, and single rows. Changes when a trace holds more.

use csv::ByteRecord;

use super::clock::Clock;
use super::fault::{TraceFault, quoted};
use super::layout::{self, Layout};
use super::observe::{Observation, falls, spacing};
use super::packed::Packed;
use super::readings::{MARK_EVERY, Readings};
use super::rows::{Next, Rows, decoded, line_of};
use super::si::ToSi;
use super::units::{found_decimal, units};
use super::{MAX_BYTES, MAX_COLUMNS, Mapping, Separator, TimeForm, Wanted};
use crate::quantity::{DecimalSign, Quantity, Unit};

/// A logged series.
#[derive(Clone, Debug)]
pub struct Trace {
    /// Times in s: as written, or since the first row where they were timestamps. They don't fall, but may be the same
    /// (see [`super::Oddity::SameTimes`]).
    pub times: Vec<f64>,
    /// The columns wanted, in the order of the mapping.
    pub columns: Vec<Column>,
    /// What time zero is.
    pub zero: Zero,
    /// What separated cells.
    pub separator: Separator,
    /// The decimal sign.
    pub decimal: DecimalSign,
    /// The line of the headings, from 1; zero where there were none.
    pub heading_row: usize,
    /// What is odd but no fault.
    pub observations: Vec<Observation>,
}

/// One column of a trace.
#[derive(Clone, Debug)]
pub struct Column {
    /// The name wanted.
    pub name: String,
    /// The heading in the file; empty where there was none.
    pub heading: String,
    /// The column of the file, from 1.
    pub number: usize,
    /// The unit wanted, to show values in.
    pub unit: Unit,
    /// The unit of the cells.
    pub written_in: Unit,
    /// Values in the SI unit of the kind (kg, m³, m³/s, Pa, K); as many as there are times.
    pub values: Vec<f64>,
}

/// What time zero of a trace is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Zero {
    /// The logger's own: times stand as they were written.
    AsWritten,
    /// The first row, whose timestamp this was.
    FirstRow(String),
}

impl Trace {
    /// The number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.times.len()
    }

    /// The column of a name.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&Column> {
        self.columns.iter().find(|c| c.name == name)
    }
}

/// Reads the bytes of a file.
///
/// Preamble lines are passed over, blank rows too. A value is the double nearest to the decimal text, brought to SI with
/// one rounding where the unit's factor or its inverse is whole, else with two.
///
/// # Errors
/// All faults that were met, up to 50: cells that can't be read, columns that are missing, units of the wrong kind, times
/// that fall, an empty file, more than 5,000,000 rows, 256 MiB, 200 columns or 64 KiB a line, text that is not UTF-8.
pub fn read(bytes: &[u8], mapping: &Mapping) -> Result<Trace, Vec<TraceFault>> {
    read_packed(bytes, mapping).map(PackedTrace::unpacked)
}

/// The same as [`read`], in less room.
///
/// # Errors
/// As [`read`].
pub fn read_packed(bytes: &[u8], mapping: &Mapping) -> Result<PackedTrace, Vec<TraceFault>> {
    read_shown(bytes, mapping, &|_| Vec::new())
}

/// The same as [`read_packed`], and what the instrument that logged can't have shown is a fault.
///
/// # Errors
/// As [`read`]; a reading outside of the instrument's range, the first of each column, with the number of the others.
pub fn read_shown(
    bytes: &[u8],
    mapping: &Mapping,
    ranges: Ranges<'_>,
) -> Result<PackedTrace, Vec<TraceFault>> {
    let begin = opening(bytes, mapping).map_err(|fault| vec![fault])?;
    let layout = layout::find(bytes, begin, mapping)?;
    let first_row = first_row(bytes, &layout).ok_or_else(|| {
        vec![TraceFault::new(
            layout.line,
            0,
            "no readings below the headings".to_owned(),
            "see that the log was running, or state the line of the headings: `header: 12`",
        )]
    })?;
    let mut observations = Vec::new();
    let first = first_row.get(layout.columns[0]).unwrap_or_default();
    let (form, units) = units(mapping, &layout, &first_row, &mut observations)?;
    let decimal = match mapping.decimal {
        Some(stated) => stated,
        None => found_decimal(bytes, &layout, &form).map_err(|fault| vec![fault])?,
    };
    let clock = Clock::new(&form, decimal);
    let readings = Readings::of(bytes, &layout, clock, decimal, &units)?;
    off_range(&readings, &units, ranges, bytes, &layout)?;
    let si: Vec<ToSi> = units.iter().map(ToSi::of).collect();
    let mut trace = Trace {
        columns: columns(mapping, &layout, units),
        times: Vec::new(),
        zero: match form {
            TimeForm::Timestamp => Zero::FirstRow(decoded(first.trim_ascii()).into_owned()),
            _ => Zero::AsWritten,
        },
        separator: layout.separator,
        decimal,
        heading_row: layout.line,
        observations,
    };
    observe(&mut trace, &readings, &si, bytes, &layout);
    Ok(PackedTrace {
        trace,
        times: readings.times,
        values: readings.values.into_iter().zip(si).collect(),
    })
}

/// A trace in less room than a [`Trace`] takes, so that the bytes of the file can be let go before it is unpacked.
#[derive(Debug)]
pub struct PackedTrace {
    trace: Trace,
    times: Packed,
    values: Vec<(Packed, ToSi)>,
}

impl PackedTrace {
    /// The trace.
    #[must_use]
    pub fn unpacked(self) -> Trace {
        let mut trace = self.trace;
        trace.times = self.times.into_si(ToSi::NONE);
        for (column, (values, si)) in trace.columns.iter_mut().zip(self.values) {
            column.values = values.into_si(si);
        }
        trace
    }
}

/// Checks what can be seen before any row; gives the byte behind a byte order mark.
fn opening(bytes: &[u8], mapping: &Mapping) -> Result<usize, TraceFault> {
    if bytes.len() > MAX_BYTES {
        let help = "split the log, or log less often";
        return Err(TraceFault::of_file("the file is longer than 256 MiB", help));
    }
    if bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF") {
        return Err(TraceFault::of_file(
            "the file is UTF-16",
            "save it as UTF-8",
        ));
    }
    let begin = usize::from(bytes.starts_with(b"\xEF\xBB\xBF")) * 3;
    if bytes[begin..].trim_ascii().is_empty() {
        let help = "see that the log was saved";
        return Err(TraceFault::of_file("the file is empty", help));
    }
    let columns = &mapping.columns;
    if columns.is_empty() || columns.len() > MAX_COLUMNS {
        return Err(TraceFault::of_file(
            &format!("{} columns are wanted", columns.len()),
            "name at least one column, and at most 200",
        ));
    }
    let twice = |(i, c): (usize, &Wanted)| columns[..i].iter().any(|b| b.name == c.name);
    match columns.iter().enumerate().find(|(i, c)| twice((*i, c))) {
        Some((_, column)) => Err(TraceFault::of_file(
            &format!("{} is wanted twice", quoted(&column.name)),
            "give each column its own name",
        )),
        None => Ok(begin),
    }
}

/// The first row of readings.
fn first_row(bytes: &[u8], layout: &Layout) -> Option<ByteRecord> {
    let mut rows = Rows::new(bytes, layout.from, layout.separator);
    (rows.next() != Next::End).then(|| rows.record().clone())
}

fn columns(mapping: &Mapping, layout: &Layout, units: Vec<Unit>) -> Vec<Column> {
    let places = layout.columns[1..].iter();
    let parts = mapping.columns.iter().zip(places).zip(units);
    let column = |((wanted, place), written_in): ((&Wanted, &usize), Unit)| Column {
        name: wanted.name.clone(),
        heading: layout
            .headings
            .get(*place)
            .map_or(String::new(), |h| h.text.clone()),
        number: place + 1,
        unit: wanted.unit.clone(),
        written_in,
        values: Vec::new(),
    };
    parts.map(column).collect()
}

/// Adds what is odd in the readings.
fn observe(trace: &mut Trace, readings: &Readings, si: &[ToSi], bytes: &[u8], layout: &Layout) {
    let row_of = |index: usize| row_of(readings, index, bytes, layout);
    let mut told = spacing(readings.times.iter(), layout.columns[0] + 1, row_of);
    for ((column, values), si) in trace.columns.iter().zip(&readings.values).zip(si) {
        let values = values.iter().map(|v| si.apply(v));
        told.extend(falls(values, &column.unit, column.number, row_of));
    }
    trace.observations.extend(told);
}

/// The line of the file that a reading stands in.
fn row_of(readings: &Readings, index: usize, bytes: &[u8], layout: &Layout) -> usize {
    let marks = &readings.marks;
    let from = marks.get(index / MARK_EVERY).copied();
    let mut rows = Rows::new(bytes, from.unwrap_or(layout.from), layout.separator);
    for _ in 0..=index % MARK_EVERY {
        rows.next();
    }
    line_of(bytes, rows.start())
}

/// The ranges in which the instrument that logged can show a reading in a unit.
pub type Ranges<'r> = &'r dyn Fn(&Unit) -> Vec<(Quantity, Quantity)>;

/// What a range in another unit than the cells may be off by, as a share of it: less than any display tells.
const ROUNDING: f64 = 1e-12;

/// Refuses readings outside of the instrument's range: the first of each column.
fn off_range(
    readings: &Readings,
    units: &[Unit],
    ranges: Ranges<'_>,
    bytes: &[u8],
    layout: &Layout,
) -> Result<(), Vec<TraceFault>> {
    let mut faults = Vec::new();
    for ((values, unit), place) in readings.values.iter().zip(units).zip(&layout.columns[1..]) {
        for (low, high) in ranges(unit) {
            let (Ok(least), Ok(most)) = (low.convert(unit), high.convert(unit)) else {
                continue;
            };
            let ends = [&least, &most].map(|end| end.value().to_f64());
            let room = ends.map(|end| end.abs() * ROUNDING);
            let outside = |v: &f64| *v < ends[0] - room[0] || *v > ends[1] + room[1];
            let mut found = values.iter().enumerate().filter(|(_, v)| outside(v));
            let Some((index, value)) = found.next() else {
                continue;
            };
            let more = match found.count() {
                0 => String::new(),
                n => format!(", and so are {n} more in this column"),
            };
            let fault = TraceFault::new(
                row_of(readings, index, bytes, layout),
                place + 1,
                format!(
                    "{value} {unit} is outside what the instrument can show ({low} to {high}){more}"
                ),
                "see that the right file and the right instrument are named, and that the unit is right; a range that is wrong is mended in instruments.yaml",
            );
            let heading = layout.headings.get(*place);
            faults.push(fault.below(heading.map(|h| h.text.as_str())));
        }
    }
    match faults.is_empty() {
        true => Ok(()),
        false => Err(faults),
    }
}
