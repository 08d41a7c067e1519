//! `calc`: an expression of the language, evaluated with names that are given along.
//!
//! Never in here: steps. Changes when results are shown otherwise.

use std::cell::RefCell;

use serde_json::{Value as Json, json};

use crate::engine::Sizes;
use crate::plan::{
    Absence, Behind, Distances, EvaluationError, Expression, Node, Origin, Scope, Sources, Spread,
    Target, Trials, Type, Value, behind, distances, evaluate, is_close, propagate,
};
use crate::quantity::Unit;
use crate::recipe::expression::{Found, Names, lower};
use crate::recipe::schema::nearest;
use crate::text::{Code, Finding, Source, Span};

/// Most names that are given along.
const MAX_NAMES: usize = 1_000;

/// What an expression gave.
#[derive(Clone, Debug)]
pub struct Calculated {
    /// The value.
    pub value: Value,
    /// The value with its sensitivities to what was stated as uncertain.
    pub spread: Option<Spread>,
    /// Whether it rests on a comparison of inexact numbers that can't be told apart.
    pub close: bool,
    /// What drawing errors at random gave, where first order may not be enough.
    pub drawn: Option<Trials>,
    /// Why errors would have to be drawn and can't be.
    pub undrawn: Option<&'static str>,
}

/// Names with their values, in the order in which they were given.
#[derive(Debug, Default)]
pub struct Sheet {
    names: Vec<Name>,
    sources: RefCell<Sources>,
}

#[derive(Debug)]
struct Name {
    name: String,
    calculated: Calculated,
    of: Type,
    behind: Behind,
    /// Sources of error are told apart by their place in it, and errors are drawn for it again.
    expression: Expression,
}

impl Names for Sheet {
    fn find(&self, name: &str) -> Found {
        if let Some(known) = self.names.iter().find(|n| n.name == name) {
            return Found::Type(known.of.clone());
        }
        let help = match nearest(name, self.names.iter().map(|n| n.name.as_str())) {
            Some(near) => format!("the nearest name is `{near}`"),
            None => "write the value, a quantity in quotes: `\"5 mL\"`; or give the name along: `--let NAME=EXPRESSION`".to_owned(),
        };
        Found::Refused(
            Code::UnknownName,
            format!("nothing is called `{name}`"),
            help,
        )
    }
}

/// An expression with the sheet that its names are on.
struct OnSheet<'a> {
    sheet: &'a Sheet,
    expression: &'a Expression,
    /// How many names stand before it.
    before: usize,
}

impl OnSheet<'_> {
    fn name(&self, index: usize) -> Result<&Calculated, EvaluationError> {
        let name = self.expression.names.get(index);
        let found = name.and_then(|name| self.sheet.names.iter().find(|n| n.name == *name));
        found
            .map(|n| &n.calculated)
            .ok_or_else(|| EvaluationError::Missing {
                absence: Absence::NotDone,
                path: name.cloned().unwrap_or_default(),
            })
    }
}

impl Scope for OnSheet<'_> {
    fn value(&self, index: usize) -> Result<Value, EvaluationError> {
        self.name(index).map(|c| c.value.clone())
    }

    fn spread(&self, index: usize) -> Result<Spread, EvaluationError> {
        let known = self.name(index)?;
        let spread = known.spread.clone();
        Ok(spread.unwrap_or_else(|| Spread::known(&known.value)))
    }

    fn sources(&self) -> Option<(&RefCell<Sources>, usize)> {
        Some((&self.sheet.sources, self.before))
    }

    fn origin(&self, index: usize) -> Result<Origin, EvaluationError> {
        let name = self.expression.names.get(index);
        let known = self.sheet.names.iter().position(|n| Some(&n.name) == name);
        match known.filter(|at| self.sheet.names[*at].calculated.spread.is_some()) {
            Some(at) => Ok(Origin::Computed(at)),
            None => self.spread(index).map(Origin::Given),
        }
    }

    fn behind(&self, index: usize) -> Behind {
        let name = self.expression.names.get(index);
        let known = self.sheet.names.iter().find(|n| Some(&n.name) == name);
        known.map_or(Behind::NOTHING, |n| n.behind)
    }

    fn computed(&self, id: usize) -> Option<(&Node, Box<dyn Scope + '_>)> {
        let name = self.sheet.names.get(id)?;
        let scope = OnSheet {
            sheet: self.sheet,
            expression: &name.expression,
            before: id,
        };
        Some((&name.expression.root, Box::new(scope)))
    }
}

impl Sheet {
    /// Gives a name along: what an expression on the names before it comes to.
    ///
    /// # Errors
    /// What is wrong with the name or its expression.
    pub fn give(&mut self, given: &str) -> Result<(), Vec<Finding>> {
        let (name, text) = given.split_once('=').unwrap_or((given, ""));
        let (name, text) = (name.trim(), text.trim());
        let refused = |message: String| {
            let help = "write `--let NAME=EXPRESSION`; a name has small letters, digits and `_`, and stands once";
            vec![finding(
                &Source::new("--let", given),
                Code::UnknownName,
                (0, given.len()),
                message,
                help,
            )]
        };
        let begins = name.starts_with(|c: char| c.is_ascii_lowercase());
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
        if !begins || !name.chars().all(plain) || text.is_empty() {
            return Err(refused(format!("`{given}` gives no name along")));
        }
        if self.names.len() == MAX_NAMES || self.names.iter().any(|n| n.name == name) {
            return Err(refused(format!("`{name}` can't be given along once more")));
        }
        let (expression, calculated) = self.evaluated(&format!("--let {name}"), text)?;
        let behind = behind(&expression.root, &self.scope(&expression));
        self.names.push(Name {
            behind,
            name: name.to_owned(),
            calculated,
            of: expression.result.clone(),
            expression,
        });
        Ok(())
    }

    /// Evaluates an expression; `unit` is the one to show the result in.
    ///
    /// # Errors
    /// What is wrong with the expression, at its place in `text`.
    pub fn calculate(
        &self,
        name: &str,
        text: &str,
        unit: Option<&str>,
    ) -> Result<Calculated, Vec<Finding>> {
        let (expression, mut calculated) = self.evaluated(name, text)?;
        let target = [Target::Value(&expression.root)];
        match distances(&target, &self.scope(&expression), &|_| true) {
            Distances::FirstOrder => {}
            Distances::Drawn { each, .. } => calculated.drawn = each.first().copied(),
            Distances::Refused(why) => calculated.undrawn = Some(why),
        }
        let Some(unit) = unit else {
            return Ok(calculated);
        };
        let source = Source::new(name, text);
        let whole = |code, message: String, help: &str| {
            vec![finding(&source, code, (0, text.len()), message, help)]
        };
        let unit = Unit::parse(unit).map_err(|e| {
            whole(
                Code::UnknownUnit,
                e.to_string(),
                "write the unit as in `mL/h`",
            )
        })?;
        let value = shown_in(calculated.value, &unit).map_err(|message| {
            whole(
                Code::KindMismatch,
                message,
                "name a unit of the kind that the expression gives",
            )
        })?;
        Ok(Calculated {
            value,
            ..calculated
        })
    }

    fn scope<'a>(&'a self, expression: &'a Expression) -> OnSheet<'a> {
        OnSheet {
            sheet: self,
            expression,
            before: self.names.len(),
        }
    }

    fn evaluated(&self, name: &str, text: &str) -> Result<(Expression, Calculated), Vec<Finding>> {
        let source = Source::new(name, text);
        let expression: Expression = lower(text, self).map_err(|errors| {
            errors
                .into_iter()
                .map(|e| finding(&source, e.code, (e.start, e.end), e.message, &e.help))
                .collect::<Vec<_>>()
        })?;
        let scope = self.scope(&expression);
        let value = evaluate(&expression, &scope).map_err(|error| {
            let code = if error == EvaluationError::DividedByZero {
                Code::DividedByZero
            } else {
                Code::WrongArguments
            };
            let whole = (0, text.len());
            vec![finding(
                &source,
                code,
                whole,
                error.to_string(),
                "use other values",
            )]
        })?;
        let calculated = Calculated {
            value,
            spread: propagate(&expression.root, &scope).ok(),
            close: is_close(&expression.root, &scope),
            drawn: None,
            undrawn: None,
        };
        Ok((expression, calculated))
    }

    /// The result as data; `budget` says whether to tell what an uncertainty is made of.
    #[must_use]
    pub fn json(&self, calculated: &Calculated, budget: bool) -> Json {
        let mut json = calculated_json(&calculated.value);
        let Some(map) = json.as_object_mut() else {
            return json;
        };
        if calculated.close {
            map.insert("within_numerical_error".to_owned(), true.into());
        }
        if let Some(why) = calculated.undrawn {
            map.insert("undrawn".to_owned(), why.into());
        }
        if let Some(mut told) = self.uncertainty(calculated) {
            if !budget {
                told.budget.clear();
            }
            let told = serde_json::to_value(told).unwrap_or(Json::Null);
            map.insert("uncertainty".to_owned(), told);
        }
        json
    }

    /// The uncertainty of a result; nothing where nothing that it rests on is uncertain.
    #[must_use]
    pub fn uncertainty(&self, calculated: &Calculated) -> Option<crate::record::Uncertainty> {
        let number = calculated.spread.as_ref()?.as_number()?;
        let value = calculated.value.as_quantity()?;
        let drawn = calculated.drawn.as_ref();
        let sources = self.sources.borrow();
        crate::record::uncertainty(value, number, &sources, drawn, &Sizes::default())
    }
}

fn finding(
    source: &Source,
    code: Code,
    (start, end): (usize, usize),
    message: String,
    help: &str,
) -> Finding {
    Finding {
        code,
        message,
        help: help.to_owned(),
        source: source.clone(),
        span: Span { start, end },
        path: String::new(),
        chain: Vec::new(),
    }
}

/// Evaluates an expression without names; `unit` is the one to show the result in.
///
/// # Errors
/// What is wrong with the expression, at its place in `text`.
pub fn calculate(name: &str, text: &str, unit: Option<&str>) -> Result<Value, Vec<Finding>> {
    Sheet::default()
        .calculate(name, text, unit)
        .map(|c| c.value)
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

/// A value as data.
#[must_use]
pub fn calculated_json(value: &Value) -> Json {
    match value {
        Value::Truth(truth) => json!({"truth": truth}),
        Value::Text(text) => json!({"text": text}),
        Value::Absent(_) => Json::Null,
        Value::List(items) => {
            json!({"list": items.iter().map(calculated_json).collect::<Vec<_>>()})
        }
        other => crate::record::value_json(other),
    }
}
