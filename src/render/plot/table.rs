//! The table beside a plot and the sentence above it: what the drawing says, in words.
//!
//! Never in here: drawing. Changes when a table tells something new.

use super::super::document::{Cell, Column};
use super::make::Window;
use super::number::short;
use super::{Level, Plot, Point, key};

/// Readings up to this number are all told.
const ALL_OF_A_TRACE: usize = 20;
/// Most rows of readings and of events.
const MOST: usize = 400;

/// Where readings lie, as the end of a sentence.
pub(super) fn extent(plot: &Plot) -> String {
    let readings: usize = plot.series.iter().map(|s| s.readings).max().unwrap_or(0);
    let all = || plot.series.iter().flat_map(|s| &s.points);
    let low = all().min_by(|a, b| a.y.total_cmp(&b.y));
    let high = all().max_by(|a, b| a.y.total_cmp(&b.y));
    let (Some(low), Some(high)) = (low, high) else {
        return "; there is nothing to draw.".to_owned();
    };
    let at = |p: &Point| {
        let what = if plot.x.counts { "reading " } else { "" };
        format!("{} at {what}{}", plot.y.value(p.y), plot.x.value(p.x))
    };
    let what = if plot.x.names.is_empty() {
        "reading"
    } else {
        "window"
    };
    let count = super::super::figure::counted(readings, what, &format!("{what}s"));
    format!("; {count}, lowest {}, highest {}.", at(low), at(high))
}

/// What the table shows.
pub(super) fn caption(plot: &Plot) -> String {
    let events = if plot.events.is_empty() {
        ""
    } else {
        "; at an event the last reading until then"
    };
    format!("The same in figures, to six significant digits{events}")
}

/// The columns of a table of points.
pub(super) fn head_of_points(plot: &Plot) -> Vec<Column> {
    if !plot.x.counts {
        return columns([
            ("which".to_owned(), 40),
            (plot.x.title(), 30),
            (plot.y.title(), 30),
        ]);
    }
    let unit = match plot.y.unit.as_str() {
        "" | "1" => String::new(),
        unit => format!(" in {unit}"),
    };
    columns([
        ("which".to_owned(), 34),
        (plot.y.title(), 33),
        (format!("expanded uncertainty{unit}"), 33),
    ])
}

/// The columns of a table of windows.
pub(super) fn head_of_windows() -> Vec<Column> {
    columns([
        ("window".to_owned(), 40),
        ("Ep(max) in %".to_owned(), 30),
        ("Ep(min) in %".to_owned(), 30),
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
        let one = |(n, p)| reading(format!("reading {}", n + 1), p);
        all.iter().enumerate().map(one).collect()
    } else {
        marked(all)
            .into_iter()
            .map(|(name, p)| reading(name.to_owned(), &p))
            .collect()
    };
    rows.extend(lines(plot));
    for event in plot.events.iter().take(MOST) {
        let until = all.partition_point(|p| p.x <= event.at);
        let last = until.checked_sub(1).and_then(|n| all.get(n));
        let value = last.map_or_else(|| "none yet".to_owned(), |p| short(p.y));
        rows.push(row([event.name.clone(), short(event.at), value]));
    }
    more(&mut rows, plot.events.len(), "events");
    rows
}

/// First, last, lowest and highest.
fn marked(all: &[Point]) -> Vec<(&'static str, Point)> {
    let low = all.iter().min_by(|a, b| a.y.total_cmp(&b.y));
    // The first of equal ones, as with the lowest.
    let high = all.iter().rev().max_by(|a, b| a.y.total_cmp(&b.y));
    let found = [
        ("first", all.first()),
        ("last", all.last()),
        ("lowest", low),
        ("highest", high),
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
        let uncertainty = p.uncertainty.map_or_else(|| "not stated".to_owned(), short);
        row([format!("reading {}", short(p.x)), short(p.y), uncertainty])
    };
    let mut rows: Vec<Vec<Cell>> = all.iter().take(MOST).map(one).collect();
    more(&mut rows, all.len(), "readings");
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
    more(&mut rows, windows.len(), "windows");
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
            row([name, "throughout".to_owned(), value])
        }
    };
    plot.levels.iter().map(line).collect()
}

fn more(rows: &mut Vec<Vec<Cell>>, all: usize, what: &str) {
    if all > MOST {
        let text = format!("{} more {what}", all - MOST);
        rows.push(row([text, "not shown".to_owned(), "not shown".to_owned()]));
    }
}

fn row(texts: [String; 3]) -> Vec<Cell> {
    texts.map(Cell::new).to_vec()
}
