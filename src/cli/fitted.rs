//! Reports and lists on a terminal: lines of 80 columns, broken between words, each part below where it began.
//!
//! Where no terminal is, lines stay whole: programs read them. Never in here: what is told. Changes when the screen is used
//! otherwise.

use std::io::IsTerminal;

use super::show::{WIDTH, filled};

/// Deepest place below which a line goes on.
const MAX_HANG: usize = 40;
/// Least width that a column is narrowed to.
const NARROW: usize = 6;
/// What stands between columns.
const GAP: &str = "  ";

/// A report as it is printed.
pub fn report(text: &str) -> String {
    if !std::io::stdout().is_terminal() {
        return text.to_owned();
    }
    text.lines().map(|line| folded(line) + "\n").collect()
}

/// A line broken between words; what goes on stands below its last column, or a little to the right.
fn folded(line: &str) -> String {
    let body = line.trim_start();
    let indent = line.len() - body.len();
    let ends = body.match_indices(GAP).map(|(at, gap)| at + gap.len());
    // Behind all blanks of a gap.
    let starts = ends.map(|at| at + body[at..].len() - body[at..].trim_start().len());
    let starts = starts.map(|at| indent + body[..at].chars().count());
    let last = starts.filter(|at| *at <= MAX_HANG).max();
    let blanks = " ".repeat(last.unwrap_or(indent + 2).min(MAX_HANG));
    filled(line, "", &blanks)
}

/// Rows with their cells one below the other: cells are cut where no terminal is, and broken between words on one.
pub fn in_columns(rows: &[Vec<String>], widest: usize) -> String {
    let terminal = std::io::stdout().is_terminal();
    let length = |cell: &String| {
        cell.chars()
            .count()
            .min(if terminal { WIDTH } else { widest })
    };
    let columns = rows.first().map_or(0, Vec::len);
    let mut widths: Vec<usize> = (0..columns)
        .map(|c| rows.iter().map(|r| length(&r[c])).max().unwrap_or(0))
        .collect();
    if !terminal {
        return rows.iter().map(|row| joined(row, &widths)).collect();
    }
    narrow(&mut widths);
    rows.iter().map(|row| broken(row, &widths)).collect()
}

/// Takes from the widest column until all fit side by side, or nothing is left to take.
fn narrow(widths: &mut [usize]) {
    let gaps = GAP.len() * widths.len().saturating_sub(1);
    while widths.iter().sum::<usize>() + gaps > WIDTH {
        match widths.iter_mut().max().filter(|w| **w > NARROW) {
            Some(widest) => *widest -= 1,
            None => return,
        }
    }
}

/// A row in as many lines as its longest cell takes.
fn broken(row: &[String], widths: &[usize]) -> String {
    let whole = |width: usize| {
        textwrap::Options::new(width).word_splitter(textwrap::WordSplitter::NoHyphenation)
    };
    let cells: Vec<Vec<String>> = row
        .iter()
        .zip(widths)
        .map(|(cell, width)| {
            let lines = textwrap::wrap(cell, whole((*width).max(1)));
            lines.into_iter().map(|l| l.into_owned()).collect()
        })
        .collect();
    let height = cells.iter().map(Vec::len).max().unwrap_or(0);
    let line = |n: usize| {
        let parts: Vec<String> = cells
            .iter()
            .map(|c| c.get(n).cloned().unwrap_or_default())
            .collect();
        joined(&parts, widths)
    };
    (0..height).map(line).collect()
}

/// A line of cells, those that are too long cut.
fn joined(row: &[String], widths: &[usize]) -> String {
    let cells = row.iter().zip(widths).map(|(cell, width)| {
        let mut short: String = cell.chars().take(*width).collect();
        if cell.chars().count() > *width {
            short.pop();
            short.push('…');
        }
        format!("{short:width$}")
    });
    let cells: Vec<String> = cells.collect();
    cells.join(GAP).trim_end().to_owned() + "\n"
}
