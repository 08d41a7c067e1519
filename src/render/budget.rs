//! What the uncertainty of each judged value is made of.
//!
//! Never in here: how it was found. Changes when a budget holds something new.

use crate::record::{BudgetLine, DrawnErrors, Limit, Record, Step, Uncertainty, largest};

use super::clean::prose;
use super::document::{Block, Cell, Column, section};
use super::figure::{percent, short, with_unit};
use super::kinds::kind;
use super::went::name;
use super::words::{counted, fixed, said, say};

/// Most lines of a budget; the others are told together.
const LINES: usize = 5;

/// The section with a budget for every judged value; nothing where there is none.
pub(super) fn blocks(record: &Record) -> Vec<Block> {
    let mut rows = Vec::new();
    let mut values = 0;
    for (step, number) in record.setup.iter().chain(&record.steps).zip(1..) {
        for (limit, of) in judged(step) {
            values += 1;
            rows.push(vec![head(number, step, limit, of)]);
            rows.extend(lines(of));
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let header = Column::all([
        (fixed!("Source"), 39),
        ("u", 14),
        (fixed!("Sensitivity"), 20),
        (fixed!("Contribution"), 16),
        (fixed!("Share"), 11),
    ]);
    vec![
        section(&say!("What the uncertainty is made of")),
        Block::Paragraph {
            text: say!(
                "Of each judged value the largest contributions: the standard uncertainty u of the source, how much \
                   the value changes with it, the product of both, and its share of the variance. A calibration that acts on several \
                   readings with different sizes has only the product. Rounded to two or three digits."
            ),
        },
        Block::Table {
            caption: counted(values, fixed!("judged value"), fixed!("judged values")),
            header,
            rows,
            dense: true,
        },
    ]
}

/// What was judged at a step, each value once.
fn judged(step: &Step) -> Vec<(&Limit, &Uncertainty)> {
    let mut all: Vec<(&Limit, &Uncertainty)> = Vec::new();
    for limit in step.criteria.iter().flat_map(|c| &c.limits) {
        let known = |(l, _): &(&Limit, _)| l.of == limit.of;
        if let Some(of) = &limit.uncertainty
            && !all.iter().any(known)
        {
            all.push((limit, of));
        }
    }
    all
}

fn head(number: usize, step: &Step, limit: &Limit, of: &Uncertainty) -> Cell {
    let unit = |number: &str| with_unit(&short(number, 3), &of.unit);
    let freedom = of.freedom.as_ref();
    let freedom = freedom.map(|f| say!(", {n} degrees of freedom", n = prose(f)));
    let drawn = of.drawn.as_ref().map(drawn);
    Cell {
        text: format!(
            "{number}. {}: {} = {}; u = {}, k = {}{}{}",
            name(step),
            prose(&limit.of),
            prose(&of.shown),
            unit(&of.standard),
            short(&of.k, 3),
            freedom.unwrap_or_default(),
            drawn.unwrap_or_default()
        ),
        step: Some(number),
        mark: None,
    }
}

fn drawn(of: &DrawnErrors) -> String {
    let end = |number: &str| with_unit(&short(number, 3), &of.unit);
    let (low, high) = (end(&of.low), end(&of.high));
    if of.agrees {
        say!(
            "; drawn at random: {low} to {high}, which agrees",
            low = low,
            high = high
        )
    } else {
        say!(
            "; drawn at random: {low} to {high}, which does not agree",
            low = low,
            high = high
        )
    }
}

/// The unit of a sensitivity.
fn per(of: &str, source: &str) -> String {
    let inside = |unit: &str| match unit.contains(['/', ' ', '*', '·']) {
        true => format!("({unit})"),
        false => unit.to_owned(),
    };
    match (of, source) {
        (of, source) if of == source => "1".to_owned(),
        (of, "1" | "") => of.to_owned(),
        (of, source) => format!("{}/{}", inside(of), inside(source)),
    }
}

/// How a record says what a source is.
const SOURCES: [&str; 3] = [
    fixed!("accuracy of {what}"),
    fixed!("scatter of {what}"),
    fixed!("display in steps of {what}"),
];

/// A source in the language of the rendering: its instrument, if any, stays before it.
fn source(text: &str) -> String {
    let (instrument, rest) = match text.split_once(": ") {
        Some((id, rest)) => (format!("{id}: "), rest),
        None => (String::new(), text),
    };
    let known = SOURCES.iter().find_map(|known| {
        let what = rest.strip_prefix(known.strip_suffix("{what}")?)?;
        // Of an accuracy the kind of quantity is named; others are of what a recipe names.
        let what = match what.split_once(" (") {
            Some((of, terms)) if *known == SOURCES[0] => format!("{} ({terms}", kind(of)),
            _ => what.to_owned(),
        };
        Some(said(known, &[("what", &what)]))
    });
    match known {
        Some(known) => format!("{instrument}{known}"),
        None => text.to_owned(),
    }
}

fn lines(of: &Uncertainty) -> Vec<Vec<Cell>> {
    let unit = |number: &str| with_unit(&short(number, 3), &of.unit);
    let line = |l: &BudgetLine| {
        let standard = l.standard.as_ref().zip(l.unit.as_ref());
        let standard = standard.map(|(u, unit)| with_unit(&short(u, 3), unit));
        let sensitivity = l.sensitivity.as_ref();
        let sensitivity = sensitivity.map(|s| {
            with_unit(
                &short(s, 3),
                &per(&of.unit, l.unit.as_deref().unwrap_or("1")),
            )
        });
        vec![
            Cell::new(source(&prose(&l.source.replace('`', "")))),
            Cell::new(standard.unwrap_or_default()),
            Cell::new(sensitivity.unwrap_or_default()),
            Cell::new(unit(&l.contribution)),
            Cell::new(percent(&l.share)),
        ]
    };
    largest(&of.budget, LINES).iter().map(line).collect()
}
