//! Single shapes: lines, texts, series with their markers and bars.
//!
//! Never in here: where things lie. Changes when a shape or a dash does.

use std::fmt::Write;

use svg::node::element::{Element, Line, Path, Text};

use super::super::{Line as Joined, Marker, Point, Role, Series};
use super::frame::Frame;

/// Half the width of a marker.
const MARKER: f64 = 3.6;

pub(super) fn path(d: &str) -> Path {
    Path::new().set("d", d)
}

pub(super) fn line([x1, y1, x2, y2]: [f64; 4], width: f64) -> Line {
    Line::new()
        .set("x1", round(x1))
        .set("y1", round(y1))
        .set("x2", round(x2))
        .set("y2", round(y2))
        .set("stroke-width", width)
}

/// The dashes of a horizontal line: limits are dashed, means dotted, nominal values have long dashes and points.
pub(super) fn dashed(line: Line, role: Role) -> Line {
    match role {
        Role::AtLeast | Role::AtMost => line.set("stroke-dasharray", "8 4"),
        Role::Mean => line.set("stroke-dasharray", "1.5 3.5"),
        Role::Nominal => line.set("stroke-dasharray", "18 3 2 3"),
    }
}

pub(super) fn words(text: &str, (x, y): (f64, f64), anchor: &str) -> Text {
    Text::new(text)
        .set("x", round(x))
        .set("y", round(y))
        .set("text-anchor", anchor)
        .set("fill", "currentColor")
        .set("stroke", "none")
}

/// A tenth of a pixel is enough.
fn round(v: f64) -> f64 {
    (v * 10.0).round() / 10.0
}

/// A series: its bars, its line, its markers.
pub(super) fn series(series: &Series, frame: &Frame) -> Vec<Element> {
    let mut parts = Vec::new();
    let bars: String = series.points.iter().map(|p| bar(p, frame)).collect();
    if !bars.is_empty() {
        let bars = path(&bars).set("class", "bars");
        parts.push(bars.set("stroke-width", 1.1).into());
    }
    if let Some(joined) = series.line {
        let drawn = stroke(path(&trail(&series.points, joined, frame)), series.dashed);
        parts.push(drawn.set("class", "series").into());
    }
    // A single point has no line to be seen by.
    let single = (series.points.len() == 1).then_some(Marker::Circle);
    if let Some(shape) = series.marker.or(single) {
        let at = |p: &Point| marker(shape, frame.x(p.x), frame.y(p.y));
        let d: String = series.points.iter().map(at).collect();
        parts.push(filled(path(&d), shape).set("class", "markers").into());
    }
    parts
}

/// The line of a series.
pub(super) fn stroke(path: Path, dashed: bool) -> Path {
    let path = path
        .set("stroke-width", 1.7)
        .set("stroke-linejoin", "round");
    if dashed {
        path.set("stroke-dasharray", "5 2 1 2")
    } else {
        path
    }
}

/// Markers that point down are open, the others filled.
pub(super) fn filled(path: Path, shape: Marker) -> Path {
    let path = path.set("stroke-width", 1.2);
    match shape {
        Marker::Down => path.set("fill", "var(--paper, #fff)"),
        Marker::Circle | Marker::Up => path.set("fill", "currentColor"),
    }
}

fn trail(points: &[Point], joined: Joined, frame: &Frame) -> String {
    let mut d = String::new();
    for (n, point) in points.iter().enumerate() {
        let (x, y) = (frame.x(point.x), frame.y(point.y));
        let _ = match (n, joined) {
            (0, _) => write!(d, "M{x:.1} {y:.1}"),
            (_, Joined::Straight) => write!(d, "L{x:.1} {y:.1}"),
            (_, Joined::Steps) => write!(d, "H{x:.1}V{y:.1}"),
        };
    }
    d
}

fn bar(point: &Point, frame: &Frame) -> String {
    let Some(half) = point.uncertainty else {
        return String::new();
    };
    let x = frame.x(point.x);
    let (low, high) = (frame.y(point.y - half), frame.y(point.y + half));
    let (left, wide) = (x - MARKER, 2.0 * MARKER);
    format!("M{left:.1} {low:.1}h{wide}M{x:.1} {low:.1}V{high:.1}M{left:.1} {high:.1}h{wide}")
}

/// A marker with its middle at a place.
pub(super) fn marker(shape: Marker, x: f64, y: f64) -> String {
    let (m, wide) = (MARKER, 2.0 * MARKER);
    match shape {
        Marker::Circle => {
            let (r, across) = (m - 0.8, 2.0 * (m - 0.8));
            format!(
                "M{:.1} {y:.1}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0Z",
                x - r
            )
        }
        Marker::Up => format!("M{:.1} {:.1}h{wide}L{x:.1} {:.1}Z", x - m, y + m, y - m),
        Marker::Down => format!("M{:.1} {:.1}h{wide}L{x:.1} {:.1}Z", x - m, y - m, y + m),
    }
}
