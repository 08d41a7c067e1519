//! Days of the calendar as text.
//!
//! Never in here: the clock. Changes never.

/// Whether a text is a day of the calendar, as `2026-03-31`.
#[must_use]
pub fn is_day(text: &str) -> bool {
    text.len() == 10 && text.parse::<jiff::civil::Date>().is_ok()
}
