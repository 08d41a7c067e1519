//! Reading a file into a trace, in one pass over its bytes.
//!
//! Never in here: finding out how the file is laid out. Changes when a trace holds more.

use csv::ByteRecord;

use super::clock::{Clock, form_of};
use super::fault::{Faults, TraceFault, quoted};
use super::layout::{Layout, not_utf8, too_long};
use super::observe::{Observation, Oddity, about_heading, falls, spacing};
use super::rows::{Next, Rows, decoded, is_foreign, line_of};
use super::si::ToSi;
use super::{MAX_BYTES, MAX_COLUMNS, MAX_ROWS, Mapping, Separator, TimeForm, Wanted};
use super::{decimal, layout};
use crate::quantity::{DecimalSign, Dimension, Kind, Unit};

/// Rows between two places that are kept, from which the line of any row is found again.
const MARK_EVERY: usize = 1024;

/// A logged series.
#[derive(Clone, Debug)]
pub struct Trace {
    /// Times in s: as written, or since the first row where they were timestamps. They don't fall, but may be the same
    /// (see [`Oddity::SameTimes`]).
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
    let begin = opening(bytes, mapping).map_err(|fault| vec![fault])?;
    let layout = layout::find(bytes, begin, mapping)?;
    let first = first_cell(bytes, &layout).ok_or_else(|| {
        vec![TraceFault::new(
            layout.line,
            0,
            "no readings below the headings".to_owned(),
            "see that the log was running, or state the line of the headings: `header: 12`",
        )]
    })?;
    let mut observations = Vec::new();
    let (form, units) = units(mapping, &layout, &first, &mut observations)?;
    let decimal = match mapping.decimal {
        Some(stated) => stated,
        None => found_decimal(bytes, &layout, &form).map_err(|fault| vec![fault])?,
    };
    let clock = Clock::new(&form, decimal);
    let readings = Readings::of(bytes, &layout, clock, decimal, &units)?;
    let mut trace = Trace {
        columns: columns(mapping, &layout, units, readings.values),
        times: readings.times,
        zero: match form {
            TimeForm::Timestamp => Zero::FirstRow(decoded(first.trim_ascii()).into_owned()),
            _ => Zero::AsWritten,
        },
        separator: layout.separator,
        decimal,
        heading_row: layout.line,
        observations,
    };
    observe(&mut trace, bytes, &layout, &readings.marks);
    Ok(trace)
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

/// The first cell of the column of times.
fn first_cell(bytes: &[u8], layout: &Layout) -> Option<Vec<u8>> {
    let mut rows = Rows::new(bytes, layout.from, layout.separator.byte());
    if rows.next() == Next::End {
        return None;
    }
    let cell = rows.record().get(layout.columns[0]);
    Some(cell.unwrap_or_default().to_owned())
}

/// How times are written, and the unit of each column's cells.
fn units(
    mapping: &Mapping,
    layout: &Layout,
    first: &[u8],
    observations: &mut Vec<Observation>,
) -> Result<(TimeForm, Vec<Unit>), Vec<TraceFault>> {
    let mut faults = Vec::new();
    let form = time_form(mapping, layout, first, observations)
        .map_err(|fault| faults.push(fault))
        .ok();
    let mut units = Vec::new();
    for (wanted, column) in mapping.columns.iter().zip(&layout.columns[1..]) {
        match unit(wanted, layout, *column, observations) {
            Ok(unit) => units.push(unit),
            Err(fault) => faults.push(fault),
        }
    }
    match form {
        Some(form) if faults.is_empty() => Ok((form, units)),
        _ => Err(faults),
    }
}

fn heading_unit(layout: &Layout, column: usize) -> Option<&Unit> {
    layout.headings.get(column).and_then(|h| h.unit.as_ref())
}

fn time_form(
    mapping: &Mapping,
    layout: &Layout,
    first: &[u8],
    observations: &mut Vec<Observation>,
) -> Result<TimeForm, TraceFault> {
    let column = layout.columns[0];
    let time = Dimension::from_name("time").map(Kind::of);
    let found = match (&mapping.time.form, form_of(first)) {
        (Some(stated), _) => stated.clone(),
        (None, Some(form)) => {
            if form == TimeForm::MinutesSeconds {
                let message = "times with one colon were read as minutes and seconds".to_owned();
                observations.push(about_heading(
                    Oddity::MinutesTaken,
                    layout.line,
                    column + 1,
                    message,
                ));
            }
            form
        }
        (None, None) => match heading_unit(layout, column) {
            Some(unit) => TimeForm::Number(unit.clone()),
            None => {
                return Err(TraceFault::new(
                    layout.line,
                    column + 1,
                    "the heading names no unit of time".to_owned(),
                    "state how times are written: a unit (s, min, h), hh:mm:ss, mm:ss or timestamps",
                ));
            }
        },
    };
    match &found {
        TimeForm::Number(unit) if Some(unit.kind()) != time => Err(TraceFault::new(
            layout.line,
            column + 1,
            format!("times can't be in {unit}, which is of kind {}", unit.kind()),
            "state the unit of time: s, min or h",
        )),
        _ => Ok(found),
    }
}

/// The unit of a column's cells: stated, the heading's, or the one wanted.
fn unit(
    wanted: &Wanted,
    layout: &Layout,
    column: usize,
    observations: &mut Vec<Observation>,
) -> Result<Unit, TraceFault> {
    let heading = heading_unit(layout, column);
    let (line, number) = (layout.line, column + 1);
    let unit = wanted
        .written_in
        .as_ref()
        .or(heading)
        .unwrap_or(&wanted.unit);
    if unit.kind().comparable(wanted.unit.kind()).is_err() {
        return Err(TraceFault::new(
            line,
            number,
            format!(
                "{} is in {unit}, of kind {}, where {} of kind {} is wanted",
                quoted(&wanted.name),
                unit.kind(),
                wanted.unit,
                wanted.unit.kind()
            ),
            "choose another column, or state the unit that the cells are written in",
        ));
    }
    let name = quoted(&wanted.name);
    match (&wanted.written_in, heading) {
        (Some(stated), Some(heading)) if stated != heading => {
            let message =
                format!("{name} was read in {stated} as stated, where the heading says {heading}");
            observations.push(about_heading(Oddity::UnitStated, line, number, message));
        }
        (None, None) => {
            let message = format!("the heading of {name} names no unit, so that {unit} was taken");
            observations.push(about_heading(Oddity::UnitTaken, line, number, message));
        }
        _ => {}
    }
    Ok(unit.clone())
}

fn found_decimal(
    bytes: &[u8],
    layout: &Layout,
    form: &TimeForm,
) -> Result<DecimalSign, TraceFault> {
    // Clock times have their own signs.
    let from = usize::from(!matches!(form, TimeForm::Number(_)));
    let separator = layout.separator.byte();
    decimal::find(bytes, layout.from, separator, &layout.columns[from..])
}

fn columns(
    mapping: &Mapping,
    layout: &Layout,
    units: Vec<Unit>,
    values: Vec<Vec<f64>>,
) -> Vec<Column> {
    let places = layout.columns[1..].iter();
    let parts = mapping.columns.iter().zip(places).zip(units).zip(values);
    let column =
        |(((wanted, place), written_in), values): (((&Wanted, &usize), Unit), Vec<f64>)| Column {
            name: wanted.name.clone(),
            heading: layout
                .headings
                .get(*place)
                .map_or(String::new(), |h| h.text.clone()),
            number: place + 1,
            unit: wanted.unit.clone(),
            written_in,
            values,
        };
    parts.map(column).collect()
}

/// Readings as they are collected row by row.
struct Readings {
    times: Vec<f64>,
    values: Vec<Vec<f64>>,
    /// The byte at which every 1024th row begins.
    marks: Vec<usize>,
}

/// What rows are read with.
struct Reader<'a> {
    bytes: &'a [u8],
    layout: &'a Layout,
    clock: Clock,
    decimal: DecimalSign,
    si: Vec<ToSi>,
    last: f64,
}

impl Readings {
    fn of(
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
            si: units.iter().map(ToSi::of).collect(),
            last: f64::NEG_INFINITY,
        };
        let room = room(&bytes[layout.from..], units.len() + 1);
        let mut readings = Self {
            times: Vec::with_capacity(room),
            values: units.iter().map(|_| Vec::with_capacity(room)).collect(),
            marks: Vec::new(),
        };
        let mut faults = Faults::default();
        let mut rows = Rows::new(bytes, layout.from, layout.separator.byte());
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
        let cell = record.get(place).unwrap_or_default();
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
        let places = self.layout.columns[1..].iter().zip(&self.si);
        for ((place, si), values) in places.zip(&mut into.values) {
            let cell = record.get(*place).unwrap_or_default();
            match decimal::number(cell, self.decimal) {
                Some(number) => values.push(si.apply(number)),
                None => {
                    if !faults.add(self.unreadable(start, *place, cell, self.number_wanted())) {
                        return false;
                    }
                }
            }
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
                "a cell holds one number, decimal sign `.`, no grouping; state the decimal sign if it is another"
            }
            DecimalSign::Comma => {
                "a cell holds one number, decimal sign `,`, no grouping; state the decimal sign if it is another"
            }
        }
    }

    fn at(&self, start: usize, column: usize, message: String, help: &str) -> TraceFault {
        TraceFault::new(line_of(self.bytes, start), column, message, help)
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
        let message = format!("{cells} cells below {width} headings");
        let help = "a decimal comma between commas splits numbers: export with semicolons, or with a decimal point";
        self.at(start, width + 1, message, help)
    }

    fn too_many(&self, start: usize) -> TraceFault {
        let message = format!("more than {MAX_ROWS} rows");
        self.at(start, 0, message, "split the log, or log less often")
    }
}

/// Adds what is odd in the readings.
fn observe(trace: &mut Trace, bytes: &[u8], layout: &Layout, marks: &[usize]) {
    let row_of = |index: usize| {
        let from = marks
            .get(index / MARK_EVERY)
            .copied()
            .unwrap_or(layout.from);
        let mut rows = Rows::new(bytes, from, layout.separator.byte());
        for _ in 0..=index % MARK_EVERY {
            rows.next();
        }
        line_of(bytes, rows.start())
    };
    let mut told = spacing(&trace.times, layout.columns[0] + 1, row_of);
    for column in &trace.columns {
        told.extend(falls(&column.values, &column.unit, column.number, row_of));
    }
    trace.observations.extend(told);
}
