//! From values to places along an axis, with marks at round numbers.
//!
//! Never in here: pixels and characters. Changes when an axis is divided otherwise.

use super::number::{exponent, tick};
use super::thin::has_place;
use super::{Axis, Plot};

/// Below this a value is no different from 0.
const NOTHING: f64 = 1e-290;
/// Values that differ by less than this share of their size are drawn as one.
const SAME: f64 = 1e-9;
/// So many names stand at an axis in any case.
const NAMES: usize = 12;
/// How far beyond a horizontal line the axis goes, as a share of what is shown.
const ROOM: f64 = 0.04;

/// An axis with its ends and the distance of its marks: 1, 2 or 5 times a power of ten.
#[derive(Clone, Debug)]
pub(super) struct Scale {
    from: f64,
    to: f64,
    step: f64,
    names: Vec<String>,
}

impl Scale {
    /// The scale to the right with at most about `most` marks; it ends where the data end.
    pub(super) fn right(plot: &Plot, most: usize) -> Self {
        let points = plot.series.iter().flat_map(|s| &s.points).map(|p| p.x);
        let events = plot.events.iter().map(|e| e.at);
        let axis = &plot.x;
        let named = (0..axis.names.len()).map(|n| n as f64);
        let (low, high) = ends(points.chain(events).chain(named), axis);
        if axis.counts || !axis.names.is_empty() {
            let most = if axis.counts { most } else { most.max(NAMES) };
            let step = step(high - low + 1.0, most).max(1.0);
            return Self::new(axis, low - 0.5, high + 0.5, step);
        }
        let (low, high) = apart(low, high);
        Self::new(axis, low, high, step(high - low, most))
    }

    /// The scale upwards with about `most` marks; it ends at marks.
    pub(super) fn up(plot: &Plot, most: usize) -> Self {
        let points = plot.series.iter().flat_map(|s| &s.points);
        let bars = points.flat_map(|p| {
            let half = p.uncertainty.unwrap_or(0.0);
            [p.y - half, p.y + half]
        });
        let levels = plot.levels.iter().map(|l| l.value);
        let (low, high) = ends(bars.chain(levels.clone()), &plot.y);
        let (low, high) = apart(low, high);
        let room = (high - low) * ROOM;
        let low = levels.clone().map(|l| l - room).fold(low, f64::min);
        let high = levels.map(|l| l + room).fold(high, f64::max);
        let step = step(high - low, most);
        let (low, high) = ((low / step).floor() * step, (high / step).ceil() * step);
        Self::new(&plot.y, low, high, step)
    }

    fn new(axis: &Axis, from: f64, to: f64, step: f64) -> Self {
        Self {
            from,
            to,
            step,
            names: axis.names.clone(),
        }
    }

    /// Where a value lies: 0 at the start of the axis, 1 at its end.
    pub(super) fn share(&self, v: f64) -> f64 {
        ((v - self.from) / (self.to - self.from)).clamp(0.0, 1.0)
    }

    /// The marks with their labels.
    pub(super) fn ticks(&self) -> Vec<(f64, String)> {
        let slack = 1e-6;
        let first = (self.from / self.step - slack).ceil();
        let count = (self.to / self.step + slack).floor() - first;
        let greatest = self.from.abs().max(self.to.abs());
        let one = |n: usize| {
            let v = (first + n as f64) * self.step;
            let name = self.names.get(v as usize).filter(|_| v >= 0.0);
            let label = name.map_or_else(|| tick(v, self.step, greatest), Clone::clone);
            (v, label)
        };
        (0..=count.max(0.0) as usize).map(one).collect()
    }
}

/// The least and the greatest value; 0 and 1 where there is none.
fn ends(values: impl Iterator<Item = f64>, axis: &Axis) -> (f64, f64) {
    let least = axis.least.into_iter().flatten().filter(|v| has_place(*v));
    let mut all = values.chain(least);
    let Some(first) = all.next() else {
        return (0.0, 1.0);
    };
    all.fold((first, first), |(low, high), v| (low.min(v), high.max(v)))
}

/// The same ends, moved apart where nothing lies between them.
fn apart(low: f64, high: f64) -> (f64, f64) {
    let size = low.abs().max(high.abs());
    if size < NOTHING {
        (-1.0, 1.0)
    } else if high - low < size * SAME {
        (low - size / 10.0, high + size / 10.0)
    } else {
        (low, high)
    }
}

/// The round distance that divides a span into at most `most` parts.
fn step(span: f64, most: usize) -> f64 {
    let raw = span / most.max(1) as f64;
    let power = 10f64.powi(exponent(raw));
    let rounds = [1.0, 2.0, 5.0].map(|m| m * power);
    // Just below a round number is that number.
    let fits = rounds.into_iter().find(|s| s * 1.000_001 >= raw);
    fits.unwrap_or(10.0 * power)
}
