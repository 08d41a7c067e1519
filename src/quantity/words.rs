//! How what is allowed is said: `4.75 mL to 5.25 mL`, `at most 15 psi`, `below 80 %`.
//!
//! Never in here: numbers. Changes when it is said otherwise.

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
