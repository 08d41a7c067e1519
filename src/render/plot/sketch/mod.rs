//! A plot as shapes at places: what SVG and PDF draw alike.
//!
//! Never in here: tags, colours and fonts. Changes when a plot looks otherwise.

mod frame;
mod sample;
mod shapes;

pub(in crate::render) use frame::{NARROW, Size, WIDE};
pub(in crate::render) use sample::{SAMPLE, key};
pub(in crate::render) use shapes::{Anchor, Fill, Move, Path, Shape};

use self::frame::Frame;
use self::shapes::{EVENT, dashes, words};
use super::{Plot, Role, key as said};

/// The shapes of a plot in a size, in the order in which they are drawn.
pub(in crate::render) fn sketch(plot: &Plot, size: Size) -> Vec<Shape> {
    let frame = Frame::new(plot, size);
    let mut shapes = grid(plot, &frame);
    shapes.extend(levels(plot, &frame));
    shapes.extend(events(plot, &frame));
    shapes.extend(plot.series.iter().flat_map(|s| shapes::series(s, &frame)));
    shapes
}

/// The band, the axes with marks at round numbers, and what they are.
fn grid(plot: &Plot, frame: &Frame) -> Vec<Shape> {
    let mut parts = Vec::new();
    let [left, right, top, bottom] = frame.edges();
    if let Some([low, high]) = plot.band {
        let band = Path::rectangle([left, frame.y(high), right, frame.y(low)], 0.0);
        parts.push(band.filled(Fill::Ink(0.07)).class("band").into());
    }
    for (v, label) in frame.up.ticks() {
        let y = frame.y(v);
        parts.push(Path::straight([left, y, right, y], 0.8).faint(0.18).into());
        let at = (left - 6.0, y + f64::from(frame.size.font) * 0.35);
        parts.push(words(&label, at, Anchor::End, "mark-up"));
    }
    let corner = [
        Move::To(left, top),
        Move::Line(left, bottom),
        Move::Line(right, bottom),
    ];
    parts.push(Path::along(corner.to_vec(), 1.2).into());
    parts.extend(marks_right(frame));
    parts.extend(titles(plot, frame));
    parts
}

/// The marks of the axis to the right, with those labels that keep apart.
fn marks_right(frame: &Frame) -> Vec<Shape> {
    let [.., bottom] = frame.edges();
    let font = f64::from(frame.size.font);
    let (mut parts, mut free) = (Vec::new(), f64::MIN);
    for (v, label) in frame.right.ticks() {
        let x = frame.x(v);
        parts.push(Path::straight([x, bottom, x, bottom + 5.0], 1.0).into());
        let half = frame.length(&label) / 2.0;
        let middle = x.min(f64::from(frame.size.width) - half - 1.0);
        if middle - half > free {
            let at = (middle, bottom + 7.0 + font);
            parts.push(words(&label, at, Anchor::Middle, "mark-right"));
            free = middle + half + font * 0.5;
        }
    }
    parts
}

/// What the axes are: above the one upwards, below the one to the right.
fn titles(plot: &Plot, frame: &Frame) -> [Shape; 2] {
    let [_, right, _, bottom] = frame.edges();
    let font = f64::from(frame.size.font);
    let wide = f64::from(frame.size.width);
    let up = said::cut(&plot.y.title(), frame.columns(wide - 4.0));
    let across = said::cut(&plot.x.title(), frame.columns(right - 2.0));
    [
        words(&up, (2.0, font + 1.0), Anchor::Start, ""),
        words(
            &across,
            (right, bottom + 12.0 + 2.0 * font),
            Anchor::End,
            "",
        ),
    ]
}

/// Limits, set values and means, with their names beside them.
fn levels(plot: &Plot, frame: &Frame) -> Vec<Shape> {
    let [left, right, ..] = frame.edges();
    let mut parts = Vec::new();
    for (n, level) in plot.levels.iter().enumerate() {
        let y = frame.y(level.value);
        let kind = match level.role {
            Role::AtLeast | Role::AtMost => "level limit",
            Role::Nominal => "level nominal",
            Role::Mean => "level mean",
        };
        let drawn = Path::straight([left, y, right, y], 1.3).dashed(dashes(level.role));
        parts.push(drawn.class(kind).into());
        if let Some(place) = frame.beside.get(n).copied().flatten() {
            let leader = [right + 2.0, y, right + 10.0, place];
            parts.push(Path::straight(leader, 0.8).faint(0.6).into());
            let at = (right + 13.0, place + f64::from(frame.size.font) * 0.35);
            parts.push(words(&frame.level_label(plot, n), at, Anchor::Start, ""));
        }
    }
    parts
}

/// What happened, with its names above.
fn events(plot: &Plot, frame: &Frame) -> Vec<Shape> {
    let [_, _, top, bottom] = frame.edges();
    let mut parts = Vec::new();
    for (event, place) in plot.events.iter().zip(&frame.above) {
        let x = frame.x(event.at);
        let from = place.as_ref().map_or(top, |p| p.foot);
        let drawn = Path::straight([x, from, x, bottom], 1.1).dashed(EVENT);
        parts.push(drawn.class("event").into());
        if let Some(place) = place {
            parts.push(words(&place.text, (place.x, place.y), Anchor::Start, ""));
        }
    }
    parts
}
