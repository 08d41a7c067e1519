//! Numbers in cells, and which decimal sign a file has.
//!
//! Never in here: units. Changes when cells hold numbers otherwise.

use super::Separator;
use super::fault::{TraceFault, quoted};
use super::rows::{Next, Rows, decoded, line_of};
use super::suffix::parted;
use crate::quantity::DecimalSign;

/// Longest number that is read, in bytes.
const LONGEST: usize = 40;

/// Reads a cell as a number with that decimal sign; nothing where it is none, or is not finite.
///
/// Grouping of digits is not taken: `1.234,5` is no number.
pub(super) fn number(cell: &[u8], sign: DecimalSign) -> Option<f64> {
    let cell = cell.trim_ascii();
    let mut text = [0; LONGEST];
    let text = text.get_mut(..cell.len())?;
    for (to, from) in text.iter_mut().zip(cell) {
        *to = match (from, sign) {
            (b'0'..=b'9' | b'+' | b'-' | b'e' | b'E', _) => *from,
            (b'.', DecimalSign::Point) | (b',', DecimalSign::Comma) => b'.',
            _ => return None,
        };
    }
    let value: f64 = std::str::from_utf8(text).ok()?.parse().ok()?;
    value.is_finite().then_some(value)
}

/// What one cell says of the decimal sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Evidence {
    /// There is no sign in it, or it is no number either way.
    Nothing,
    /// The sign is decimal.
    Sure(DecimalSign),
    /// It could as well group thousands: `12.345`.
    Doubtful(DecimalSign),
}

fn evidence(cell: &[u8]) -> Evidence {
    let cell = parted(cell).map_or(cell.trim_ascii(), |(number, _)| number);
    let sign = match (cell.contains(&b'.'), cell.contains(&b',')) {
        (true, false) => DecimalSign::Point,
        (false, true) => DecimalSign::Comma,
        _ => return Evidence::Nothing,
    };
    if number(cell, sign).is_none() {
        return Evidence::Nothing;
    }
    let symbol = sign.symbol() as u8;
    let mut parts = cell.split(|b| *b == symbol);
    let (before, after) = (
        parts.next().unwrap_or_default(),
        parts.next().unwrap_or_default(),
    );
    let whole = before.strip_prefix(b"-").unwrap_or(before);
    let grouped = (1..=3).contains(&whole.len())
        && whole[0] != b'0'
        && whole.iter().chain(after).all(u8::is_ascii_digit)
        && after.len() == 3;
    if grouped {
        Evidence::Doubtful(sign)
    } else {
        Evidence::Sure(sign)
    }
}

/// The decimal sign of a file: by the first cell that leaves no doubt. With commas as separators a point is decimal.
///
/// Cells with colons (clock times) say nothing. A file without any sign is read as with a point.
pub(super) fn find(
    bytes: &[u8],
    from: usize,
    separator: Separator,
    columns: &[usize],
) -> Result<DecimalSign, TraceFault> {
    let mut rows = Rows::new(bytes, from, separator);
    let mut doubtful = None;
    while rows.next() == Next::Row {
        for column in columns {
            let cell = rows.record().get(*column).unwrap_or_default();
            match evidence(cell) {
                Evidence::Nothing => {}
                Evidence::Sure(sign) => return Ok(sign),
                Evidence::Doubtful(DecimalSign::Point) if separator == Separator::Comma => {
                    return Ok(DecimalSign::Point);
                }
                Evidence::Doubtful(_) => {
                    doubtful.get_or_insert_with(|| (rows.start(), *column, cell.to_owned()));
                }
            }
        }
    }
    match doubtful {
        None => Ok(DecimalSign::Point),
        Some((start, column, cell)) => Err(TraceFault::new(
            line_of(bytes, start),
            column + 1,
            format!(
                "{} may have a decimal sign or grouped thousands, and no other cell tells",
                quoted(&decoded(&cell))
            ),
            "state the decimal sign: `decimal: \".\"` or `decimal: \",\"`",
        )),
    }
}
