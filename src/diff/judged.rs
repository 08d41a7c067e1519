//! What became of the criteria of a step, in each row.
//!
//! Never in here: what a condition accepts (see `region`), how much a fail weighs (see `severity`). Changes when changes of
//! limits are told otherwise.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::plan::{Bound, Criterion, CriterionSeverity, Item, Slot, Verb};
use crate::quantity::Unit;

use super::change::{Change, Weight};
use super::compare::{Comparison, Place};
use super::condition::all_around;
use super::criteria::{Side, Sides, Together, pair, together, without_end_zeros};
use super::formula::Formula;
use super::lower::{Given, MAX_APART};
use super::opening::Opening;
use super::region::Change as Region;
use super::repeat;
use super::revision::{STEPS, Step, Tree};

/// What a criterion without an expression says.
const ANSWERED: &str = "the answer is yes";

/// A step in one row: what its criteria say in both revisions.
pub struct Row {
    pub place: Place,
    pub olds: Vec<Formula>,
    pub news: Vec<Formula>,
    /// The same of what computed values are made of, where those differ.
    opened: Option<(Vec<Formula>, Vec<Formula>)>,
    /// When the step applies, where its own condition is another.
    applies: Option<(Formula, Formula)>,
}

impl Row {
    /// How what a unit accepts now differs from what it did, and whether that was told by what values are made of.
    fn compare(&self, unit: &Together, sides: &Sides<'_, '_>) -> (Region, bool) {
        let held = |olds: &[Formula], news: &[Formula]| {
            let (old, new) = (together(olds, &unit.old), together(news, &unit.new));
            sides.held(&old, &new)
        };
        let region = held(&self.olds, &self.news);
        // What stands in the condition now and stood in the criterion before, or the other way round, lets the same pass.
        if !matches!(region, Region::Same)
            && let Some((was, is)) = &self.applies
        {
            let passes = |applies: &Formula, accepts: Formula| {
                Formula::any(vec![applies.clone().negated(), accepts])
            };
            let before = passes(was, together(&self.olds, &unit.old));
            let now = passes(is, together(&self.news, &unit.new));
            if sides.held(&before, &now) == Region::Same {
                return (Region::Same, false);
            }
        }
        match (&region, &self.opened) {
            (Region::Undecided(_), Some((olds, news))) => match held(olds, news) {
                Region::Undecided(_) => (region, false),
                told => (told, true),
            },
            _ => (region, false),
        }
    }
}

/// Criteria that belong together, with how what they accept differs in each row of their step, and whether that was told by
/// what values are made of.
struct Held<'r> {
    of: Together,
    rows: &'r [Row],
    held: Vec<(Region, bool)>,
}

impl<'r> Held<'r> {
    fn of(of: Together, rows: &'r [Row], sides: &Sides<'_, '_>) -> Self {
        let held = rows.iter().map(|row| row.compare(&of, sides)).collect();
        Self { of, rows, held }
    }
}

/// The criteria of a step as its author wrote them.
pub fn criteria_text(step: &Step<'_>) -> String {
    let one = |value: &Value| match value {
        Value::Object(map) => map
            .get("that")
            .and_then(Value::as_str)
            .unwrap_or_default()
            .to_owned(),
        other => other.as_str().unwrap_or_default().to_owned(),
    };
    let texts: Vec<String> = match step.get("accept") {
        Some(Value::Array(list)) => list.iter().map(one).collect(),
        Some(other) => vec![one(other)],
        None if step.verb == "confirm" => vec![ANSWERED.to_owned()],
        None => Vec::new(),
    };
    texts
        .iter()
        .map(|t| format!("`{t}`"))
        .collect::<Vec<_>>()
        .join(", ")
}

/// A criterion as its author wrote it.
pub fn text_of(criterion: &Criterion) -> &str {
    criterion
        .that
        .as_ref()
        .map_or(ANSWERED, |bound| &bound.expression.text)
}

fn texts(item: &Item, which: &[usize]) -> String {
    let all: Vec<&str> = which.iter().map(|n| text_of(&item.criteria[*n])).collect();
    all.join(" and ")
}

/// Compares the criteria of a matched step.
pub fn compare(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) {
    let mut rows = Vec::new();
    for place in comparison.places(was, at) {
        rows.push(row(comparison, place));
    }
    let Some(first) = rows.first() else {
        return;
    };
    let units = units(comparison, first);
    let mut changes = Vec::new();
    for unit in units {
        let unit = Held::of(unit, &rows, &comparison.sides);
        comparison.note_computed(&unit);
        comparison.unit(&unit, at, &mut changes);
    }
    let tree = comparison.sides.new;
    let mut words = String::new();
    let mut around = at;
    // A group is how its steps are spoken of.
    while around > STEPS {
        let step = &tree.steps[around];
        words.push_str(&format!("{} {} ", step.id, step.called()));
        around = step.parent;
    }
    comparison.changes.extend(changes.into_iter().map(|c| {
        let said = format!("{words} {} {}", c.old, c.new);
        c.about(said)
    }));
}

/// Whether two texts are the same but for zeros at the end of numbers.
fn is_read_alike(a: &str, b: &str) -> bool {
    let plain = |text: &str| -> Vec<String> {
        let words = text.split_whitespace().map(without_end_zeros);
        words.map(str::to_owned).collect()
    };
    plain(a) == plain(b)
}

fn row(comparison: &mut Comparison<'_, '_>, place: Place) -> Row {
    let sides = &mut comparison.sides;
    let olds = sides.all(Side::Old, place.old);
    let news = sides.all(Side::New, place.new);
    let rests_on_computed = |f: &Formula| !sides.values.computed_behind(f).is_empty();
    let is_opened = olds != news && olds.iter().chain(&news).any(rests_on_computed);
    let opened = is_opened.then(|| {
        let mut opening = Opening::new(&mut sides.values, MAX_APART);
        let mut open = |all: &[Formula], given: &Given| {
            let open = all.iter().map(|f| given.in_force(opening.formula(f)));
            open.collect()
        };
        (open(&olds, &sides.given_old), open(&news, &sides.given_new))
    });
    let conditions = |tree: &Tree<'_>, item: usize| -> Vec<String> {
        let all = tree.at(item).conditions.iter();
        all.map(|c| c.expression.text.clone()).collect()
    };
    let is_otherwise =
        olds != news && conditions(sides.old, place.old) != conditions(sides.new, place.new);
    let applies = is_otherwise.then(|| {
        let was = all_around(comparison, Side::Old, place.old);
        (was, all_around(comparison, Side::New, place.new))
    });
    Row {
        place,
        applies,
        opened: opened.filter(|(a, b)| *a != olds || *b != news),
        olds,
        news,
    }
}

/// Which criteria of a step belong together, as one of its rows tells.
fn units(comparison: &Comparison<'_, '_>, row: &Row) -> Vec<Together> {
    let sides = &comparison.sides;
    let (old, new) = (sides.old.at(row.place.old), sides.new.at(row.place.new));
    let compare = |unit: &Together| row.compare(unit, sides).0;
    let is_as_grave = |unit: &Together| comparison.is_as_grave(unit, row);
    pair((old, &row.olds), (new, &row.news), &compare, &is_as_grave)
}

/// Which criteria of a step belong together in its rows, the first of which is at `place`.
pub fn matched(comparison: &mut Comparison<'_, '_>, place: &Place) -> Vec<Together> {
    let row = row(comparison, place.clone());
    units(comparison, &row)
}

impl Comparison<'_, '_> {
    fn unit(&self, of: &Held<'_>, at: usize, changes: &mut Vec<Change>) {
        let (unit, row) = (&of.of, &of.rows[0]);
        let place = &row.place;
        let (old, new) = (self.sides.old.at(place.old), self.sides.new.at(place.new));
        let path = &self.sides.new.steps[at].path;
        let (was, is) = (texts(old, &unit.old), texts(new, &unit.new));
        match (unit.old.first(), unit.new.first()) {
            (Some(n), None) => {
                let accepted = self
                    .sides
                    .accepted(&row.olds[*n], old.verb.unit().as_ref(), None);
                let why = format!(
                    "a {} criterion is no more{}",
                    old.criteria[*n].severity.word(),
                    accepted.map_or_else(String::new, |a| format!("; it accepted {a}"))
                );
                let change = Change::new(path, Weight::CriterionRemoved, was, "", why);
                changes.push(change.of(old.criteria[*n].severity));
            }
            (None, Some(n)) => {
                let accepted = self
                    .sides
                    .accepted(&row.news[*n], new.verb.unit().as_ref(), None);
                let why = format!(
                    "a {} criterion is new{}",
                    new.criteria[*n].severity.word(),
                    accepted.map_or_else(String::new, |a| format!("; it accepts {a}"))
                );
                let change = Change::new(path, Weight::CriterionAdded, "", is, why);
                changes.push(change.of(new.criteria[*n].severity));
            }
            (Some(a), Some(b)) => {
                let mut graver = Vec::new();
                self.severities(unit, row, path, &mut graver);
                self.limits(of, at, (&was, &is), changes);
                // Parts that weigh otherwise could not be written as before.
                if !graver.is_empty() && unit.old.len() != unit.new.len() {
                    changes.retain(|c| (c.weight, &c.new) != (Weight::Notation, &is));
                }
                changes.append(&mut graver);
                self.basis(&old.criteria[*a], &new.criteria[*b], path, changes);
            }
            (None, None) => {}
        }
    }

    /// What a unit accepts, told once where that changed alike in all rows.
    fn limits(
        &self,
        unit: &Held<'_>,
        at: usize,
        (was, is): (&str, &str),
        changes: &mut Vec<Change>,
    ) {
        let rows = unit.rows;
        let step = &self.sides.new.steps[at];
        if let Some(call) = self.grown(&unit.of, rows) {
            let why = format!(
                "`{call}` is made of another number of readings now: whether more or less is accepted can't be told"
            );
            changes.push(Change::new(&step.path, Weight::Undecided, was, is, why));
            return;
        }
        if unit.held.iter().all(|(r, _)| *r == Region::Same) {
            if was != is {
                let why = "the same is accepted, written otherwise";
                changes.push(Change::new(&step.path, Weight::Notation, was, is, why));
            }
            return;
        }
        let alike = unit.held.iter().all(|(r, _)| *r == unit.held[0].0);
        let told = if alike { &rows[..1] } else { rows };
        for (row, held) in told
            .iter()
            .zip(&unit.held)
            .filter(|(_, (r, _))| *r != Region::Same)
        {
            let path = match alike {
                true => step.path.clone(),
                false => self.sides.new.path_in(at, &row.place.rows),
            };
            let weight = match held.0 {
                Region::Tightened => Weight::Tightened,
                Region::Loosened => Weight::Loosened,
                Region::Shifted => Weight::Shifted,
                _ => Weight::Undecided,
            };
            let (mut why, accepted) = self.reason(&unit.of, row, held);
            if alike && rows.len() > 1 {
                why.push_str(&format!(
                    " (in row {} of {}; the others changed alike)",
                    row.place
                        .rows
                        .iter()
                        .map(ToString::to_string)
                        .collect::<Vec<_>>()
                        .join("."),
                    rows.len()
                ));
            }
            if let Some(severity) = self.gravest(&unit.of, row) {
                why.push_str(&format!("; a fail is {}", severity.word()));
            }
            // Where the texts are the same the numbers behind them tell what changed; of many rows one would be told.
            let of_one = !alike || rows.len() == 1;
            let (was, is) = match accepted {
                Some((before, now)) if was == is && of_one => {
                    (format!("{was}: {before}"), format!("{is}: {now}"))
                }
                _ => (was.to_owned(), is.to_owned()),
            };
            let change = Change::new(path, weight, was, is, why);
            changes.push(match self.gravest(&unit.of, row) {
                Some(severity) => change.of(severity),
                None => change,
            });
        }
    }

    /// How much a fail of a unit weighs at most now.
    fn gravest(&self, unit: &Together, row: &Row) -> Option<CriterionSeverity> {
        let item = self.sides.new.at(row.place.new);
        unit.new.iter().map(|n| item.criteria[*n].severity).max()
    }

    /// A call in one of the criteria that is made of another number of readings now.
    fn grown(&self, unit: &Together, rows: &[Row]) -> Option<String> {
        let place = &rows.first()?.place;
        let (old, new) = (self.sides.old.at(place.old), self.sides.new.at(place.new));
        let call = |item: &Item, which: &[usize], of: &BTreeSet<usize>| {
            let bounds = which.iter().filter_map(|n| item.criteria[*n].that.as_ref());
            bounds.filter_map(|b| repeat::grown(b, of)).next()
        };
        call(new, &unit.new, &self.repeated.new)
            .or_else(|| call(old, &unit.old, &self.repeated.old))
    }

    /// Notes which computed values criteria were told by, and which they were not.
    fn note_computed(&mut self, unit: &Held<'_>) {
        for (row, (region, by_parts)) in unit.rows.iter().zip(&unit.held) {
            let both = [
                together(&row.olds, &unit.of.old),
                together(&row.news, &unit.of.new),
            ];
            let behind: BTreeSet<_> = both
                .iter()
                .flat_map(|f| self.sides.values.computed_behind(f))
                .collect();
            if behind.is_empty() {
                continue;
            }
            if *by_parts || matches!(region, Region::Undecided(_)) {
                self.computed.note(behind, by_parts.then(|| region.clone()));
            }
        }
    }

    /// What changed, in words, and what is accepted before and now where that can be told.
    fn reason(
        &self,
        unit: &Together,
        row: &Row,
        (region, by_parts): &(Region, bool),
    ) -> (String, Option<(String, String)>) {
        let (old, new) = (
            self.sides.old.at(row.place.old),
            self.sides.new.at(row.place.new),
        );
        if let Region::Undecided(reason) = region {
            let computed = unit.old.iter().zip(&unit.new).find_map(|(a, b)| {
                let pair = old.criteria[*a]
                    .that
                    .as_ref()
                    .zip(new.criteria[*b].that.as_ref())?;
                self.computed_otherwise(pair)
            });
            let why = match computed {
                Some(name) => {
                    format!("it rests on `{name}`, which is computed otherwise now: look at both")
                }
                None => format!("whether more or less is accepted can't be told: {reason}"),
            };
            return (why, None);
        }
        let (olds, news, computed) = match &row.opened {
            Some((olds, news)) if *by_parts => (olds, news, "of what it is computed from it "),
            _ => (&row.olds, &row.news, ""),
        };
        let said = |digits: Option<u32>| {
            let of = |formulas: &[Formula], which: &[usize], unit: Option<Unit>| {
                let formula = together(formulas, which);
                self.sides.accepted(&formula, unit.as_ref(), digits)
            };
            let before = of(olds, &unit.old, old.verb.unit())?;
            Some((before, of(news, &unit.new, new.verb.unit())?))
        };
        // With as many digits as tell the two apart.
        let more = [None, Some(8), Some(10), Some(12), Some(16), Some(24)];
        let mut apart = more.into_iter().filter_map(said);
        let told = apart.find(|(a, b)| !is_read_alike(a, b));
        match told.or_else(|| said(None)) {
            Some((before, now)) => {
                let why = format!("{computed}accepts {now}, before {before}");
                (why, Some((before, now)))
            }
            None => {
                let why = match region {
                    Region::Tightened => "less is accepted than before",
                    Region::Loosened => "more is accepted than before",
                    _ => "some is accepted that was not, some not that was",
                };
                (why.to_owned(), None)
            }
        }
    }

    /// A name of both expressions that stands for something that is computed otherwise.
    fn computed_otherwise(&self, (old, new): (&Bound, &Bound)) -> Option<String> {
        let computed = |slot: &Slot, plan: &crate::plan::Plan| match slot {
            Slot::Item(item) => {
                matches!(plan.items[*item].verb, Verb::Compute { .. }).then_some(*item)
            }
            _ => None,
        };
        let names = new.expression.names.iter().zip(&new.slots);
        names
            .filter_map(|(name, slot)| {
                let at = old.expression.names.iter().position(|n| n == name)?;
                let before = computed(&old.slots[at], &self.sides.old.of.plan)?;
                let now = computed(slot, &self.sides.new.of.plan)?;
                let differs = self.sides.given_old.forms[before] != self.sides.given_new.forms[now];
                differs.then(|| name.clone())
            })
            .next()
    }

    fn basis(&self, old: &Criterion, new: &Criterion, path: &str, changes: &mut Vec<Change>) {
        if old.basis == new.basis {
            return;
        }
        let said = |basis: &Option<String>, plan: &crate::plan::Plan| {
            basis.as_ref().and_then(|key| plan.basis.get(key).cloned())
        };
        let (before, now) = (
            said(&old.basis, &self.sides.old.of.plan),
            said(&new.basis, &self.sides.new.of.plan),
        );
        let (was, is) = (
            old.basis.clone().unwrap_or_default(),
            new.basis.clone().unwrap_or_default(),
        );
        let (weight, why) = match before == now {
            true => (
                Weight::Notation,
                "the same source under another key".to_owned(),
            ),
            false => (
                Weight::Identity,
                format!(
                    "the limit `{}` rests on another source: {}",
                    text_of(new),
                    now.unwrap_or_else(|| "none".to_owned())
                ),
            ),
        };
        changes.push(Change::new(path, weight, was, is, why));
    }
}
