//! Figures of logged series: flow tests after IEC 60601-2-24 (from memory), peaks, and times at which a level is passed.
//!
//! Each figure names the readings that it rests on, so that its uncertainty comes from theirs. Never in here: the formulas
//! (see `maths::flow`). Changes when a figure is added.

use std::sync::Arc;

use crate::maths::Linear;
use crate::maths::flow::{self, Allowed, Delivery, Extreme, Level, Period};
use crate::quantity::{Dimension, Kind, Number, Quantity, Unit};
use crate::trace::Column;

use super::evaluate::Outcome;
use super::{
    EvaluationError, Function, Logged, Node, Scope, Sources, Spread, Value, evaluate_node,
};

/// The density of the test liquid where none is given, in kg/m³: 0.998 g/mL, water at 20 °C (IEC 60601-2-24, from memory).
pub const USUAL_DENSITY: f64 = 998.0;

/// How far figures are off in doubles at most, as a ratio.
const ROUNDING: f64 = 1e-12;

/// A figure: its value in SI, and how it moves with single readings of a column.
struct Figure {
    si: f64,
    unit: Unit,
    slopes: Vec<(usize, f64)>,
}

/// The figures of a call, with the series and the column that they come from.
struct Figures {
    logged: Arc<Logged>,
    column: usize,
    figures: Vec<Figure>,
    /// Whether several were asked for.
    many: bool,
}

impl From<flow::FlowFault> for EvaluationError {
    fn from(fault: flow::FlowFault) -> Self {
        Self::Domain(fault.to_string())
    }
}

/// The value of a figure.
pub(super) fn figures(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome {
    let found = find(function, arguments, scope)?;
    let mut values = Vec::new();
    for figure in &found.figures {
        let number = Number::inexact(figure.si, ROUNDING * figure.si.abs())
            .ok_or(EvaluationError::TooLarge)?;
        values.push(Value::Quantity(Quantity::from_si(
            number,
            figure.unit.clone(),
        )));
    }
    Ok(match values.len() {
        1 if !found.many => values.swap_remove(0),
        _ => Value::List(values),
    })
}

/// The value of a figure with its sensitivities to the errors of the instrument that logged.
pub(super) fn spread(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome<Spread> {
    let found = find(function, arguments, scope)?;
    let column = found.logged.trace.columns.get(found.column);
    let mut numbers: Vec<Spread> = Vec::new();
    for figure in &found.figures {
        let mut number = Linear {
            value: figure.si,
            parts: Vec::new(),
        };
        if let (Some(column), Some((sources, _))) = (column, scope.sources()) {
            let sources: &mut Sources = &mut sources.borrow_mut();
            for (row, slope) in &figure.slopes {
                let reading = found.logged.reading(column, *row, sources);
                for (source, contribution) in reading.parts {
                    number = number.with(source, slope * contribution);
                }
            }
        }
        number.parts.retain(|(_, c)| *c != 0.0);
        numbers.push(Spread::Number(number));
    }
    Ok(match numbers.len() {
        1 if !found.many => numbers.swap_remove(0),
        _ => Spread::List(numbers),
    })
}

/// A trumpet to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct TrumpetCurve {
    /// Window in s, largest and smallest error as ratios.
    pub points: Vec<(f64, f64, f64)>,
    /// The mean flow error over the whole period, as a ratio.
    pub mean_error: f64,
}

/// The trumpet that a call asks for: both curves at its windows.
///
/// # Errors
/// As the evaluation of the call.
pub fn trumpet_of(arguments: &[Node], scope: &dyn Scope) -> Result<TrumpetCurve, EvaluationError> {
    let asked = Asked::read(&arguments[0], &arguments[3..], scope)?;
    let windows = seconds(&arguments[2], scope)?;
    let rate = asked.amount_rate(&single(&arguments[1], scope)?);
    let delivery = asked.delivery()?;
    let period = asked.period(&delivery);
    let points = flow::trumpet(&delivery, period, rate, &windows)?;
    let told = points
        .iter()
        .map(|p| (p.window, p.largest.error / 100.0, p.smallest.error / 100.0));
    let mean = delivery.portion(period)?.mean_flow();
    Ok(TrumpetCurve {
        points: told.collect(),
        mean_error: flow::flow_error(mean, rate)? / 100.0,
    })
}

/// The start-up graph that a `startup_error` rests on: time in s and flow in m³/s, and the set rate in m³/s.
///
/// # Errors
/// As the evaluation of the call.
pub fn start_up_of(
    arguments: &[Node],
    scope: &dyn Scope,
) -> Result<(Vec<(f64, f64)>, f64), EvaluationError> {
    let asked = Asked::read(&arguments[0], &arguments[3..], scope)?;
    let rate = single(&arguments[1], scope)?.si().to_f64();
    let points = asked.delivery()?.start_up()?;
    let told = points.iter().map(|p| (p.time, p.flow / asked.per_volume));
    Ok((told.collect(), rate))
}

fn find(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome<Figures> {
    match function {
        Function::Peak | Function::FirstTime => of_column(function, arguments, scope),
        _ => of_delivery(function, arguments, scope),
    }
}

fn of_column(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome<Figures> {
    let Value::Series(logged, at) = evaluate_node(&arguments[0], scope)? else {
        return Err(EvaluationError::Kind(
            "a column of a logged series is wanted".to_owned(),
        ));
    };
    let column = &logged.trace.columns[at];
    let figure = if function == Function::Peak {
        let sample = flow::peak(&column.values)
            .ok_or_else(|| EvaluationError::Domain("the log is empty".to_owned()))?;
        Figure {
            si: sample.value,
            unit: column.unit.clone(),
            slopes: vec![(sample.index, 1.0)],
        }
    } else {
        first_time(column, &logged, arguments, scope)?
    };
    Ok(Figures {
        column: at,
        figures: vec![figure],
        many: false,
        logged: Arc::clone(&logged),
    })
}

fn first_time(
    column: &Column,
    logged: &Logged,
    arguments: &[Node],
    scope: &dyn Scope,
) -> Outcome<Figure> {
    let limit = single(&arguments[2], scope)?.si().to_f64();
    let level = match &arguments[1] {
        Node::Text(sign) if sign == ">=" => Level::AtLeast(limit),
        Node::Text(sign) if sign == "<=" => Level::AtMost(limit),
        Node::Text(sign) if sign == ">" => Level::Above(limit),
        _ => Level::Below(limit),
    };
    let times = &logged.trace.times;
    let from = match arguments.get(3) {
        Some(from) => {
            let from = single(from, scope)?.si().to_f64();
            times.partition_point(|t| *t < from)
        }
        None => 0,
    };
    let sample = flow::first_passing(&column.values, level, from).ok_or_else(|| {
        EvaluationError::Domain(format!(
            "the column `{}` never passes that level",
            column.name
        ))
    })?;
    Ok(Figure {
        si: times[sample.index],
        unit: second()?,
        slopes: Vec::new(),
    })
}

fn of_delivery(function: Function, arguments: &[Node], scope: &dyn Scope) -> Outcome<Figures> {
    use Function as F;
    let given = |from: usize| Asked::read(&arguments[0], &arguments[from..], scope);
    let mut many = false;
    let (asked, figures) = match function {
        F::MeanFlow => {
            let asked = given(1)?;
            let figure = asked.mean_flow()?;
            (asked, vec![figure])
        }
        F::VolumeAfter => {
            let asked = given(2)?;
            let time = single(&arguments[1], scope)?.si().to_f64();
            let portion = asked.delivery()?.volume_after(time)?;
            let figure = asked.volume(portion)?;
            (asked, vec![figure])
        }
        F::StartupError => {
            let mut asked = given(3)?;
            let until = single(&arguments[2], scope)?.si().to_f64();
            let begin = asked
                .logged
                .trace
                .times
                .first()
                .copied()
                .unwrap_or_default();
            asked.period = Some(Period {
                from: begin,
                to: begin + until,
            });
            let rate = single(&arguments[1], scope)?.si().to_f64();
            let mean = asked.mean_flow()?;
            let error = flow::flow_error(mean.si, rate)? / 100.0;
            let slopes = mean.slopes.iter().map(|(row, s)| (*row, s / rate));
            let figure = Figure {
                si: error,
                unit: percent()?,
                slopes: slopes.collect(),
            };
            (asked, vec![figure])
        }
        _ => {
            let asked = given(3)?;
            let windows = seconds(&arguments[2], scope)?;
            many = matches!(evaluate_node(&arguments[2], scope)?, Value::List(_));
            let rate = asked.amount_rate(&single(&arguments[1], scope)?);
            let delivery = asked.delivery()?;
            let points = flow::trumpet(&delivery, asked.period(&delivery), rate, &windows)?;
            let figures = points.iter().map(|point| {
                let high = function == F::TrumpetHigh;
                let extreme = if high { point.largest } else { point.smallest };
                window_error(&extreme, rate, &asked.logged.trace.times)
            });
            let figures = figures.collect::<Outcome<Vec<_>>>()?;
            (asked, figures)
        }
    };
    Ok(Figures {
        logged: asked.logged,
        column: asked.column,
        figures,
        many,
    })
}

fn window_error(extreme: &Extreme, rate: f64, times: &[f64]) -> Outcome<Figure> {
    let (first, last) = extreme.ends;
    let slope = (rate * (times[last] - times[first])).recip();
    Ok(Figure {
        si: extreme.error / 100.0,
        unit: percent()?,
        slopes: vec![(first, -slope), (last, slope)],
    })
}

/// What a call on a delivery names: the series, the column of what was collected, a period, a density.
struct Asked {
    logged: Arc<Logged>,
    column: usize,
    period: Option<Period>,
    /// Collected amount per volume: 1 for volumes, the density for masses.
    per_volume: f64,
}

impl Asked {
    /// Reads the series and what may follow: two times that bound a period, a density.
    fn read(series: &Node, rest: &[Node], scope: &dyn Scope) -> Outcome<Self> {
        let Value::Trace(logged) = evaluate_node(series, scope)? else {
            return Err(EvaluationError::Kind(
                "a logged series is wanted".to_owned(),
            ));
        };
        let kind = |name: &str| Kind::of(Dimension::from_name(name).unwrap_or_default());
        let (mut times, mut density) = (Vec::new(), None);
        for node in rest {
            match evaluate_node(node, scope)? {
                Value::Quantity(q) if q.kind() == kind("time") => times.push(q.si().to_f64()),
                Value::Quantity(q) if q.kind() == kind("density") => {
                    density = Some(q.si().to_f64());
                }
                _ => {}
            }
        }
        let of = |name: &str| {
            let columns = logged.trace.columns.iter();
            columns.clone().position(|c| c.unit.kind() == kind(name))
        };
        let (column, per_volume) = match (of("volume"), of("mass")) {
            (Some(column), _) => (column, 1.0),
            (None, Some(column)) => (column, density.unwrap_or(USUAL_DENSITY)),
            (None, None) => {
                return Err(EvaluationError::Domain(
                    "the log has no column of a volume or a mass".to_owned(),
                ));
            }
        };
        if per_volume.is_nan() || per_volume <= 0.0 {
            return Err(EvaluationError::Domain(
                "the density must be above zero".to_owned(),
            ));
        }
        let period = match times[..] {
            [from, to] => Some(Period { from, to }),
            _ => None,
        };
        Ok(Self {
            column,
            period,
            per_volume,
            logged,
        })
    }

    /// Falls are told with the log; a figure that no fall touches stands.
    fn delivery(&self) -> Outcome<Delivery<'_>> {
        let allowed = Allowed {
            fall: f64::INFINITY,
            ..Allowed::default()
        };
        let trace = &self.logged.trace;
        Ok(Delivery::new(
            &trace.times,
            &trace.columns[self.column].values,
            allowed,
        )?)
    }

    fn period(&self, delivery: &Delivery<'_>) -> Period {
        self.period.unwrap_or_else(|| delivery.whole())
    }

    fn amount_rate(&self, rate: &Quantity) -> f64 {
        rate.si().to_f64() * self.per_volume
    }

    fn mean_flow(&self) -> Outcome<Figure> {
        let delivery = self.delivery()?;
        let portion = delivery.portion(self.period(&delivery))?;
        let slope = (portion.duration * self.per_volume).recip();
        Ok(Figure {
            si: portion.mean_flow() / self.per_volume,
            unit: parsed("mL/h")?,
            slopes: vec![(portion.ends.0, -slope), (portion.ends.1, slope)],
        })
    }

    fn volume(&self, portion: flow::Portion) -> Outcome<Figure> {
        let slope = self.per_volume.recip();
        Ok(Figure {
            si: portion.volume * slope,
            unit: parsed("mL")?,
            slopes: vec![(portion.ends.0, -slope), (portion.ends.1, slope)],
        })
    }
}

fn single(node: &Node, scope: &dyn Scope) -> Outcome<Quantity> {
    super::evaluate::quantity(node, scope)
}

/// One time or several, in s.
fn seconds(node: &Node, scope: &dyn Scope) -> Outcome<Vec<f64>> {
    let all = super::evaluate::quantities(std::slice::from_ref(node), scope)?;
    Ok(all.iter().map(|q| q.si().to_f64()).collect())
}

fn parsed(text: &str) -> Outcome<Unit> {
    Unit::parse(text).map_err(|e| EvaluationError::Kind(e.to_string()))
}

fn percent() -> Outcome<Unit> {
    parsed("%")
}

fn second() -> Outcome<Unit> {
    parsed("s")
}
