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

/// Longest sentence with values in it, in bytes.
const MAX_LENGTH: usize = 4_000;
/// Longest `{{ … }}` or `{% … %}`, in bytes: minijinja recurses over operators without a bound of its own.
const MAX_CODE: usize = 250;

/// What is wrong with a template.
#[derive(Clone, Debug)]
pub struct PromptError {
    /// What is wrong.
    pub message: String,
    /// What the fault is about.
    pub about: PromptFault,
}

/// What a template's fault is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PromptFault {
    /// The text can't be read at all.
    Syntax,
    /// A filter that there is not.
    Filter(String),
    /// A unit that is not known, as it is written.
    UnknownUnit(String),
    /// A unit of another kind than the value has, as it is written.
    OtherKind(String),
    /// Anything else.
    Other,
}

/// A fault of the filter `in`, carried through minijinja.
#[derive(Debug)]
struct UnitFault(PromptFault);

impl fmt::Display for UnitFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a unit that can't be used")
    }
}

impl std::error::Error for UnitFault {}

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
    let parsed = Unit::parse(unit).map_err(|e| {
        let fault = PromptFault::UnknownUnit(unit.to_owned());
        fail(e.to_string()).with_source(UnitFault(fault))
    })?;
    let converted = quantity.0.convert(&parsed).map_err(|e| {
        let fault = PromptFault::OtherKind(unit.to_owned());
        fail(e.to_string()).with_source(UnitFault(fault))
    })?;
    Ok(Shown::from_object(Measured(converted)))
}

fn shown(value: &Value) -> Shown {
    match value {
        Value::Quantity(q) => Shown::from_object(Measured(q.clone())),
        Value::Truth(t) => Shown::from(*t),
        Value::Text(t) => Shown::from(t.as_str()),
        Value::Absent(_) => Shown::from("—"),
        Value::Trace(_) | Value::Series(..) => Shown::from(value.to_string()),
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
    if let Some(filter) = (error.kind() == ErrorKind::UnknownFilter)
        .then(|| {
            error
                .detail()
                .and_then(|d| d.strip_prefix("filter ")?.strip_suffix(" is unknown"))
        })
        .flatten()
    {
        return PromptError {
            message: format!("there is no filter `{filter}`"),
            about: PromptFault::Filter(filter.to_owned()),
        };
    }
    let detail = error
        .detail()
        .map_or_else(|| error.kind().to_string(), str::to_owned);
    let of_unit = std::error::Error::source(error).and_then(|s| s.downcast_ref::<UnitFault>());
    PromptError {
        message: detail,
        about: match of_unit {
            Some(fault) => fault.0.clone(),
            None if error.kind() == ErrorKind::SyntaxError => PromptFault::Syntax,
            None => PromptFault::Other,
        },
    }
}

/// The bytes of the longest `{{ … }}` or `{% … %}`.
fn longest_code(template: &str) -> usize {
    let mut longest = 0;
    let mut rest = template;
    while let Some(start) = ["{{", "{%"].iter().filter_map(|open| rest.find(open)).min() {
        let code = &rest[start + 2..];
        let end = end_of_code(code.as_bytes());
        longest = longest.max(end);
        rest = &code[end..];
    }
    longest
}

/// Where code ends: at a bracket that closes it and does not stand in quotes.
fn end_of_code(code: &[u8]) -> usize {
    let (mut at, mut quote) = (0, None);
    while at < code.len() {
        match (code[at], quote) {
            (b'\\', Some(_)) => at += 1,
            (byte, Some(open)) if byte == open => quote = None,
            (byte @ (b'"' | b'\''), None) => quote = Some(byte),
            (b'}' | b'%', None) if code.get(at + 1) == Some(&b'}') => return at,
            _ => {}
        }
        at += 1;
    }
    code.len()
}

fn bounded(template: &str) -> Result<(), PromptError> {
    let message = if template.len() > MAX_LENGTH {
        format!("a sentence with values in it has at most {MAX_LENGTH} bytes")
    } else if longest_code(template) > MAX_CODE {
        format!("`{{{{ … }}}}` has at most {MAX_CODE} bytes")
    } else {
        return Ok(());
    };
    Err(PromptError {
        message,
        about: PromptFault::Syntax,
    })
}

/// The dotted names that a template uses.
///
/// # Errors
/// Text that is no template.
pub fn prompt_names(template: &str) -> Result<Vec<String>, PromptError> {
    if !template.contains('{') {
        return Ok(Vec::new());
    }
    bounded(template)?;
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
