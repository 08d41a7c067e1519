//! A logged series as a record tells it: the file by its digest, what was found odd in it, and a drawing of it.
//!
//! The numbers themselves stay in the attached file. Never in here: figures. Changes when a record tells more of a log.

use serde_json::{Value as Json, json};

use crate::engine::{self, State};
use crate::plan::{Logged, Plan, Value};
use crate::trace::{Column, Zero};

use super::wire::{Curve, Passed};

/// Most points that a drawing keeps of a column.
const MAX_POINTS: usize = 400;

/// A log as data.
pub(super) fn logged_json(logged: &Logged) -> Json {
    let trace = &logged.trace;
    let zero = match &trace.zero {
        Zero::AsWritten => Json::Null,
        Zero::FirstRow(stamp) => json!(stamp),
    };
    json!({
        "file": logged.name,
        "digest": logged.digest,
        "rows": trace.rows(),
        "from_s": trace.times.first(),
        "to_s": trace.times.last(),
        "zero": zero,
        "odd": trace.observations.iter().map(|o| &o.message).collect::<Vec<_>>(),
        "columns": trace.columns.iter().map(|c| column_json(&trace.times, c)).collect::<Vec<_>>(),
    })
}

fn column_json(times: &[f64], column: &Column) -> Json {
    let shown = |si: f64| (si - column.unit.offset().to_f64()) / column.unit.factor().to_f64();
    let points = thinned(times, &column.values);
    let points: Vec<Json> = points
        .into_iter()
        .map(|(time, si)| json!([time, rounded(shown(si))]))
        .collect();
    json!({
        "name": column.name,
        "heading": column.heading,
        "unit": column.unit.text(),
        "points": points,
    })
}

/// A curve as data, in the units that it is drawn in.
pub(super) fn curve(curve: &engine::Curve) -> Curve {
    const MINUTE_S: f64 = 60.0;
    const ML_PER_H: f64 = 1e-6 / 3600.0;
    match curve {
        engine::Curve::Trumpet(trumpet) => {
            let points = trumpet.points.iter();
            Curve::Trumpet {
                points: points
                    .map(|(window, high, low)| {
                        [window / MINUTE_S, high * 100.0, low * 100.0].map(rounded)
                    })
                    .collect(),
                mean_error: rounded(trumpet.mean_error * 100.0),
            }
        }
        engine::Curve::StartUp(points, rate) => {
            let (times, flows): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
            let points = thinned(&times, &flows).into_iter();
            Curve::StartUp {
                points: points
                    .map(|(time, flow)| [time / MINUTE_S, flow / ML_PER_H].map(rounded))
                    .collect(),
                rate: rounded(rate / ML_PER_H),
            }
        }
    }
}

/// The times at which the log of a step passes levels.
pub(super) fn passed(plan: &Plan, state: &State, index: usize) -> Vec<Passed> {
    if !matches!(state.items[index].value(), Some(Value::Trace(_))) {
        return Vec::new();
    }
    let all = engine::passed_levels(plan, state, index).into_iter();
    all.map(|(step, at_s)| Passed { step, at_s }).collect()
}

/// Seven significant digits: enough to draw.
fn rounded(value: f64) -> f64 {
    format!("{value:.6e}").parse().unwrap_or(value)
}

/// Points for drawing: all where there are few; else the first and the last, and the lowest and the highest of each stretch.
fn thinned(times: &[f64], values: &[f64]) -> Vec<(f64, f64)> {
    let at = |i: usize| (times[i], values[i]);
    if values.len() <= MAX_POINTS {
        return (0..values.len()).map(at).collect();
    }
    let stretch = values.len().div_ceil(MAX_POINTS / 2 - 1);
    let mut kept = vec![0];
    for (n, part) in values.chunks(stretch).enumerate() {
        let extreme = |larger: bool| {
            let better = |a: f64, b: f64| if larger { a > b } else { a < b };
            let pick = |best: usize, i: usize| if better(part[i], part[best]) { i } else { best };
            n * stretch + (1..part.len()).fold(0, pick)
        };
        let (low, high) = (extreme(false), extreme(true));
        kept.extend([low.min(high), low.max(high)]);
    }
    kept.push(values.len() - 1);
    kept.dedup();
    kept.into_iter().map(at).collect()
}
