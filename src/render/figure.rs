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

/// A stored quantity with at most six decimals or six significant digits; `≈` where that is not the whole value. Times are
/// told as a clock does.
pub(super) fn quantity(q: &Quantity) -> String {
    if let Some(told) = measured(q).and_then(|m| time_of_clock(&m, q.exact)) {
        return told;
    }
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

/// A number with its unit to some significant digits; a time of less than a minute in seconds, whatever it is kept in.
pub(super) fn in_brief(number: &str, unit: &str, digits: u32) -> String {
    let of = parse_quantity(&format!("{number} {unit}")).ok();
    let seconds = of.and_then(|of| in_seconds(&of.untyped()));
    match seconds.filter(|s| s.value().to_f64().abs() < 60.0) {
        Some(seconds) => with_unit(&short(&seconds.value_text(), digits), "s"),
        None => with_unit(&short(number, digits), unit),
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

/// Units of times that are told in hours, minutes and seconds, whichever of them they are kept in.
const OF_CLOCKS: [&str; 3] = ["s", "min", "h"];

/// A time in seconds, where it is one of a clock; nothing where it is another quantity, or none at all.
pub(super) fn in_seconds(of: &Measured) -> Option<Measured> {
    let is_of_clock = OF_CLOCKS.contains(&of.unit().text());
    let second = Unit::parse("s").ok().filter(|_| is_of_clock)?;
    of.convert(&second).ok()
}

/// Seconds in decimals as a clock tells them, without the parts that are nothing at the end: `2 h 10 min`, `4 min 54.2 s`,
/// `23 s`.
pub(super) fn clock(seconds: &str) -> Option<String> {
    let (sign, number) = match seconds.strip_prefix('-') {
        Some(number) => ("-", number),
        None => ("", seconds),
    };
    let (whole, rest) = match number.split_once('.') {
        Some((whole, rest)) => (whole, format!(".{rest}")),
        None => (number, String::new()),
    };
    let whole: u64 = whole.parse().ok()?;
    let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
    let has_seconds = seconds > 0 || !rest.is_empty() || whole == 0;
    let mut parts = Vec::new();
    if hours > 0 {
        parts.push(format!("{hours} h"));
    }
    if minutes > 0 || hours > 0 && has_seconds {
        parts.push(format!("{minutes} min"));
    }
    if has_seconds {
        parts.push(format!("{seconds}{rest} s"));
    }
    Some(format!("{sign}{}", parts.join(" ")))
}

/// A time as a clock tells it, with `≈` where that is not the whole of it.
pub(super) fn time_of_clock(of: &Measured, is_exact: bool) -> Option<String> {
    let seconds = in_seconds(of)?;
    let shown = seconds.shown();
    let number = shown.strip_suffix(" s")?;
    if is_exact && seconds.is_exact() && number == seconds.value_text() {
        return clock(number);
    }
    // Noughts at the end would say that they are known.
    let number = match number.contains('.') {
        true => number.trim_end_matches('0').trim_end_matches('.'),
        false => number,
    };
    Some(format!("≈ {}", clock(number)?))
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

/// Fewest values that are told as one where all are the same.
const LEAST_ALIKE: usize = 5;

fn list(items: &[Json], one: fn(&Json) -> String) -> String {
    let alike = items
        .first()
        .filter(|first| items.iter().all(|i| i == *first));
    if let Some(first) = alike.filter(|_| items.len() >= LEAST_ALIKE) {
        return say!("{n} times {value}", n = items.len(), value = one(first));
    }
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
