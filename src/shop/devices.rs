//! The register of devices: a CSV file that comes out of somebody's spreadsheet.
//!
//! Never in here: writing it. Changes when a column is added.

use csv::{ReaderBuilder, StringRecord};

use crate::journal::Device;
use crate::text::{Code, Finding, Source, Span, is_day};

/// Most devices in a register.
const MAX_DEVICES: usize = 100_000;

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
        &["interval_months", "interval", "interval months"],
    ),
    ("last done", &["last_done", "last done"]),
];

/// A device with what the register says of its checks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Registered {
    /// The device.
    pub device: Device,
    /// Months between checks, as written.
    pub interval: String,
    /// Day of the last check, as written.
    pub last_done: String,
}

/// Reads `devices.csv`: comma, semicolon or tab; a byte order mark is passed over.
#[must_use]
pub fn read_devices(source: &Source) -> (Vec<Registered>, Vec<Finding>) {
    let mut findings = Vec::new();
    let text = source.text.strip_prefix('\u{feff}').unwrap_or(&source.text);
    let offset = source.text.len() - text.len();
    let fault = |start: usize, end: usize, message: String, help: &str| Finding {
        code: Code::ShopFault,
        message,
        help: help.to_owned(),
        source: source.clone(),
        span: Span { start, end },
        path: String::new(),
    };
    let first = text.lines().next().unwrap_or_default();
    let separator = [b';', b'\t', b',']
        .into_iter()
        .max_by_key(|s| first.bytes().filter(|b| b == s).count())
        .unwrap_or(b',');
    let mut reader = ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut places: Option<Vec<Option<usize>>> = None;
    let mut devices: Vec<Registered> = Vec::new();
    let mut seen = std::collections::HashSet::new();
    let mut record = StringRecord::new();
    loop {
        let start = offset + usize::try_from(reader.position().byte()).unwrap_or(0);
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => {
                findings.push(fault(
                    start,
                    start,
                    format!("not CSV: {error}"),
                    "check the quotation marks of this line",
                ));
                break;
            }
        }
        let end = offset + usize::try_from(reader.position().byte()).unwrap_or(0);
        let Some(columns) = &places else {
            let found = headings(&record);
            for (index, (name, _)) in COLUMNS.iter().enumerate().take(1) {
                if found[index].is_none() {
                    findings.push(fault(start, end, format!("there is no column `{name}`"), "the first line names the columns: tag, serial, maker, model, category, location, interval_months, last_done"));
                    return (devices, findings);
                }
            }
            places = Some(found);
            continue;
        };
        if devices.len() == MAX_DEVICES {
            findings.push(fault(
                start,
                end,
                format!("more than {MAX_DEVICES} devices"),
                "split the register",
            ));
            break;
        }
        let cell = |index: usize| {
            columns[index]
                .and_then(|c| record.get(c))
                .unwrap_or_default()
                .trim()
                .to_owned()
        };
        let tag = cell(0);
        if tag.is_empty() {
            if record.iter().any(|c| !c.trim().is_empty()) {
                findings.push(fault(
                    start,
                    end,
                    "a device without a tag".to_owned(),
                    "give it the tag that is fixed to it",
                ));
            }
            continue;
        }
        if !seen.insert(tag.clone()) {
            findings.push(fault(
                start,
                end,
                format!("the tag `{tag}` stands twice"),
                "remove one of the two lines",
            ));
            continue;
        }
        let last_done = cell(7);
        if !last_done.is_empty() && !is_day(&last_done) {
            findings.push(fault(
                start,
                end,
                format!("`{last_done}` is not a day"),
                "write it as 2026-03-31",
            ));
        }
        let device = Device {
            tag,
            serial: cell(1),
            maker: cell(2),
            model: cell(3),
            category: cell(4),
            location: cell(5),
        };
        devices.push(Registered {
            device,
            interval: cell(6),
            last_done,
        });
    }
    (devices, findings)
}

fn headings(record: &StringRecord) -> Vec<Option<usize>> {
    let position = |names: &[&str]| {
        record
            .iter()
            .position(|h| names.contains(&h.trim().to_lowercase().as_str()))
    };
    COLUMNS.iter().map(|(_, names)| position(names)).collect()
}
