//! The key below a drawing: a sample of each line with its words.
//!
//! Never in here: the words, a form of output. Changes when a kind of line is added.

use super::super::{Plot, Role, Series, key};
use super::shapes::{EVENT, Fill, Move, Path, Shape, dashes, marker, markers, stroke};

/// Width and height of a sample.
pub(in crate::render) const SAMPLE: (f64, f64) = (34.0, 12.0);

/// The samples with their words.
pub(in crate::render) fn key(plot: &Plot) -> Vec<(Vec<Shape>, String)> {
    let mut items = Vec::new();
    for series in &plot.series {
        items.push((of_series(series), key::series(series)));
    }
    for (n, level) in plot.levels.iter().enumerate() {
        let text = format!("{} {}", key::letters(n), key::level(plot, level));
        items.push((vec![of_level(level.role)], text));
    }
    if plot.band.is_some() {
        items.push((vec![band()], key::band()));
    }
    for (n, event) in plot.events.iter().enumerate() {
        let text = format!("{} {}", n + 1, key::event(plot, event));
        items.push((vec![of_event()], text));
    }
    items
}

/// A level line across the middle of a sample.
fn across() -> [f64; 4] {
    let (wide, high) = SAMPLE;
    [0.0, high / 2.0, wide, high / 2.0]
}

fn of_series(series: &Series) -> Vec<Shape> {
    let [x1, y, x2, _] = across();
    let mut drawn = Vec::new();
    if series.line.is_some() {
        let moves = vec![Move::To(x1, y), Move::Line(x2, y)];
        drawn.push(stroke(moves, series.dashed).into());
    }
    if let Some(shape) = series.marker {
        drawn.push(markers(marker(shape, x2 / 2.0, y), shape).into());
    }
    drawn
}

fn of_level(role: Role) -> Shape {
    Path::straight(across(), 1.3).dashed(dashes(role)).into()
}

fn of_event() -> Shape {
    let (wide, high) = SAMPLE;
    let upright = [wide / 2.0, 0.0, wide / 2.0, high];
    Path::straight(upright, 1.1).dashed(EVENT).into()
}

fn band() -> Shape {
    let (wide, high) = SAMPLE;
    let filled = Path::rectangle([0.0, 0.0, wide, high], 1.0).faint(0.3);
    filled.filled(Fill::Ink(0.07)).into()
}
