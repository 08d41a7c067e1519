//! What loggers write: a small file for each dialect, and faults with their rows and columns.
//!
//! The files are written by hand, values and all. Never in here: figures of flow tests. Changes when a dialect is read.

mod dialects;
mod faults;
mod limits;
mod packed;
mod suffixes;

use std::fs;

use stepwell::quantity::{DecimalSign, Unit};
use stepwell::trace::{ColumnChoice, Header, Mapping, TimeColumn, Trace, TraceFault, Wanted, read};

/// The bytes of a file beside this one.
fn file(name: &str) -> Vec<u8> {
    let path = format!("{}/tests/trace/files/{name}", env!("CARGO_MANIFEST_DIR"));
    fs::read(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

fn unit(text: &str) -> Unit {
    Unit::parse(text).expect("a unit of the table")
}

/// A number chooses by number, anything else by heading.
fn choice(text: &str) -> ColumnChoice {
    text.parse().map_or_else(
        |_| ColumnChoice::Heading(text.to_owned()),
        ColumnChoice::Number,
    )
}

/// A mapping of a column of times, and of columns by their place and unit; each is called by its place.
fn mapping(time: &str, columns: &[(&str, &str)]) -> Mapping {
    let wanted = |(place, text): &(&str, &str)| Wanted {
        name: (*place).to_owned(),
        column: choice(place),
        unit: unit(text),
        written_in: None,
    };
    Mapping {
        time: TimeColumn {
            column: choice(time),
            form: None,
        },
        columns: columns.iter().map(wanted).collect(),
        separator: None,
        decimal: None,
        header: Header::Find,
    }
}

fn taken(name: &str, mapping: &Mapping) -> Trace {
    read(&file(name), mapping).unwrap_or_else(|faults| panic!("{name}: {faults:?}"))
}

fn refused(bytes: &[u8], mapping: &Mapping) -> Vec<TraceFault> {
    read(bytes, mapping).expect_err("a fault")
}

/// Row and column of each fault.
fn places(faults: &[TraceFault]) -> Vec<(usize, usize)> {
    faults.iter().map(|f| (f.row, f.column)).collect()
}

const POINT: DecimalSign = DecimalSign::Point;
const COMMA: DecimalSign = DecimalSign::Comma;
