//! What an expression gives, for values at hand.
//!
//! Exact where the language promises it: `+ - * /`, comparison, `abs min max mean sum within between round` and conversion.
//! Never in here: checking of kinds before a run, judging. Changes when a function is added.

use std::cmp::Ordering;
use std::fmt;

use crate::maths;
use crate::quantity::{Exact, Kind, KindError, Number, Quantity, Rounding, Unit};

use super::physical::{honoured, physical};
use super::{BinaryOperator, Expression, Function, Node, Scope, Value};
use super::{chance, flow};

/// Why a step has no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Absence {
    /// Its condition is false, or it rests on a step that is not applicable.
    NotApplicable,
    /// It was skipped, which it may be.
    LeftOut,
    /// It was skipped, though it is wanted.
    Skipped,
    /// It has not been done, or could not be.
    NotDone,
    /// It was done and gives no value.
    WithoutValue,
    /// It is empty in the register.
    Unregistered,
}

impl Absence {
    /// The words for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::NotApplicable => "not applicable",
            Self::LeftOut => "optional and skipped",
            Self::Skipped => "skipped",
            Self::NotDone => "not done",
            Self::WithoutValue => "without a value",
            Self::Unregistered => "empty in the register",
        }
    }
}

/// Why an expression has no value. `Display` says it to the technician.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum EvaluationError {
    /// A name has no value.
    Missing {
        /// Why.
        absence: Absence,
        /// The path of the step.
        path: String,
    },
    /// A division by zero.
    DividedByZero,
    /// A number beyond what is kept.
    TooLarge,
    /// A value outside the domain of a function.
    Domain(String),
    /// Kinds that don't go together; the checks leave none.
    Kind(String),
}

impl fmt::Display for EvaluationError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing { absence, path } => {
                write!(f, "rests on `{path}`, which is {}", absence.word())
            }
            Self::DividedByZero => write!(f, "divides by zero"),
            Self::TooLarge => write!(f, "gives a number that is too large"),
            Self::Domain(text) | Self::Kind(text) => f.write_str(text),
        }
    }
}

impl EvaluationError {
    /// Whether there is no value because none is wanted: what rests on it is not wanted either.
    #[must_use]
    pub fn is_inapplicable(&self) -> bool {
        use Absence::{LeftOut, NotApplicable};
        matches!(self, Self::Missing { absence, .. } if matches!(absence, NotApplicable | LeftOut))
    }
}

impl From<KindError> for EvaluationError {
    fn from(error: KindError) -> Self {
        Self::Kind(error.to_string())
    }
}

impl From<maths::OutOfDomain> for EvaluationError {
    fn from(error: maths::OutOfDomain) -> Self {
        Self::Domain(error.to_string())
    }
}

pub(super) type Outcome<T = Value> = Result<T, EvaluationError>;

/// Evaluates an expression.
///
/// # Errors
/// See [`EvaluationError`].
pub fn evaluate(expression: &Expression, scope: &dyn Scope) -> Outcome {
    node(&expression.root, scope)
}

/// Evaluates a part of an expression.
///
/// # Errors
/// See [`EvaluationError`].
pub fn evaluate_node(root: &Node, scope: &dyn Scope) -> Result<Value, EvaluationError> {
    node(root, scope)
}

fn node(root: &Node, scope: &dyn Scope) -> Outcome {
    match root {
        Node::Quantity(q) => Ok(Value::Quantity(q.clone())),
        Node::Text(t) => Ok(Value::Text(t.clone())),
        Node::Truth(t) => Ok(Value::Truth(*t)),
        Node::Name(index) => scope.value(*index),
        Node::Not(inner) => Ok(Value::Truth(!truth(inner, scope)?)),
        Node::Negate(inner) => {
            let q = quantity(inner, scope)?;
            Ok(Value::Quantity(Quantity::from_si(
                q.si().neg(),
                q.unit().clone(),
            )))
        }
        Node::Power(base, n) => power(&quantity(base, scope)?, *n),
        Node::Binary(op, left, right) => binary(*op, left, right, scope),
        Node::Call(function, arguments) => call(*function, arguments, scope),
        Node::List(items) => items
            .iter()
            .map(|i| node(i, scope))
            .collect::<Outcome<Vec<_>>>()
            .map(Value::List),
    }
}

fn truth(of: &Node, scope: &dyn Scope) -> Outcome<bool> {
    node(of, scope)?
        .as_truth()
        .ok_or_else(|| EvaluationError::Kind("a truth is wanted".to_owned()))
}

pub(super) fn quantity(of: &Node, scope: &dyn Scope) -> Outcome<Quantity> {
    match node(of, scope)? {
        Value::Quantity(q) => Ok(q),
        other => Err(EvaluationError::Kind(format!(
            "a quantity is wanted, not `{other}`"
        ))),
    }
}

fn kept(result: Result<Option<Quantity>, KindError>) -> Outcome {
    result?
        .map(Value::Quantity)
        .ok_or(EvaluationError::TooLarge)
}

fn power(base: &Quantity, n: i8) -> Outcome {
    let number = base.si().powi(i32::from(n));
    let zero = n < 0 && base.si().to_exact().is_zero();
    let unit = base.unit().power(n);
    number
        .zip(unit)
        .map(|(si, unit)| Value::Quantity(Quantity::from_si(si, unit)))
        .ok_or(if zero {
            EvaluationError::DividedByZero
        } else {
            EvaluationError::TooLarge
        })
}

fn binary(op: BinaryOperator, left: &Node, right: &Node, scope: &dyn Scope) -> Outcome {
    use BinaryOperator as Op;
    match op {
        Op::And => return Ok(Value::Truth(truth(left, scope)? && truth(right, scope)?)),
        Op::Or => return Ok(Value::Truth(truth(left, scope)? || truth(right, scope)?)),
        Op::Equal | Op::NotEqual => {
            let same = equal(&node(left, scope)?, &node(right, scope)?)?;
            return Ok(Value::Truth(same == (op == Op::Equal)));
        }
        _ => {}
    }
    let (a, b) = (quantity(left, scope)?, quantity(right, scope)?);
    let order = |test: fn(Ordering) -> bool| Ok(Value::Truth(test(a.compare(&b)?)));
    match op {
        Op::Add => kept(a.add(&b)),
        Op::Subtract => kept(a.sub(&b)),
        Op::Multiply => kept(a.mul(&b)),
        Op::Divide => divide(&a, &b).map(Value::Quantity),
        Op::Less => order(Ordering::is_lt),
        Op::LessOrEqual => order(Ordering::is_le),
        Op::Greater => order(Ordering::is_gt),
        _ => order(Ordering::is_ge),
    }
}

pub(super) fn divide(a: &Quantity, b: &Quantity) -> Outcome<Quantity> {
    if b.si().to_exact().is_zero() {
        return Err(EvaluationError::DividedByZero);
    }
    a.div(b)?.ok_or(EvaluationError::TooLarge)
}

fn equal(a: &Value, b: &Value) -> Outcome<bool> {
    match (a, b) {
        (Value::Quantity(a), Value::Quantity(b)) => Ok(a.compare(b)? == Ordering::Equal),
        _ => Ok(a == b),
    }
}

/// The values of arguments, lists taken apart, empty places left out.
fn flattened(arguments: &[Node], scope: &dyn Scope) -> Outcome<Vec<Value>> {
    let mut values = places(arguments, scope)?;
    values.retain(|v| !matches!(v, Value::Absent(_)));
    Ok(values)
}

/// The values of arguments, lists taken apart, empty places kept.
fn places(arguments: &[Node], scope: &dyn Scope) -> Outcome<Vec<Value>> {
    fn push(value: Value, into: &mut Vec<Value>) {
        match value {
            Value::List(items) => items.into_iter().for_each(|i| push(i, into)),
            other => into.push(other),
        }
    }
    let mut values = Vec::new();
    for argument in arguments {
        push(node(argument, scope)?, &mut values);
    }
    Ok(values)
}

pub(super) fn quantities(arguments: &[Node], scope: &dyn Scope) -> Outcome<Vec<Quantity>> {
    let read = |v: Value| match v {
        Value::Quantity(q) => Ok(q),
        other => Err(EvaluationError::Kind(format!(
            "a quantity is wanted, not `{other}`"
        ))),
    };
    let all: Vec<Quantity> = flattened(arguments, scope)?
        .into_iter()
        .map(read)
        .collect::<Outcome<_>>()?;
    if all.is_empty() {
        return Err(EvaluationError::Domain(
            "there is no value in the list".to_owned(),
        ));
    }
    Ok(all)
}

fn call(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome {
    use Function as F;
    match function {
        F::If => node(
            if truth(&arguments[0], scope)? {
                &arguments[1]
            } else {
                &arguments[2]
            },
            scope,
        ),
        F::Abs => {
            let q = quantity(&arguments[0], scope)?;
            Ok(Value::Quantity(Quantity::from_si(
                q.si().abs(),
                q.unit().clone(),
            )))
        }
        F::Min | F::Max | F::Mean | F::Sum | F::Sd | F::Range => {
            over_list(function, &quantities(arguments, scope)?)
        }
        F::Count => {
            let n = i64::try_from(flattened(arguments, scope)?.len()).unwrap_or(i64::MAX);
            Ok(Value::Quantity(Exact::from(n).into()))
        }
        F::Uncertain | F::Expanded | F::Risk => chance::chance(function, arguments, scope),
        F::First | F::Last | F::Nth => pick(function, arguments, scope),
        F::Within | F::Between | F::Deviation | F::DripRate | F::Sqrt | F::Ln | F::Exp => {
            let values = arguments
                .iter()
                .map(|a| quantity(a, scope))
                .collect::<Outcome<Vec<_>>>()?;
            of_quantities(function, &values)
        }
        F::Round | F::Floor | F::Ceil => rounded(function, arguments, scope),
        F::Convert => convert(&arguments[0], &arguments[1], scope),
        F::Honoured => honoured(arguments, scope),
        F::Lower => match node(&arguments[0], scope)? {
            Value::Text(text) => Ok(Value::Text(text.to_lowercase())),
            other => Ok(other),
        },
        F::WaterDensity | F::AirDensity | F::ZFactor | F::WeighedVolume | F::ColumnPressure => {
            physical(function, arguments, scope)
        }
        F::MeanFlow
        | F::StartupError
        | F::TrumpetHigh
        | F::TrumpetLow
        | F::Peak
        | F::FirstTime
        | F::VolumeAfter => flow::figures(function, arguments, scope),
    }
}

fn over_list(function: Function, list: &[Quantity]) -> Outcome {
    let first = &list[0];
    let fold = |wanted: Ordering| -> Outcome {
        let mut best = first;
        for q in &list[1..] {
            if q.compare(best)? == wanted {
                best = q;
            }
        }
        Ok(Value::Quantity(best.clone()))
    };
    match function {
        Function::Min => fold(Ordering::Less),
        Function::Max => fold(Ordering::Greater),
        Function::Sum => {
            total(list).map(|si| Value::Quantity(Quantity::from_si(si, first.unit().clone())))
        }
        Function::Mean => {
            mean(list).map(|si| Value::Quantity(Quantity::from_si(si, first.unit().clone())))
        }
        Function::Sd => standard_deviation(list).map(Value::Quantity),
        _ => {
            let (Value::Quantity(high), Value::Quantity(low)) =
                (fold(Ordering::Greater)?, fold(Ordering::Less)?)
            else {
                return Err(EvaluationError::TooLarge);
            };
            kept(high.sub(&low))
        }
    }
}

fn total(list: &[Quantity]) -> Outcome<Number> {
    let mut sum = Number::Exact(Exact::zero());
    for q in list {
        q.kind().comparable(list[0].kind())?;
        sum = sum.add(q.si()).ok_or(EvaluationError::TooLarge)?;
    }
    Ok(sum)
}

fn mean(list: &[Quantity]) -> Outcome<Number> {
    let n = Exact::from(i64::try_from(list.len()).unwrap_or(i64::MAX));
    total(list)?
        .div(&Number::Exact(n))
        .ok_or(EvaluationError::TooLarge)
}

/// The standard deviation with n − 1 (JCGM 100:2008, 4.2.2): the variance exact where the readings are, one root at the end.
///
/// # Errors
/// Fewer than two values, kinds that differ.
pub fn standard_deviation(list: &[Quantity]) -> Result<Quantity, EvaluationError> {
    if list.len() < 2 {
        return Err(EvaluationError::Domain(
            "a standard deviation needs two values".to_owned(),
        ));
    }
    let centre = mean(list)?;
    let mut squares = Number::Exact(Exact::zero());
    for q in list {
        let off = q.si().sub(&centre).ok_or(EvaluationError::TooLarge)?;
        squares = off
            .mul(&off)
            .and_then(|s| squares.add(&s))
            .ok_or(EvaluationError::TooLarge)?;
    }
    // Of readings that are all alike the root is exact.
    if matches!(&squares, Number::Exact(none) if none.is_zero()) {
        return Ok(Quantity::from_si(squares, list[0].unit().of_difference()));
    }
    let freedom = Exact::from(i64::try_from(list.len() - 1).unwrap_or(i64::MAX));
    let variance = squares
        .div(&Number::Exact(freedom))
        .ok_or(EvaluationError::TooLarge)?;
    let root = variance.to_f64().sqrt();
    let slope = if root > 0.0 { 0.5 / root } else { 0.0 };
    let si = variance
        .through(root, slope)
        .ok_or(EvaluationError::TooLarge)?;
    Ok(Quantity::from_si(si, list[0].unit().of_difference()))
}

fn pick(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome {
    let (list, wanted) = if function == Function::Nth {
        let n = quantity(&arguments[arguments.len() - 1], scope)?;
        (
            &arguments[..arguments.len() - 1],
            n.si().to_exact().to_i64(),
        )
    } else {
        (arguments, None)
    };
    // `nth` counts rows, so that a row keeps its number though another did not apply.
    let values = if function == Function::Nth {
        places(list, scope)?
    } else {
        flattened(list, scope)?
    };
    let count = values.len();
    let index = match function {
        Function::First => Some(0),
        Function::Last => count.checked_sub(1),
        _ => wanted.and_then(|n| usize::try_from(n - 1).ok()),
    };
    match index.and_then(|i| values.into_iter().nth(i)) {
        Some(Value::Absent(path)) => Err(EvaluationError::Missing {
            absence: Absence::NotApplicable,
            path,
        }),
        Some(value) => Ok(value),
        None => Err(EvaluationError::Domain(format!(
            "the list has {count} values, counted from 1"
        ))),
    }
}

fn of_quantities(function: Function, values: &[Quantity]) -> Outcome {
    match function {
        Function::Within => within(&values[0], &values[1], &values[2]).map(Value::Truth),
        Function::Between => {
            let inside =
                values[0].compare(&values[1])?.is_ge() && values[0].compare(&values[2])?.is_le();
            Ok(Value::Truth(inside))
        }
        Function::Deviation => {
            let off = values[0]
                .sub(&values[1])?
                .ok_or(EvaluationError::TooLarge)?;
            let ratio = divide(&off, &values[1])?;
            let percent = Unit::parse("%").map_err(|e| EvaluationError::Kind(e.to_string()))?;
            Ok(Value::Quantity(ratio.convert(&percent)?))
        }
        // n = Q · DF (general arithmetic; drops counted per minute in the trade)
        Function::DripRate => {
            let rate = values[0]
                .mul(&values[1])?
                .ok_or(EvaluationError::TooLarge)?;
            let unit = Unit::parse("gtt/min").map_err(|e| EvaluationError::Kind(e.to_string()))?;
            Ok(Value::Quantity(rate.convert(&unit)?))
        }
        _ => root_or_logarithm(function, &values[0]),
    }
}

fn root_or_logarithm(function: Function, x: &Quantity) -> Outcome {
    let value = x.si().to_f64();
    let (result, slope, unit) = match function {
        Function::Sqrt if value >= 0.0 => {
            let dimension = x.kind().dimension.root();
            let unit = dimension
                .map(|d| Unit::si(Kind::of(d)))
                .ok_or(EvaluationError::TooLarge)?;
            let root = value.sqrt();
            let slope = if root > 0.0 { 0.5 / root } else { 0.0 };
            (root, slope, unit)
        }
        Function::Ln if value > 0.0 => (value.ln(), value.recip(), Unit::one()),
        Function::Exp => (value.exp(), value.exp(), Unit::one()),
        _ => {
            return Err(EvaluationError::Domain(format!(
                "`{}` of `{x}` does not exist",
                function.name()
            )));
        }
    };
    let si = x
        .si()
        .through(result, slope)
        .ok_or(EvaluationError::TooLarge)?;
    Ok(Value::Quantity(Quantity::from_si(si, unit)))
}

/// Whether `x` differs from `nominal` by at most `tolerance`, which is absolute, or a ratio of the nominal value.
/// Between bare numbers a tolerance in `%` or `ppm` is a ratio, a bare one is absolute. On the limit is inside.
fn within(x: &Quantity, nominal: &Quantity, tolerance: &Quantity) -> Outcome<bool> {
    let off = x.sub(nominal)?.ok_or(EvaluationError::TooLarge)?;
    if !is_relative(nominal, tolerance) {
        off.kind().comparable(tolerance.kind())?;
    }
    let limit = limit_of(nominal, tolerance).ok_or(EvaluationError::TooLarge)?;
    Ok(off.si().abs().compare(&limit).is_le())
}

/// Whether a tolerance is a ratio of the nominal value.
#[must_use]
pub fn is_relative(nominal: &Quantity, tolerance: &Quantity) -> bool {
    let bare = nominal.unit().text() == "1" && tolerance.unit().text() != "1";
    tolerance.kind() == Kind::RATIO && (nominal.kind() != Kind::RATIO || bare)
}

/// How far a value may differ from a nominal one, in SI; nothing where the number is beyond what is kept.
pub(super) fn limit_of(nominal: &Quantity, tolerance: &Quantity) -> Option<Number> {
    if is_relative(nominal, tolerance) {
        nominal.si().abs().mul(tolerance.si())
    } else {
        Some(tolerance.si().clone())
    }
}

fn rounded(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome {
    let rule = match function {
        Function::Floor => Rounding::Floor,
        Function::Ceil => Rounding::Ceiling,
        _ if arguments.len() == 3 => Rounding::HalfUp,
        _ => Rounding::HalfEven,
    };
    let step = quantity(&arguments[1], scope)?;
    let rounded = quantity(&arguments[0], scope)?.round(&step, rule)?;
    rounded.map(Value::Quantity).ok_or_else(|| {
        EvaluationError::Domain("the step of rounding must be above zero".to_owned())
    })
}

fn convert(value: &Node, unit: &Node, scope: &dyn Scope) -> Outcome {
    let Node::Text(text) = unit else {
        return Err(EvaluationError::Kind(
            "a unit in quotes is wanted".to_owned(),
        ));
    };
    let unit = Unit::parse(text).map_err(|e| EvaluationError::Kind(e.to_string()))?;
    fn each(value: Value, unit: &Unit) -> Outcome {
        match value {
            Value::Quantity(q) => Ok(Value::Quantity(q.convert(unit)?)),
            Value::List(items) => items
                .into_iter()
                .map(|i| each(i, unit))
                .collect::<Outcome<_>>()
                .map(Value::List),
            other => Ok(other),
        }
    }
    each(node(value, scope)?, &unit)
}

/// The expression's text with each name followed by the value it had.
#[must_use]
pub fn show_with_values(expression: &Expression, scope: &dyn Scope) -> String {
    let values: Vec<String> = (0..expression.names.len())
        .map(|i| {
            let shown = match scope.value(i) {
                Ok(Value::Quantity(q)) if !q.is_shown_whole() => {
                    return format!("{} ≈ {q}", expression.names[i]);
                }
                Ok(Value::List(items)) => {
                    let parts: Vec<String> = items.iter().map(marked).collect();
                    format!("({})", parts.join("; "))
                }
                Ok(value) => value.to_string(),
                Err(_) => "—".to_owned(),
            };
            format!("{} = {shown}", expression.names[i])
        })
        .collect();
    if values.is_empty() {
        expression.text.clone()
    } else {
        format!("{} [{}]", expression.text, values.join("; "))
    }
}

/// A value with a sign where it is not shown whole.
fn marked(value: &Value) -> String {
    match value {
        Value::Quantity(q) if !q.is_shown_whole() => format!("≈ {q}"),
        other => other.to_string(),
    }
}
