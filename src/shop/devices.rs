//! The register of devices: a CSV file that comes out of somebody's spreadsheet.
//!
//! Never in here: writing it. Changes when a column is added.

use std::collections::HashSet;

use jiff::civil::Date;

use crate::journal::Device;
use crate::text::{Code, Finding, Source, Span, counted};

use super::interval::{Interval, PerRecipe, Unit, Unreadable, read_days, read_intervals};
use super::rows::{Broken, Row, first_line, rows, separator_of};

/// Most devices in a register.
pub const MAX_DEVICES: usize = 100_000;

/// The columns with the headings that are taken for them, in small letters.
const COLUMNS: [(&str, &[&str]); 8] = [
    ("tag", &["tag", "asset tag", "asset_tag", "asset"]),
    (
        "serial",
        &["serial", "serial number", "serial_number", "serial no"],
    ),
    ("maker", &["maker", "manufacturer"]),
    ("model", &["model"]),
    ("category", &["category"]),
    ("location", &["location"]),
    (
        "interval",
        &["interval", "interval_months", "interval months"],
    ),
    ("last-done", &["last_done", "last done", "last-done"]),
];

/// A device with what the register says of its checks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Registered {
    /// The device.
    pub device: Device,
    /// How often it is checked, as written.
    pub interval: String,
    /// Day of the last check, as written.
    pub last_done: String,
    /// How often it is checked, for all recipes or for each.
    pub intervals: PerRecipe<Interval>,
    /// When it was checked last, as far as the register knows.
    pub done: PerRecipe<Date>,
}

/// The register as a table: for those who change its text.
pub(super) struct Table {
    /// What stands between cells.
    pub separator: u8,
    /// The row of headings, if there is one.
    pub head: Option<Row>,
    /// For each of the fields the column it stands in, from 0.
    pub columns: Vec<(&'static str, Option<usize>)>,
    /// The rows below the headings.
    pub rows: Vec<Row>,
}

/// Takes a register apart.
pub(super) fn table(text: &str) -> Table {
    let bytes = text.as_bytes();
    let separator = separator_of(first_line(bytes));
    let mut all = rows(bytes, 0, separator);
    let first = all.iter().position(|r| !r.is_blank());
    let rest = first.map_or_else(Vec::new, |f| all.split_off(f + 1));
    let head = first.and_then(|_| all.pop());
    let names: Vec<String> = head
        .iter()
        .flat_map(|h| &h.cells)
        .map(|c| {
            String::from_utf8_lossy(c)
                .trim()
                .trim_start_matches('\u{feff}')
                .to_lowercase()
        })
        .collect();
    let place = |known: &[&str]| names.iter().position(|n| known.contains(&n.as_str()));
    Table {
        separator,
        head,
        columns: COLUMNS
            .iter()
            .map(|(field, known)| (*field, place(known)))
            .collect(),
        rows: rest,
    }
}

/// Reads `devices.csv`: comma, semicolon or tab; a byte order mark is passed over.
#[must_use]
pub fn read_devices(source: &Source) -> (Vec<Registered>, Vec<Finding>) {
    let table = table(&source.text);
    let mut reading = Reading {
        source,
        findings: Vec::new(),
        seen: HashSet::new(),
    };
    let Some(head) = &table.head else {
        return (Vec::new(), Vec::new());
    };
    if table.columns[0].1.is_none() {
        let help = "the first line names the columns: tag, serial, maker, model, category, location, interval, last_done";
        reading.fault(head, "there is no column `tag`".to_owned(), help);
        return (Vec::new(), reading.findings);
    }
    let mut devices = Vec::new();
    for row in table.rows.iter().filter(|r| !r.is_blank()) {
        if devices.len() == MAX_DEVICES {
            reading.fault(
                row,
                format!("more than {MAX_DEVICES} devices"),
                "split the register",
            );
            break;
        }
        devices.extend(reading.device(row, &table.columns, head.cells.len()));
    }
    (devices, reading.findings)
}

/// The cell of a field in a row, without blanks around it.
pub(super) fn cell(row: &Row, column: Option<usize>) -> String {
    let bytes = column.and_then(|c| row.cells.get(c));
    bytes
        .map(|b| String::from_utf8_lossy(b).trim().to_owned())
        .unwrap_or_default()
}

struct Reading<'a> {
    source: &'a Source,
    findings: Vec<Finding>,
    seen: HashSet<String>,
}

impl Reading<'_> {
    fn fault(&mut self, row: &Row, message: String, help: &str) {
        self.findings.push(Finding {
            code: Code::ShopFault,
            message,
            help: help.to_owned(),
            source: self.source.clone(),
            span: Span {
                start: row.start,
                end: row.end,
            },
            path: String::new(),
            chain: Vec::new(),
        });
    }

    /// The device of a row; none where it has no tag of its own.
    fn device(
        &mut self,
        row: &Row,
        columns: &[(&'static str, Option<usize>)],
        width: usize,
    ) -> Option<Registered> {
        let text = |index: usize| cell(row, columns[index].1);
        if let Some(broken) = row.broken {
            let (message, help) = told(broken);
            self.fault(row, message.to_owned(), help);
            return None;
        }
        if row
            .cells
            .iter()
            .skip(width)
            .any(|c| !c.trim_ascii().is_empty())
        {
            let (cells, headings) = (counted(row.cells.len(), "cell"), counted(width, "heading"));
            let message = format!("{cells} under {headings}");
            self.fault(
                row,
                message,
                "put text that holds the separator into quotation marks",
            );
        }
        let tag = text(0);
        if tag.is_empty() {
            self.fault(
                row,
                "a device without a tag".to_owned(),
                "give it the tag that is fixed to it",
            );
            return None;
        }
        if !self.seen.insert(tag.clone()) {
            let message = format!("the tag `{tag}` stands twice");
            self.fault(row, message, "remove one of the two lines");
            return None;
        }
        let (interval, last_done) = (text(6), text(7));
        let intervals = self.kept(row, read_intervals(&interval, Unit::Months));
        let done = self.kept(row, read_days(&last_done));
        let device = Device {
            tag,
            serial: text(1),
            maker: text(2),
            model: text(3),
            category: text(4),
            location: text(5),
        };
        Some(Registered {
            device,
            interval,
            last_done,
            intervals,
            done,
        })
    }

    fn kept<T>(&mut self, row: &Row, read: Result<PerRecipe<T>, Unreadable>) -> PerRecipe<T> {
        read.unwrap_or_else(|unreadable| {
            self.fault(row, unreadable.message, unreadable.help);
            PerRecipe::None
        })
    }
}

/// What is wrong with a row as such, and what to do.
pub(super) fn told(broken: Broken) -> (&'static str, &'static str) {
    match broken {
        Broken::Unclosed(_) => (
            "a quotation mark is opened and never closed",
            "close it, or write a quotation mark inside quoted text twice",
        ),
        Broken::BehindQuote(_) => (
            "text stands behind a closing quotation mark",
            "write a quotation mark inside quoted text twice",
        ),
    }
}
