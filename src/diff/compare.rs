//! Walks both revisions at once and collects what differs.
//!
//! Never in here: how a single key is weighed (see `keys`, `header`), or what a criterion accepts. Changes when steps are
//! walked otherwise.

use std::collections::HashMap;

use super::change::{Change, Difference, Weight};
use super::computed::Computed;
use super::criteria::Sides;
use super::lower::Given;
use super::pairing::{Pairing, longest_rise, pair};
use super::repeat::Repeated;
use super::revision::{Revision, STEPS, Tree};
use super::rows::{self, Rows};
use super::values::Values;
use super::{header, judged, keys, settings, warn};

/// Most rows in which one step is compared; a plan has no more items.
const MAX_ROWS: usize = 200_000;

/// A leaf step in one row, which both revisions have.
#[derive(Clone, Debug)]
pub struct Place {
    /// Its rows in the new revision.
    pub rows: Vec<usize>,
    /// The item of the old revision.
    pub old: usize,
    /// The item of the new revision.
    pub new: usize,
}

/// Both revisions side by side.
pub struct Comparison<'a, 'r> {
    pub sides: Sides<'a, 'r>,
    pub pairing: Pairing,
    /// The rows of matched `each` steps, by the step of the new revision.
    pub rows: HashMap<usize, Rows>,
    pub changes: Vec<Change>,
    pub computed: Computed,
    pub repeated: Repeated,
}

/// What differs between two revisions.
#[must_use]
pub fn compare(old: &Revision, new: &Revision) -> Difference {
    let (old_tree, new_tree) = (old.tree(), new.tree());
    let mut comparison = Comparison::of(&old_tree, &new_tree);
    let mut changes = header::changes(old, new);
    comparison.walk();
    let computed = std::mem::take(&mut comparison.computed);
    changes.extend(computed.settled());
    settings::judge_bare(&mut changes, &comparison.changes, (old, new));
    changes.append(&mut comparison.changes);
    if changes.is_empty() && !old.is_written_as(new) {
        let why = "the same in effect; keys or entries stand in another order";
        changes.push(Change::new("", Weight::Notation, "", "", why));
    }
    changes.sort_by_key(Change::rank);
    let warnings = warn::warnings(old, new, &changes);
    Difference { changes, warnings }
}

fn matched_rows(old: &Tree<'_>, new: &Tree<'_>, pairing: &Pairing) -> HashMap<usize, Rows> {
    let eachs = new
        .steps
        .iter()
        .enumerate()
        .filter(|(_, s)| s.verb == "each");
    let rows = eachs.filter_map(|(at, step)| {
        let was = &old.steps[pairing.old_of[at]?];
        Some((at, rows::pair(&was.rows(), &step.rows())))
    });
    rows.collect()
}

impl<'a, 'r> Comparison<'a, 'r> {
    /// Two revisions with their steps and rows matched, nothing compared yet.
    pub fn of(old: &'a Tree<'r>, new: &'a Tree<'r>) -> Self {
        let pairing = pair(old, new);
        let mut comparison = Self {
            sides: Sides {
                old,
                new,
                given_old: Given::default(),
                given_new: Given::default(),
                values: Values::default(),
            },
            rows: matched_rows(old, new, &pairing),
            pairing,
            changes: Vec::new(),
            computed: Computed::default(),
            repeated: Repeated::default(),
        };
        comparison.give();
        comparison
    }
}

impl Comparison<'_, '_> {
    /// The places of a matched leaf step, in the order of the new revision.
    pub fn places(&self, old: usize, new: usize) -> Vec<Place> {
        let mut all: Vec<(Vec<usize>, Vec<usize>)> = vec![(Vec::new(), Vec::new())];
        for each in &self.sides.new.steps[new].rows_around {
            let pairs = self
                .rows
                .get(each)
                .map(|r| r.pairs.as_slice())
                .unwrap_or_default();
            let more = |(a, b): &(Vec<usize>, Vec<usize>), (x, y): &(usize, usize)| {
                let with = |list: &[usize], n: usize| list.iter().copied().chain([n + 1]).collect();
                (with(a, *x), with(b, *y))
            };
            all = all
                .iter()
                .flat_map(|rows| pairs.iter().map(move |pair| more(rows, pair)))
                .take(MAX_ROWS)
                .collect();
        }
        let place = |(old_rows, rows): (Vec<usize>, Vec<usize>)| {
            Some(Place {
                old: self.sides.old.item(old, &old_rows)?,
                new: self.sides.new.item(new, &rows)?,
                rows,
            })
        };
        all.into_iter().filter_map(place).collect()
    }

    /// Says what each item gives, matched readings by one number.
    fn give(&mut self) {
        let (olds, news) = (
            self.sides.old.of.plan.items.len(),
            self.sides.new.of.plan.items.len(),
        );
        let mut number_of: Vec<usize> = (news..news + olds).collect();
        for new in 0..self.sides.new.steps.len() {
            let Some(old) =
                self.pairing.old_of[new].filter(|_| self.sides.new.steps[new].is_leaf())
            else {
                continue;
            };
            for place in self.places(old, new) {
                number_of[place.old] = place.new;
                let entries = |tree: &Tree<'_>, item: usize| tree.at(item).verb.entries();
                if entries(self.sides.old, place.old) != entries(self.sides.new, place.new) {
                    self.repeated.old.insert(place.old);
                    self.repeated.new.insert(place.new);
                }
            }
        }
        let sides = &mut self.sides;
        for number in number_of {
            let plan = &sides.old.of.plan;
            sides.given_old.add(&mut sides.values, plan, number);
        }
        for number in 0..news {
            let plan = &sides.new.of.plan;
            sides.given_new.add(&mut sides.values, plan, number);
        }
    }

    fn walk(&mut self) {
        let (old, new) = (self.sides.old, self.sides.new);
        for at in STEPS + 1..old.steps.len() {
            let parent = old.steps[at].parent;
            let alone = self.pairing.new_of[at].is_none();
            if alone && (parent <= STEPS || self.pairing.new_of[parent].is_some()) {
                let change = gone(
                    old,
                    at,
                    &|s| self.pairing.new_of[s].is_some(),
                    Weight::StepRemoved,
                );
                self.changes.push(change);
            }
        }
        for at in STEPS + 1..new.steps.len() {
            let Some(was) = self.pairing.old_of[at] else {
                let parent = new.steps[at].parent;
                if parent <= STEPS || self.pairing.old_of[parent].is_some() {
                    let change = gone(
                        new,
                        at,
                        &|s| self.pairing.old_of[s].is_some(),
                        Weight::StepAdded,
                    );
                    self.changes.push(change);
                }
                continue;
            };
            self.placed(was, at);
            keys::compare(self, was, at);
            if new.steps[at].is_leaf() {
                judged::compare(self, was, at);
            } else if new.steps[at].verb == "each" {
                self.rows_changed(was, at);
            }
        }
    }

    /// Whether a step has another name or stands elsewhere.
    fn placed(&mut self, was: usize, at: usize) {
        let (old, new) = (&self.sides.old.steps[was], &self.sides.new.steps[at]);
        let (before, path) = (old.path.clone(), new.path.clone());
        if old.id != new.id {
            let why =
                "the same step under another id; answers files and histories name it by its id";
            self.changes
                .push(Change::new(&path, Weight::StepRenamed, &before, &path, why));
        }
        if self.pairing.moved.contains(&at) {
            let place = |tree: &Tree<'_>, step: usize| {
                let around = &tree.steps[tree.steps[step].parent];
                let nth = around
                    .inner
                    .iter()
                    .position(|s| *s == step)
                    .unwrap_or_default()
                    + 1;
                let scope = match (tree.steps[step].parent, around.path.as_str()) {
                    (super::revision::SETUP, _) => "of the setup",
                    (STEPS, _) => "of the steps",
                    (_, path) => return format!("{nth} of {path}"),
                };
                format!("{nth} {scope}")
            };
            let (from, to) = (place(self.sides.old, was), place(self.sides.new, at));
            let why = match from.split_once(' ').map(|p| p.1) == to.split_once(' ').map(|p| p.1) {
                true => "it is done in another order",
                false => "it stands in another part of the procedure",
            };
            self.changes
                .push(Change::new(path, Weight::StepMoved, from, to, why));
        }
    }

    fn rows_changed(&mut self, was: usize, at: usize) {
        let Some(rows) = self.rows.get(&at).cloned() else {
            return;
        };
        let (old, new) = (&self.sides.old.steps[was], &self.sides.new.steps[at]);
        let (olds, news) = (old.rows(), new.rows());
        let path =
            |step: &super::revision::Step<'_>, row: usize| format!("{}.{}", step.path, row + 1);
        let mut changes = Vec::new();
        for row in &rows.removed {
            let why = format!(
                "a row is no more: what it holds is not asked{}",
                checks(self.sides.old.size(was))
            );
            let words = format!("{} {} row point", old.id, old.called());
            changes.push(
                Change::new(
                    path(old, *row),
                    Weight::StepRemoved,
                    keys::row_text(olds[*row]),
                    "",
                    why,
                )
                .about(words),
            );
        }
        for row in &rows.added {
            let why = format!(
                "a row is new: all steps inside are done for it{}",
                checks(self.sides.new.size(at))
            );
            changes.push(Change::new(
                path(new, *row),
                Weight::StepAdded,
                "",
                keys::row_text(news[*row]),
                why,
            ));
        }
        let befores: Vec<usize> = rows.pairs.iter().map(|(a, _)| *a).collect();
        for (stayed, (a, b)) in longest_rise(&befores).into_iter().zip(&rows.pairs) {
            if !stayed && a != b {
                let (from, to) = (format!("row {}", a + 1), format!("row {}", b + 1));
                changes.push(Change::new(
                    path(new, *b),
                    Weight::StepMoved,
                    from,
                    to,
                    "the row comes in another order",
                ));
            }
            keys::fields(olds[*a], news[*b], &path(new, *b), &mut changes);
        }
        self.changes.append(&mut changes);
    }
}

fn checks((steps, criteria): (usize, usize)) -> String {
    let counted = |n: usize, one: &str, many: &str| match n {
        1 => format!("1 {one}"),
        n => format!("{n} {many}"),
    };
    format!(
        " ({}, {})",
        counted(steps, "step", "steps"),
        counted(criteria, "criterion", "criteria")
    )
}

/// A step that has no partner, with what is inside of it and has none either.
fn gone(tree: &Tree<'_>, at: usize, has_partner: &dyn Fn(usize) -> bool, weight: Weight) -> Change {
    let step = &tree.steps[at];
    let text = format!("{}: {}", step.verb, step.called());
    let (mut steps, mut criteria) = (0, 0);
    count_alone(tree, at, has_partner, &mut steps, &mut criteria);
    let end = match weight {
        Weight::StepRemoved => "is no more",
        _ => "is new",
    };
    let why = match (step.is_leaf(), steps) {
        (true, _) if criteria == 0 => format!("the step {end}; it has no criteria"),
        (true, _) => format!(
            "the step {end}, with its criteria: {}",
            judged::criteria_text(step)
        ),
        (false, 0) => format!("the group {end}; what is inside stands elsewhere"),
        (false, _) => format!("the group {end}{}", checks((steps, criteria))),
    };
    let words = format!("{} {}", step.id, step.called());
    let change = match weight {
        Weight::StepRemoved => Change::new(&step.path, weight, text, "", why).about(words),
        _ => Change::new(&step.path, weight, "", text, why),
    };
    match tree.gravest(at) {
        Some(severity) => change.of(severity),
        None => change,
    }
}

fn count_alone(
    tree: &Tree<'_>,
    at: usize,
    has_partner: &dyn Fn(usize) -> bool,
    steps: &mut usize,
    criteria: &mut usize,
) {
    let step = &tree.steps[at];
    if has_partner(at) {
        return;
    }
    if step.is_leaf() {
        *steps += 1;
        *criteria += step.criteria();
    }
    for inner in &step.inner {
        count_alone(tree, *inner, has_partner, steps, criteria);
    }
}
