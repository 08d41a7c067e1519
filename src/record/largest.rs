//! The largest lines of a budget, for a reader who has no room for all.
//!
//! Never in here: how contributions are found. Changes when lines are put together otherwise.

use super::wire::BudgetLine;

/// Below this share of the variance a line tells nothing.
const LEAST_SHARE: f64 = 0.0001;

/// The largest lines of a budget, at most `most`: sources of the same name as one, as the display at several readings;
/// below them one line for what is left, unless it comes to less than 0.01 % of the variance.
#[must_use]
pub fn largest(budget: &[BudgetLine], most: usize) -> Vec<BudgetLine> {
    let mut groups: Vec<Vec<&BudgetLine>> = Vec::new();
    for line in budget {
        let alike = |g: &&mut Vec<&BudgetLine>| is_alike(g[0], line);
        match groups.iter_mut().find(alike) {
            Some(group) => group.push(line),
            None => groups.push(vec![line]),
        }
    }
    let mut lines: Vec<BudgetLine> = groups.iter().map(|g| together(g, None)).collect();
    lines.sort_by(|a, b| number(&b.contribution).total_cmp(&number(&a.contribution)));
    let telling = lines
        .iter()
        .filter(|l| number(&l.share) >= LEAST_SHARE)
        .count();
    let rest = lines.split_off(telling.clamp(usize::from(!lines.is_empty()), most));
    let rest: Vec<&BudgetLine> = rest.iter().collect();
    if rest.iter().map(|l| number(&l.share)).sum::<f64>() >= LEAST_SHARE {
        lines.push(together(&rest, Some("the others together")));
    }
    lines
}

fn is_alike(a: &BudgetLine, b: &BudgetLine) -> bool {
    a.source == b.source && a.standard == b.standard && a.unit == b.unit && a.standard.is_some()
}

/// Several lines as one: contributions added in squares, shares added.
fn together(lines: &[&BudgetLine], name: Option<&str>) -> BudgetLine {
    if let ([only], None) = (lines, name) {
        return (*only).clone();
    }
    let first = lines.first().filter(|_| name.is_none());
    let squares: f64 = lines.iter().map(|l| number(&l.contribution).powi(2)).sum();
    let share: f64 = lines.iter().map(|l| number(&l.share)).sum();
    let source = first.map(|l| format!("{}, {} readings", l.source, lines.len()));
    BudgetLine {
        source: name.map(str::to_owned).or(source).unwrap_or_default(),
        standard: first.and_then(|l| l.standard.clone()),
        unit: first.and_then(|l| l.unit.clone()),
        sensitivity: None,
        contribution: squares.sqrt().to_string(),
        share: share.to_string(),
        freedom: None,
    }
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or(0.0)
}
