//! `outline`: the effective procedure as it is written, with where each part of it comes from.
//!
//! Never in here: how it is printed. Changes when an outline tells more of a step.

use std::path::Path;

use crate::host::Host;
use crate::plan::Plan;
use crate::recipe::Whole;
use crate::recipe::cursor::At;
use crate::text::{Finding, Severity};

use super::AppError;
use super::shelf::read_recipe;

/// A procedure, step by step.
#[derive(Clone, Debug, Default)]
pub struct Outline {
    /// Title of the recipe.
    pub title: String,
    /// Its id and revision.
    pub name: String,
    /// What it rests on, in words.
    pub rests_on: Vec<String>,
    /// What was changed of its base, in words.
    pub edits: Vec<String>,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// The constants: name, value, where it is said.
    pub settings: Vec<[String; 3]>,
    /// Steps that must hold before the first one.
    pub setup: Vec<OutlinedStep>,
    /// The steps.
    pub steps: Vec<OutlinedStep>,
    /// Errors of the recipe: it can't be run as it is.
    pub errors: Vec<Finding>,
}

/// A step of an outline.
#[derive(Clone, Debug, Default)]
pub struct OutlinedStep {
    /// Its path.
    pub path: String,
    /// How many groups are around it.
    pub depth: usize,
    /// Its verb.
    pub verb: String,
    /// Its title, or the heading of a group.
    pub title: String,
    /// What is said to the technician, or computed.
    pub said: String,
    /// The condition under which it applies.
    pub when: String,
    /// What must hold.
    pub accept: Vec<String>,
    /// Where it comes from: a recipe with its revision; nothing where the recipe rests on no other.
    pub from: String,
}

/// The verbs.
const VERBS: [&str; 12] = [
    "tell", "confirm", "choose", "enter", "count", "measure", "time", "trace", "compute", "judge",
    "group", "each",
];

/// Outlines the recipe in a file.
///
/// # Errors
/// Those of the system; a recipe that can't be put together.
pub fn outline(host: &dyn Host, path: &Path) -> Result<Outline, AppError> {
    let reading = read_recipe(host, path)?;
    let Some(whole) = &reading.whole else {
        return Err(AppError::Findings(reading.findings));
    };
    let root = At::root(&whole.document);
    let texts = |key: &str| {
        let list = root.get(key);
        list.iter()
            .flat_map(At::items)
            .filter_map(|i| i.text())
            .collect()
    };
    let mut outline = Outline {
        title: root.text_of("title").unwrap_or_default(),
        name: whole.name.to_string(),
        rests_on: whole.rests_on.iter().map(|(how, _)| how.clone()).collect(),
        edits: whole.edits.clone(),
        cautions: texts("cautions"),
        settings: settings(whole, &root),
        ..Outline::default()
    };
    if outline.rests_on.is_empty() {
        (outline.rests_on, outline.edits) = written_out(&whole.document.source.text);
    }
    for (list, into) in [("setup", &mut outline.setup), ("steps", &mut outline.steps)] {
        if let Some(list) = root.get(list) {
            steps(whole, &list, ("", 0), into);
        }
    }
    let is_error = |f: &Finding| f.severity() == Severity::Error;
    outline.errors = reading.findings.into_iter().filter(is_error).collect();
    Ok(outline)
}

/// What the top of an effective text says of what it was made from, and of its edits. Steps don't carry it there.
fn written_out(text: &str) -> (Vec<String>, Vec<String>) {
    let mut lines = text.lines();
    let first = lines.next().unwrap_or_default();
    if !(first.starts_with("# ") && first.contains(" written out as one recipe.")) {
        return (Vec::new(), Vec::new());
    }
    let remarks = lines.map_while(|line| line.strip_prefix("#   "));
    let (sources, edits): (Vec<&str>, Vec<&str>) = remarks.partition(|r| r.contains(" sha256:"));
    let named = sources
        .iter()
        .map(|s| s.split(" sha256:").next().unwrap_or(s));
    let mut rests_on: Vec<String> = named.map(str::to_owned).collect();
    rests_on.push("an approved text does not say which step comes from which".to_owned());
    (rests_on, edits.into_iter().map(str::to_owned).collect())
}

/// The procedure in a file, with its rows written out.
///
/// # Errors
/// Those of the system; a recipe with errors.
pub fn procedure(host: &dyn Host, path: &Path) -> Result<Plan, AppError> {
    let reading = read_recipe(host, path)?;
    reading.plan.ok_or(AppError::Findings(reading.findings))
}

/// Where a part comes from; nothing where that goes without saying.
fn from(whole: &Whole, pointer: &str) -> String {
    if whole.rests_on.is_empty() {
        return String::new();
    }
    let (name, mark) = whole.stands_in(pointer);
    match mark {
        Some(mark) => format!("{name}, {mark}"),
        None => name.to_string(),
    }
}

fn settings(whole: &Whole, at: &At<'_>) -> Vec<[String; 3]> {
    let settings = at.get("settings");
    let all = settings.iter().flat_map(At::entries);
    let one = |(name, at): (&str, At<'_>)| {
        let value = at.text().unwrap_or_default();
        [name.to_owned(), value, from(whole, &at.pointer)]
    };
    all.map(one).collect()
}

fn steps(
    whole: &Whole,
    list: &At<'_>,
    (around, depth): (&str, usize),
    into: &mut Vec<OutlinedStep>,
) {
    for at in list.items() {
        let id = at.text_of("id").unwrap_or_default();
        let path = match around {
            "" => id,
            around => format!("{around}.{id}"),
        };
        let verb = VERBS.into_iter().find(|verb| at.get(verb).is_some());
        let verb = verb.unwrap_or_default();
        let value = at.text_of(verb).unwrap_or_default();
        let title = at.text_of("title");
        let (title, said) = match verb {
            "group" => (title.unwrap_or(value), String::new()),
            "each" => (title.unwrap_or_default(), rows(&at, &value)),
            _ => (title.unwrap_or_default(), said(&at, value)),
        };
        let mut step = OutlinedStep {
            path: path.clone(),
            depth,
            verb: verb.to_owned(),
            title,
            said,
            when: at.text_of("when").unwrap_or_default(),
            accept: accept(&at),
            from: from(whole, &at.pointer),
        };
        let own: Vec<String> = settings(whole, &at)
            .into_iter()
            .map(|[name, value, _]| format!("{name} = {value}"))
            .collect();
        if !own.is_empty() {
            step.said = own.join("; ");
        }
        into.push(step);
        if let Some(inside) = at.get("steps") {
            steps(whole, &inside, (&path, depth + 1), into);
        }
    }
}

/// The sentence with what is asked for.
fn said(at: &At<'_>, sentence: String) -> String {
    let asked = [("unit", "in "), ("repeat", "repeat ")];
    let asked = asked
        .into_iter()
        .filter_map(|(key, word)| Some(format!("{word}{}", at.text_of(key)?)));
    let options = at.get("options").map(|o| {
        let words: Vec<String> = o.items().filter_map(|i| i.text()).collect();
        words.join(" / ")
    });
    let with = at.text_of("with").map(|role| format!("with {role}"));
    let beside: Vec<String> = asked.chain(options).chain(with).collect();
    match beside.is_empty() {
        true => sentence,
        false => format!("{sentence} ({})", beside.join(", ")),
    }
}

/// The rows of an `each`.
fn rows(at: &At<'_>, row: &str) -> String {
    let rows = at.get("in");
    let fields = |row: At<'_>| {
        let all: Vec<String> = row.entries().filter_map(|(_, v)| v.text()).collect();
        all.join(", ")
    };
    let rows: Vec<String> = rows.iter().flat_map(At::items).map(fields).collect();
    format!("for each {row}: {}", rows.join("; "))
}

/// What must hold, each with its basis and severity.
fn accept(at: &At<'_>) -> Vec<String> {
    let Some(accept) = at.get("accept") else {
        return Vec::new();
    };
    let all: Vec<At<'_>> = match accept.value.is_array() {
        true => accept.items().collect(),
        false => vec![accept],
    };
    let one = |criterion: At<'_>| {
        let part = |key: &str| criterion.text_of(key).or_else(|| at.text_of(key));
        let that = criterion.text_of("that").or_else(|| criterion.text())?;
        let beside: Vec<String> = [part("basis"), part("severity")]
            .into_iter()
            .flatten()
            .collect();
        Some(match beside.is_empty() {
            true => that,
            false => format!("{that} ({})", beside.join(", ")),
        })
    };
    all.into_iter().filter_map(one).collect()
}
