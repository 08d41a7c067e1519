//! The functions of the language that stand for a formula of the trade, on quantities.
//!
//! Never in here: the formulas themselves (see `maths`). Changes when such a function is added.

use crate::maths::{self, Scalar};
use crate::quantity::{Dimension, Exact, Kind, Number, Quantity, Rounding, Unit};

use super::evaluate::{Outcome, divide, quantities, quantity};
use super::{EvaluationError, Function, Node, Scope, Value};

/// `honoured(times, lockout [, dose, limit, window])`: the demands that a patient-controlled pump answers.
pub(super) fn honoured(arguments: &[Node], scope: &dyn Scope) -> Outcome {
    let times = quantities(&arguments[..1], scope)?;
    let rest = arguments[1..]
        .iter()
        .map(|a| quantity(a, scope))
        .collect::<Outcome<Vec<_>>>()?;
    let seconds: Vec<Exact> = times.iter().map(|q| q.si().to_exact()).collect();
    if seconds.windows(2).any(|w| w[0] > w[1]) {
        return Err(EvaluationError::Domain(
            "the times of demands must be in order".to_owned(),
        ));
    }
    let lockout = rest[0].si().to_exact();
    let window = match rest.get(1..4) {
        Some([dose, limit, window]) => {
            let doses = divide(limit, dose)?
                .si()
                .to_exact()
                .round_to(&Exact::one(), Rounding::Floor);
            let count = doses
                .and_then(|d| d.to_i64())
                .and_then(|n| usize::try_from(n).ok())
                .ok_or(EvaluationError::TooLarge)?;
            Some((window.si().to_exact(), count))
        }
        _ => None,
    };
    let kept = maths::honoured(&seconds, &lockout, window.as_ref().map(|(w, n)| (w, *n)));
    Ok(Value::List(
        kept.into_iter()
            .map(|i| Value::Quantity(times[i].clone()))
            .collect(),
    ))
}

/// A formula of the trade, with the units that its arguments and its result are numbers of.
pub(super) struct Formula {
    function: Function,
    /// The formula's own name, where the author chose one.
    name: Option<String>,
    /// Units of the arguments.
    pub(super) takes: Vec<Unit>,
    /// Unit of the result.
    pub(super) gives: Unit,
}

impl Formula {
    /// The formula that a call stands for; none where it is exact arithmetic.
    pub(super) fn of(function: Function, arguments: &[Node]) -> Outcome<Option<Self>> {
        const AIR: [&str; 3] = ["degC", "hPa", "%"];
        let (takes, gives): (&[&str], &str) = match function {
            Function::WaterDensity => (&["degC"], "kg/m3"),
            Function::AirDensity => (&AIR, "kg/m3"),
            Function::ZFactor => (&AIR, "mL/g"),
            Function::WeighedVolume => (&["g", "degC", "hPa", "%"], "mL"),
            Function::ColumnPressure if arguments.len() == 2 => (&["m", "degC"], "Pa"),
            _ => return Ok(None),
        };
        let name = match arguments.get(takes.len()) {
            Some(Node::Text(name)) => Some(name.clone()),
            _ => None,
        };
        Ok(Some(Self {
            function,
            name,
            takes: takes.iter().map(|u| unit(u)).collect::<Outcome<_>>()?,
            gives: unit(gives)?,
        }))
    }

    /// Its result for numbers in the units that it takes.
    ///
    /// # Errors
    /// Values outside its domain, an unknown formula.
    pub(super) fn computed<S: Scalar>(&self, given: &[S]) -> Outcome<S> {
        let x = |at: usize| given[at].clone();
        let name = self.name.as_deref();
        let unknown = || {
            let name = name.unwrap_or_default();
            EvaluationError::Domain(format!("there is no formula `{name}`"))
        };
        Ok(match self.function {
            Function::WaterDensity => {
                let formula = maths::WaterFormula::from_name(name.unwrap_or("tanaka2001"));
                maths::water_density(x(0), formula.ok_or_else(unknown)?)?
            }
            Function::AirDensity => {
                let formula = maths::AirFormula::from_name(name.unwrap_or("cipm2007"));
                maths::air_density(x(0), x(1), x(2), formula.ok_or_else(unknown)?)?
            }
            Function::ZFactor => maths::z_factor(x(0), x(1), x(2))?,
            Function::WeighedVolume => maths::weighed_volume(x(0), x(1), x(2), x(3))?,
            _ => maths::column_pressure_at(x(0), x(1))?,
        })
    }
}

fn unit(text: &str) -> Outcome<Unit> {
    Unit::parse(text).map_err(|e| EvaluationError::Kind(e.to_string()))
}

/// How far the formulas are off in doubles at most, as a ratio of the result: a few dozen roundings.
const FORMULA_ROUNDING: f64 = 1e-14;

/// A physical formula on quantities. Numerical errors of the arguments are carried through, each as a source of its own.
pub(super) fn physical(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome {
    let Some(formula) = Formula::of(function, arguments)? else {
        return conventional_column(&quantity(&arguments[0], scope)?);
    };
    let given = formula.takes.iter().zip(arguments).zip(0u32..);
    let given = given.map(|((unit, argument), source)| {
        let number = quantity(argument, scope)?.convert(unit)?.value();
        Ok(maths::Linear::constant(number.to_f64()).with(source, number.error()))
    });
    let result = formula.computed(&given.collect::<Outcome<Vec<_>>>()?)?;
    let carried: f64 = result.parts.iter().map(|(_, off)| off.abs()).sum();
    let error = carried + FORMULA_ROUNDING * result.value.abs();
    let number = Number::inexact(result.value, error).ok_or(EvaluationError::TooLarge)?;
    Ok(Value::Quantity(Quantity::new(number, formula.gives)))
}

/// Pressure under a conventional column of water: 1000 kg/m³ and g_n, exact.
fn conventional_column(height: &Quantity) -> Outcome {
    let per_metre = Number::Exact(
        Exact::from(980_665)
            .checked_div(&Exact::from(100))
            .unwrap_or_default(),
    );
    height
        .kind()
        .comparable(Kind::of(Dimension::from_name("length").unwrap_or_default()))?;
    let si = height
        .si()
        .mul(&per_metre)
        .ok_or(EvaluationError::TooLarge)?;
    Ok(Value::Quantity(Quantity::from_si(si, unit("Pa")?)))
}
