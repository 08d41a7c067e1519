//! `calc`: an expression of the language, by itself.
//!
//! Never in here: names; there are none. Changes when results are shown otherwise.

use serde_json::{Value as Json, json};

use crate::plan::{Absence, EvaluationError, Expression, Scope, Value, evaluate};
use crate::quantity::Unit;
use crate::recipe::expression::{Found, Names, lower};
use crate::text::{Code, Finding, Source, Span};

/// What an expression gave.
pub type Calculated = Result<Value, Vec<Finding>>;

struct NoNames;

impl Names for NoNames {
    fn find(&self, name: &str) -> Found {
        let help =
            "`calc` has no names; write the value, a quantity in quotes: `\"5 mL\"`".to_owned();
        Found::Refused(
            Code::UnknownName,
            format!("nothing is called `{name}`"),
            help,
        )
    }
}

impl Scope for NoNames {
    fn value(&self, _: usize) -> Result<Value, EvaluationError> {
        Err(EvaluationError::Missing {
            absence: Absence::NotDone,
            path: String::new(),
        })
    }
}

/// Evaluates an expression; `unit` is the one to show the result in.
///
/// # Errors
/// What is wrong with the expression, at its place in `text`.
pub fn calculate(name: &str, text: &str, unit: Option<&str>) -> Calculated {
    let source = Source::new(name, text);
    let at = |code, start, end, message: String, help: String| Finding {
        code,
        message,
        help,
        source: source.clone(),
        span: Span { start, end },
        path: String::new(),
    };
    let whole =
        |code, message: String, help: &str| vec![at(code, 0, text.len(), message, help.to_owned())];
    let expression: Expression = lower(text, &NoNames).map_err(|errors| {
        errors
            .into_iter()
            .map(|e| at(e.code, e.start, e.end, e.message, e.help))
            .collect::<Vec<_>>()
    })?;
    let value = evaluate(&expression, &NoNames).map_err(|error| {
        let code = if error == EvaluationError::DividedByZero {
            Code::DividedByZero
        } else {
            Code::WrongArguments
        };
        whole(code, error.to_string(), "use other values")
    })?;
    let Some(unit) = unit else { return Ok(value) };
    let unit = Unit::parse(unit).map_err(|e| {
        whole(
            Code::UnknownUnit,
            e.to_string(),
            "write the unit as in `mL/h`",
        )
    })?;
    shown_in(value, &unit).map_err(|message| {
        whole(
            Code::KindMismatch,
            message,
            "name a unit of the kind that the expression gives",
        )
    })
}

fn shown_in(value: Value, unit: &Unit) -> Result<Value, String> {
    match value {
        Value::Quantity(q) => q
            .convert(unit)
            .map(Value::Quantity)
            .map_err(|e| e.to_string()),
        Value::List(items) => items
            .into_iter()
            .map(|i| shown_in(i, unit))
            .collect::<Result<_, _>>()
            .map(Value::List),
        _ => Err("the result has no unit".to_owned()),
    }
}

/// The result as data.
#[must_use]
pub fn calculated_json(value: &Value) -> Json {
    match value {
        Value::Truth(truth) => json!({"truth": truth}),
        Value::Text(text) => json!({"text": text}),
        Value::Absent(_) => Json::Null,
        Value::List(items) => {
            json!({"list": items.iter().map(calculated_json).collect::<Vec<_>>()})
        }
        quantity @ Value::Quantity(_) => crate::record::value_json(quantity),
    }
}
