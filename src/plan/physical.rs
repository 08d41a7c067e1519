//! The functions of the language that stand for a formula of the trade, on quantities.
//!
//! Never in here: the formulas themselves (see `maths`). Changes when such a function is added.

use crate::maths;
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

/// The number of a quantity in a unit, as a double.
fn in_unit(q: &Quantity, unit: &str) -> Outcome<f64> {
    let unit = Unit::parse(unit).map_err(|e| EvaluationError::Kind(e.to_string()))?;
    Ok(q.convert(&unit)?.value().to_f64())
}

fn formula_name(arguments: &[Node], at: usize) -> Option<&str> {
    match arguments.get(at) {
        Some(Node::Text(name)) => Some(name),
        _ => None,
    }
}

pub(super) fn physical(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome {
    let given = |at: usize, unit: &str| in_unit(&quantity(&arguments[at], scope)?, unit);
    let air = |from: usize| {
        Ok::<_, EvaluationError>((
            given(from, "degC")?,
            given(from + 1, "hPa")?,
            given(from + 2, "%")?,
        ))
    };
    let unknown = |name: &str| EvaluationError::Domain(format!("there is no formula `{name}`"));
    let (value, unit) = match function {
        Function::WaterDensity => {
            let name = formula_name(arguments, 1).unwrap_or("tanaka2001");
            let formula = maths::WaterFormula::from_name(name).ok_or_else(|| unknown(name))?;
            (maths::water_density(given(0, "degC")?, formula)?, "kg/m3")
        }
        Function::AirDensity => {
            let name = formula_name(arguments, 3).unwrap_or("cipm2007");
            let formula = maths::AirFormula::from_name(name).ok_or_else(|| unknown(name))?;
            let (t, p, rh) = air(0)?;
            (maths::air_density(t, p, rh, formula)?, "kg/m3")
        }
        Function::ZFactor => {
            let (t, p, rh) = air(0)?;
            (maths::z_factor(t, p, rh)?, "mL/g")
        }
        Function::WeighedVolume => {
            let (t, p, rh) = air(1)?;
            (maths::weighed_volume(given(0, "g")?, t, p, rh)?, "mL")
        }
        _ => return column_pressure(arguments, scope),
    };
    inexact(value, unit)
}

fn inexact(value: f64, unit: &str) -> Outcome {
    let unit = Unit::parse(unit).map_err(|e| EvaluationError::Kind(e.to_string()))?;
    let number = Number::inexact(value).ok_or(EvaluationError::TooLarge)?;
    Ok(Value::Quantity(Quantity::new(number, unit)))
}

/// Pressure under a column of water. Without a temperature the conventional column: 1000 kg/m³ and g_n, exact.
fn column_pressure(arguments: &[Node], scope: &dyn Scope) -> Outcome {
    let height = quantity(&arguments[0], scope)?;
    if arguments.len() == 1 {
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
        let unit = Unit::parse("Pa").map_err(|e| EvaluationError::Kind(e.to_string()))?;
        return Ok(Value::Quantity(Quantity::from_si(si, unit)));
    }
    let t = in_unit(&quantity(&arguments[1], scope)?, "degC")?;
    inexact(maths::column_pressure_at(in_unit(&height, "m")?, t)?, "Pa")
}
