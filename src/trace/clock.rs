//! Times in cells: numbers in a unit, clock times, timestamps.
//!
//! Never in here: whether times increase. Changes when loggers write times otherwise.

use super::TimeForm;
use super::si::ToSi;
use super::suffix::Cells;
use crate::quantity::DecimalSign;

const NANOSECONDS: i64 = 1_000_000_000;

/// Reads times of one form.
#[derive(Debug)]
pub(super) enum Clock {
    Number(ToSi, Cells),
    Colons(usize),
    Stamp(Option<Stamp>),
}

/// The first timestamp: where it is in time, and whether it has an offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stamp {
    nanoseconds: i64,
    has_offset: bool,
}

impl Clock {
    pub fn new(form: &TimeForm, decimal: DecimalSign) -> Self {
        match form {
            TimeForm::Number(unit) => Self::Number(ToSi::of(unit), Cells::of(unit, decimal)),
            TimeForm::HoursMinutesSeconds => Self::Colons(2),
            TimeForm::MinutesSeconds => Self::Colons(1),
            TimeForm::Timestamp => Self::Stamp(None),
        }
    }

    /// The time of a cell in s; of timestamps since the first one.
    pub fn read(&mut self, cell: &[u8]) -> Option<f64> {
        let cell = cell.trim_ascii();
        match self {
            Self::Number(si, cells) => cells.number(cell).map(|v| si.apply(v)),
            Self::Colons(colons) => {
                let nanoseconds = sexagesimal(cell, *colons)?;
                Some(nanoseconds as f64 / NANOSECONDS as f64)
            }
            Self::Stamp(first) => {
                let stamp = timestamp(cell)?;
                let first = first.get_or_insert(stamp);
                if first.has_offset != stamp.has_offset {
                    return None;
                }
                let since = stamp.nanoseconds.checked_sub(first.nanoseconds)?;
                Some(since as f64 / NANOSECONDS as f64)
            }
        }
    }

    /// What a cell should have looked like.
    pub fn wanted(&self) -> &'static str {
        match self {
            Self::Number(..) => {
                "write times as numbers in the unit of the heading; state their unit if it is another: `{column: Elapsed, unit: min}`"
            }
            Self::Colons(2) => "write times as hh:mm:ss, minutes and seconds below 60",
            Self::Colons(_) => "write times as mm:ss, seconds below 60",
            Self::Stamp(_) => {
                "write times as 2026-03-09 08:12:40, all with an offset (Z, +01:00) or all without"
            }
        }
    }
}

/// The form of a time that is not a number, by how it looks.
pub(super) fn form_of(cell: &[u8]) -> Option<TimeForm> {
    let cell = cell.trim_ascii();
    if timestamp(cell).is_some() {
        Some(TimeForm::Timestamp)
    } else if sexagesimal(cell, 2).is_some() {
        Some(TimeForm::HoursMinutesSeconds)
    } else if sexagesimal(cell, 1).is_some() {
        Some(TimeForm::MinutesSeconds)
    } else {
        None
    }
}

/// `hh:mm:ss.fff` or `mm:ss.fff` in nanoseconds; only the first part may be 60 or more.
fn sexagesimal(cell: &[u8], colons: usize) -> Option<i64> {
    let mut parts = cell.split(|b| *b == b':');
    let mut whole = digits(parts.next()?, 1, 6)?;
    for _ in 1..colons {
        whole = whole * 60 + below_60(parts.next()?)?;
    }
    let (seconds, fraction) = seconds(parts.next()?)?;
    if parts.next().is_some() {
        return None;
    }
    Some((whole * 60 + seconds) * NANOSECONDS + fraction)
}

/// Seconds below 60, and nanoseconds of their fraction after a point or a comma.
fn seconds(text: &[u8]) -> Option<(i64, i64)> {
    let Some(at) = text.iter().position(|b| matches!(b, b'.' | b',')) else {
        return Some((below_60(text)?, 0));
    };
    let fraction = &text[at + 1..];
    let scale = 10_i64.checked_pow(u32::try_from(9_usize.checked_sub(fraction.len())?).ok()?)?;
    Some((below_60(&text[..at])?, digits(fraction, 1, 9)? * scale))
}

fn below_60(text: &[u8]) -> Option<i64> {
    digits(text, 2, 2).filter(|n| *n < 60)
}

/// A number of so many digits and nothing else.
fn digits(text: &[u8], least: usize, most: usize) -> Option<i64> {
    if !(least..=most).contains(&text.len()) || !text.iter().all(u8::is_ascii_digit) {
        return None;
    }
    Some(text.iter().fold(0, |n, b| n * 10 + i64::from(b - b'0')))
}

/// `2026-03-09 08:12:40`, with `T`, a fraction and an offset if there are any. A leap second is refused.
fn timestamp(cell: &[u8]) -> Option<Stamp> {
    let (date, clock) = cell.split_at_checked(11)?;
    let days = days(date)?;
    let (clock, offset) = parted(clock)?;
    let seconds_of_day = match clock.iter().filter(|b| **b == b':').count() {
        1 => sexagesimal(&[clock, b":00"].concat(), 2)?,
        _ => sexagesimal(clock, 2)?,
    };
    if seconds_of_day >= 86_400 * NANOSECONDS {
        return None;
    }
    let day = days.checked_mul(86_400 * NANOSECONDS)?;
    let shift = offset.unwrap_or(0) * 60 * NANOSECONDS;
    Some(Stamp {
        nanoseconds: day.checked_add(seconds_of_day)?.checked_sub(shift)?,
        has_offset: offset.is_some(),
    })
}

/// The clock time and the minutes of the offset behind it.
fn parted(clock: &[u8]) -> Option<(&[u8], Option<i64>)> {
    if let Some(clock) = clock.strip_suffix(b"Z") {
        return Some((clock, Some(0)));
    }
    let Some(at) = clock.iter().position(|b| matches!(b, b'+' | b'-')) else {
        return Some((clock, None));
    };
    let (hours, minutes) = match &clock[at + 1..] {
        [h1, h2] => ([*h1, *h2], [b'0'; 2]),
        [h1, h2, b':', m1, m2] | [h1, h2, m1, m2] => ([*h1, *h2], [*m1, *m2]),
        _ => return None,
    };
    let hours = digits(&hours, 2, 2).filter(|h| *h <= 14)?;
    let minutes = hours * 60 + below_60(&minutes)?;
    let sign = if clock[at] == b'-' { -1 } else { 1 };
    Some((clock[..at].trim_ascii_end(), Some(sign * minutes)))
}

/// Days since 1970-01-01 of `2026-03-09` and the sign behind it (algorithm days_from_civil, Hinnant, from memory).
fn days(date: &[u8]) -> Option<i64> {
    let [
        y1,
        y2,
        y3,
        y4,
        b'-',
        m1,
        m2,
        b'-',
        d1,
        d2,
        b' ' | b'T' | b't',
    ] = date
    else {
        return None;
    };
    let year = digits(&[*y1, *y2, *y3, *y4], 4, 4).filter(|y| (1900..2200).contains(y))?;
    let month = digits(&[*m1, *m2], 2, 2).filter(|m| (1..=12).contains(m))?;
    let day = digits(&[*d1, *d2], 2, 2).filter(|d| (1..=length(year, month)).contains(d))?;
    let year = if month <= 2 { year - 1 } else { year };
    let (era, of_era) = (year.div_euclid(400), year.rem_euclid(400));
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

/// The days of a month.
fn length(year: i64, month: i64) -> i64 {
    match month {
        2 if (year % 4 == 0 && year % 100 != 0) || year % 400 == 0 => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}
