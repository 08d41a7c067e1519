//! Single shapes: lines, texts, series with their markers and bars.
//!
//! Never in here: where things lie, a form of output. Changes when a shape or a dash does.

use super::super::{Line as Joined, Marker, Point, Role, Series};
use super::frame::Frame;

/// Half the width of a marker.
const MARKER: f64 = 3.6;

/// Something drawn, in the units of the drawing.
#[derive(Clone, Debug)]
pub(in crate::render) enum Shape {
    /// Lines, and what they enclose.
    Path(Path),
    /// A text.
    Words(Words),
}

/// Lines, and what they enclose.
#[derive(Clone, Debug, Default)]
pub(in crate::render) struct Path {
    /// The way of the pen.
    pub moves: Vec<Move>,
    /// Width of the line; none is drawn at 0.
    pub width: f64,
    /// Dashes and the gaps between them, in turn; empty for a whole line.
    pub dashes: &'static [f64],
    /// How much of the line is seen, from 0 to 1.
    pub opacity: f64,
    /// What fills the inside.
    pub fill: Fill,
    /// What it stands for.
    pub class: &'static str,
}

/// What fills the inside of a path.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(in crate::render) enum Fill {
    /// Nothing.
    #[default]
    None,
    /// The colour of the paper, so that lines below are not seen.
    Paper,
    /// The colour of lines, so much of it, from 0 to 1.
    Ink(f64),
}

/// A move of the pen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::render) enum Move {
    /// To a place without a line.
    To(f64, f64),
    /// To a place with a straight line.
    Line(f64, f64),
    /// Around a circle: its middle and its radius.
    Circle(f64, f64, f64),
    /// Back to where the line began.
    Close,
}

/// A text.
#[derive(Clone, Debug)]
pub(in crate::render) struct Words {
    /// The text.
    pub text: String,
    /// Where its line of writing is.
    pub at: (f64, f64),
    /// Which part of it is there.
    pub anchor: Anchor,
    /// What it stands for.
    pub class: &'static str,
}

/// Which part of a text is at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::render) enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

impl Path {
    /// A line along moves.
    pub(super) fn along(moves: Vec<Move>, width: f64) -> Self {
        Self {
            moves,
            width,
            opacity: 1.0,
            ..Self::default()
        }
    }

    /// A straight line.
    pub(super) fn straight([x1, y1, x2, y2]: [f64; 4], width: f64) -> Self {
        Self::along(vec![Move::To(x1, y1), Move::Line(x2, y2)], width)
    }

    /// A rectangle from its left, top, right and bottom.
    pub(super) fn rectangle([left, top, right, bottom]: [f64; 4], width: f64) -> Self {
        let corners = [(right, top), (right, bottom), (left, bottom)];
        let mut moves = vec![Move::To(left, top)];
        moves.extend(corners.map(|(x, y)| Move::Line(x, y)));
        moves.push(Move::Close);
        Self::along(moves, width)
    }

    pub(super) fn dashed(self, dashes: &'static [f64]) -> Self {
        Self { dashes, ..self }
    }

    pub(super) fn faint(self, opacity: f64) -> Self {
        Self { opacity, ..self }
    }

    pub(super) fn filled(self, fill: Fill) -> Self {
        Self { fill, ..self }
    }

    pub(super) fn class(self, class: &'static str) -> Self {
        Self { class, ..self }
    }
}

impl From<Path> for Shape {
    fn from(path: Path) -> Self {
        Self::Path(path)
    }
}

/// The dashes of an event's line.
pub(super) const EVENT: &[f64] = &[1.5, 2.5];

/// The dashes of a horizontal line: limits are dashed, means dotted, nominal values have long dashes and points.
pub(super) fn dashes(role: Role) -> &'static [f64] {
    match role {
        Role::AtLeast | Role::AtMost => &[8.0, 4.0],
        Role::Mean => &[1.5, 3.5],
        Role::Nominal => &[18.0, 3.0, 2.0, 3.0],
    }
}

pub(super) fn words(text: &str, at: (f64, f64), anchor: Anchor, class: &'static str) -> Shape {
    let text = text.to_owned();
    Shape::Words(Words {
        text,
        at,
        anchor,
        class,
    })
}

/// A series: its bars, its line, its markers.
pub(super) fn series(series: &Series, frame: &Frame) -> Vec<Shape> {
    let mut parts = Vec::new();
    let bars: Vec<Move> = series.points.iter().flat_map(|p| bar(p, frame)).collect();
    if !bars.is_empty() {
        parts.push(Path::along(bars, 1.1).class("bars").into());
    }
    if let Some(joined) = series.line {
        let drawn = stroke(trail(&series.points, joined, frame), series.dashed);
        parts.push(drawn.class("series").into());
    }
    // A single point has no line to be seen by.
    let single = (series.points.len() == 1).then_some(Marker::Circle);
    if let Some(shape) = series.marker.or(single) {
        let at = |p: &Point| marker(shape, frame.x(p.x), frame.y(p.y));
        let moves = series.points.iter().flat_map(at).collect();
        parts.push(markers(moves, shape).class("markers").into());
    }
    parts
}

/// The line of a series.
pub(super) fn stroke(moves: Vec<Move>, dashed: bool) -> Path {
    let path = Path::along(moves, 1.7);
    match dashed {
        true => path.dashed(&[5.0, 2.0, 1.0, 2.0]),
        false => path,
    }
}

/// Markers that point down are open, the others filled.
pub(super) fn markers(moves: Vec<Move>, shape: Marker) -> Path {
    let fill = match shape {
        Marker::Down => Fill::Paper,
        Marker::Circle | Marker::Up => Fill::Ink(1.0),
    };
    Path::along(moves, 1.2).filled(fill)
}

fn trail(points: &[Point], joined: Joined, frame: &Frame) -> Vec<Move> {
    let mut moves = Vec::with_capacity(points.len());
    let mut before = None;
    for point in points {
        let (x, y) = (frame.x(point.x), frame.y(point.y));
        match (before, joined) {
            (None, _) => moves.push(Move::To(x, y)),
            (_, Joined::Straight) => moves.push(Move::Line(x, y)),
            (Some(height), Joined::Steps) => {
                moves.extend([Move::Line(x, height), Move::Line(x, y)]);
            }
        }
        before = Some(y);
    }
    moves
}

fn bar(point: &Point, frame: &Frame) -> Vec<Move> {
    let Some(half) = point.uncertainty else {
        return Vec::new();
    };
    let x = frame.x(point.x);
    let (low, high) = (frame.y(point.y - half), frame.y(point.y + half));
    let line = |x1, y1, x2, y2| [Move::To(x1, y1), Move::Line(x2, y2)];
    let cross = |y| line(x - MARKER, y, x + MARKER, y);
    [cross(low), line(x, low, x, high), cross(high)].concat()
}

/// A marker with its middle at a place.
pub(super) fn marker(shape: Marker, x: f64, y: f64) -> Vec<Move> {
    let triangle = |base: f64, tip: f64| {
        let (left, right) = (x - MARKER, x + MARKER);
        let corners = [
            Move::To(left, base),
            Move::Line(right, base),
            Move::Line(x, tip),
        ];
        [corners.as_slice(), &[Move::Close]].concat()
    };
    match shape {
        Marker::Circle => vec![Move::Circle(x, y, MARKER - 0.8)],
        Marker::Up => triangle(y + MARKER, y - MARKER),
        Marker::Down => triangle(y - MARKER, y + MARKER),
    }
}
