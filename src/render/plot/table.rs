//! The table beside a plot and the sentence above it: what the drawing says, in words.
//!
//! Never in here: drawing. Changes when a table tells something new.

use super::super::document::{Cell, Column};
use super::super::words::{counted, fixed, said, say};
use super::make::Window;
use super::number::short;
use super::{Axis, Level, Plot, Point, key};

/// Readings up to this number are all told.
const ALL_OF_A_TRACE: usize = 20;
/// Most rows of readings and of events.
const MOST: usize = 400;

/// Where readings lie, as the end of a sentence.
pub(super) fn extent(plot: &Plot) -> String {
    let readings: usize = plot.series.iter().map(|s| s.readings).max().unwrap_or(0);
    let all = || plot.series.iter().flat_map(|s| &s.points);
    let (Some(low), Some(high)) = (lowest(all()), highest(all())) else {
        return say!("; there is nothing to draw.");
    };
    let at = |p: &Point| {
        let place = plot.x.value(p.x);
        let place = match plot.x.counts {
            true => say!("reading {n}", n = place),
            false => place,
        };
        say!(
            "{value} at {place}",
            value = plot.y.value(p.y),
            place = place
        )
    };
    let count = if plot.x.names.is_empty() {
        counted(readings, fixed!("reading"), fixed!("readings"))
    } else {
        counted(readings, fixed!("window"), fixed!("windows"))
    };
    say!(
        "; {count}, lowest {low}, highest {high}.",
        count = count,
        low = at(low),
        high = at(high)
    )
}

/// The lowest point; the first of equal ones.
fn lowest<'p>(points: impl Iterator<Item = &'p Point>) -> Option<&'p Point> {
    points.min_by(|a, b| a.y.total_cmp(&b.y))
}

/// The highest point; the first of equal ones.
fn highest<'p>(points: impl DoubleEndedIterator<Item = &'p Point>) -> Option<&'p Point> {
    points.rev().max_by(|a, b| a.y.total_cmp(&b.y))
}

/// What the table shows.
pub(super) fn caption(plot: &Plot) -> String {
    let thin = is_thin(plot);
    let events = match (plot.events.is_empty(), thin) {
        (true, _) => String::new(),
        (false, false) => say!("; at an event the last reading until then"),
        (false, true) => say!(
            "; at an event the reading of that time where it is drawn, else the last drawn before it and the first after it"
        ),
    };
    say!("The same in figures, to six significant digits") + &events
}

/// The columns of a table of points.
pub(super) fn head_of_points(plot: &Plot) -> Vec<Column> {
    if !plot.x.counts {
        return columns([
            (say!("which"), 40),
            (plot.x.title(), 30),
            (plot.y.title(), 30),
        ]);
    }
    let uncertainty = Axis::new(&say!("expanded uncertainty"), &plot.y.unit);
    columns([
        (say!("which"), 34),
        (plot.y.title(), 33),
        (uncertainty.title(), 33),
    ])
}

/// The columns of a table of windows.
pub(super) fn head_of_windows() -> Vec<Column> {
    columns([
        (say!("window"), 40),
        (
            say!("{quantity} in {unit}", quantity = "Ep(max)", unit = "%"),
            30,
        ),
        (
            say!("{quantity} in {unit}", quantity = "Ep(min)", unit = "%"),
            30,
        ),
    ])
}

fn columns(of: [(String, u8); 3]) -> Vec<Column> {
    let one = |(title, share_percent)| Column {
        title,
        share_percent,
    };
    of.map(one).to_vec()
}

/// A trace in few rows: all readings where they are few, else first, last, lowest and highest; the lines; each event with the
/// last reading until then.
pub(super) fn summary(plot: &Plot, all: &[Point]) -> Vec<Vec<Cell>> {
    let reading = |name: String, p: &Point| row([name, short(p.x), short(p.y)]);
    let mut rows: Vec<Vec<Cell>> = if all.len() <= ALL_OF_A_TRACE {
        let one = |(n, p)| reading(say!("reading {n}", n = n + 1), p);
        all.iter().enumerate().map(one).collect()
    } else {
        marked(all)
            .into_iter()
            .map(|(name, p)| reading(said(name, &[]), &p))
            .collect()
    };
    rows.extend(lines(plot));
    for event in plot.events.iter().take(MOST) {
        let value = at_event(event.at, all, is_thin(plot));
        rows.push(row([event.name.clone(), short(event.at), value]));
    }
    more(&mut rows, plot.events.len(), fixed!("more events"));
    rows
}

/// Whether not all readings are at hand here.
fn is_thin(plot: &Plot) -> bool {
    plot.series.iter().any(|s| s.points.len() < s.readings)
}

/// The reading at an event: the last until then; where readings were left out since, those around it.
fn at_event(at: f64, all: &[Point], thin: bool) -> String {
    /// Two times that differ by less are the same one, reckoned in two ways.
    const SAME: f64 = 1e-9;
    let until = all.partition_point(|p| p.x <= at + at.abs() * SAME);
    let last = until.checked_sub(1).and_then(|n| all.get(n));
    let of_then = |p: &&Point| !thin || (p.x - at).abs() <= at.abs() * SAME;
    match (last, all.get(until)) {
        (Some(last), _) if of_then(&last) => short(last.y),
        (None, _) => say!("none yet"),
        (Some(last), None) => say!("{value} before it", value = short(last.y)),
        (Some(last), Some(next)) => say!(
            "{value} before it, {next} after it",
            value = short(last.y),
            next = short(next.y)
        ),
    }
}

/// First, last, lowest and highest.
fn marked(all: &[Point]) -> Vec<(&'static str, Point)> {
    let found = [
        (fixed!("first"), all.first()),
        (fixed!("last"), all.last()),
        (fixed!("lowest"), lowest(all.iter())),
        (fixed!("highest"), highest(all.iter())),
    ];
    let mut marked = Vec::new();
    for (name, point) in found {
        marked.extend(point.map(|p| (name, *p)));
    }
    marked
}

/// Every reading with its uncertainty.
pub(super) fn every_reading(plot: &Plot, all: &[Point]) -> Vec<Vec<Cell>> {
    let one = |p: &Point| {
        let uncertainty = p.uncertainty.map_or_else(|| say!("not stated"), short);
        row([say!("reading {n}", n = short(p.x)), short(p.y), uncertainty])
    };
    let mut rows: Vec<Vec<Cell>> = all.iter().take(MOST).map(one).collect();
    more(&mut rows, all.len(), fixed!("more readings"));
    rows.extend(lines(plot));
    rows
}

/// Every window with both errors.
pub(super) fn every_window(plot: &Plot, windows: &[Window]) -> Vec<Vec<Cell>> {
    let one = |(n, w): (usize, &Window)| {
        let name = plot.x.value(n as f64);
        row([name, short(w.high), short(w.low)])
    };
    let mut rows: Vec<Vec<Cell>> = windows.iter().enumerate().take(MOST).map(one).collect();
    more(&mut rows, windows.len(), fixed!("more windows"));
    rows.extend(lines(plot));
    rows
}

/// The horizontal lines, in a column only where all its values are of their kind.
fn lines(plot: &Plot) -> Vec<Vec<Cell>> {
    let line = |l: &Level| {
        if !plot.x.names.is_empty() {
            return row([key::level(plot, l), String::new(), String::new()]);
        }
        let (name, value) = (l.name.clone(), short(l.value));
        if plot.x.counts {
            row([name, value, String::new()])
        } else {
            row([name, say!("throughout"), value])
        }
    };
    plot.levels.iter().map(line).collect()
}

fn more(rows: &mut Vec<Vec<Cell>>, all: usize, what: &str) {
    if all > MOST {
        let text = counted(all - MOST, what, what);
        rows.push(row([text, say!("not shown"), say!("not shown")]));
    }
}

fn row(texts: [String; 3]) -> Vec<Cell> {
    texts.map(Cell::new).to_vec()
}
