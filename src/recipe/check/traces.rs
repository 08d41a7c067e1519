//! The `trace` verb: which columns a logger's file must have, and how it is written.
//!
//! Never in here: reading files (see the room `trace`). Changes when a recipe can say more about a file.

use crate::plan::Type;
use crate::quantity::{DecimalSign, Dimension, Kind, Unit};
use crate::recipe::checked::Leaf;
use crate::recipe::cursor::At;
use crate::text::Code;
use crate::trace::{ColumnChoice, Header, Mapping, Separator, TimeColumn, TimeForm, Wanted};

use super::Checker;

/// The name of the column of times.
const TIME: &str = "time";

impl<'d> Checker<'d> {
    /// The mapping of a `trace` step, and the type of its value.
    pub(super) fn trace(&mut self, at: &At<'d>) -> (Leaf, Option<Type>, bool) {
        let before = self.findings.len();
        let columns = at.get("columns");
        let entries: Vec<(String, At<'_>)> = columns
            .iter()
            .flat_map(|c| c.entries())
            .map(|(name, entry)| (name.to_owned(), entry))
            .collect();
        let mut wanted = Vec::new();
        let mut time = TimeColumn {
            column: ColumnChoice::Heading(TIME.to_owned()),
            form: None,
        };
        for (name, entry) in &entries {
            if name == TIME {
                time = self.time_column(entry);
            } else if let Some(column) = self.column(name, entry) {
                wanted.push(column);
            }
        }
        if wanted.is_empty()
            && self.findings.len() == before
            && let Some(columns) = &columns
        {
            self.findings.push(columns.finding_at_key(
                Code::WrongValue,
                "a log needs a column beside its times",
                "add one, as `mass: g`",
            ));
        }
        let kinds: Vec<(String, Kind)> = wanted
            .iter()
            .map(|w| (w.name.clone(), w.unit.kind()))
            .collect();
        let reading = self.reading(at, kinds.first().map(|(_, kind)| *kind));
        let file = at.get("file");
        let mapping = Mapping {
            time,
            columns: wanted,
            separator: file.as_ref().and_then(separator),
            decimal: file.as_ref().and_then(decimal),
            header: file.as_ref().map_or(Header::Find, header),
        };
        let sound = self.findings.len() == before;
        (
            Leaf::Trace {
                mapping,
                with: reading.with,
            },
            sound.then_some(Type::Trace(kinds)),
            false,
        )
    }

    fn column(&mut self, name: &str, at: &At<'_>) -> Option<Wanted> {
        let unit_at = at.get("unit").unwrap_or_else(|| at.clone());
        let unit = self.unit(&unit_at)?;
        Some(Wanted {
            name: name.to_owned(),
            column: choice(at, name),
            unit,
            written_in: None,
        })
    }

    fn time_column(&mut self, at: &At<'_>) -> TimeColumn {
        let unit_at = at.get("unit").unwrap_or_else(|| at.clone());
        let form = match unit_at.text().as_deref() {
            Some("hh:mm:ss") => Some(TimeForm::HoursMinutesSeconds),
            Some("mm:ss") => Some(TimeForm::MinutesSeconds),
            Some("timestamp") => Some(TimeForm::Timestamp),
            Some("any") => None,
            _ => self.time_unit(&unit_at).map(TimeForm::Number),
        };
        TimeColumn {
            column: choice(at, TIME),
            form,
        }
    }

    fn time_unit(&mut self, at: &At<'_>) -> Option<Unit> {
        let unit = self.unit(at)?;
        let time = Kind::of(Dimension::from_name("time").unwrap_or_default());
        if let Err(error) = unit.kind().comparable(time) {
            self.findings.push(at.finding(
                Code::KindMismatch,
                error.to_string(),
                "times are in `s`, `min` or `h`, or `hh:mm:ss`, `mm:ss`, `timestamp`, or `any` of these",
            ));
            return None;
        }
        Some(unit)
    }
}

/// The column of the file: by the heading or number that is stated, else by the name.
fn choice(at: &At<'_>, name: &str) -> ColumnChoice {
    let Some(column) = at.get("column") else {
        return ColumnChoice::Heading(name.to_owned());
    };
    match column.whole() {
        Some(number) => ColumnChoice::Number(number as usize),
        None => ColumnChoice::Heading(column.text().unwrap_or_default()),
    }
}

fn separator(file: &At<'_>) -> Option<Separator> {
    match file.text_of("separator").as_deref() {
        Some("comma") => Some(Separator::Comma),
        Some("semicolon") => Some(Separator::Semicolon),
        Some("tab") => Some(Separator::Tab),
        Some("bar") => Some(Separator::Bar),
        Some("blanks") => Some(Separator::Blanks),
        _ => None,
    }
}

fn decimal(file: &At<'_>) -> Option<DecimalSign> {
    match file.text_of("decimal").as_deref() {
        Some(",") => Some(DecimalSign::Comma),
        Some(".") => Some(DecimalSign::Point),
        _ => None,
    }
}

fn header(file: &At<'_>) -> Header {
    let line = file.get("header").and_then(|h| h.whole());
    match line {
        Some(0) => Header::None,
        Some(line) => Header::Line(line as usize),
        None => Header::Find,
    }
}
