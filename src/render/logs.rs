//! Logged series of a record: in words, and as plots: the series with events, start-up graphs, trumpets.
//!
//! Never in here: drawing (see `plot`). Changes when another figure of a log is drawn.

use serde::Deserialize;
use serde_json::Value as Json;

use crate::quantity::shortened_double;
use crate::record::{Curve, Quantity, Record, Step};

use super::Plot;
use super::clean::prose;
use super::figure::converted;
use super::kinds::kind;
use super::plot::{Axis, Event, Level, Window};
use super::went::name;
use super::words::{counted, fixed, say};

/// Seconds of a minute.
const MINUTE_S: f64 = 60.0;

/// A log as a record holds it.
#[derive(Deserialize)]
struct Log {
    file: String,
    digest: String,
    rows: usize,
    from_s: Option<f64>,
    to_s: Option<f64>,
    columns: Vec<Column>,
}

#[derive(Deserialize)]
struct Column {
    name: String,
    unit: String,
    points: Vec<[f64; 2]>,
}

/// A log in words; nothing where a value is none.
pub(super) fn in_words(value: &Json) -> Option<String> {
    let log: Log = serde_json::from_value(value.clone()).ok()?;
    let span = log
        .from_s
        .zip(log.to_s)
        .map_or_else(String::new, |(from, to)| {
            say!(
                ", {from} min to {to} min",
                from = shortened_double(from / MINUTE_S, 4),
                to = shortened_double(to / MINUTE_S, 4)
            )
        });
    let columns: Vec<String> = log
        .columns
        .iter()
        .map(|c| {
            say!(
                "{quantity} in {unit}",
                quantity = kind(&prose(&c.name)),
                unit = prose(&c.unit)
            )
        })
        .collect();
    Some(format!(
        "{}: {}{span}; {}; {}",
        prose(&log.file),
        counted(log.rows, fixed!("reading"), fixed!("readings")),
        columns.join(", "),
        say!("digest {digest}", digest = prose(&log.digest))
    ))
}

/// The plots of a step: of its log, or of the curves that it computed.
pub(super) fn plots(record: &Record, step: &Step, number: usize) -> Vec<Plot> {
    let title = say!("Step {number}, {name}", number = number, name = name(step));
    let mut plots: Vec<Plot> = Vec::new();
    if let Ok(log) = serde_json::from_value::<Log>(step.value.clone()) {
        plots.extend(log.columns.iter().map(|c| series(&title, c, &log, step)));
    }
    let is_new = |c: &&Curve| !is_drawn_before(c, record, step);
    let new = step.curves.iter().filter(is_new);
    plots.extend(new.map(|c| curve(&title, c, record, step)));
    plots
}

fn series(title: &str, column: &Column, log: &Log, step: &Step) -> Plot {
    let events = step.passed.iter();
    Plot::log(
        title,
        Axis::new(&say!("time"), "min"),
        Axis::new(&kind(&prose(&column.name)), &column.unit),
        column
            .points
            .iter()
            .map(|[time, value]| (time / MINUTE_S, *value)),
        log.rows,
        events
            .map(|p| Event::new(&prose(&p.step), p.at_s / MINUTE_S))
            .collect(),
    )
}

fn curve(title: &str, of: &Curve, record: &Record, step: &Step) -> Plot {
    match of {
        Curve::StartUp { points, rate } => Plot::start_up(
            title,
            Axis::new(&say!("time"), "min"),
            Axis::new(&say!("flow"), "mL/h"),
            points.iter().map(|[time, flow]| (*time, *flow)),
            *rate,
        ),
        Curve::Trumpet { points, mean_error } => {
            let window = |[length, high, low]: &[f64; 3]| Window {
                length: *length,
                high: *high,
                low: *low,
            };
            let windows: Vec<Window> = points.iter().map(window).collect();
            let levels = levels_of_trumpet(of, record, step);
            Plot::trumpet(title, "min", &windows, Some(*mean_error), levels)
        }
    }
}

/// Whether an earlier step has the same trumpet, whose drawing has the limits of both.
fn is_drawn_before(curve: &Curve, record: &Record, step: &Step) -> bool {
    let mut earlier = record.setup.iter().chain(&record.steps);
    let first = earlier.find(|s| s.curves.contains(curve));
    let is_trumpet = matches!(curve, Curve::Trumpet { .. });
    is_trumpet && first.is_some_and(|s| s.path != step.path)
}

/// The limits of all steps that have the same trumpet: its sides may be judged in two of them.
fn levels_of_trumpet(trumpet: &Curve, record: &Record, step: &Step) -> Vec<Level> {
    let all = record.setup.iter().chain(&record.steps);
    let others = all.filter(|s| s.path != step.path && s.curves.contains(trumpet));
    let mut levels: Vec<Level> = Vec::new();
    for level in std::iter::once(step).chain(others).flat_map(self::levels) {
        if !levels.contains(&level) {
            levels.push(level);
        }
    }
    levels
}

/// The limits of the step that are flow errors.
fn levels(step: &Step) -> Vec<Level> {
    let percent = |q: &Option<Quantity>| {
        let q = converted(q.as_ref()?, "%")?;
        q.value.parse::<f64>().ok()
    };
    let mut levels = Vec::new();
    for limit in step.criteria.iter().flat_map(|c| &c.limits) {
        levels.extend(percent(&limit.high).map(|v| Level::at_most(&say!("upper limit"), v)));
        levels.extend(percent(&limit.low).map(|v| Level::at_least(&say!("lower limit"), v)));
    }
    levels
}
