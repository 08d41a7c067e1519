//! The steps of a recipe as written: what a document says, before names and kinds are checked.
//!
//! Never in here: what names mean. Changes when a key is added to the language.

use std::collections::BTreeSet;
use std::ops::Bound;

use crate::text::{Code, Finding};

use super::cursor::At;

/// The verbs and the keys that go with each of them only.
const VERBS: [(&str, &[&str]); 14] = [
    ("tell", &[]),
    ("confirm", &[]),
    ("choose", &["options"]),
    ("enter", &["pattern"]),
    ("count", &["with", "repeat", "range"]),
    (
        "measure",
        &["unit", "with", "repeat", "range", "resolution"],
    ),
    ("time", &["with", "repeat", "range"]),
    ("trace", &["columns", "with", "file"]),
    ("compute", &["unit"]),
    ("judge", &[]),
    ("group", &["steps", "settings"]),
    ("each", &["in", "steps"]),
    ("use", &["settings"]),
    ("steps", &[]),
];

/// All keys that go with some verb.
const COMPANIONS: [&str; 12] = [
    "options",
    "pattern",
    "with",
    "repeat",
    "range",
    "unit",
    "resolution",
    "columns",
    "file",
    "in",
    "steps",
    "settings",
];

/// Whether a key is a verb.
pub fn is_verb(key: &str) -> bool {
    VERBS[..13].iter().any(|(verb, _)| *verb == key)
}

/// A step as written.
#[derive(Clone, Debug)]
pub struct Written<'d> {
    /// The whole step.
    pub at: At<'d>,
    /// Its id; empty where it has none.
    pub id: String,
    /// The verb with its value; nothing where there is none or more than one.
    pub verb: Option<(&'static str, At<'d>)>,
    /// The steps inside it.
    pub steps: Vec<Self>,
    /// Whether its shape has a fault, so that nothing more is said about what may follow from it.
    pub faulty: bool,
    /// Whether such a fault lies where it is said what the step's value is.
    pub unsure: bool,
}

/// Reads the steps of a list.
pub fn steps<'d>(
    list: &At<'d>,
    faulty: &BTreeSet<String>,
    findings: &mut Vec<Finding>,
) -> Vec<Written<'d>> {
    list.items()
        .filter(|i| i.value.is_object())
        .map(|at| step(at, faulty, findings))
        .collect()
}

fn step<'d>(at: At<'d>, faulty: &BTreeSet<String>, findings: &mut Vec<Finding>) -> Written<'d> {
    let id = at.text_of("id").unwrap_or_default();
    let faulty_here = is_faulty(&at.pointer, faulty);
    let unsure = is_unsure(&at.pointer, faulty);
    let mut verbs: Vec<(&'static str, At<'d>)> = own_verbs(&at)
        .into_iter()
        .map(|verb| (verb, at.down_to(verb)))
        .collect();
    let name = || match &*id {
        "" => "this step".to_owned(),
        id => format!("step `{id}`"),
    };
    if verbs.len() > 1 {
        let both = format!("`{}` and `{}`", verbs[0].0, verbs[1].0);
        findings.push(verbs[1].1.finding_at_key(
            Code::SeveralVerbs,
            format!("{} has more than one verb: {both}", name()),
            "one step does one thing; make two steps of it",
        ));
        verbs.clear();
    } else if verbs.is_empty() && !faulty_here {
        let help = "give it a verb: tell, confirm, choose, enter, count, measure, time, compute, judge, group, each or use";
        findings.push(at.document.finding_at(
            Code::NoVerb,
            &at.pointer,
            start(&at),
            format!("{} says nothing to do", name()),
            help.to_owned(),
        ));
    }
    let verb = verbs.pop();
    let steps = at
        .get("steps")
        .map(|list| self::steps(&list, faulty, findings))
        .unwrap_or_default();
    let written = Written {
        at,
        id,
        verb,
        steps,
        faulty: faulty_here,
        unsure,
    };
    companions(&written, findings);
    written
}

/// The keys of a step, in the order in which they are written.
fn keys_of<'d>(step: &At<'d>) -> impl Iterator<Item = &'d str> {
    let map = step.value.as_object();
    map.into_iter().flat_map(|m| m.keys().map(String::as_str))
}

/// The verbs of a step that have a value, in the order of the verbs.
fn own_verbs(step: &At<'_>) -> Vec<&'static str> {
    let place = |key| VERBS[..13].iter().position(|(verb, _)| *verb == key);
    let mut places: Vec<usize> = keys_of(step).filter_map(place).collect();
    places.sort_unstable();
    let verbs = places.into_iter().map(|at| VERBS[at].0);
    verbs.filter(|verb| step.has(verb)).collect()
}

/// Whether no fault lies in a step or below it, as nearly always.
fn has_none(step: &str, faulty: &BTreeSet<String>) -> bool {
    let from = (Bound::Included(step), Bound::Unbounded);
    let first = faulty.range::<str, _>(from).next();
    first.is_none_or(|fault| !fault.starts_with(step))
}

/// Whether a step has a fault of its own, beside those of the steps inside it. The places are sorted, and `0` follows `/`.
fn is_faulty(step: &str, faulty: &BTreeSet<String>) -> bool {
    if has_none(step, faulty) {
        return false;
    }
    let any = |from: String, to: String| faulty.range(from..to).next().is_some();
    faulty.contains(step)
        || any(format!("{step}/"), format!("{step}/steps/"))
        || any(format!("{step}/steps0"), format!("{step}0"))
}

/// Whether a fault lies at a key on which the type of a step's value depends.
fn is_unsure(step: &str, faulty: &BTreeSet<String>) -> bool {
    if has_none(step, faulty) {
        return false;
    }
    let any = |key: &str| {
        let (from, to) = (format!("{step}/{key}"), format!("{step}/{key}0"));
        faulty.contains(&from) || faulty.range(format!("{from}/")..to).next().is_some()
    };
    let verbs = VERBS[..13].iter().map(|(verb, _)| *verb);
    verbs
        .chain(["unit", "repeat", "options", "columns"])
        .any(any)
}

/// Reports keys that don't go with the verb, and keys that the verb needs.
fn companions(step: &Written<'_>, findings: &mut Vec<Finding>) {
    let Some((verb, value)) = &step.verb else {
        return;
    };
    let own = VERBS
        .iter()
        .find(|(v, _)| v == verb)
        .map(|(_, keys)| *keys)
        .unwrap_or_default();
    let is_extra = |key: &&str| COMPANIONS.contains(key) && !own.contains(key);
    for key in keys_of(&step.at).filter(is_extra) {
        if let Some(extra) = step.at.get(key) {
            let help = format!("remove `{key}`, or use a verb that takes it");
            findings.push(extra.finding_at_key(
                Code::MisplacedKey,
                format!("`{key}` does not go with `{verb}`"),
                help,
            ));
        }
    }
    let needed: &[&str] = match *verb {
        "choose" => &["options"],
        "measure" => &["unit"],
        "group" => &["steps"],
        "each" => &["in", "steps"],
        "judge" => &["accept"],
        _ => &[],
    };
    for key in needed {
        if !step.faulty && !step.at.has(key) {
            findings.push(value.finding_at_key(
                Code::MissingKey,
                format!("`{verb}` needs `{key}`"),
                format!("add `{key}:` to the step"),
            ));
        }
    }
}

/// The first character of a mapping.
pub fn start(at: &At<'_>) -> crate::text::Span {
    let span = at.span();
    crate::text::Span {
        start: span.start,
        end: (span.start + 1).min(span.end.max(span.start)),
    }
}
