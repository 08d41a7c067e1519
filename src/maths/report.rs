//! A result and its uncertainty as decimal text.
//!
//! Never in here: units and words. Changes when results are rounded otherwise.

use super::Refusal;
use super::refusal::wanted;
use crate::quantity::{Exact, Rounding};

/// Significant digits of an uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UncertaintyDigits {
    /// One.
    One,
    /// Two, as usual.
    Two,
}

/// A result and its uncertainty, both ending at the same decimal place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reported {
    /// The result.
    pub value: String,
    /// Its uncertainty, standard or expanded.
    pub uncertainty: String,
    /// The power of ten of their last digit.
    pub place: i64,
}

/// Significant digits that count of a double: the last three to four of its 16 can be noise of the arithmetic.
const TELLING_DIGITS: usize = 12;

/// The number that a computed double stands for: its nearest decimal of 12 significant digits. Without that the last digits of
/// the arithmetic would decide where a number lies in the middle of two. What is larger by one in the 12th digit stays larger: no chain of a few
/// operations is off by as much. Zero where the double is not finite.
#[must_use]
pub fn without_noise(double: f64) -> Exact {
    let text = format!("{double:.*e}", TELLING_DIGITS - 1);
    let decimal = Exact::parse(&text).ok();
    decimal
        .or_else(|| Exact::from_f64(double))
        .unwrap_or_default()
}

/// How an expanded uncertainty is rounded: to the nearest, and up where the nearest would understate it by more than 1 % of
/// it. So 10.47 becomes 11 and 28.05 becomes 28, the examples of JCGM 100:2008, 7.2.6; the 1 % is this project's reading of them.
#[must_use]
pub fn rule_of_expanded(uncertainty: &Exact, digits: UncertaintyDigits) -> Rounding {
    let place = place_of(uncertainty, digits, Rounding::HalfEven);
    let lost = uncertainty.clone() - to_place(uncertainty, place, Rounding::HalfEven);
    if lost * Exact::from(100) > *uncertainty {
        Rounding::Ceiling
    } else {
        Rounding::HalfEven
    }
}

/// Rounds after GUM 7.2.6: the uncertainty to its significant `digits`, the result to the same decimal place. The result goes
/// to the nearest, a tie to the even digit; the uncertainty after `rule` (see [`rule_of_expanded`]). Both are
/// rounded once, from the exact values. An uncertainty of zero leaves the result whole.
///
/// # Errors
/// An uncertainty below zero.
pub fn report(
    value: &Exact,
    uncertainty: &Exact,
    digits: UncertaintyDigits,
    rule: Rounding,
) -> Result<Reported, Refusal> {
    let holds = !uncertainty.is_negative();
    wanted("an uncertainty", uncertainty.to_f64(), "0 or above", holds)?;
    if uncertainty.is_zero() {
        return Ok(Reported {
            value: value.to_text(),
            uncertainty: "0".to_owned(),
            place: -i64::from(value.decimal_places().unwrap_or(0)),
        });
    }
    let place = place_of(uncertainty, digits, rule);
    Ok(Reported {
        value: rounded(value, place, Rounding::HalfEven),
        uncertainty: rounded(uncertainty, place, rule),
        place,
    })
}

/// The power of ten of the last digit that counts; one more where rounding makes another digit of it (0.0996 to 0.10).
fn place_of(uncertainty: &Exact, digits: UncertaintyDigits, rule: Rounding) -> i64 {
    let after_first = match digits {
        UncertaintyDigits::One => 0,
        UncertaintyDigits::Two => 1,
    };
    let place = uncertainty.order_of_magnitude() - after_first;
    let carried = to_place(uncertainty, place, rule).order_of_magnitude() - after_first;
    // Rounded down to nothing, it has no digits: the first place stands.
    carried.max(place)
}

fn to_place(number: &Exact, place: i64, rule: Rounding) -> Exact {
    let step = i32::try_from(place)
        .ok()
        .and_then(|p| Exact::from(10).powi(p));
    step.and_then(|step| number.round_to(&step, rule))
        .unwrap_or_else(|| number.clone())
}

fn rounded(number: &Exact, place: i64, rule: Rounding) -> String {
    let places = u32::try_from(-place).unwrap_or(0);
    to_place(number, place, rule).to_fixed(places)
}
