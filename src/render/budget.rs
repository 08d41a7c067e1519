//! What the uncertainty of each judged value is made of.
//!
//! Never in here: how it was found. Changes when a budget holds something new.

use crate::record::{BudgetLine, DrawnErrors, Limit, Record, Step, Uncertainty, largest};

use super::clean::prose;
use super::document::{Block, Cell, Column, section};
use super::figure::{percent, short, with_unit};
use super::went::name;
use super::words::{counted, fixed, say};

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
        (fixed!("Source"), 42),
        ("u", 15),
        (fixed!("Sensitivity"), 14),
        (fixed!("Contribution"), 17),
        (fixed!("Share"), 12),
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

fn lines(of: &Uncertainty) -> Vec<Vec<Cell>> {
    let unit = |number: &str| with_unit(&short(number, 3), &of.unit);
    let line = |l: &BudgetLine| {
        let standard = l.standard.as_ref().zip(l.unit.as_ref());
        let standard = standard.map(|(u, unit)| with_unit(&short(u, 3), unit));
        let sensitivity = l.sensitivity.as_ref().map(|s| short(s, 3));
        vec![
            Cell::new(prose(&l.source.replace('`', ""))),
            Cell::new(standard.unwrap_or_default()),
            Cell::new(sensitivity.unwrap_or_default()),
            Cell::new(unit(&l.contribution)),
            Cell::new(percent(&l.share)),
        ]
    };
    largest(&of.budget, LINES).iter().map(line).collect()
}
