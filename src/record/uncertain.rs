//! The uncertainty of a value as a record tells it: u, k, U, and what it is made of.
//!
//! Never in here: how it is found (see `plan`). Changes when a record tells more of it.

use std::collections::HashMap;

use crate::engine::{Limit, Sizes};
use crate::maths::Linear;
use crate::maths::decision::ON_EDGE;
use crate::maths::report::{UncertaintyDigits, report, rule_of_expanded, without_noise};
use crate::plan::{SEED, Source, Sources, Spread, TRIALS, Trials, Uncertainty as Found, Value};
use crate::quantity::{Number, Quantity as Measured, Unit};

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

/// The uncertainty of a value; `number` carries its sensitivities, `sizes` says how large the errors behind it are. Nothing where no source of error acts on it, and none was
/// drawn either.
#[must_use]
pub fn uncertainty(
    value: &Measured,
    number: &Linear,
    sources: &Sources,
    drawn: Option<&Trials>,
    sizes: &Sizes,
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
        budget: budget(number, &unit, sources, sizes),
        drawn: drawn.map(|d| drawn_errors(d, size(value), value.unit(), &unit)),
    })
}

/// The size of what is shown, in SI.
fn size(value: &Measured) -> f64 {
    (value.si().to_f64() - value.unit().offset().to_f64()).abs()
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
    let ends = [&limit.value, &limit.low, &limit.high];
    let size = ends.into_iter().flatten().map(size).fold(0.0, f64::max);
    (apart || drawn.is_some()).then(|| Distance {
        standard: in_unit(found.standard_si, &unit),
        k: text(found.k),
        expanded: in_unit(found.expanded_si, &unit),
        unit: unit.text().to_owned(),
        freedom: finite(found.freedom),
        drawn: drawn.map(|d| drawn_errors(d, size, &unit, &unit)),
    })
}

/// The uncertainties of the readings of a list, or the one of a single value; without `sizes` they are readings themselves.
#[must_use]
pub fn uncertainties(
    value: &Value,
    spread: &Spread,
    sources: &Sources,
    drawn: Option<&Trials>,
    sizes: Option<&Sizes>,
) -> serde_json::Value {
    let json = |of: Option<Uncertainty>| serde_json::to_value(of).unwrap_or_default();
    match (value, spread) {
        (Value::Quantity(q), Spread::Number(number)) => {
            let own = || Sizes::of([number], sources);
            let sizes = sizes.cloned().unwrap_or_else(own);
            json(uncertainty(q, number, sources, drawn, &sizes))
        }
        (Value::List(values), Spread::List(spreads)) => {
            let rows = values.iter().zip(spreads);
            let all: Vec<_> = rows
                .map(|(v, s)| uncertainties(v, s, sources, None, sizes))
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

/// Value ± U as it is printed: U with two significant digits, to the nearest, and up where that would understate it by more than
/// 1 %, and the value to the same place (JCGM 100:2008, 7.2.6). What is stored stays whole.
#[must_use]
pub fn rounded(value: &Measured, found: &Found) -> String {
    let unit = value.unit().of_difference();
    let expanded = without_noise(found.expanded_si / unit.factor().to_f64());
    let number = value.value().to_exact();
    let rule = rule_of_expanded(&expanded, UncertaintyDigits::Two);
    let Ok(told) = report(&number, &expanded, UncertaintyDigits::Two, rule) else {
        return value.shown();
    };
    match (value.unit().text(), unit.text()) {
        ("1", _) => format!("{} ± {}", told.value, told.uncertainty),
        (of, off) if of == off => format!("({} ± {}) {of}", told.value, told.uncertainty),
        (of, off) => format!("{} {of} ± {} {off}", told.value, told.uncertainty),
    }
}

/// The contributions, the largest first; the displays of several readings as one.
fn budget(number: &Linear, unit: &Unit, sources: &Sources, sizes: &Sizes) -> Vec<BudgetLine> {
    let mut parts = parts(number, sources);
    parts.sort_by(|a, b| b.of_value_si.abs().total_cmp(&a.of_value_si.abs()));
    let variance = number.standard().powi(2);
    let line = |label: String, part_si: f64| BudgetLine {
        source: label,
        standard: None,
        unit: None,
        sensitivity: None,
        contribution: in_unit(part_si.abs(), unit),
        share: text(part_si.powi(2) / variance),
        freedom: None,
    };
    let (told, left) = parts.split_at(parts.len().min(MAX_LINES));
    let of_part = |part: &Part<'_>| {
        let source = part.source;
        // A calibration that acts with several sizes on what is behind a value has neither one size nor one sensitivity.
        let size = match sources.is_varying(part.number) {
            true => sizes.size(part.number).filter(|size| *size != 0.0),
            false => Some(source.standard_si),
        };
        let sensitivity = size.filter(|_| part.count == 1).map(|size| {
            let of_source = size / source.unit.factor().to_f64();
            text((part.of_value_si / unit.factor().to_f64()) / of_source)
        });
        BudgetLine {
            standard: size.map(|si| in_unit(si.abs(), &source.unit)),
            unit: size.map(|_| source.unit.text().to_owned()),
            sensitivity,
            freedom: finite(source.freedom),
            ..line(part.label(), part.of_value_si)
        }
    };
    let mut lines: Vec<BudgetLine> = told.iter().map(of_part).collect();
    if !left.is_empty() {
        let count: usize = left.iter().map(|p| p.count).sum();
        let rest = left.iter().map(|p| p.of_value_si.powi(2)).sum::<f64>();
        lines.push(line(format!("{count} smaller ones"), rest.sqrt()));
    }
    lines
}

/// What one source contributes, or the displays of several readings.
struct Part<'s> {
    number: u32,
    source: &'s Source,
    /// Sensitivity times standard uncertainty; of several added in squares.
    of_value_si: f64,
    count: usize,
}

impl Part<'_> {
    fn label(&self) -> String {
        let label = &self.source.label;
        match self.count {
            1 => label.clone(),
            count => format!("{label}, {count} readings"),
        }
    }
}

fn parts<'s>(number: &Linear, sources: &'s Sources) -> Vec<Part<'s>> {
    let mut all: Vec<Part<'s>> = Vec::new();
    let mut displays: HashMap<(&str, u64), usize> = HashMap::new();
    for part in sources.contributions(number) {
        let Some(source) = sources.source(part.source) else {
            continue;
        };
        let next = all.len();
        if sources.is_display(part.source) {
            let alike = (source.label.as_str(), source.standard_si.to_bits());
            let at = *displays.entry(alike).or_insert(next);
            if let Some(known) = all.get_mut(at) {
                known.of_value_si = known.of_value_si.hypot(part.signed_si);
                known.count += 1;
                continue;
            }
        }
        all.push(Part {
            number: part.source,
            source,
            of_value_si: part.signed_si,
            count: 1,
        });
    }
    all
}

/// What drawing gave, for a value of this size in SI. What the rounding of doubles leaves of nothing is told as nothing.
fn drawn_errors(drawn: &Trials, size_si: f64, unit: &Unit, difference: &Unit) -> DrawnErrors {
    let factor = unit.factor().to_f64();
    let value = |si: f64| match Number::inexact(si, 0.0) {
        Some(si) => Measured::from_si(si, unit.clone()).value().to_f64(),
        None => si,
    };
    let ends = [drawn.low_si, drawn.high_si].map(value);
    let size = ends
        .into_iter()
        .map(f64::abs)
        .fold(size_si.abs() / factor, f64::max);
    let end = |end: f64| match end.abs() > ON_EDGE * size {
        true => text(end),
        false => text(0.0),
    };
    DrawnErrors {
        trials: TRIALS as u64,
        seed: SEED,
        standard: in_unit(drawn.standard_si, difference),
        low: end(ends[0]),
        high: end(ends[1]),
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
