//! The JSON schemas of what is written by hand, and their faults as findings.
//!
//! Never in here: what a schema can't say. Changes when the wording of a shape's fault does.

use std::sync::OnceLock;

use jsonschema::Validator;
use jsonschema::error::ValidationErrorKind;
use serde_json::Value;

use crate::text::{Code, Finding};

use super::yaml::{Document, escape};

/// A kind of file that is written by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A recipe.
    Recipe,
    /// `shop.yaml`
    Shop,
    /// `instruments.yaml`
    Instruments,
    /// `people.yaml`
    People,
    /// An answers file.
    Answers,
}

impl Form {
    /// The schema's text.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Recipe => include_str!("../../schema/recipe.schema.json"),
            Self::Shop => include_str!("../../schema/shop.schema.json"),
            Self::Instruments => include_str!("../../schema/instruments.schema.json"),
            Self::People => include_str!("../../schema/people.schema.json"),
            Self::Answers => include_str!("../../schema/answers.schema.json"),
        }
    }

    fn validator(self) -> &'static Validator {
        static COMPILED: [OnceLock<Validator>; 5] = [const { OnceLock::new() }; 5];
        COMPILED[self as usize].get_or_init(|| {
            let schema: Value = serde_json::from_str(self.text()).expect("the schemas are JSON");
            jsonschema::validator_for(&schema).expect("the schemas are schemas")
        })
    }
}

/// The faults of a document's shape, each at its place.
#[must_use]
pub fn faults(document: &Document, form: Form) -> Vec<Finding> {
    let mut findings: Vec<Finding> = Vec::new();
    for error in form.validator().iter_errors(&document.root) {
        for finding in as_findings(document, &error) {
            if !findings
                .iter()
                .any(|f| f.span == finding.span && f.code == finding.code)
            {
                findings.push(finding);
            }
        }
    }
    findings
}

fn as_findings(document: &Document, error: &jsonschema::ValidationError<'_>) -> Vec<Finding> {
    let pointer = error.instance_path().to_string();
    let name = pointer.rsplit('/').next().unwrap_or_default();
    let named = if pointer.is_empty() {
        "the file".to_owned()
    } else {
        format!("`{}`", name.replace("~1", "/"))
    };
    match error.kind() {
        ValidationErrorKind::AdditionalProperties { unexpected }
        | ValidationErrorKind::UnevaluatedProperties { unexpected } => unexpected
            .iter()
            .map(|key| unknown_key(document, &pointer, key))
            .collect(),
        ValidationErrorKind::Required { property } => {
            let key = property.as_str().unwrap_or_default();
            let span = start_of(document, &pointer);
            let help = format!("add `{key}:`");
            vec![document.finding_at(
                Code::MissingKey,
                &pointer,
                span,
                format!("`{key}` is missing"),
                help,
            )]
        }
        ValidationErrorKind::AnyOf { .. } | ValidationErrorKind::OneOfNotValid { .. } => {
            let message = format!("{named} has a form that is not taken here");
            vec![document.finding(Code::WrongValue, &pointer, message, expectation(error))]
        }
        ValidationErrorKind::PropertyNames { error: inner } => {
            let key = inner.instance().as_str().unwrap_or_default().to_owned();
            let at = format!("{pointer}/{}", escape(&key));
            let message = format!("`{key}` is not a name");
            let help = "a name begins with a small letter and has small letters, digits and `_`"
                .to_owned();
            vec![document.finding_at(Code::WrongValue, &at, document.key_span(&at), message, help)]
        }
        _ => {
            let message = format!("{named}: {}", error.masked_with("this value"));
            vec![document.finding(
                Code::WrongValue,
                &pointer,
                message.replace('"', "`"),
                expectation(error),
            )]
        }
    }
}

/// Only the first character of a mapping: the whole of it would mark many lines.
fn start_of(document: &Document, pointer: &str) -> crate::text::Span {
    let span = document.span(pointer);
    crate::text::Span {
        start: span.start,
        end: (span.start + 1).min(span.end.max(span.start)),
    }
}

fn unknown_key(document: &Document, pointer: &str, key: &str) -> Finding {
    let at = format!("{pointer}/{}", escape(key));
    let near = nearest_key(key);
    let help = near.map_or_else(
        || "remove it, or see the list of keys in the README".to_owned(),
        |n| format!("the nearest known key is `{n}`"),
    );
    document.finding_at(
        Code::UnknownKey,
        &at,
        document.key_span(&at),
        format!("unknown key `{key}`"),
        help,
    )
}

/// The known key that is spelled most alike, among all keys of the recipe schema.
fn nearest_key(key: &str) -> Option<String> {
    static KEYS: OnceLock<Vec<String>> = OnceLock::new();
    let keys = KEYS.get_or_init(|| {
        let mut keys = Vec::new();
        for form in [
            Form::Recipe,
            Form::Shop,
            Form::Instruments,
            Form::People,
            Form::Answers,
        ] {
            let schema: Value = serde_json::from_str(form.text()).expect("the schemas are JSON");
            collect(&schema, &mut keys);
        }
        keys
    });
    // The key itself may be known elsewhere; here it is not.
    nearest(key, keys.iter().map(String::as_str).filter(|k| *k != key)).map(str::to_owned)
}

fn collect(schema: &Value, keys: &mut Vec<String>) {
    match schema {
        Value::Object(map) => {
            if let Some(Value::Object(properties)) = map.get("properties") {
                keys.extend(properties.keys().cloned());
            }
            map.values().for_each(|v| collect(v, keys));
        }
        Value::Array(items) => items.iter().for_each(|v| collect(v, keys)),
        _ => {}
    }
}

fn expectation(error: &jsonschema::ValidationError<'_>) -> String {
    match error.kind() {
        ValidationErrorKind::Enum { options } => {
            format!("one of {}", options.to_string().replace('"', "`"))
        }
        ValidationErrorKind::Constant { expected_value } => format!("write {expected_value}"),
        ValidationErrorKind::Pattern { pattern } if pattern.contains("(-") => {
            "small letters, digits and single hyphens".to_owned()
        }
        ValidationErrorKind::Pattern { pattern } if pattern.starts_with("^[a-z]") => {
            "begin with a small letter; small letters, digits and `_`".to_owned()
        }
        _ => "see the description of the key in the schema".to_owned(),
    }
}

/// The nearest of several names, if one is near enough to be meant.
pub fn nearest<'a>(name: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let limit = name.chars().count().div_ceil(3).max(1);
    let scored = candidates.map(|c| (strsim::damerau_levenshtein(name, c), c));
    scored
        .min_by_key(|(distance, c)| (*distance, c.len()))
        .filter(|(distance, _)| *distance <= limit)
        .map(|(_, c)| c)
}
