//! The uncertainty of what an expression gives: the same tree once more, on numbers that carry their sensitivities.
//!
//! One walk serves two kinds of number: `Linear` ones give the first order of JCGM 100:2008, 5.1; plain doubles, drawn
//! again and again, give the distribution of JCGM 101:2008. Exact values never come from here.
//! Never in here: what sources there are. Changes when a function is added.

use crate::maths::{Linear, Scalar};
use crate::quantity::Unit;

use super::chance::stated_source;
use super::evaluate::Outcome;
use super::flow;
use super::physical::Formula;
use super::uncertainty::{Cause, Source, Sources, Spread};
use super::{BinaryOperator, EvaluationError, Function, Node, Scope, Value, evaluate_node};

/// Where a walk gets its numbers from.
pub(super) trait Numbers<S> {
    /// What a name stands for.
    fn name(&self, index: usize) -> Outcome<Spread<S>>;

    /// A number with an uncertainty that the author states; `place` tells it from others of the expression.
    fn stated(&self, place: usize, value: f64, source: Source) -> S;

    /// What a figure of a log comes to.
    fn of_series(&self, function: Function, arguments: &[Node]) -> Outcome<Spread<S>>;

    /// The exact values.
    fn scope(&self) -> &dyn Scope;

    /// The experimental standard deviation of a list.
    fn deviation(&self, arguments: &[Node]) -> Outcome<S>;

    /// The numbers of a list whose smallest or largest is asked for. The repeats of a series are the sample that is spoken of
    /// where they are all there: their scatter has shown itself in it and is not counted once more, only the errors of
    /// the instrument are.
    fn as_they_stand(&self, arguments: &[Node]) -> Outcome<Vec<S>>;

    /// Whether truths are decided by the exact values.
    fn decides_exactly(&self) -> bool;
}

/// The value of a part of an expression with its sensitivities.
///
/// # Errors
/// As the evaluation itself.
pub fn propagate(root: &Node, scope: &dyn Scope) -> Result<Spread, EvaluationError> {
    walk(root, &FirstOrder(scope))
}

pub(super) struct FirstOrder<'a>(pub(super) &'a dyn Scope);

impl Numbers<Linear> for FirstOrder<'_> {
    fn name(&self, index: usize) -> Outcome<Spread> {
        self.0.spread(index)
    }

    fn stated(&self, place: usize, value: f64, source: Source) -> Linear {
        let Some((sources, item)) = self.0.sources() else {
            return Linear::constant(value);
        };
        let standard = source.standard_si;
        let number = sources
            .borrow_mut()
            .number(Cause::Stated(item, place), source, None);
        Linear::constant(value).with(number, standard)
    }

    fn of_series(&self, function: Function, arguments: &[Node]) -> Outcome<Spread> {
        flow::spread(function, arguments, self.0)
    }

    fn as_they_stand(&self, arguments: &[Node]) -> Outcome<Vec<Linear>> {
        let mut list = numbers(arguments, self)?;
        if let Some((sources, _)) = self.0.sources() {
            let shown = sources.borrow().shown_scatter(&list);
            for (number, source) in list.iter_mut().zip(shown) {
                number.parts.retain(|(s, _)| Some(*s) != source);
            }
        }
        Ok(list)
    }

    fn deviation(&self, arguments: &[Node]) -> Outcome<Linear> {
        let list = numbers(arguments, self)?;
        let s = over_list(Function::Sd, &list);
        Ok(match self.0.sources() {
            Some((sources, _)) => of_repeats(&list, &s, &sources.borrow()).unwrap_or(s),
            None => s,
        })
    }

    fn scope(&self) -> &dyn Scope {
        self.0
    }

    fn decides_exactly(&self) -> bool {
        true
    }
}

/// The standard deviation of the repeats of one series, if the list is that; nothing where it is another list.
///
/// Their scatter has shown itself already: s is known to s/√(2(n − 1)) (JCGM 100:2008, E.4.3, from memory). The slopes of s at the
/// readings would give s/√(n − 1), as if the readings were to scatter once more.
fn of_repeats(list: &[Linear], s: &Linear, sources: &Sources) -> Option<Linear> {
    if !sources.are_repeats(list) {
        return None;
    }
    let mut s = s.clone();
    for (source, part) in &mut s.parts {
        if sources.is_scatter(*source) {
            *part *= std::f64::consts::FRAC_1_SQRT_2;
        }
    }
    Some(s)
}

/// The standard deviation of the repeats of one series to first order, for drawing: drawn scatter on top of their own would
/// make it too large. Nothing where it is another list.
pub(super) fn deviation_of_repeats(arguments: &[Node], scope: &dyn Scope) -> Option<Linear> {
    let list = numbers(arguments, &FirstOrder(scope)).ok()?;
    let (sources, _) = scope.sources()?;
    let s = over_list(Function::Sd, &list);
    of_repeats(&list, &s, &sources.borrow())
}

pub(super) fn walk<S: Scalar>(node: &Node, from: &dyn Numbers<S>) -> Outcome<Spread<S>> {
    Ok(match node {
        Node::Quantity(q) => Spread::Number(S::constant(q.si().to_f64())),
        Node::Name(index) => from.name(*index)?,
        Node::Negate(inner) => Spread::Number(-number(inner, from)?),
        Node::Power(base, n) => Spread::Number(number(base, from)?.powi(i32::from(*n))),
        Node::Binary(op, left, right) => binary(node, *op, left, right, from)?,
        Node::Call(function, arguments) => call(node, *function, arguments, from)?,
        Node::List(items) => {
            let parts = items.iter().map(|i| walk(i, from));
            Spread::List(parts.collect::<Outcome<_>>()?)
        }
        Node::Text(_) | Node::Truth(_) | Node::Not(_) => exactly(node, from)?,
    })
}

/// What has no uncertainty: taken from the exact values.
fn exactly<S: Scalar>(node: &Node, from: &dyn Numbers<S>) -> Outcome<Spread<S>> {
    evaluate_node(node, from.scope()).map(|value| Spread::known(&value))
}

pub(super) fn number<S: Scalar>(node: &Node, from: &dyn Numbers<S>) -> Outcome<S> {
    match walk(node, from)? {
        Spread::Number(number) => Ok(number),
        _ => Err(EvaluationError::Kind("a quantity is wanted".to_owned())),
    }
}

pub(super) fn numbers<S: Scalar>(nodes: &[Node], from: &dyn Numbers<S>) -> Outcome<Vec<S>> {
    let mut all = Vec::new();
    for node in nodes {
        all.extend(walk(node, from)?.numbers().into_iter().cloned());
    }
    if all.is_empty() {
        return Err(EvaluationError::Domain(
            "there is no value in the list".to_owned(),
        ));
    }
    Ok(all)
}

fn binary<S: Scalar>(
    whole: &Node,
    op: BinaryOperator,
    left: &Node,
    right: &Node,
    from: &dyn Numbers<S>,
) -> Outcome<Spread<S>> {
    use BinaryOperator as Op;
    let arithmetic = matches!(op, Op::Add | Op::Subtract | Op::Multiply | Op::Divide);
    let order = matches!(
        op,
        Op::Less | Op::LessOrEqual | Op::Greater | Op::GreaterOrEqual
    );
    if !arithmetic && (from.decides_exactly() || !order) {
        return exactly(whole, from);
    }
    let (a, b) = (number(left, from)?, number(right, from)?);
    let truth = |truth| Ok(Spread::Other(Value::Truth(truth)));
    match op {
        Op::Add => Ok(Spread::Number(a + b)),
        Op::Subtract => Ok(Spread::Number(a - b)),
        Op::Multiply => Ok(Spread::Number(a * b)),
        Op::Divide if b.value() == 0.0 => Err(EvaluationError::DividedByZero),
        Op::Divide => Ok(Spread::Number(a / b)),
        Op::Less => truth(a.value() < b.value()),
        Op::LessOrEqual => truth(a.value() <= b.value()),
        Op::Greater => truth(a.value() > b.value()),
        _ => truth(a.value() >= b.value()),
    }
}

fn call<S: Scalar>(
    whole: &Node,
    function: Function,
    arguments: &[Node],
    from: &dyn Numbers<S>,
) -> Outcome<Spread<S>> {
    use Function as F;
    if function.is_of_series() {
        return from.of_series(function, arguments);
    }
    if let Some(formula) = Formula::of(function, arguments)? {
        return through_formula(&formula, arguments, from).map(Spread::Number);
    }
    Ok(match function {
        F::If => {
            let yes = matches!(
                walk(&arguments[0], from)?,
                Spread::Other(Value::Truth(true))
            );
            walk(&arguments[if yes { 1 } else { 2 }], from)?
        }
        F::Abs => Spread::Number(number(&arguments[0], from)?.abs()),
        F::Sqrt => Spread::Number(number(&arguments[0], from)?.sqrt()),
        F::Ln => Spread::Number(number(&arguments[0], from)?.ln()),
        F::Exp => Spread::Number(number(&arguments[0], from)?.exp()),
        F::Convert => walk(&arguments[0], from)?,
        F::Deviation => {
            let (x, nominal) = (number(&arguments[0], from)?, number(&arguments[1], from)?);
            Spread::Number((x - nominal.clone()) / nominal)
        }
        F::DripRate => Spread::Number(number(&arguments[0], from)? * number(&arguments[1], from)?),
        F::ColumnPressure => {
            let height = number(&arguments[0], from)?;
            Spread::Number(height * (1000.0 * 9.806_65))
        }
        F::Sd => Spread::Number(from.deviation(arguments)?),
        F::Mean | F::Sum => Spread::Number(over_list(function, &numbers(arguments, from)?)),
        F::Min | F::Max | F::Range => {
            Spread::Number(over_list(function, &from.as_they_stand(arguments)?))
        }
        F::First | F::Last | F::Nth => picked(function, arguments, from)?,
        F::Round | F::Floor | F::Ceil => Spread::Number(rounded(whole, function, arguments, from)?),
        F::Uncertain => Spread::Number(stated(arguments, from)?),
        _ => exactly(whole, from)?,
    })
}

fn through_formula<S: Scalar>(
    formula: &Formula,
    arguments: &[Node],
    from: &dyn Numbers<S>,
) -> Outcome<S> {
    let in_unit = |(unit, argument): (&Unit, &Node)| {
        let si = number(argument, from)?;
        Ok((si - unit.offset().to_f64()) / unit.factor().to_f64())
    };
    let given = formula.takes.iter().zip(arguments).map(in_unit);
    let result = formula.computed(&given.collect::<Outcome<Vec<S>>>()?)?;
    Ok(result * formula.gives.factor().to_f64())
}

pub(super) fn over_list<S: Scalar>(function: Function, list: &[S]) -> S {
    let values = || list.iter().map(Scalar::value);
    let extreme = |wanted: fn(f64, f64) -> bool| {
        let best = list.iter().reduce(|best, x| {
            if wanted(x.value(), best.value()) {
                x
            } else {
                best
            }
        });
        best.cloned().unwrap_or_else(|| S::constant(0.0))
    };
    let n = list.len() as f64;
    let sum: f64 = values().sum();
    let chain = |value: f64, slope: &dyn Fn(f64) -> f64| {
        let terms: Vec<(f64, &S)> = list.iter().map(|x| (slope(x.value()), x)).collect();
        S::chain(value, &terms)
    };
    match function {
        Function::Min => extreme(|a, b| a < b),
        Function::Max => extreme(|a, b| a > b),
        Function::Range => extreme(|a, b| a > b) - extreme(|a, b| a < b),
        Function::Sum => chain(sum, &|_| 1.0),
        Function::Mean => chain(sum / n, &|_| n.recip()),
        _ => {
            let mean = sum / n;
            let s = (values().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
            // Readings that are all alike have no slope to first order.
            chain(s, &|x| {
                if s > 0.0 {
                    (x - mean) / ((n - 1.0) * s)
                } else {
                    0.0
                }
            })
        }
    }
}

fn picked<S: Scalar>(
    function: Function,
    arguments: &[Node],
    from: &dyn Numbers<S>,
) -> Outcome<Spread<S>> {
    fn push<S>(value: Spread<S>, keep_empty: bool, into: &mut Vec<Spread<S>>) {
        match value {
            Spread::List(items) => items.into_iter().for_each(|i| push(i, keep_empty, into)),
            Spread::Other(Value::Absent(_)) if !keep_empty => {}
            other => into.push(other),
        }
    }
    let by_number = function == Function::Nth;
    let (list, index) = match arguments.split_last() {
        Some((n, list)) if by_number => (list, number(n, from)?.value() as usize),
        _ => (arguments, 1),
    };
    let mut all = Vec::new();
    for node in list {
        push(walk(node, from)?, by_number, &mut all);
    }
    let index = if function == Function::Last {
        all.len()
    } else {
        index
    };
    let found = index.checked_sub(1).and_then(|i| all.into_iter().nth(i));
    found.ok_or_else(|| EvaluationError::Domain("the list has no such value".to_owned()))
}

/// A rounded value. To first order it moves with the value that was rounded; drawn, it is rounded each time.
fn rounded<S: Scalar>(
    whole: &Node,
    function: Function,
    arguments: &[Node],
    from: &dyn Numbers<S>,
) -> Outcome<S> {
    let x = number(&arguments[0], from)?;
    if from.decides_exactly() {
        let exact = evaluate_node(whole, from.scope())?;
        let value = exact.as_quantity().map_or(0.0, |q| q.si().to_f64());
        return Ok(S::chain(value, &[(1.0, &x)]));
    }
    let step = number(&arguments[1], from)?.value();
    let steps = x.value() / step;
    let whole_steps = match function {
        Function::Floor => steps.floor(),
        Function::Ceil => steps.ceil(),
        _ if arguments.len() == 3 => steps.round(),
        _ => steps.round_ties_even(),
    };
    Ok(S::constant(whole_steps * step))
}

/// `uncertain(x, u)` and `uncertain(x, u, freedom)`: a value whose standard uncertainty is known from elsewhere.
fn stated<S: Scalar>(arguments: &[Node], from: &dyn Numbers<S>) -> Outcome<S> {
    let x = number(&arguments[0], from)?;
    let source = stated_source(arguments, from.scope())?;
    // The place of the call in the tree stays while the expression does.
    let place = arguments.as_ptr() as usize;
    let error = from.stated(place, 0.0, source);
    Ok(x + error)
}
