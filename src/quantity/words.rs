//! How numbers are shortened, and how what is allowed is said: `4.75 mL to 5.25 mL`, `at most 15 psi`, `below 80 %`.
//!
//! Never in here: arithmetic. Changes when it is said otherwise.

use super::Exact;

/// An interval in words; an end that is missing is open, ends of a strict one are outside.
#[must_use]
pub fn interval_in_words(low: Option<&str>, high: Option<&str>, strict: bool) -> String {
    match (low, high, strict) {
        (Some(low), Some(high), _) if low == high => format!("exactly {low}"),
        (Some(low), Some(high), false) => format!("{low} to {high}"),
        (Some(low), Some(high), true) => format!("above {low} and below {high}"),
        (Some(low), None, false) => format!("at least {low}"),
        (Some(low), None, true) => format!("above {low}"),
        (None, Some(high), false) => format!("at most {high}"),
        (None, Some(high), true) => format!("below {high}"),
        (None, None, _) => "none".to_owned(),
    }
}

/// A number with its unit: `0.02 mL`, `2 %`; a bare ratio, whose unit is `1`, is the number alone.
#[must_use]
pub fn with_unit(number: &str, unit: &str) -> String {
    match unit {
        "" | "1" => number.to_owned(),
        of => format!("{number} {of}"),
    }
}

/// Decimal text to some significant digits; text that is no number as it stands.
#[must_use]
pub fn shortened(number: &str, digits: u32) -> String {
    Exact::parse(number).map_or_else(|_| number.to_owned(), |exact| exact.to_significant(digits))
}

/// A double to some significant digits.
#[must_use]
pub fn shortened_double(number: f64, digits: u32) -> String {
    Exact::from_f64(number)
        .unwrap_or_default()
        .to_significant(digits)
}
