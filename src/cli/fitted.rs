//! Reports and lists on a terminal: lines as wide as it is, broken between words, each part below where it began.
//!
//! Where no terminal is, lines stay whole: programs read them. Never in here: what is told. Changes when the screen is used
//! otherwise.

use std::io::IsTerminal;

use super::show::{filled, width};

/// Deepest place below which a line goes on.
const MAX_HANG: usize = 40;
/// Longest word that is not broken.
const MAX_WORD: usize = 32;
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
    // A digest or a path is not broken: it could not be copied.
    let hang = last.filter(|at| at + longest_word(body) <= width());
    filled(line, "", &" ".repeat(hang.unwrap_or(indent + 2)))
}

/// Rows with their cells one below the other, the first row naming the columns. Where no terminal is, cells are cut; on one
/// they are broken between words, and the last columns are left out where not all fit: which, the last line tells.
pub fn in_columns(rows: &[Vec<String>], widest: usize) -> String {
    let terminal = std::io::stdout().is_terminal();
    let most = if terminal { width() } else { widest };
    let columns = rows.first().map_or(0, Vec::len);
    let broadest = |c: usize, of: fn(&str) -> usize| {
        let cells = rows.iter().map(|r| of(&r[c]));
        cells.max().unwrap_or(0).min(most)
    };
    let mut widths: Vec<usize> = (0..columns)
        .map(|c| broadest(c, |cell| cell.chars().count()))
        .collect();
    if !terminal {
        return rows.iter().map(|row| joined(row, &widths)).collect();
    }
    let least: Vec<usize> = (0..columns)
        .map(|c| broadest(c, longest_word).min(MAX_WORD))
        .collect();
    let mut shown = columns;
    while shown > 1 && breadth(&least[..shown]) > width() {
        shown -= 1;
    }
    widths.truncate(shown);
    narrow(&mut widths, &least);
    let lines: String = rows.iter().map(|row| broken(row, &widths)).collect();
    match rows.first().map(|names| names[shown..].join(", ")) {
        Some(names) if !names.is_empty() => {
            let told = format!("not shown for want of room: {names}; a wider window has them");
            lines + &filled(&told, "", "  ") + "\n"
        }
        _ => lines,
    }
}

fn longest_word(cell: &str) -> usize {
    let words = cell.split_whitespace().map(|w| w.chars().count());
    words.max().unwrap_or(0)
}

/// What columns take side by side.
fn breadth(widths: &[usize]) -> usize {
    widths.iter().sum::<usize>() + GAP.len() * widths.len().saturating_sub(1)
}

/// Takes from the widest column that is wider than its longest word, until all fit side by side or nothing is left to take.
fn narrow(widths: &mut [usize], least: &[usize]) {
    while breadth(widths) > width() {
        let spare = widths.iter_mut().zip(least).filter(|(w, l)| **w > **l);
        match spare.max_by_key(|(w, _)| **w) {
            Some((widest, _)) => *widest -= 1,
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
