//! The uncertainty of a value as a record tells it: u, k, U, and what it is made of.
//!
//! Never in here: how it is found (see `plan`). Changes when a record tells more of it.

use crate::engine::Limit;
use crate::maths::Linear;
use crate::maths::report::{UncertaintyDigits, report, without_noise};
use crate::plan::{SEED, Sources, Spread, TRIALS, Trials, Uncertainty as Found, Value};
use crate::quantity::{Number, Quantity as Measured, Rounding, Unit};

use super::wire::{BudgetLine, Distance, DrawnErrors, Uncertainty};

/// Most lines of a budget; what is left is told in one more.
const MAX_LINES: usize = 12;

/// What is left to first order where all sensitivities vanish.
const NOTHING_LEFT: Found = Found {
    standard_si: 0.0,
    freedom: f64::INFINITY,
    k: 2.0,
    expanded_si: 0.0,
};

/// The uncertainty of a value; `number` carries its sensitivities. Nothing where no source of error acts on it, and none was
/// drawn either.
#[must_use]
pub fn uncertainty(
    value: &Measured,
    number: &Linear,
    sources: &Sources,
    drawn: Option<&Trials>,
) -> Option<Uncertainty> {
    let to_first_order = sources.uncertainty(number);
    let found = to_first_order.or(drawn.map(|_| NOTHING_LEFT))?;
    let unit = value.unit().of_difference();
    Some(Uncertainty {
        standard: in_unit(found.standard_si, &unit),
        k: text(found.k),
        expanded: in_unit(found.expanded_si, &unit),
        unit: unit.text().to_owned(),
        freedom: finite(found.freedom),
        shown: match to_first_order {
            Some(found) => rounded(value, &found),
            None => value.shown(),
        },
        budget: budget(number, &unit, sources),
        drawn: drawn.map(|d| drawn_errors(d, value.unit(), &unit)),
    })
}

/// The uncertainty of the distance to a limit, where it is another than that of the value, or was drawn.
#[must_use]
pub(super) fn distance(limit: &Limit) -> Option<Distance> {
    /// Rounding of doubles comes to less than this share.
    const ALIKE: f64 = 1e-9;
    let unit = limit.value.as_ref()?.unit().of_difference();
    let standard = |u: &Option<Found>| u.map_or(0.0, |u| u.standard_si);
    let of_value = standard(&limit.uncertainty);
    let of_distance = standard(&limit.distance.uncertainty);
    let apart = (of_value - of_distance).abs() > ALIKE * of_value.max(of_distance);
    let drawn = limit.distance.drawn.as_ref();
    let found = limit.distance.uncertainty.unwrap_or(NOTHING_LEFT);
    (apart || drawn.is_some()).then(|| Distance {
        standard: in_unit(found.standard_si, &unit),
        k: text(found.k),
        expanded: in_unit(found.expanded_si, &unit),
        unit: unit.text().to_owned(),
        freedom: finite(found.freedom),
        drawn: drawn.map(|d| drawn_errors(d, &unit, &unit)),
    })
}

/// The uncertainties of the readings of a list, or the one of a single value.
#[must_use]
pub fn uncertainties(
    value: &Value,
    spread: &Spread,
    sources: &Sources,
    drawn: Option<&Trials>,
) -> serde_json::Value {
    let json = |of: Option<Uncertainty>| serde_json::to_value(of).unwrap_or_default();
    match (value, spread) {
        (Value::Quantity(q), Spread::Number(number)) => {
            json(uncertainty(q, number, sources, drawn))
        }
        (Value::List(values), Spread::List(spreads)) => {
            let rows = values.iter().zip(spreads);
            let all: Vec<_> = rows
                .map(|(v, s)| uncertainties(v, s, sources, None))
                .collect();
            if all.iter().all(serde_json::Value::is_null) {
                serde_json::Value::Null
            } else {
                all.into()
            }
        }
        _ => serde_json::Value::Null,
    }
}

/// Value ± U as it is printed: U with two significant digits, rounded up, and the value to the same place (JCGM 100:2008,
/// 7.2.6). What is stored stays whole.
#[must_use]
pub fn rounded(value: &Measured, found: &Found) -> String {
    let unit = value.unit().of_difference();
    let expanded = without_noise(found.expanded_si / unit.factor().to_f64());
    let number = value.value().to_exact();
    let Ok(told) = report(
        &number,
        &expanded,
        UncertaintyDigits::Two,
        Rounding::Ceiling,
    ) else {
        return value.shown();
    };
    match (value.unit().text(), unit.text()) {
        ("1", _) => format!("{} ± {}", told.value, told.uncertainty),
        (of, off) if of == off => format!("({} ± {}) {of}", told.value, told.uncertainty),
        (of, off) => format!("{} {of} ± {} {off}", told.value, told.uncertainty),
    }
}

/// The contributions, the largest first.
fn budget(number: &Linear, unit: &Unit, sources: &Sources) -> Vec<BudgetLine> {
    let variance = number.standard().powi(2);
    let mut parts = sources.contributions(number);
    parts.sort_by(|a, b| b.signed_si.abs().total_cmp(&a.signed_si.abs()));
    let line = |label: String, standard: Option<(f64, &Unit)>, part_si: f64, freedom| BudgetLine {
        source: label,
        standard: standard.map(|(si, of)| in_unit(si, of)),
        unit: standard.map(|(_, of)| of.text().to_owned()),
        sensitivity: standard
            .map(|(si, of)| text((part_si / unit.factor().to_f64()) / (si / of.factor().to_f64()))),
        contribution: in_unit(part_si.abs(), unit),
        share: text(part_si.powi(2) / variance),
        freedom,
    };
    let (told, left) = parts.split_at(parts.len().min(MAX_LINES));
    let mut lines: Vec<BudgetLine> = told
        .iter()
        .filter_map(|part| {
            let source = sources.source(part.source)?;
            // A calibration that acts with several sizes has neither one size nor one sensitivity.
            let one = !sources.is_varying(part.source);
            let standard = one.then_some((source.standard_si, &source.unit));
            let freedom = finite(source.freedom);
            Some(line(
                source.label.clone(),
                standard,
                part.signed_si,
                freedom,
            ))
        })
        .collect();
    if !left.is_empty() {
        let rest = left.iter().map(|p| p.signed_si.powi(2)).sum::<f64>().sqrt();
        lines.push(line(
            format!("{} smaller ones", left.len()),
            None,
            rest,
            None,
        ));
    }
    lines
}

fn drawn_errors(drawn: &Trials, unit: &Unit, difference: &Unit) -> DrawnErrors {
    let end = |si: f64| match Number::inexact(si, 0.0) {
        Some(si) => text(Measured::from_si(si, unit.clone()).value().to_f64()),
        None => text(si),
    };
    DrawnErrors {
        trials: TRIALS as u64,
        seed: SEED,
        standard: in_unit(drawn.standard_si, difference),
        low: end(drawn.low_si),
        high: end(drawn.high_si),
        unit: unit.text().to_owned(),
        agrees: drawn.agrees,
    }
}

fn in_unit(si: f64, unit: &Unit) -> String {
    text(si / unit.factor().to_f64())
}

/// Decimal text with the digits that tell the double apart.
fn text(number: f64) -> String {
    format!("{number}")
}

fn finite(freedom: f64) -> Option<String> {
    freedom.is_finite().then(|| text(freedom))
}
