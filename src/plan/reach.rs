//! What expressions can come to before anything is read: intervals from the ranges that a recipe declares.
//!
//! Never too narrow: what is not known for sure is taken as anything. A reading outside of its range is not looked into.
//! Never in here: findings, and arithmetic with intervals (see `interval`). Changes when the language gets a function or verb.

use crate::quantity::{Exact, Number, Quantity, Rounding, Unit};

use super::interval::Interval;
use super::{BinaryOperator, Bound, Function, Item, Node, Slot, Value, Verb, is_relative};

/// What a value can be.
#[derive(Clone, Debug)]
pub enum Reach {
    /// A quantity in an interval, in SI, with its unit where that is sure.
    Quantity(Interval, Option<Unit>),
    /// A truth: whether it can be yes, and whether it can be no.
    Truth(bool, bool),
    /// This text.
    Text(String),
    /// Several values, each with whether it is sure to be there.
    List(Vec<(Self, bool)>),
    /// Anything.
    Unknown,
}

/// Any truth.
const EITHER: Reach = Reach::Truth(true, true);

/// A number of which nothing is known.
const ANY_NUMBER: Reach = Reach::Quantity(Interval::ANY, None);

/// What the items of a plan can be filled with.
#[derive(Debug)]
pub struct Reaches(Vec<(Reach, bool)>);

impl Reaches {
    /// Works out what each item can be filled with.
    #[must_use]
    pub fn of(items: &[Item]) -> Self {
        let mut reaches = Self(Vec::with_capacity(items.len()));
        for item in items {
            let reach = reaches.filled(item);
            let sure = reaches.is_sure_to_apply(item);
            reaches.0.push((reach, sure));
        }
        reaches
    }

    fn filled(&self, item: &Item) -> Reach {
        let zero = || Some(Exact::zero());
        match &item.verb {
            Verb::Confirm | Verb::Tell => EITHER,
            Verb::Measure { repeat, .. } => repeated(item, *repeat, None),
            Verb::Count { repeat, .. } | Verb::Time { repeat, .. } => {
                repeated(item, *repeat, zero())
            }
            Verb::Compute { expression, unit } => {
                let reach = self.of_part(&expression.expression.root, expression);
                match unit {
                    Some(unit) => in_unit(reach, unit),
                    None => reach,
                }
            }
            _ => Reach::Unknown,
        }
    }

    /// Whether an item has a value whenever the session comes past it and nothing is wrong.
    fn is_sure_to_apply(&self, item: &Item) -> bool {
        let of_computed = || match &item.verb {
            Verb::Compute { expression, .. } => {
                self.is_sure(&expression.expression.root, expression)
            }
            _ => true,
        };
        !item.optional && item.conditions.is_empty() && of_computed()
    }

    /// Whether none of the values that a part rests on can be left out as optional or not applicable.
    #[must_use]
    pub fn is_sure(&self, part: &Node, bound: &Bound) -> bool {
        let sure = |index: usize| self.0.get(index).is_some_and(|(_, sure)| *sure);
        super::names_in(part)
            .into_iter()
            .all(|name| match bound.slots.get(name) {
                Some(Slot::Constant(_) | Slot::Device(_)) => true,
                Some(Slot::Item(item) | Slot::Column(item, _)) => sure(*item),
                Some(Slot::Items(items)) => items.iter().any(|i| sure(*i)),
                None => false,
            })
    }

    /// Whether a condition or criterion can hold, and whether it can fail to. What rests on a value that does not apply
    /// drops out of a conjunction: it can then not be what fails.
    #[must_use]
    pub fn holds(&self, bound: &Bound) -> (bool, bool) {
        let parts = conjuncts(&bound.expression.root);
        let alone = parts.len() == 1;
        parts.into_iter().fold((true, false), |(yes, no), part| {
            let (part_yes, part_no) = self.truth(part, bound);
            let drops = !alone && !part_yes && !self.is_sure(part, bound);
            (yes && (part_yes || drops), no || part_no)
        })
    }

    /// Whether a part of an expression can be true, and whether it can be false.
    #[must_use]
    pub fn truth(&self, part: &Node, bound: &Bound) -> (bool, bool) {
        match self.of_part(part, bound) {
            Reach::Truth(yes, no) => (yes, no),
            _ => (true, true),
        }
    }

    /// What a part of an expression can come to.
    #[must_use]
    pub fn of_part(&self, part: &Node, bound: &Bound) -> Reach {
        let of = |node: &Node| self.of_part(node, bound);
        match part {
            Node::Quantity(q) => constant(&Value::Quantity(q.clone())),
            Node::Text(text) => Reach::Text(text.clone()),
            Node::Truth(truth) => Reach::Truth(*truth, !*truth),
            Node::Name(name) => bound
                .slots
                .get(*name)
                .map_or(Reach::Unknown, |s| self.of_slot(s)),
            Node::Not(inner) => match of(inner) {
                Reach::Truth(yes, no) => Reach::Truth(no, yes),
                _ => EITHER,
            },
            Node::Negate(inner) => one(of(inner), Interval::neg),
            Node::Power(base, n) => match of(base) {
                Reach::Quantity(x, unit) => {
                    Reach::Quantity(x.powi(*n), unit.and_then(|u| u.power(*n)))
                }
                _ => ANY_NUMBER,
            },
            Node::Binary(op, left, right) => binary(*op, of(left), of(right)),
            Node::Call(Function::Convert, parts) => match &parts[..] {
                [value, Node::Text(unit)] => match Unit::parse(unit) {
                    Ok(unit) => in_unit(of(value), &unit),
                    Err(_) => Reach::Unknown,
                },
                _ => Reach::Unknown,
            },
            Node::Call(Function::If, parts) => match &parts[..] {
                [condition, yes, no] => match self.truth(condition, bound) {
                    (true, false) => of(yes),
                    (false, true) => of(no),
                    _ => joined(of(yes), of(no)),
                },
                _ => Reach::Unknown,
            },
            Node::Call(function, parts) => call(*function, parts.iter().map(of).collect()),
            Node::List(parts) => Reach::List(parts.iter().map(|p| (of(p), true)).collect()),
        }
    }

    fn of_slot(&self, slot: &Slot) -> Reach {
        let item = |index: usize| self.0.get(index).map_or(Reach::Unknown, |(r, _)| r.clone());
        match slot {
            Slot::Constant(value) => constant(value),
            Slot::Item(index) => item(*index),
            Slot::Items(items) => {
                let one = |i: &usize| (item(*i), self.0.get(*i).is_some_and(|(_, sure)| *sure));
                Reach::List(items.iter().map(one).collect())
            }
            Slot::Column(..) | Slot::Device(_) => Reach::Unknown,
        }
    }
}

/// The parts of a conjunction; the whole, if it is none.
#[must_use]
pub fn conjuncts(node: &Node) -> Vec<&Node> {
    match node {
        Node::Binary(BinaryOperator::And, left, right) => [left, right]
            .into_iter()
            .flat_map(|n| conjuncts(n))
            .collect(),
        other => vec![other],
    }
}

fn constant(value: &Value) -> Reach {
    match value {
        Value::Quantity(q) => Reach::Quantity(Interval::point(q.si()), Some(q.unit().clone())),
        Value::Truth(truth) => Reach::Truth(*truth, !*truth),
        Value::Text(text) => Reach::Text(text.clone()),
        _ => Reach::Unknown,
    }
}

/// The readings of an item: in its range, and not below `floor`.
fn repeated(item: &Item, repeat: u32, floor: Option<Exact>) -> Reach {
    let end = |q: &Quantity| Some(q.si()).filter(|n| n.is_exact()).map(Number::to_exact);
    let (low, high) = match item.verb.range() {
        Some((low, high)) => (end(low), end(high)),
        None => (None, None),
    };
    let low = match (low, floor) {
        (Some(low), Some(floor)) => Some(low.max(floor)),
        (low, floor) => low.or(floor),
    };
    let one = Reach::Quantity(Interval::between(low, high), item.verb.unit());
    match repeat {
        0 | 1 => one,
        n => Reach::List(vec![(one, true); n as usize]),
    }
}

fn in_unit(reach: Reach, unit: &Unit) -> Reach {
    match reach {
        Reach::Quantity(x, _) => Reach::Quantity(x, Some(unit.clone())),
        Reach::List(places) => {
            let one = |(r, sure)| (in_unit(r, unit), sure);
            Reach::List(places.into_iter().map(one).collect())
        }
        other => other,
    }
}

/// A number after something that leaves its unit.
fn one(reach: Reach, after: impl Fn(&Interval) -> Interval) -> Reach {
    match reach {
        Reach::Quantity(x, unit) => Reach::Quantity(after(&x), unit),
        _ => ANY_NUMBER,
    }
}

fn joined(a: Reach, b: Reach) -> Reach {
    match (a, b) {
        (Reach::Quantity(a, unit_a), Reach::Quantity(b, unit_b)) => {
            Reach::Quantity(a.join(&b), same(unit_a, unit_b))
        }
        (Reach::Truth(yes, no), Reach::Truth(other_yes, other_no)) => {
            Reach::Truth(yes || other_yes, no || other_no)
        }
        (Reach::Text(a), Reach::Text(b)) if a == b => Reach::Text(a),
        _ => Reach::Unknown,
    }
}

/// The unit that two values have both.
fn same(a: Option<Unit>, b: Option<Unit>) -> Option<Unit> {
    a.zip(b).filter(|(a, b)| a == b).map(|(a, _)| a)
}

fn binary(op: BinaryOperator, a: Reach, b: Reach) -> Reach {
    use BinaryOperator as Op;
    let truths = match (&a, &b) {
        (Reach::Truth(yes, no), Reach::Truth(other_yes, other_no)) => {
            Some(((*yes, *no), (*other_yes, *other_no)))
        }
        _ => None,
    };
    match (op, truths) {
        (Op::And, Some((a, b))) => return Reach::Truth(a.0 && b.0, a.1 || b.1),
        (Op::Or, Some((a, b))) => return Reach::Truth(a.0 || b.0, a.1 && b.1),
        (Op::And | Op::Or, None) => return EITHER,
        (Op::Equal, _) => return equal(&a, &b),
        (Op::NotEqual, _) => {
            return match equal(&a, &b) {
                Reach::Truth(yes, no) => Reach::Truth(no, yes),
                other => other,
            };
        }
        _ => {}
    }
    let (Reach::Quantity(x, unit_x), Reach::Quantity(y, unit_y)) = (a, b) else {
        return match op {
            Op::Add | Op::Subtract | Op::Multiply | Op::Divide => ANY_NUMBER,
            _ => EITHER,
        };
    };
    let of = |after: fn(&Quantity, &Quantity) -> Option<Quantity>, x: Interval| {
        Reach::Quantity(x, unit_after(unit_x.as_ref(), unit_y.as_ref(), after))
    };
    match op {
        Op::Add => of(|a, b| a.add(b).ok().flatten(), x.add(&y)),
        Op::Subtract => of(|a, b| a.sub(b).ok().flatten(), x.sub(&y)),
        Op::Multiply => of(|a, b| a.mul(b).ok().flatten(), x.mul(&y)),
        Op::Divide => of(|a, b| a.div(b).ok().flatten(), x.div(&y)),
        Op::Less => known(x.is_below(&y, false)),
        Op::LessOrEqual => known(x.is_below(&y, true)),
        Op::Greater => known(y.is_below(&x, false)),
        _ => known(y.is_below(&x, true)),
    }
}

/// The unit that an operation gives, as the evaluation finds it.
fn unit_after(
    a: Option<&Unit>,
    b: Option<&Unit>,
    after: fn(&Quantity, &Quantity) -> Option<Quantity>,
) -> Option<Unit> {
    let one = |unit: &Unit| Quantity::from_si(Exact::one().into(), unit.clone());
    after(&one(a?), &one(b?)).map(|q| q.unit().clone())
}

fn known(outcome: Option<bool>) -> Reach {
    match outcome {
        Some(truth) => Reach::Truth(truth, !truth),
        None => EITHER,
    }
}

fn equal(a: &Reach, b: &Reach) -> Reach {
    match (a, b) {
        (Reach::Quantity(a, _), Reach::Quantity(b, _)) => {
            let apart = a.is_below(b, false) == Some(true) || b.is_below(a, false) == Some(true);
            match (a.only(), b.only()) {
                _ if apart => known(Some(false)),
                (Some(a), Some(b)) => known(Some(a == b)),
                _ => EITHER,
            }
        }
        (Reach::Text(a), Reach::Text(b)) => known(Some(a == b)),
        (Reach::Truth(yes, no), Reach::Truth(other_yes, other_no)) => Reach::Truth(
            yes & other_yes | no & other_no,
            yes & other_no | no & other_yes,
        ),
        _ => EITHER,
    }
}

fn call(function: Function, arguments: Vec<Reach>) -> Reach {
    use Function as F;
    match function {
        F::Min | F::Max | F::Mean | F::Sum | F::Sd | F::Range | F::First | F::Last | F::Nth => {
            over_list(function, arguments)
        }
        F::Count => count(arguments),
        F::Within | F::Between => known(inside(function, &arguments)),
        F::Round | F::Floor | F::Ceil => rounded(function, &arguments).unwrap_or(ANY_NUMBER),
        F::Abs => one(
            arguments.into_iter().next().unwrap_or(Reach::Unknown),
            Interval::abs,
        ),
        F::Uncertain => one(
            arguments.into_iter().next().unwrap_or(Reach::Unknown),
            Interval::clone,
        ),
        F::Lower => match arguments.into_iter().next() {
            Some(Reach::Text(text)) => Reach::Text(text.to_lowercase()),
            _ => Reach::Unknown,
        },
        F::Sqrt | F::Exp => Reach::Quantity(Interval::not_negative(), None),
        F::Deviation | F::DripRate => of_two(function, &arguments).unwrap_or(ANY_NUMBER),
        _ => Reach::Unknown,
    }
}

fn of_two(function: Function, arguments: &[Reach]) -> Option<Reach> {
    let [Reach::Quantity(x, _), Reach::Quantity(y, _)] = arguments else {
        return None;
    };
    let (result, unit) = match function {
        // (x − y) / y = x / y − 1, where y stands but once.
        Function::Deviation => {
            let one = Interval::point(&Exact::one().into());
            (x.div(y).sub(&one), "%")
        }
        _ => (x.mul(y), "gtt/min"),
    };
    Some(Reach::Quantity(result, Unit::parse(unit).ok()))
}

/// Whether a value is inside of its limits, for sure or for sure not.
fn inside(function: Function, arguments: &[Reach]) -> Option<bool> {
    let [
        Reach::Quantity(x, _),
        Reach::Quantity(a, unit_a),
        Reach::Quantity(b, unit_b),
    ] = arguments
    else {
        return None;
    };
    if function == Function::Between {
        return match (a.is_below(x, true), x.is_below(b, true)) {
            (Some(false), _) | (_, Some(false)) => Some(false),
            (Some(true), Some(true)) => Some(true),
            _ => None,
        };
    }
    let sample = |unit: &Option<Unit>| {
        let unit = unit.clone()?;
        Some(Quantity::from_si(Exact::one().into(), unit))
    };
    let limit = if is_relative(&sample(unit_a)?, &sample(unit_b)?) {
        a.abs().mul(b)
    } else {
        b.clone()
    };
    x.sub(a).abs().is_below(&limit, true)
}

fn rounded(function: Function, arguments: &[Reach]) -> Option<Reach> {
    let rule = match function {
        Function::Floor => Rounding::Floor,
        Function::Ceil => Rounding::Ceiling,
        _ if arguments.len() == 3 => Rounding::HalfUp,
        _ => Rounding::HalfEven,
    };
    let [
        Reach::Quantity(x, Some(unit)),
        Reach::Quantity(step, Some(unit_of_step)),
        ..,
    ] = arguments
    else {
        return None;
    };
    if !x.exact || !step.exact {
        return None;
    }
    let step = Quantity::from_si(step.only()?.clone().into(), unit_of_step.clone());
    // Rounding keeps the order of numbers.
    let end = |end: &Exact| {
        let end = Quantity::from_si(end.clone().into(), unit.clone());
        end.round(&step, rule).ok().flatten()
    };
    let unit = end(&Exact::zero())?.unit().clone();
    let si = |e: &Option<Exact>| Some(end(e.as_ref()?)?.si().to_exact());
    Some(Reach::Quantity(
        Interval::between(si(&x.low), si(&x.high)),
        Some(unit),
    ))
}

/// The values of arguments, lists taken apart, each with whether it is sure to be there; nothing where something of it is
/// not known to be one value.
fn flattened(arguments: Vec<Reach>) -> Option<Vec<(Reach, bool)>> {
    fn push(reach: Reach, sure: bool, into: &mut Vec<(Reach, bool)>) -> Option<()> {
        match reach {
            Reach::List(places) => places
                .into_iter()
                .try_for_each(|(reach, s)| push(reach, sure && s, into)),
            Reach::Unknown => None,
            other => {
                into.push((other, sure));
                Some(())
            }
        }
    }
    let mut places = Vec::new();
    arguments
        .into_iter()
        .try_for_each(|argument| push(argument, true, &mut places))?;
    Some(places)
}

fn count(arguments: Vec<Reach>) -> Reach {
    let number = |n: usize| Some(Exact::from(i64::try_from(n).unwrap_or(i64::MAX)));
    let interval = match flattened(arguments) {
        Some(places) => {
            let sure = places.iter().filter(|(_, sure)| *sure).count();
            Interval::between(number(sure), number(places.len()))
        }
        None => Interval::between(number(0), None),
    };
    Reach::Quantity(interval, Some(Unit::one()))
}

fn over_list(function: Function, mut arguments: Vec<Reach>) -> Reach {
    if function == Function::Nth {
        arguments.pop();
    }
    let Some(places) = flattened(arguments) else {
        return Reach::Unknown;
    };
    let mut numbers = Vec::with_capacity(places.len());
    let mut unit: Option<Option<Unit>> = None;
    for (reach, sure) in places {
        let Reach::Quantity(x, of) = reach else {
            return Reach::Unknown;
        };
        unit = Some(match unit {
            None => of,
            Some(before) => same(before, of),
        });
        numbers.push((x, sure));
    }
    match unit {
        Some(unit) => of_numbers(function, &numbers, unit),
        None => Reach::Unknown,
    }
}

fn of_numbers(function: Function, numbers: &[(Interval, bool)], unit: Option<Unit>) -> Reach {
    use Function as F;
    let Some(all) = numbers
        .iter()
        .map(|(x, _)| x.clone())
        .reduce(|a, b| a.join(&b))
    else {
        return ANY_NUMBER;
    };
    let sure = || numbers.iter().filter(|(_, s)| *s).map(|(x, _)| x.clone());
    let every = numbers.iter().all(|(_, s)| *s);
    let difference = || unit.as_ref().map(Unit::of_difference);
    match function {
        // One that does not apply may be the least; those that are sure to be there hold the greatest down.
        F::Min => {
            let least = sure().reduce(|a, b| a.least(&b));
            let high = least.map_or(all.high.clone(), |l| l.high);
            Reach::Quantity(Interval { high, ..all }, unit)
        }
        F::Max => {
            let greatest = sure().map(|x| x.neg()).reduce(|a, b| a.least(&b));
            let low = greatest.map_or(all.low.clone(), |g| g.neg().low);
            Reach::Quantity(Interval { low, ..all }, unit)
        }
        F::Sum => Reach::Quantity(total(numbers), unit),
        F::Mean if every => {
            let n = Exact::from(i64::try_from(numbers.len()).unwrap_or(i64::MAX));
            Reach::Quantity(total(numbers).div(&Interval::point(&n.into())), unit)
        }
        // Of a part of the values; rounding could take the mean of inexact ones past their ends.
        F::Mean if all.exact => Reach::Quantity(all, unit),
        F::Mean => Reach::Quantity(all.add(&Interval::point(&Exact::zero().into())), unit),
        F::Sd => Reach::Quantity(Interval::not_negative(), difference()),
        F::Range => {
            let width = all.sub(&all);
            let low = Some(Exact::zero());
            Reach::Quantity(Interval { low, ..width }, difference())
        }
        _ => Reach::Quantity(all, unit),
    }
}

/// The sum; what does not apply adds nothing.
fn total(numbers: &[(Interval, bool)]) -> Interval {
    let zero = Interval::point(&Exact::zero().into());
    numbers.iter().fold(zero.clone(), |sum, (x, sure)| {
        sum.add(&if *sure { x.clone() } else { x.join(&zero) })
    })
}
