//! The criteria of a step in both revisions: which belong together, and whether more or less is accepted.
//!
//! Never in here: what else a step says. Changes when criteria are paired or told otherwise.

use crate::plan::{Bound, Criterion, Item, Plan};
use crate::quantity::{Exact, Number, Quantity, Unit};

use super::formula::Formula;
use super::lower::{Given, Lowering, MAX_APART};
use super::opening::Opening;
use super::region::{self, Change as Region, Run, accepted, axes_of};
use super::revision::Tree;
use super::truth::always_agree;
use super::values::{Form, Values};

/// Both revisions with what their items give.
pub struct Sides<'a, 'r> {
    pub old: &'a Tree<'r>,
    pub new: &'a Tree<'r>,
    pub given_old: Given,
    pub given_new: Given,
    pub values: Values,
}

/// Which of the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    Old,
    New,
}

/// Criteria that belong together: their numbers in each revision. Where there are several of one side they say together
/// what those of the other do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Together {
    pub old: Vec<usize>,
    pub new: Vec<usize>,
}

impl<'t, 'r> Sides<'t, 'r> {
    /// The revision of a side.
    pub fn tree(&self, side: Side) -> &'t Tree<'r> {
        match side {
            Side::Old => self.old,
            Side::New => self.new,
        }
    }

    /// What a bound expression says.
    pub fn says(&mut self, side: Side, bound: &Bound) -> Formula {
        let tree = self.tree(side);
        let given = match side {
            Side::Old => &self.given_old,
            Side::New => &self.given_new,
        };
        given.in_force(bare(&mut self.values, &tree.of.plan, given, bound))
    }

    /// What a criterion says: without an expression that the answer is yes.
    fn criterion(&mut self, side: Side, item: usize, criterion: &Criterion) -> Formula {
        match &criterion.that {
            Some(bound) => self.says(side, bound),
            None => match &self.given(side).forms[item] {
                Form::Truth(formula) => formula.clone(),
                _ => Formula::Always(true),
            },
        }
    }

    /// What the items of a side give.
    pub fn given(&self, side: Side) -> &Given {
        match side {
            Side::Old => &self.given_old,
            Side::New => &self.given_new,
        }
    }

    /// What the criteria of an item say, one each.
    pub fn all(&mut self, side: Side, item: usize) -> Vec<Formula> {
        let tree = self.tree(side);
        let criteria = &tree.at(item).criteria;
        criteria
            .iter()
            .map(|c| self.criterion(side, item, c))
            .collect()
    }

    /// How what is accepted differs. A choice is one of its options on either side, though only the other one speaks of it.
    pub fn held(&self, old: &Formula, new: &Formula) -> Region {
        let within = |given: &Given, own: &Formula, other: &Formula| {
            let offered = given.offered(other).into_iter();
            Formula::all(offered.chain([own.clone()]).collect())
        };
        let before = within(&self.given_old, old, new);
        let now = within(&self.given_new, new, old);
        match region::compare(&before, &now, &self.values) {
            Region::Undecided(_) if always_agree(&before, &now) => Region::Same,
            told => told,
        }
    }

    /// Two formulas with computed values put in by what they are made of.
    pub fn opened(&mut self, old: &Formula, new: &Formula) -> (Formula, Formula) {
        let mut opening = Opening::new(&mut self.values, MAX_APART);
        let mut open = |of: &Formula, given: &Given| given.in_force(opening.formula(of));
        (open(old, &self.given_old), open(new, &self.given_new))
    }

    /// What is accepted, in words; nothing where it is not about one number.
    pub fn accepted(
        &self,
        formula: &Formula,
        shown_in: Option<&Unit>,
        digits: Option<u32>,
    ) -> Option<String> {
        let (of, runs) = accepted(formula, &self.values)?;
        let unit = self.values.unit(&of)?;
        let unit = match shown_in {
            Some(wanted) if wanted.kind().comparable(unit.kind()).is_ok() => wanted.clone(),
            _ => unit,
        };
        Some(in_words(&runs, &legible(&runs, unit), digits))
    }
}

/// A unit in which long times are whole numbers: nobody reads 10800 s as 3 h.
fn legible(runs: &[Run], unit: Unit) -> Unit {
    if unit.text() != "s" {
        return unit;
    }
    let ends = runs.iter().flat_map(|run| [&run.low, &run.high]);
    let ends: Vec<&Exact> = ends.flatten().map(|(end, _)| end).collect();
    let in_whole = |seconds: i64| {
        let share = |end: &&Exact| end.checked_div(&Exact::from(seconds));
        let is_whole = |x: Exact| !x.is_zero() && x.is_whole();
        !ends.is_empty() && ends.iter().all(|e| share(e).is_some_and(is_whole))
    };
    let longer = [("h", 3600), ("min", 60)]
        .into_iter()
        .find(|(_, s)| in_whole(*s));
    let longer = longer.and_then(|(name, _)| Unit::parse(name).ok());
    longer.unwrap_or(unit)
}

/// What a bound expression says.
pub fn bare(values: &mut Values, plan: &Plan, given: &Given, bound: &Bound) -> Formula {
    let mut lowering = Lowering {
        values,
        plan,
        given,
        bound,
        apart: MAX_APART,
    };
    lowering.criterion()
}

/// What a condition on one number or text accepts, in words.
pub fn accepted_in_words(formula: &Formula, values: &Values) -> Option<String> {
    if let Formula::Text(_, texts) = formula {
        let all: Vec<String> = texts.iter().map(|t| format!("`{t}`")).collect();
        return Some(all.join(" or "));
    }
    let (of, runs) = accepted(formula, values)?;
    Some(in_words(&runs, &values.unit(&of)?, None))
}

/// What criteria say together.
pub fn together(formulas: &[Formula], which: &[usize]) -> Formula {
    Formula::all(which.iter().map(|n| formulas[*n].clone()).collect())
}

/// Sorts the criteria of a step into those that belong together: by what they say, then by what they are about, then by
/// their order. `is_as_grave` tells whether what fails gravely is the same on both sides.
pub fn pair(
    old: (&Item, &[Formula]),
    new: (&Item, &[Formula]),
    compare: &dyn Fn(&Together) -> Region,
    is_as_grave: &dyn Fn(&Together) -> bool,
) -> Vec<Together> {
    if let ([_], [_]) = (old.1, new.1) {
        return vec![Together {
            old: vec![0],
            new: vec![0],
        }];
    }
    let everything = Together {
        old: (0..old.1.len()).collect(),
        new: (0..new.1.len()).collect(),
    };
    let mut sorting = Sorting {
        old,
        new,
        free_old: (0..old.1.len()).collect(),
        free_new: (0..new.1.len()).collect(),
        units: Vec::new(),
    };
    let severity = |item: &Item, n: usize| item.criteria[n].severity;
    let text = |item: &Item, n: usize| {
        item.criteria[n]
            .that
            .as_ref()
            .map(|b| b.expression.text.clone())
    };
    sorting.one_to_one(&|a, b| {
        text(old.0, a) == text(new.0, b)
            && old.1[a] == new.1[b]
            && severity(old.0, a) == severity(new.0, b)
    });
    let one = |a: usize, b: usize| Together {
        old: vec![a],
        new: vec![b],
    };
    sorting.one_to_one(&|a, b| {
        severity(old.0, a) == severity(new.0, b) && compare(&one(a, b)) == Region::Same
    });
    sorting.one_to_one(&|a, b| compare(&one(a, b)) == Region::Same);
    sorting.all_left(compare, is_as_grave);
    // What is left may be implied by what was paired: the step as a whole accepts what it did.
    if sorting.is_left() && compare(&everything) == Region::Same && is_as_grave(&everything) {
        return vec![everything];
    }
    // Of two that fit alike, the one whose fail weighs the same.
    sorting.one_to_one(&|a, b| {
        severity(old.0, a) == severity(new.0, b) && shape(&old.1[a]) == shape(&new.1[b])
    });
    sorting.one_to_one(&|a, b| shape(&old.1[a]) == shape(&new.1[b]));
    sorting.by_axes();
    sorting.one_to_one(&|a, b| axes_of(&old.1[a]) == axes_of(&new.1[b]));
    sorting.rest();
    sorting.units
}

struct Sorting<'a> {
    old: (&'a Item, &'a [Formula]),
    new: (&'a Item, &'a [Formula]),
    free_old: Vec<usize>,
    free_new: Vec<usize>,
    units: Vec<Together>,
}

impl Sorting<'_> {
    fn one_to_one(&mut self, fit: &dyn Fn(usize, usize) -> bool) {
        for a in self.free_old.clone() {
            if let Some(at) = self.free_new.iter().position(|b| fit(a, *b)) {
                let b = self.free_new.remove(at);
                self.free_old.retain(|x| *x != a);
                self.units.push(Together {
                    old: vec![a],
                    new: vec![b],
                });
            }
        }
    }

    fn is_left(&self) -> bool {
        let all = |free: &[usize], of: &[Formula]| !of.is_empty() && free.len() < of.len();
        let left = !self.free_old.is_empty() || !self.free_new.is_empty();
        left && all(&self.free_old, self.old.1) && all(&self.free_new, self.new.1)
    }

    /// One criterion may have been split into two that say the same together.
    fn all_left(
        &mut self,
        compare: &dyn Fn(&Together) -> Region,
        is_as_grave: &dyn Fn(&Together) -> bool,
    ) {
        let unit = Together {
            old: self.free_old.clone(),
            new: self.free_new.clone(),
        };
        if unit.old.is_empty() || unit.new.is_empty() || compare(&unit) != Region::Same {
            return;
        }
        // Of several that became several nobody can tell which of them weighs more: they go on one by one.
        if unit.old.len() > 1 && unit.new.len() > 1 && !is_as_grave(&unit) {
            return;
        }
        self.free_old.clear();
        self.free_new.clear();
        self.units.push(unit);
    }

    /// What is left about one and the same value goes together.
    fn by_axes(&mut self) {
        for a in self.free_old.clone() {
            let axes = axes_of(&self.old.1[a]);
            let of = |free: &[usize], formulas: &[Formula]| -> Vec<usize> {
                free.iter()
                    .filter(|n| axes_of(&formulas[**n]) == axes)
                    .copied()
                    .collect()
            };
            let unit = Together {
                old: of(&self.free_old, self.old.1),
                new: of(&self.free_new, self.new.1),
            };
            if unit.old.is_empty() || unit.new.is_empty() || unit.old.len() == unit.new.len() {
                continue;
            }
            self.free_old.retain(|n| !unit.old.contains(n));
            self.free_new.retain(|n| !unit.new.contains(n));
            self.units.push(unit);
        }
    }

    /// As many as before are taken to be the same ones, about something else now; else they are new, or no more.
    fn rest(&mut self) {
        if self.free_old.len() == self.free_new.len() {
            self.one_to_one(&|_, _| true);
        }
        let alone = |old: Option<usize>, new: Option<usize>| Together {
            old: old.into_iter().collect(),
            new: new.into_iter().collect(),
        };
        let olds = std::mem::take(&mut self.free_old);
        self.units
            .extend(olds.into_iter().map(|n| alone(Some(n), None)));
        let news = std::mem::take(&mut self.free_new);
        self.units
            .extend(news.into_iter().map(|n| alone(None, Some(n))));
    }
}

/// A condition without its numbers.
fn shape(formula: &Formula) -> Formula {
    use super::formula::Order;
    match formula {
        Formula::Number(of, order, _) => {
            let order = match order {
                Order::Below => Order::AtMost,
                Order::Above => Order::AtLeast,
                other => *other,
            };
            Formula::Number(of.clone(), order, Exact::zero())
        }
        Formula::Text(of, _) => Formula::Text(*of, std::collections::BTreeSet::new()),
        Formula::Not(inner) => Formula::Not(Box::new(shape(inner))),
        Formula::All(parts) => Formula::All(parts.iter().map(shape).collect()),
        Formula::Any(parts) => Formula::Any(parts.iter().map(shape).collect()),
        other => other.clone(),
    }
}

fn in_words(runs: &[Run], unit: &Unit, digits: Option<u32>) -> String {
    let shown = |value: &Exact| {
        let quantity = Quantity::from_si(Number::Exact(value.clone()), unit.clone());
        match digits {
            None => quantity.shown(),
            Some(digits) => {
                let number = quantity.value().to_exact().to_significant(digits);
                let number = without_end_zeros(&number);
                format!("{number} {unit}").trim_end_matches(" 1").to_owned()
            }
        }
    };
    let one = |run: &Run| match (&run.low, &run.high) {
        (None, None) => "anything".to_owned(),
        (Some((low, _)), Some((high, _))) if low == high => shown(low),
        (Some((low, true)), Some((high, true))) => format!("{} to {}", shown(low), shown(high)),
        (Some((low, true)), None) => format!("{} or more", shown(low)),
        (Some((low, false)), None) => format!("more than {}", shown(low)),
        (None, Some((high, true))) => format!("{} or less", shown(high)),
        (None, Some((high, false))) => format!("less than {}", shown(high)),
        (Some((low, with_low)), Some((high, with_high))) => {
            let end = |inside: &bool| if *inside { "" } else { " itself not" };
            format!(
                "{}{} to {}{}",
                shown(low),
                end(with_low),
                shown(high),
                end(with_high)
            )
        }
    };
    match runs.is_empty() {
        true => "nothing".to_owned(),
        false => runs.iter().map(one).collect::<Vec<_>>().join(" or "),
    }
}

/// A number without the zeros that say nothing.
pub fn without_end_zeros(number: &str) -> &str {
    match number.contains('.') {
        true => number.trim_end_matches('0').trim_end_matches('.'),
        false => number,
    }
}
