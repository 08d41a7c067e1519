//! How many digits a number has beside its uncertainty: those of U, which has two.
//!
//! Never in here: uncertainties themselves. Changes when numbers are rounded otherwise for reading.

use crate::quantity::{Quantity as Measured, Unit};
use crate::record::{Limit, Quantity, Uncertainty};

use super::clean::prose;
use super::figure;

/// U in a unit; nothing where that is another kind of unit.
pub(super) fn expanded_in(of: &Uncertainty, unit: &Unit) -> Option<f64> {
    let expanded: f64 = of.expanded.parse().ok()?;
    let own = Unit::parse(&of.unit).ok()?;
    if own.kind() != unit.kind() {
        return None;
    }
    let expanded = expanded * own.factor().to_f64() / unit.factor().to_f64();
    (expanded.is_finite() && expanded > 0.0).then_some(expanded)
}

/// Decimals down to the second digit of U.
fn decimals(expanded: f64) -> usize {
    let place = 1.0 - expanded.log10().floor();
    // A U of 0.0996 is told as 0.10.
    let told = (expanded * 10_f64.powf(place)).round();
    let place = if told >= 100.0 { place - 1.0 } else { place };
    place.clamp(0.0, 12.0) as usize
}

/// A number to the digits of U; to two of its own where nothing would be left of it.
fn rounded(number: f64, expanded: f64) -> String {
    let text = format!("{number:.*}", decimals(expanded));
    let is_nothing = text.parse::<f64>().is_ok_and(|n| n == 0.0);
    match is_nothing && number != 0.0 {
        true => figure::short(&format!("{number:.15}"), 2),
        false => text,
    }
}

/// A U, rounded upwards where it would else be told as more than 1 % too small.
fn not_understated(expanded: f64) -> String {
    let told = rounded(expanded, expanded);
    if told.parse::<f64>().is_ok_and(|t| t >= expanded * 0.99) {
        return told;
    }
    let places = decimals(expanded);
    let half = 0.5 * 10_f64.powi(-i32::try_from(places).unwrap_or(0));
    format!("{:.places$}", expanded + half)
}

/// A computed quantity beside the U of what it was computed from; as it is where there is none.
pub(super) fn near(value: &Measured, of: Option<&Uncertainty>) -> String {
    let unit = value.unit();
    let on_clock = figure::time_of_clock(value, value.is_exact());
    let whole = on_clock.unwrap_or_else(|| {
        figure::quantity(&Quantity {
            value: value.value_text(),
            unit: unit.text().to_owned(),
            ucum: String::new(),
            exact: value.is_exact(),
        })
    });
    let Some(expanded) = of.and_then(|of| expanded_in(of, &unit.of_difference())) else {
        return whole;
    };
    if let Some(told) = of.and_then(|of| near_on_the_clock(value, of, &whole)) {
        return told;
    }
    let told = rounded(value.value().to_f64(), expanded);
    // What has fewer digits anyway stays as it is.
    match whole.starts_with('≈') || told.len() < value.value_text().len() {
        true => format!("≈ {}", figure::with_unit(&told, unit.text())),
        false => whole,
    }
}

/// A time beside its U, as a clock tells it; `whole` is all of it.
fn near_on_the_clock(value: &Measured, of: &Uncertainty, whole: &str) -> Option<String> {
    let seconds = figure::in_seconds(value)?;
    let expanded = expanded_in(of, seconds.unit())?;
    let told = rounded(seconds.value().to_f64(), expanded);
    Some(
        match whole.starts_with('≈') || told.len() < seconds.value_text().len() {
            true => format!("≈ {}", figure::clock(&told)?),
            false => whole.to_owned(),
        },
    )
}

/// A stored value beside its U: one that is not shown whole to the digits of U.
pub(super) fn beside(value: &Quantity, of: Option<&Uncertainty>) -> String {
    let whole = figure::quantity(value);
    match figure::measured(value) {
        Some(value) if whole.starts_with('≈') => near(&value, of),
        _ => whole,
    }
}

/// Value ± U, in the unit of the limit where that is another; times as a clock tells them.
pub(super) fn with_expanded(limit: &Limit, of: &Uncertainty) -> String {
    let value = limit.value.as_ref().and_then(figure::measured);
    value
        .and_then(|value| on_the_clock(&value, of))
        .or_else(|| in_unit_of_limit(limit, of))
        .unwrap_or_else(|| prose(&of.shown))
}

/// A time of a minute and more with its U, as a clock tells both: `2 h 10 min 0.0 s ± 1.3 s`; nothing where U is a minute or
/// more, which a reader would not look for in seconds.
pub(super) fn on_the_clock(value: &Measured, of: &Uncertainty) -> Option<String> {
    const MINUTE_S: f64 = 60.0;
    let seconds = figure::in_seconds(value)?;
    let expanded = expanded_in(of, seconds.unit())?;
    let seconds = seconds.value().to_f64();
    if seconds.abs() < MINUTE_S && expanded < MINUTE_S {
        let places = decimals(expanded);
        return Some(format!(
            "({seconds:.places$} ± {}) s",
            not_understated(expanded)
        ));
    }
    if seconds < MINUTE_S || expanded >= MINUTE_S {
        return None;
    }
    let places = decimals(expanded);
    Some(format!(
        "{} ± {} s",
        figure::clock(&format!("{seconds:.places$}"))?,
        not_understated(expanded)
    ))
}

fn in_unit_of_limit(limit: &Limit, of: &Uncertainty) -> Option<String> {
    let end = limit.low.as_ref().or(limit.high.as_ref())?;
    let value = limit.value.as_ref().filter(|_| end.unit != of.unit)?;
    let value = figure::measured(&figure::converted(value, &end.unit)?)?;
    let unit = value.unit();
    if unit.of_difference().text() != unit.text() || unit.text() == "1" {
        return None;
    }
    let expanded = expanded_in(of, unit)?;
    let places = decimals(expanded);
    let told = not_understated(expanded);
    let number = format!("{:.places$}", value.value().to_f64());
    Some(format!("({number} ± {told}) {}", unit.text()))
}
