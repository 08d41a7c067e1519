//! How numbers, values and times are written for a reader.
//!
//! Never in here: judging. Changes when a kind of value is added.

use std::fmt::Write;

use serde_json::Value as Json;

use crate::quantity::{Exact, Quantity as Measured, Unit, parse_quantity};
use crate::record::Quantity;

use super::clean::{prose, typed};
use super::words::say;

/// Where a text ends when a list of many values is shown, in values.
const MOST_VALUES: usize = 400;

/// The quantity behind stored text, if it can be read.
pub(super) fn measured(q: &Quantity) -> Option<Measured> {
    let text = if q.unit == "1" {
        q.value.clone()
    } else {
        format!("{} {}", q.value, q.unit)
    };
    parse_quantity(&text).ok().map(Measured::untyped)
}

/// A stored quantity in another unit, where it can be converted.
pub(super) fn converted(q: &Quantity, unit: &str) -> Option<Quantity> {
    let of = measured(q)?.convert(&Unit::parse(unit).ok()?).ok()?;
    Some(Quantity {
        value: of.value_text(),
        unit: of.unit().text().to_owned(),
        ucum: of.unit().ucum().to_owned(),
        exact: q.exact && of.is_exact(),
    })
}

/// A stored quantity with at most six decimals or six significant digits; `≈` where that is not the whole value.
pub(super) fn quantity(q: &Quantity) -> String {
    let whole = match q.unit.as_str() {
        "1" | "" => q.value.clone(),
        unit => format!("{} {unit}", q.value),
    };
    let shown = measured(q).map_or_else(|| whole.clone(), |m| m.shown());
    if q.exact && shown == whole {
        shown
    } else {
        format!("≈ {shown}")
    }
}

/// Decimal text to some significant digits.
pub(super) fn short(number: &str, digits: u32) -> String {
    Exact::parse(number).map_or_else(|_| prose(number), |exact| exact.to_significant(digits))
}

/// A number with its unit, which a bare number has not.
pub(super) fn with_unit(number: &str, unit: &str) -> String {
    match unit {
        "1" | "" => number.to_owned(),
        unit => format!("{number} {}", prose(unit)),
    }
}

/// A ratio in percent, to two significant digits.
pub(super) fn percent(ratio: &str) -> String {
    match ratio.parse::<f64>() {
        Ok(ratio) if ratio >= 0.995 => "100 %".to_owned(),
        Ok(ratio) if (0.0..0.0001).contains(&ratio) => "< 0.01 %".to_owned(),
        Ok(ratio) if ratio > 0.0 => {
            let percent = Exact::from_f64(ratio * 100.0).unwrap_or_default();
            format!("{} %", percent.to_significant(2))
        }
        _ => prose(ratio),
    }
}

/// A time of a minute and more in hours, minutes and seconds, those with so many decimals: `2 h 10 min 0.0 s`.
pub(super) fn clock(seconds: f64, decimals: usize) -> String {
    let scale = 10_f64.powi(i32::try_from(decimals).unwrap_or(0));
    let whole = (seconds * scale).round() / scale;
    let hours = (whole / 3600.0).floor();
    let minutes = ((whole - hours * 3600.0) / 60.0).floor();
    let rest = (whole - hours * 3600.0 - minutes * 60.0).max(0.0);
    match hours > 0.0 {
        true => format!("{hours} h {minutes} min {rest:.decimals$} s"),
        false => format!("{minutes} min {rest:.decimals$} s"),
    }
}

/// The quantity that a stored value is, if it is one.
pub(super) fn as_quantity(value: &Json) -> Option<Quantity> {
    serde_json::from_value(value.clone()).ok()
}

/// Whether a value is or holds a quantity.
pub(super) fn has_quantity(value: &Json) -> bool {
    match value {
        Json::Array(items) => items.iter().any(has_quantity),
        Json::Object(_) => as_quantity(value).is_some(),
        _ => false,
    }
}

/// A stored value for a reader; empty where there is none.
pub(super) fn value(of: &Json) -> String {
    match of {
        Json::Null => String::new(),
        Json::Bool(true) => say!("yes"),
        Json::Bool(false) => say!("no"),
        Json::String(text) => typed(text),
        Json::Number(number) => number.to_string(),
        Json::Array(items) => list(items, value),
        Json::Object(_) => match as_quantity(of) {
            Some(q) => quantity(&q),
            None => super::logs::in_words(of).unwrap_or_else(|| of.to_string()),
        },
    }
}

/// An entry as it was typed; empty where there is none.
pub(super) fn entry(of: &Json) -> String {
    match of {
        Json::Null => String::new(),
        Json::String(text) => typed(text),
        Json::Array(items) => list(items, entry),
        other => typed(&other.to_string()),
    }
}

fn list(items: &[Json], one: fn(&Json) -> String) -> String {
    let shown: Vec<String> = items.iter().take(MOST_VALUES).map(one).collect();
    let mut text = shown.join("; ");
    if items.len() > MOST_VALUES {
        let _ = write!(
            text,
            "; {}",
            say!("… {n} more", n = items.len() - MOST_VALUES)
        );
    }
    text
}

/// A time for a reader: `2026-03-09 08:12:40, UTC+01:00`. What isn't a time stays as it is.
pub(super) fn time(text: &str) -> String {
    match Time::read(text) {
        Some(t) => format!("{} {}, {}", t.date, t.clock, t.zone()),
        None => prose(text),
    }
}

/// A time on the same day and with the same offset as `base` is only a clock time.
pub(super) fn time_since(text: &str, base: &str) -> String {
    match (Time::read(text), Time::read(base)) {
        (Some(t), Some(b)) if t.date == b.date && t.offset == b.offset => t.clock.to_owned(),
        _ => time(text),
    }
}

/// The day and the offset of a time, for the sentence that explains clock times.
pub(super) fn day_and_zone(text: &str) -> Option<(String, String)> {
    Time::read(text).map(|t| (t.date.to_owned(), t.zone()))
}

struct Time<'a> {
    date: &'a str,
    clock: &'a str,
    offset: &'a str,
}

impl<'a> Time<'a> {
    /// Reads `DATE T CLOCK [.FRACTION] OFFSET` by its shape.
    fn read(text: &'a str) -> Option<Self> {
        let (date, rest) = text.split_once('T')?;
        let offset_at = rest.find(['+', '-', 'Z'])?;
        let (clock, offset) = rest.split_at(offset_at);
        let clock = clock.split('.').next()?;
        let shaped = |text: &str, shape: &str| {
            text.len() == shape.len()
                && text.bytes().zip(shape.bytes()).all(|(c, s)| {
                    if s == b'0' {
                        c.is_ascii_digit()
                    } else {
                        c == s
                    }
                })
        };
        let offset_ok = offset == "Z" || shaped(&offset[1..], "00:00");
        (shaped(date, "0000-00-00") && shaped(clock, "00:00:00") && offset_ok).then_some(Self {
            date,
            clock,
            offset,
        })
    }

    fn zone(&self) -> String {
        match self.offset {
            "Z" => "UTC".to_owned(),
            offset => format!("UTC{offset}"),
        }
    }
}

/// The text with its first letter as a capital.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
