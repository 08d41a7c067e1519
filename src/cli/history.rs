//! The history of a value, as a page and as data.
//!
//! Never in here: working it out (see `app`). Changes when more is told of a history.

use serde_json::{Value, json};

use crate::app::{Crossing, Fit, History, TrendPoint};
use crate::index::Known;
use crate::quantity::Exact;
use crate::render::plot::{Axis, Level, Plot, Point};
use crate::render::{TrendPage, TrendRow};

use super::traced::{allowed, difference, shown};

/// Days in a year, for slopes that a person reads.
const YEAR: f64 = 365.25;
/// A day in milliseconds.
const DAY_MS: f64 = 86_400_000.0;

/// A number of the unit as a person reads it, to five significant digits.
fn rounded(number: f64, unit: &str) -> String {
    let number = Exact::from_f64(number)
        .unwrap_or_default()
        .to_significant(5);
    match unit {
        "1" | "" => number,
        unit => format!("{number} {unit}"),
    }
}

/// What is told of a history.
pub(super) fn history_page(of: &History, records: &str) -> TrendPage {
    let mut facts = vec![
        ("Value".to_owned(), named(of)),
        ("Records".to_owned(), format!("{records}; {}", counted(of))),
    ];
    facts.extend(of.fit.iter().flat_map(|fit| fitted(fit, &of.unit)));
    facts.extend(of.chart.iter().map(|chart| {
        let (v, r) = (&chart.values, &chart.ranges);
        let text = format!(
            "mean {}, control limits {} to {}, moving range up to {}",
            rounded(v.centre, &of.unit),
            rounded(v.low, &of.unit),
            rounded(v.high, &of.unit),
            rounded(r.high, &difference(&of.unit))
        );
        ("Individuals (Shewhart)".to_owned(), text)
    }));
    let mut notes = of.notes.clone();
    if of.points.iter().any(|p| !p.hints.is_empty()) {
        notes.push(
            "A hint marks a value that stands apart from the others; it is left out of nothing."
                .to_owned(),
        );
    }
    let devices: std::collections::BTreeSet<&str> =
        of.points.iter().map(|p| p.kept.device.as_str()).collect();
    TrendPage {
        title: format!("History of {}, {records}", of.name),
        facts,
        notes,
        plot: plot(of),
        rows: of
            .points
            .iter()
            .map(|p| row(p, devices.len() > 1))
            .collect(),
    }
}

fn named(of: &History) -> String {
    let title = if of.title.is_empty() {
        String::new()
    } else {
        format!(" ({})", of.title)
    };
    format!("{}{title} of {}", of.name, of.recipe)
}

fn counted(of: &History) -> String {
    let day = |p: Option<&TrendPoint>| {
        p.and_then(|p| p.kept.started.get(..10))
            .unwrap_or_default()
            .to_owned()
    };
    let (first, last) = (day(of.points.first()), day(of.points.last()));
    match of.points.len() {
        1 => format!("1 value of {first}"),
        n => format!("{n} values from {first} to {last}"),
    }
}

/// What the line tells.
fn fitted(fit: &Fit, unit: &str) -> Vec<(String, String)> {
    let unit = difference(unit);
    let slope = format!(
        "{} a year, standard error {} ({} degrees of freedom); {}",
        rounded(fit.slope * YEAR, &unit),
        rounded(fit.uncertainty * YEAR, &unit),
        fit.freedom,
        if fit.is_significant {
            "differs from zero at 95 %"
        } else {
            "does not differ from zero at 95 %"
        }
    );
    let mut facts = vec![("Straight line".to_owned(), slope)];
    let crossing = match &fit.crossing {
        Some(Crossing::On(day)) => Some(format!(
            "on {day}, if it goes on as it did: an extrapolation, not a promise"
        )),
        Some(Crossing::Before) => Some("the line is beyond the limit already".to_owned()),
        Some(Crossing::Never) | None => None,
    };
    facts.extend(crossing.map(|c| ("First crossing of a limit".to_owned(), c)));
    facts
}

fn row(p: &TrendPoint, several: bool) -> TrendRow {
    let k = &p.kept;
    let record = if several {
        format!("{} {}", k.record, k.device)
    } else {
        k.record.clone()
    };
    TrendRow {
        day: k.started.get(..10).unwrap_or_default().to_owned(),
        record,
        value: shown(&k.value, &k.unit),
        limits: allowed(k.low.as_deref(), k.high.as_deref(), &k.unit),
        verdict: k.verdict.clone(),
        hint: p.hints.join("; "),
    }
}

/// The plot; the limits are those of the newest record.
fn plot(of: &History) -> Option<Plot> {
    let (first, newest) = (of.points.first()?, of.points.last()?);
    let days = |p: &TrendPoint| (p.kept.at_ms - first.kept.at_ms) as f64 / DAY_MS;
    let point = |p: &TrendPoint| Point {
        x: days(p),
        y: p.value.to_f64(),
        uncertainty: p.expanded.as_ref().map(Exact::to_f64),
    };
    let end = |end: &Option<Exact>| end.as_ref().map(Exact::to_f64);
    let mut levels = Vec::new();
    levels.extend(end(&newest.high).map(|v| Level::at_most("upper limit", v)));
    levels.extend(end(&newest.low).map(|v| Level::at_least("lower limit", v)));
    if let Some(chart) = &of.chart {
        let v = &chart.values;
        levels.push(Level::mean("mean", v.centre));
        levels.push(Level::mean("upper control limit", v.high));
        levels.push(Level::mean("lower control limit", v.low));
    }
    let label = of.name.rsplit('.').next().unwrap_or(&of.name);
    let day = first.kept.started.get(..10).unwrap_or_default();
    let line = of
        .fit
        .as_ref()
        .map(|f| [(0.0, f.ends[0]), (days(newest), f.ends[1])]);
    let mut plot = Plot::trend(
        &of.name,
        Axis::new(&format!("time since {day}"), "d"),
        Axis::new(label, &of.unit),
        of.points.iter().map(point),
        levels,
        line,
    );
    let narrower = |p: &&TrendPoint| (&p.low, &p.high) != (&newest.low, &newest.high);
    if of.points.iter().any(|p| narrower(&p)) {
        plot.remarks
            .push("The limits are those of the newest record; others had other ones.".to_owned());
    }
    Some(plot)
}

/// The history as data.
pub(super) fn history_json(of: &History) -> Value {
    let point = |p: &TrendPoint| {
        let k = &p.kept;
        let text = |e: &Option<Exact>| e.as_ref().map(Exact::to_text);
        json!({
            "record": k.record, "started": k.started, "device": k.device, "revision": k.revision,
            "value": p.value.to_text(), "expanded": text(&p.expanded), "low": text(&p.low), "high": text(&p.high),
            "repeats": k.repeats, "verdict": k.verdict, "hints": p.hints,
        })
    };
    let fit = of.fit.as_ref().map(|f| {
        json!({
            "slope_per_day": f.slope, "standard_error_per_day": f.uncertainty, "degrees_of_freedom": f.freedom,
            "residual_standard_deviation": f.residual, "significant": f.is_significant,
            "at_first": f.ends[0], "at_last": f.ends[1], "crossing": crossing_json(f.crossing.as_ref()),
        })
    });
    let individuals = of.chart.as_ref().map(|c| {
        json!({
            "mean": c.values.centre, "low": c.values.low, "high": c.values.high, "mean_range": c.ranges.centre,
            "range_high": c.ranges.high,
        })
    });
    json!({
        "value": of.name, "title": of.title, "recipe": of.recipe, "unit": of.unit,
        "points": of.points.iter().map(point).collect::<Vec<_>>(), "fit": fit, "individuals": individuals,
    })
}

fn crossing_json(of: Option<&Crossing>) -> Value {
    match of {
        Some(Crossing::On(day)) => json!({"day": day, "extrapolation": true}),
        Some(Crossing::Before) => json!({"before": true}),
        Some(Crossing::Never) | None => Value::Null,
    }
}

/// The values that can be had, as data.
pub(super) fn values_json(known: &[Known]) -> Value {
    let one = |k: &Known| json!({"value": k.name, "title": k.title, "recipe": k.recipe, "unit": k.unit, "records": k.records});
    known.iter().map(one).collect()
}
