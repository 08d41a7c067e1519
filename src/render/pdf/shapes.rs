//! The shapes of a page: of marks, of limits with their value, of frames and rules.
//!
//! Never in here: words. Changes when a shape looks otherwise; the page in HTML has the same.

use super::super::document::{Bar, Shape};
use super::super::plot::sketch::{Fill, Move, Path};
use super::ink::Ink;

/// Width and height of a drawing of a limit and a value, in its own units.
pub(super) const BAR: (f64, f64) = (240.0, 16.0);
/// Units of the shape of a mark.
pub(super) const MARK: f64 = 16.0;

/// A line through places.
fn through(places: &[(f64, f64)], width: f64) -> Path {
    let mut moves = Vec::with_capacity(places.len());
    for (n, (x, y)) in places.iter().enumerate() {
        moves.push(if n == 0 {
            Move::To(*x, *y)
        } else {
            Move::Line(*x, *y)
        });
    }
    Path {
        moves,
        width,
        opacity: 1.0,
        ..Path::default()
    }
}

/// A straight line.
pub(super) fn straight(from: (f64, f64), to: (f64, f64), width: f64) -> Path {
    through(&[from, to], width)
}

/// A closed line through places.
fn around(places: &[(f64, f64)], width: f64, fill: Fill) -> Path {
    let mut path = through(places, width);
    path.moves.push(Move::Close);
    Path { fill, ..path }
}

/// A rectangle from its corner, width and height.
pub(super) fn rectangle((x, y): (f64, f64), (w, h): (f64, f64), width: f64, fill: Fill) -> Path {
    let corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)];
    around(&corners, width, fill)
}

/// The shape of a mark, in a square of 16 units.
pub(super) fn mark(shape: Shape) -> Vec<Path> {
    const WIDTH: f64 = 1.7;
    let circle = || Path {
        moves: vec![Move::Circle(8.0, 8.0, 6.8)],
        width: WIDTH,
        opacity: 1.0,
        ..Path::default()
    };
    let square = || rectangle((1.5, 1.5), (13.0, 13.0), WIDTH, Fill::None);
    let broken = |path: Path, dashes: &'static [f64]| Path { dashes, ..path };
    let tick = || through(&[(4.6, 8.3), (7.0, 10.7), (11.4, 5.7)], WIDTH);
    let line = |from, to| straight(from, to, WIDTH);
    match shape {
        Shape::Pass => vec![circle(), tick()],
        Shape::Fail => vec![
            square(),
            line((4.5, 4.5), (11.5, 11.5)),
            line((11.5, 4.5), (4.5, 11.5)),
        ],
        Shape::Remark => vec![
            circle(),
            line((8.0, 3.8), (8.0, 9.2)),
            line((8.0, 11.2), (8.0, 12.4)),
        ],
        Shape::ConditionalPass => vec![broken(circle(), &[3.2, 2.14]), tick()],
        Shape::ConditionalFail => vec![
            broken(square(), &[3.25, 2.0]),
            line((4.5, 11.5), (11.5, 4.5)),
        ],
        Shape::Open => {
            let corners = [(8.0, 1.2), (14.8, 8.0), (8.0, 14.8), (1.2, 8.0)];
            vec![broken(around(&corners, WIDTH, Fill::None), &[2.0, 1.4])]
        }
        Shape::Void => vec![circle(), line((3.2, 12.8), (12.8, 3.2))],
        Shape::Plain => vec![line((4.5, 8.0), (11.5, 8.0))],
    }
}

/// A limit with the value on it.
pub(super) fn bar(bar: &Bar) -> Vec<(Path, Ink)> {
    let x = |percent: f64| 4.0 + percent * 2.32;
    let mut out = vec![(straight((4.0, 11.0), (236.0, 11.0), 1.0), Ink::Rule)];
    let wide = (bar.to - bar.from) * 2.32;
    let allowed = rectangle((x(bar.from), 7.0), (wide, 8.0), 0.0, Fill::Ink(0.65));
    out.push((allowed, Ink::Rule));
    for (there, at) in [(bar.has_low, bar.from), (bar.has_high, bar.to)] {
        if there {
            out.push((straight((x(at), 4.0), (x(at), 16.0), 2.0), Ink::Black));
        }
    }
    if let Some([low, high]) = bar.reach {
        out.push((straight((x(low), 11.0), (x(high), 11.0), 1.3), Ink::Black));
        for end in [low, high] {
            out.push((straight((x(end), 8.0), (x(end), 14.0), 1.3), Ink::Black));
        }
    }
    let at = x(bar.at);
    if bar.met {
        let corners = [(at, 15.4), (at - 4.4, 11.0), (at, 6.6), (at + 4.4, 11.0)];
        out.push((around(&corners, 0.0, Fill::Ink(1.0)), Ink::Black));
    } else {
        let line = |from, to| (straight(from, to, 2.6), Ink::Bad);
        out.push(line((at - 4.0, 7.0), (at + 4.0, 15.0)));
        out.push(line((at + 4.0, 7.0), (at - 4.0, 15.0)));
    }
    out
}
