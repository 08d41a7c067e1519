//! Plots of a record: repeated readings with their limits.
//!
//! Never in here: drawing (see `plot`). Changes when something else of a record is drawn.

use crate::quantity::{Exact, Unit};
use crate::record::{Criterion, Limit, Quantity, Step, Uncertainty};

use super::Plot;
use super::clean::prose;
use super::figure::{as_quantity, converted};
use super::plot::{Axis, Level};
use super::went::{name, own_name};
use super::words::say;

/// Fewest readings that are drawn.
const LEAST: usize = 5;

/// Functions of readings that lie where the readings lie: their limits can stand beside the readings.
const PLACES: [&str; 6] = ["mean", "median", "min", "max", "first", "last"];

/// The plot of the repeats of a step; nothing where they are too few, or were not judged.
pub(super) fn repeats(step: &Step, number: usize) -> Option<Plot> {
    let items = step.value.as_array().filter(|i| i.len() >= LEAST)?;
    // What is computed is a list of other things than repeats.
    if step.criteria.is_empty() || step.verb == "compute" {
        return None;
    }
    let quantities: Vec<Quantity> = items.iter().filter_map(as_quantity).collect();
    let unit = quantities.first()?.unit.clone();
    let reading = |n: usize| {
        let item = items.get(n).and_then(as_quantity);
        let y = item.and_then(|q| at(&q, &unit)).unwrap_or(f64::NAN);
        (y, half(step, n, &unit))
    };
    let limits = levels(step, &unit);
    let nominal = step.criteria.iter().find_map(|c| nominal(c, step, &unit));
    let mut plot = Plot::repeats(
        &say!("Step {number}, {name}", number = number, name = name(step)),
        Axis::new(&own_name(step), &unit),
        (0..items.len()).map(reading),
        nominal,
        limits,
    );
    let of = step.criteria.iter().flat_map(|c| &c.limits);
    let of: Vec<&str> = of
        .filter_map(|l| place(l, step))
        .filter(|p| !p.is_empty())
        .collect();
    if let [first, ..] = of[..] {
        plot.remarks.push(say!(
            "The limits are those of {value}.",
            value = prose(first)
        ));
    }
    Some(plot)
}

/// A quantity as a number of this unit.
fn at(q: &Quantity, unit: &str) -> Option<f64> {
    let q = if q.unit == unit {
        q.clone()
    } else {
        converted(q, unit)?
    };
    Exact::parse(&q.value).ok().map(|e| e.to_f64())
}

/// U of one reading in this unit.
fn half(step: &Step, reading: usize, unit: &str) -> Option<f64> {
    let of: Uncertainty = serde_json::from_value(step.uncertainty.get(reading)?.clone()).ok()?;
    // As it is told, to two significant digits.
    let told = of.shown.split_once('±').map_or("", |(_, u)| u.trim());
    let told = told.split([' ', ')']).next().unwrap_or_default();
    let expanded: f64 = told.parse().or(of.expanded.parse()).ok()?;
    let factor = |text: &str| Unit::parse(text).ok().map(|u| u.factor().to_f64());
    let scale = if of.unit == unit {
        1.0
    } else {
        factor(&of.unit)? / factor(unit)?
    };
    let half = expanded * scale;
    (half.is_finite() && half >= 0.0).then_some(half)
}

/// What a limit is for, where it lies on the axis of the readings: nothing for the readings themselves.
fn place<'l>(limit: &'l Limit, step: &Step) -> Option<&'l str> {
    let own = step.path.rsplit('.').next().unwrap_or_default();
    if limit.of == own {
        return Some("");
    }
    let inside = limit.of.strip_suffix(')')?;
    let (function, of) = inside.split_once('(')?;
    (PLACES.contains(&function) && of == own).then_some(limit.of.as_str())
}

fn levels(step: &Step, unit: &str) -> Vec<Level> {
    let mut all: Vec<Level> = Vec::new();
    for limit in step.criteria.iter().flat_map(|c| &c.limits) {
        if place(limit, step).is_none() {
            continue;
        }
        let end = |end: &Option<Quantity>| end.as_ref().and_then(|q| at(q, unit));
        let high = end(&limit.high).map(|v| Level::at_most(&say!("upper limit"), v));
        let low = end(&limit.low).map(|v| Level::at_least(&say!("lower limit"), v));
        for level in high.into_iter().chain(low) {
            if !all.contains(&level) {
                all.push(level);
            }
        }
    }
    all
}

/// The nominal value: the middle of a criterion of the form `within(readings, nominal, tolerance)`.
fn nominal(criterion: &Criterion, step: &Step, unit: &str) -> Option<f64> {
    let [limit] = &criterion.limits[..] else {
        return None;
    };
    place(limit, step)?;
    if !criterion.that.trim_start().starts_with("within(") {
        return None;
    }
    let (low, high) = (
        at(limit.low.as_ref()?, unit)?,
        at(limit.high.as_ref()?, unit)?,
    );
    Some((low + high) / 2.0)
}
