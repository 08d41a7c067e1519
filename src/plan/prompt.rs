//! The sentences of a recipe: minijinja templates in which quantities print with their unit.
//!
//! Never in here: where values come from. Changes when a filter is added.

use std::fmt;
use std::sync::{Arc, OnceLock};

use minijinja::value::{Object, Value as Shown};
use minijinja::{Environment, Error, ErrorKind, State, UndefinedBehavior};

use crate::quantity::{Quantity, Unit};

use super::Value;

/// Steps that a template may take before it is stopped.
const FUEL: u64 = 20_000;

/// What is wrong with a template.
#[derive(Clone, Debug)]
pub struct PromptError {
    /// What is wrong.
    pub message: String,
    /// Whether the text can't be read at all.
    pub is_syntax: bool,
}

#[derive(Debug)]
struct Measured(Quantity);

impl Object for Measured {
    fn render(self: &Arc<Self>, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.shown())
    }
}

fn environment() -> &'static Environment<'static> {
    static ENVIRONMENT: OnceLock<Environment<'static>> = OnceLock::new();
    ENVIRONMENT.get_or_init(|| {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_fuel(Some(FUEL));
        environment.add_filter("in", convert);
        environment
    })
}

/// The filter `in`: `{{ point.rate | in("mL/min") }}`.
fn convert(_: &State, value: &Shown, unit: &str) -> Result<Shown, Error> {
    let fail = |text: String| Error::new(ErrorKind::InvalidOperation, text);
    let quantity = value
        .downcast_object_ref::<Measured>()
        .ok_or_else(|| fail("`in` wants a quantity".to_owned()))?;
    let unit = Unit::parse(unit).map_err(|e| fail(e.to_string()))?;
    let converted = quantity.0.convert(&unit).map_err(|e| fail(e.to_string()))?;
    Ok(Shown::from_object(Measured(converted)))
}

fn shown(value: &Value) -> Shown {
    match value {
        Value::Quantity(q) => Shown::from_object(Measured(q.clone())),
        Value::Truth(t) => Shown::from(*t),
        Value::Text(t) => Shown::from(t.as_str()),
        Value::List(items) => items.iter().map(shown).collect::<Vec<_>>().into(),
    }
}

/// Values under dotted names, nested as a template sees them.
fn context(values: &[(String, Value)]) -> Shown {
    #[derive(Default)]
    struct Tree {
        leaf: Option<Shown>,
        inside: indexmap::IndexMap<String, Tree>,
    }
    fn build(tree: Tree) -> Shown {
        let inside = |tree: Tree| {
            let map: std::collections::BTreeMap<String, Shown> = tree
                .inside
                .into_iter()
                .map(|(name, tree)| (name, build(tree)))
                .collect();
            Shown::from(map)
        };
        match tree.leaf {
            Some(leaf) => leaf,
            None => inside(tree),
        }
    }
    let mut root = Tree::default();
    for (name, value) in values {
        let mut at = &mut root;
        for part in name.split('.') {
            at = at.inside.entry(part.to_owned()).or_default();
        }
        at.leaf = Some(shown(value));
    }
    build(root)
}

fn plain(error: &Error) -> PromptError {
    let detail = error
        .detail()
        .map_or_else(|| error.kind().to_string(), str::to_owned);
    PromptError {
        message: detail,
        is_syntax: error.kind() == ErrorKind::SyntaxError,
    }
}

/// The dotted names that a template uses.
///
/// # Errors
/// Text that is no template.
pub fn prompt_names(template: &str) -> Result<Vec<String>, PromptError> {
    if !template.contains('{') {
        return Ok(Vec::new());
    }
    let parsed = environment()
        .template_from_str(template)
        .map_err(|e| plain(&e))?;
    let mut names: Vec<String> = parsed.undeclared_variables(true).into_iter().collect();
    names.sort();
    Ok(names)
}

/// The sentence with its values put in.
///
/// # Errors
/// A template that can't be read or runs too long, or a filter that does not fit its value.
pub fn render_prompt(template: &str, values: &[(String, Value)]) -> Result<String, PromptError> {
    if !template.contains('{') {
        return Ok(template.to_owned());
    }
    environment()
        .render_str(template, context(values))
        .map_err(|e| plain(&e))
}
