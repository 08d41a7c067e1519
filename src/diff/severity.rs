//! What became of the severities of criteria that belong together.
//!
//! Never in here: which belong together, and what they accept. Changes when severities are told otherwise.

use crate::plan::{Criterion, CriterionSeverity, Item};

use super::change::{Change, Lean, Weight};
use super::compare::Comparison;
use super::criteria::{Together, together};
use super::formula::Formula;
use super::judged::{Row, text_of};
use super::region::Change as Region;

impl Comparison<'_, '_> {
    /// Tells each part of a unit whose fail weighs otherwise.
    pub fn severities(&self, unit: &Together, row: &Row, path: &str, changes: &mut Vec<Change>) {
        let old: Vec<&Criterion> = of(self.sides.old.at(row.place.old), &unit.old);
        let new: Vec<&Criterion> = of(self.sides.new.at(row.place.new), &unit.new);
        match (&old[..], &new[..]) {
            ([a], [b]) => changes.extend(weighs(a, b, text_of(b), path)),
            _ if self.is_as_grave(unit, row) => {}
            ([a], parts) => {
                changes.extend(parts.iter().filter_map(|b| weighs(a, b, text_of(b), path)));
            }
            (parts, [b]) => {
                changes.extend(parts.iter().filter_map(|a| weighs(a, b, text_of(a), path)));
            }
            _ => changes.extend(in_other_parts(&old, &new, path)),
        }
    }

    /// Whether what fails gravely, and what critically, are the same as before.
    pub fn is_as_grave(&self, unit: &Together, row: &Row) -> bool {
        let (old, new) = (
            self.sides.old.at(row.place.old),
            self.sides.new.at(row.place.new),
        );
        let least = [CriterionSeverity::Major, CriterionSeverity::Critical];
        least.iter().all(|least| {
            let before = from(old, &row.olds, &unit.old, *least);
            let now = from(new, &row.news, &unit.new, *least);
            self.sides.held(&before, &now) == Region::Same
        })
    }
}

fn of<'i>(item: &'i Item, which: &[usize]) -> Vec<&'i Criterion> {
    which.iter().map(|n| &item.criteria[*n]).collect()
}

/// What the criteria say together that weigh this much at least.
fn from(item: &Item, formulas: &[Formula], which: &[usize], least: CriterionSeverity) -> Formula {
    let grave = |n: &&usize| item.criteria[**n].severity >= least;
    let which: Vec<usize> = which.iter().filter(grave).copied().collect();
    together(formulas, &which)
}

fn weighs(old: &Criterion, new: &Criterion, text: &str, path: &str) -> Option<Change> {
    let (was, is) = (old.severity, new.severity);
    let lean = match is.cmp(&was) {
        std::cmp::Ordering::Equal => return None,
        std::cmp::Ordering::Greater => Lean::Tighter,
        std::cmp::Ordering::Less => Lean::Looser,
    };
    let why = format!("a fail of `{text}` weighs otherwise");
    let change = Change::new(path, Weight::Severity, was.word(), is.word(), why);
    Some(change.leaning(lean))
}

/// Several became several: which of them weighs more or less nobody can tell.
fn in_other_parts(old: &[&Criterion], new: &[&Criterion], path: &str) -> Option<Change> {
    let words = |of: &[&Criterion]| {
        let mut all: Vec<CriterionSeverity> = of.iter().map(|c| c.severity).collect();
        all.sort();
        all.dedup();
        all.iter().map(|s| s.word()).collect::<Vec<_>>().join(", ")
    };
    let (was, is) = (words(old), words(new));
    let all_alike = was == is && !was.contains(',');
    let why = "fails weigh otherwise in some parts of what is accepted";
    (!all_alike).then(|| Change::new(path, Weight::Severity, was, is, why))
}
