//! Units behind the numbers of cells: `10.2 mL`.
//!
//! Never in here: which unit a column has. Changes when cells name units otherwise.

use super::decimal;
use super::rows::decoded;
use crate::quantity::{DecimalSign, Unit};

/// A cell parted into its number and what stands behind it; nothing where one of them is missing.
pub(super) fn parted(cell: &[u8]) -> Option<(&[u8], &[u8])> {
    let cell = cell.trim_ascii();
    let signs = cell.iter().take_while(|b| matches!(b, b'+' | b'-')).count();
    let digits = |from: usize| {
        let rest = cell[from..].iter();
        from + rest
            .take_while(|b| matches!(b, b'0'..=b'9' | b'.' | b','))
            .count()
    };
    let mut end = digits(signs);
    if end == signs {
        return None;
    }
    // An exponent, if digits follow it: `1e3 mL`, but not `1 eV`.
    if let [b'e' | b'E', rest @ ..] = &cell[end..] {
        let sign = usize::from(matches!(rest, [b'+' | b'-', ..]));
        if rest.get(sign).is_some_and(u8::is_ascii_digit) {
            end = digits(end + 1 + sign);
        }
    }
    let behind = cell[end..].trim_ascii_start();
    (!behind.is_empty()).then_some((&cell[..end], behind))
}

/// The unit behind the number of a cell, if one stands there.
pub(super) fn unit_of(cell: &[u8]) -> Option<Unit> {
    let (_, behind) = parted(cell)?;
    Unit::parse(&decoded(behind))
        .ok()
        .filter(|unit| unit.text() != "1")
}

/// Reads cells of one unit, in which the unit may be written once more.
#[derive(Debug)]
pub(super) struct Cells {
    unit: Unit,
    decimal: DecimalSign,
    /// How the unit stood in the last cell that had it.
    known: Vec<u8>,
}

impl Cells {
    pub fn of(unit: &Unit, decimal: DecimalSign) -> Self {
        Self {
            unit: unit.clone(),
            decimal,
            known: Vec::new(),
        }
    }

    /// The number of a cell in the unit of its column; nothing where it is none, or has another unit.
    pub fn number(&mut self, cell: &[u8]) -> Option<f64> {
        decimal::number(cell, self.decimal).or_else(|| self.with_unit(cell))
    }

    fn with_unit(&mut self, cell: &[u8]) -> Option<f64> {
        let (number, behind) = parted(cell)?;
        if behind != self.known {
            if !is_same(&unit_of(cell)?, &self.unit) {
                return None;
            }
            self.known = behind.to_owned();
        }
        decimal::number(number, self.decimal)
    }

    /// The unit of a cell that is not that of its column.
    pub fn other_unit(&self, cell: &[u8]) -> Option<Unit> {
        unit_of(cell).filter(|unit| !is_same(unit, &self.unit))
    }

    pub fn unit(&self) -> &Unit {
        &self.unit
    }
}

/// Whether two units are the same, however they are spelt.
fn is_same(a: &Unit, b: &Unit) -> bool {
    (a.kind(), a.factor(), a.offset()) == (b.kind(), b.factor(), b.offset())
}
