//! What is odd about devices, although each line can be read: one device twice, a serial number that a spreadsheet spoilt,
//! a check in the future.
//!
//! Never in here: what can't be read (see `devices`). Changes when another mistake is met.

use std::collections::HashMap;

use jiff::civil::Date;

use crate::text::{Code, Finding, Source, Span};

use super::devices::{Table, cell, table};
use super::interval::{PerRecipe, read_days};
use super::legible::illegible;

/// What a device is known by.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Known {
    /// Its tag.
    pub tag: String,
    /// Its serial number.
    pub serial: String,
    /// Who made it.
    pub maker: String,
    /// The maker's name of the model.
    pub model: String,
}

/// Something odd about a device, or about two.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Odd {
    /// The device, by its place.
    pub at: usize,
    /// The one that it is odd beside.
    pub beside: Option<usize>,
    /// What is odd.
    pub message: String,
    /// What to do.
    pub help: &'static str,
}

/// What is odd about devices, in their order.
#[must_use]
pub fn odd(devices: &[Known]) -> Vec<Odd> {
    let mut all = Vec::new();
    let mut tags: HashMap<String, usize> = HashMap::new();
    let mut plates: HashMap<[String; 3], usize> = HashMap::new();
    for (at, device) in devices.iter().enumerate() {
        let tag = &device.tag;
        if let Some(first) = first(&mut tags, tag.to_lowercase(), at) {
            all.push(Odd {
                at,
                beside: Some(first),
                message: format!("`{tag}` and `{}` differ only in case", devices[first].tag),
                help: "write the tag as it stands on the device, in one of the two",
            });
        }
        let plate = [&device.maker, &device.model, &device.serial].map(|t| t.to_lowercase());
        // `none` and `-` are no serial numbers.
        let numbered = device.serial.bytes().any(|b| b.is_ascii_digit());
        if let Some(first) = numbered.then(|| first(&mut plates, plate, at)).flatten() {
            all.push(Odd {
                at,
                beside: Some(first),
                message: format!(
                    "`{tag}` and `{}` are the same device: {} {}, serial {}",
                    devices[first].tag, device.maker, device.model, device.serial
                ),
                help: "remove one of the two, or mend the serial number",
            });
        }
        if is_rounded(&device.serial) {
            all.push(Odd {
                at,
                beside: None,
                message: format!(
                    "the serial `{}` of `{tag}` looks like a number that a spreadsheet rounded",
                    device.serial
                ),
                help: "read it from the device; format the column as text before saving",
            });
        }
    }
    all
}

/// The earlier place of a key; its first place is kept.
fn first<K: std::hash::Hash + Eq>(
    seen: &mut HashMap<K, usize>,
    key: K,
    at: usize,
) -> Option<usize> {
    let first = *seen.entry(key).or_insert(at);
    (first != at).then_some(first)
}

/// Whether a text is a number as spreadsheets show a long one: `1,23E+08`.
fn is_rounded(text: &str) -> bool {
    let Some((digits, power)) = text.split_once(['E', 'e']) else {
        return false;
    };
    let all = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let (whole, rest) = digits.split_once(['.', ',']).unwrap_or((digits, "0"));
    whole.len() == 1 && all(whole) && all(rest) && power.strip_prefix('+').is_some_and(all)
}

/// A day that lies in the future, of days that were read.
#[must_use]
pub fn in_future(days: &PerRecipe<Date>, today: Date) -> Option<Date> {
    let later = |day: &Date| *day > today;
    match days {
        PerRecipe::None => None,
        PerRecipe::Any(day) => Some(*day).filter(later),
        PerRecipe::Each(list) => list.iter().map(|(_, day)| *day).find(later),
    }
}

/// What is odd in a register of devices, at its lines, cells that nobody can read, and checks that were done in the future.
#[must_use]
pub fn doubted_devices(source: &Source, today: Date) -> Vec<Finding> {
    let Table { columns, rows, .. } = table(&source.text);
    let text = |row: &_, field: usize| cell(row, columns[field].1);
    let rows: Vec<_> = rows.iter().filter(|r| !text(r, 0).is_empty()).collect();
    let devices: Vec<Known> = rows
        .iter()
        .map(|row| Known {
            tag: text(row, 0),
            serial: text(row, 1),
            maker: text(row, 2),
            model: text(row, 3),
        })
        .collect();
    let finding = |at: usize, code: Code, message: String, help: &str| Finding {
        code,
        message,
        help: help.to_owned(),
        source: source.clone(),
        span: Span {
            start: rows[at].start,
            end: rows[at].end,
        },
        path: String::new(),
        chain: Vec::new(),
    };
    let late = rows.iter().enumerate().filter_map(|(at, row)| {
        let day = in_future(&read_days(&text(row, 7)).ok()?, today)?;
        let message = format!(
            "`{}` was checked on {day}, which lies in the future",
            devices[at].tag
        );
        Some(finding(at, Code::ShopFault, message, "mend `last_done`"))
    });
    let texts = |row: &_| -> Vec<(&str, String)> {
        let of_field = |(name, column): &(&'static str, Option<usize>)| (*name, cell(row, *column));
        columns.iter().map(of_field).collect()
    };
    let unread = rows.iter().enumerate().flat_map(|(at, row)| {
        let of_cell = |(name, text): (&str, String)| {
            let (message, help) = illegible(&text)?;
            let message = format!("`{name}` holds {message}");
            Some(finding(at, Code::ShopFault, message, help))
        };
        let found: Vec<Finding> = texts(row).into_iter().filter_map(of_cell).collect();
        found
    });
    let odd = odd(&devices)
        .into_iter()
        // A tag that stands twice as it is has its own finding.
        .filter(|o| o.beside.is_none_or(|b| devices[b].tag != devices[o.at].tag))
        .map(|o| finding(o.at, Code::OddEntry, o.message, o.help));
    odd.chain(unread).chain(late).collect()
}
