//! How numbers of a plot are written.
//!
//! Never in here: units. Changes when other numbers get short or long forms.

/// Significant digits of a number in a table.
const DIGITS: i32 = 6;
/// From here on upwards numbers are written with an exponent.
const LARGE: f64 = 1e7;
/// Below this numbers are written with an exponent.
const SMALL: f64 = 1e-4;

/// The power of ten of the first digit; 0 for 0.
pub(super) fn exponent(v: f64) -> i32 {
    if v == 0.0 {
        0
    } else {
        v.abs().log10().floor() as i32
    }
}

/// A number to six significant digits.
pub(super) fn short(v: f64) -> String {
    if v == 0.0 {
        return "0".to_owned();
    }
    if v.abs() >= LARGE || v.abs() < SMALL {
        return scientific(v, DIGITS - 1);
    }
    let decimals = (DIGITS - 1 - exponent(v)).max(0) as usize;
    without_zeros(format!("{v:.decimals$}"))
}

/// A mark of an axis whose marks are `step` apart and at most `greatest` away from 0.
pub(super) fn tick(v: f64, step: f64, greatest: f64) -> String {
    if v == 0.0 {
        return "0".to_owned();
    }
    if greatest >= LARGE || step < SMALL / 10.0 {
        return scientific(v, exponent(v) - exponent(step));
    }
    let decimals = (-exponent(step * 1.000_001)).max(0) as usize;
    format!("{v:.decimals$}")
}

fn scientific(v: f64, decimals: i32) -> String {
    let decimals = decimals.clamp(0, 9) as usize;
    let text = format!("{v:.decimals$e}");
    match text.split_once('e') {
        Some((digits, power)) => format!("{}e{power}", without_zeros(digits.to_owned())),
        None => text,
    }
}

fn without_zeros(text: String) -> String {
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
