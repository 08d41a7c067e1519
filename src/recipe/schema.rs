//! The JSON schemas of what is written by hand, and their faults as findings.
//!
//! Never in here: what a schema can't say. Changes when the wording of a shape's fault does.

use std::collections::HashSet;
use std::sync::OnceLock;

use jsonschema::Validator;
use jsonschema::error::ValidationErrorKind;
use serde_json::Value;

use crate::text::{Code, Finding};

use super::model::is_verb;
use super::yaml::{Document, escape};

/// Most mistyped keys that are read as the ones that were meant.
const MAX_MENDED: usize = 20;
/// Longest value that a message repeats, in bytes.
const MAX_SHOWN: usize = 40;

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
    /// `imports.yaml`
    Imports,
}

impl Form {
    /// The schema's text.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Recipe => include_str!("../../schema/recipe.schema.json"),
            Self::Shop => include_str!("../../schema/shop.schema.json"),
            Self::Instruments => include_str!("../../schema/instruments.schema.json"),
            Self::People => include_str!("../../schema/people.schema.json"),
            Self::Answers => include_str!("../../schema/answers.schema.json"),
            Self::Imports => include_str!("../../schema/imports.schema.json"),
        }
    }

    fn schema(self) -> &'static Value {
        static READ: [OnceLock<Value>; 6] = [const { OnceLock::new() }; 6];
        READ[self as usize]
            .get_or_init(|| serde_json::from_str(self.text()).expect("the schemas are JSON"))
    }

    fn validator(self) -> &'static Validator {
        static COMPILED: [OnceLock<Validator>; 6] = [const { OnceLock::new() }; 6];
        COMPILED[self as usize].get_or_init(|| {
            jsonschema::validator_for(self.schema()).expect("the schemas are schemas")
        })
    }
}

/// The faults of a document's shape, each at its place.
#[must_use]
pub fn faults(document: &Document, form: Form) -> Vec<Finding> {
    let mut seen = HashSet::new();
    let errors = form.validator().iter_errors(&document.root);
    let findings = errors.flat_map(|error| as_findings(document, form, &error));
    findings.filter(|f| seen.insert((f.span, f.code))).collect()
}

/// The faults of a document's shape. A mistyped key is read as the one that was meant, so that nothing follows from it.
pub fn faults_mending_keys(document: &mut Document, form: Form) -> Vec<Finding> {
    if form.validator().is_valid(&document.root) {
        return Vec::new();
    }
    let mut slips: Vec<(String, String, &'static str)> = Vec::new();
    for error in form.validator().iter_errors(&document.root) {
        if let ValidationErrorKind::AdditionalProperties { unexpected } = error.kind() {
            let here = error.instance().as_object();
            let known = keys_at(form, &error);
            let meant = unexpected.iter().filter_map(|key| {
                let near = meant(key, &known)?;
                here.filter(|keys| is_meant(keys, near))
                    .map(|_| (key.clone(), near))
            });
            let pointer = error.instance_path().to_string();
            slips.extend(meant.map(|(key, near)| (pointer.clone(), key, near)));
        }
        if slips.len() >= MAX_MENDED {
            break;
        }
    }
    if slips.is_empty() {
        return faults(document, form);
    }
    let told = slips
        .iter()
        .map(|(pointer, key, near)| unknown_key(document, pointer, key, &[near]));
    let mut findings: Vec<Finding> = told.collect();
    // The deepest first, so that pointers stay true.
    slips.sort_by_key(|(pointer, _, _)| std::cmp::Reverse(pointer.len()));
    for (pointer, key, near) in slips {
        document.rename(&pointer, &key, near);
    }
    findings.extend(faults(document, form));
    findings
}

/// The key that may have been meant: one that is spelled alike, or what other formats call otherwise.
fn meant(key: &str, known: &[&'static str]) -> Option<&'static str> {
    let elsewhere = (key == "name").then_some("id");
    let elsewhere = elsewhere.filter(|id| known.contains(id) && !known.contains(&key));
    nearest(key, known.iter().copied()).or(elsewhere)
}

/// Whether a key is what a decimal comma leaves of a number in a mapping in braces: `{limit: 3,5 mL}`.
pub fn is_rest_of_number(key: &str, value: &Value) -> bool {
    value.is_null() && key.starts_with(|c: char| c.is_ascii_digit())
}

/// Whether a key that is not there can be meant: a second verb is more likely to be a remark.
fn is_meant(keys: &serde_json::Map<String, Value>, near: &str) -> bool {
    let second_verb = is_verb(near) && keys.keys().any(|k| is_verb(k));
    !second_verb && !keys.contains_key(near)
}

/// The keys that a schema takes at the place of an error.
fn keys_at(form: Form, error: &jsonschema::ValidationError<'_>) -> Vec<&'static str> {
    let properties = parent_of(form, error).and_then(|schema| schema.get("properties"));
    let map = properties.and_then(Value::as_object);
    map.into_iter()
        .flatten()
        .map(|(key, _)| key.as_str())
        .collect()
}

/// The part of the schema that an error's keyword stands in.
fn parent_of(form: Form, error: &jsonschema::ValidationError<'_>) -> Option<&'static Value> {
    let path = error.schema_path().to_string();
    form.schema().pointer(&path[..path.rfind('/')?])
}

fn as_findings(
    document: &Document,
    form: Form,
    error: &jsonschema::ValidationError<'_>,
) -> Vec<Finding> {
    let pointer = error.instance_path().to_string();
    let named = called(document, &pointer);
    match error.kind() {
        ValidationErrorKind::AdditionalProperties { unexpected }
        | ValidationErrorKind::UnevaluatedProperties { unexpected } => unexpected
            .iter()
            .map(|key| unknown_key(document, &pointer, key, &keys_at(form, error)))
            .collect(),
        ValidationErrorKind::Required { property } => {
            let key = property.as_str().unwrap_or_default();
            let help = format!("add `{key}:`");
            if let Some(verb) = needing(form, error, key) {
                let at = format!("{pointer}/{verb}");
                let message = format!("`{verb}` needs `{key}`");
                return vec![document.finding_at(
                    Code::MissingKey,
                    &at,
                    document.key_span(&at),
                    message,
                    help,
                )];
            }
            let span = start_of(document, &pointer);
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
            vec![document.finding(
                Code::WrongValue,
                &pointer,
                message,
                expectation(form, error),
            )]
        }
        ValidationErrorKind::Type { .. }
            if is_rest_of_number(
                pointer.rsplit('/').next().unwrap_or_default(),
                error.instance(),
            ) && is_in_mapping(document, &pointer) =>
        {
            // Said of the key.
            Vec::new()
        }
        ValidationErrorKind::Type { .. } if error.instance().is_null() => {
            let message = format!("{named} has no value");
            let help = "write one, or remove the key".to_owned();
            vec![document.finding(Code::WrongValue, &pointer, message, help)]
        }
        ValidationErrorKind::UniqueItems => twice(document, &pointer, error.instance()),
        ValidationErrorKind::PropertyNames { error: inner } => {
            let key = inner.instance().as_str().unwrap_or_default().to_owned();
            let at = format!("{pointer}/{}", escape(&key));
            let message = format!("`{key}` is not a name");
            let rest = error.instance().get(&key);
            let help = if rest.is_some_and(|value| is_rest_of_number(&key, value)) {
                "recipes always use the decimal point; a comma begins the next key"
            } else {
                "a name begins with a small letter and has small letters, digits and `_`"
            };
            let help = help.to_owned();
            vec![document.finding_at(Code::WrongValue, &at, document.key_span(&at), message, help)]
        }
        ValidationErrorKind::Type { .. } if is_list_of_setting(form, error, &pointer) => {
            let message = format!("{named}: a setting is one quantity, not a list of them");
            let help = "write the list where it is used, as in `trumpet_high(log, rate, (\"2 min\", \"5 min\"))`";
            vec![document.finding(Code::WrongValue, &pointer, message, help.to_owned())]
        }
        ValidationErrorKind::Type { .. } => {
            let message = format!(
                "{named}: {} is not {}",
                shown(document, &pointer),
                wanted(form, error)
            );
            vec![document.finding(
                Code::WrongValue,
                &pointer,
                message,
                expectation(form, error),
            )]
        }
        ValidationErrorKind::Pattern { .. } => {
            let message = format!(
                "{named}: {} has another form than is taken here",
                shown(document, &pointer)
            );
            vec![document.finding(
                Code::WrongValue,
                &pointer,
                message,
                expectation(form, error),
            )]
        }
        _ => {
            let value = shown(document, &pointer);
            let message = format!("{named}: {}", error.masked_with(value));
            vec![document.finding(
                Code::WrongValue,
                &pointer,
                message.replace('"', "`"),
                expectation(form, error),
            )]
        }
    }
}

/// What a value is called: by its key, or by its number in a list.
fn called(document: &Document, pointer: &str) -> String {
    let Some((list, last)) = pointer.rsplit_once('/') else {
        return "the file".to_owned();
    };
    let is_list = document.root.pointer(list).is_some_and(Value::is_array);
    match last.parse::<usize>() {
        Ok(index) if is_list => {
            let key = list.rsplit('/').next().unwrap_or_default();
            format!("item {} of `{}`", index + 1, key.replace("~1", "/"))
        }
        _ => format!("`{}`", last.replace("~1", "/")),
    }
}

/// Whether a list stands for the value of a setting of a recipe.
fn is_list_of_setting(form: Form, error: &jsonschema::ValidationError<'_>, pointer: &str) -> bool {
    let key = pointer.strip_prefix("/settings/");
    let of_setting = key.is_some_and(|key| !key.contains('/'));
    form == Form::Recipe && of_setting && error.instance().is_array()
}

fn is_in_mapping(document: &Document, pointer: &str) -> bool {
    let parent = pointer.rsplit_once('/').map(|(parent, _)| parent);
    parent
        .and_then(|parent| document.root.pointer(parent))
        .is_some_and(Value::is_object)
}

/// The items of a list that stand in it before.
fn twice(document: &Document, pointer: &str, list: &Value) -> Vec<Finding> {
    let items = list.as_array().map(Vec::as_slice).unwrap_or_default();
    let mut seen = HashSet::new();
    let again = items
        .iter()
        .enumerate()
        .filter(|(_, item)| !seen.insert(item.to_string()));
    let key = pointer.rsplit('/').next().unwrap_or_default();
    again
        .take(MAX_MENDED)
        .map(|(index, _)| {
            let at = format!("{pointer}/{index}");
            let message = format!("{} stands twice in `{key}`", shown(document, &at));
            let help = "remove one of the two, or mend it".to_owned();
            document.finding(Code::WrongValue, &at, message, help)
        })
        .collect()
}

/// The verb that a missing key goes with.
fn needing(form: Form, error: &jsonschema::ValidationError<'_>, key: &str) -> Option<&'static str> {
    let path = error.schema_path().to_string();
    let end = path.find("/dependentRequired")? + "/dependentRequired".len();
    let needs = form.schema().pointer(&path[..end])?.as_object()?;
    let here = error.instance().as_object()?;
    let needs_key = |keys: &Value| {
        keys.as_array()
            .is_some_and(|keys| keys.iter().any(|k| k == key))
    };
    let verb = needs
        .iter()
        .find(|(verb, keys)| here.contains_key(*verb) && needs_key(keys));
    verb.map(|(verb, _)| verb.as_str())
}

/// A value as a message repeats it.
fn shown(document: &Document, pointer: &str) -> String {
    let text = document
        .scalar(pointer)
        .filter(|text| text.len() <= MAX_SHOWN);
    text.map_or_else(|| "this value".to_owned(), |text| format!("`{text}`"))
}

/// What a schema's `type` asks for, in words.
fn wanted(form: Form, error: &jsonschema::ValidationError<'_>) -> String {
    let types = form.schema().pointer(&error.schema_path().to_string());
    let words = match types {
        Some(Value::Array(types)) => types.iter().filter_map(Value::as_str).collect(),
        Some(Value::String(one)) => vec![one.as_str()],
        _ => Vec::new(),
    };
    let plain = words.into_iter().map(|word| match word {
        "integer" => "a whole number",
        "number" => "a number",
        "boolean" => "`true` or `false`",
        "array" => "a list",
        "object" => "a mapping",
        _ => "text",
    });
    plain.collect::<Vec<_>>().join(" or ")
}

/// Only the first character of a mapping: the whole of it would mark many lines.
fn start_of(document: &Document, pointer: &str) -> crate::text::Span {
    let span = document.span(pointer);
    crate::text::Span {
        start: span.start,
        end: (span.start + 1).min(span.end.max(span.start)),
    }
}

fn unknown_key(document: &Document, pointer: &str, key: &str, known: &[&str]) -> Finding {
    let at = format!("{pointer}/{}", escape(key));
    let help = match nearest(key, known.iter().copied()) {
        Some(near) => format!("the nearest known key is `{near}`"),
        None if (1..=8).contains(&known.len()) => {
            format!("remove it; the keys here are `{}`", known.join("`, `"))
        }
        None => "remove it, or see the list of keys in the README".to_owned(),
    };
    document.finding_at(
        Code::UnknownKey,
        &at,
        document.key_span(&at),
        format!("unknown key `{key}`"),
        help,
    )
}

/// What may stand there, in the schema's own words.
fn expectation(form: Form, error: &jsonschema::ValidationError<'_>) -> String {
    match error.kind() {
        ValidationErrorKind::Enum { options } => {
            let words: Vec<&str> = options
                .as_array()
                .into_iter()
                .flatten()
                .filter_map(Value::as_str)
                .collect();
            let typed = error.instance().as_str().unwrap_or_default();
            match nearest(typed, words.iter().copied()) {
                Some(near) => format!("the nearest word is `{near}`"),
                None if words == ["continue", "stop"] => {
                    "one of `continue`, `stop`, or what may be tried again: `{retry: 1, then: stop}`".to_owned()
                }
                None => format!("one of `{}`", words.join("`, `")),
            }
        }
        ValidationErrorKind::Constant { expected_value } => format!("write {expected_value}"),
        ValidationErrorKind::Pattern { pattern } if pattern.contains("@[") => {
            let typed = error.instance().as_str().unwrap_or_default();
            let id = typed.split('@').next().filter(|id| is_id(id));
            let id = id.unwrap_or("volumetric-annual");
            format!("write it with its revision, as in `{id}@3`")
        }
        ValidationErrorKind::Pattern { pattern } if pattern.contains("(-") => {
            "small letters, digits and single hyphens".to_owned()
        }
        ValidationErrorKind::Pattern { pattern } if pattern.starts_with("^[a-z]") => {
            "begin with a small letter; small letters, digits and `_`".to_owned()
        }
        _ => {
            let examples =
                parent_of(form, error).and_then(|schema| schema.get("examples")?.as_array());
            match examples.and_then(|list| list.first()) {
                Some(Value::String(text)) => format!("write it as in `{text}`"),
                Some(example) => format!("write it as in `{}`", in_one_line(example)),
                None => "see the description of the key in the schema".to_owned(),
            }
        }
    }
}

/// A value as an author writes it in one line.
fn in_one_line(value: &Value) -> String {
    match value {
        Value::String(text) if text.contains([',', ':', '{', '}', '[', ']', '#', '"']) => {
            format!("'{}'", text.replace('\'', "''"))
        }
        Value::String(text) => text.clone(),
        Value::Array(items) => {
            let items: Vec<String> = items.iter().map(in_one_line).collect();
            format!("[{}]", items.join(", "))
        }
        Value::Object(map) => {
            let one = |(key, value): (&String, &Value)| format!("{key}: {}", in_one_line(value));
            let entries: Vec<String> = map.iter().map(one).collect();
            format!("{{{}}}", entries.join(", "))
        }
        other => other.to_string(),
    }
}

/// Whether a text can be the id of a recipe.
fn is_id(text: &str) -> bool {
    let letters = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit();
    text.starts_with(|c: char| c.is_ascii_lowercase())
        && text
            .split('-')
            .all(|part| !part.is_empty() && part.chars().all(letters))
}

/// The nearest of several names, if one is near enough to be meant.
pub fn nearest<'a>(name: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let name = name.to_lowercase();
    let length = name.chars().count();
    // Every letter is as near to a letter by itself as any other.
    let limit = if length > 1 { (length / 3).max(1) } else { 0 };
    let candidates: Vec<&str> = candidates.collect();
    // A difference in length is a distance at least as great, and told faster.
    let like = candidates
        .iter()
        .filter(|c| c.chars().count().abs_diff(length) <= limit)
        .filter(|c| is_more_than_chance(&name, &c.to_lowercase()));
    let scored = like.map(|c| (strsim::damerau_levenshtein(&name, &c.to_lowercase()), *c));
    let near = scored
        .min_by_key(|(distance, c)| (*distance, c.len()))
        .filter(|(distance, _)| *distance <= limit)
        .map(|(_, c)| c);
    near.or_else(|| {
        let alike = candidates.iter().filter(|c| is_short_for(&name, c));
        alike.copied().min_by_key(|c| c.len())
    })
}

/// Whether a short name is more than by chance like another one: the same first letter, or the same letters.
fn is_more_than_chance(name: &str, candidate: &str) -> bool {
    let sorted = |text: &str| {
        let mut letters: Vec<char> = text.chars().collect();
        letters.sort_unstable();
        letters
    };
    match name.chars().count().min(candidate.chars().count()) {
        0 | 1 => name == candidate,
        2 => name.chars().next() == candidate.chars().next() || sorted(name) == sorted(candidate),
        _ => true,
    }
}

/// Whether a name is the beginning of another one, or has its words in another order.
fn is_short_for(name: &str, candidate: &str) -> bool {
    let words = |text: &str| {
        let mut words: Vec<String> = text.split(['_', '.', '-']).map(str::to_owned).collect();
        words.sort();
        words
    };
    let candidate = candidate.to_lowercase();
    (name.len() >= 3 && candidate.starts_with(name)) || words(name) == words(&candidate)
}
