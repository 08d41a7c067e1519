//! `outline`: the effective procedure as it is written, with where each part of it comes from.
//!
//! Never in here: how it is printed. Changes when an outline tells more of a step.

use std::path::Path;

use crate::host::Host;
use crate::plan::{CriterionSeverity, Plan};
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
    /// What it is for, what it is decided by and what it needs: a label with its words.
    pub terms: Vec<(String, String)>,
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
    /// Where limits come from: key, words, where it is said.
    pub bases: Vec<[String; 3]>,
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
    /// What must hold, each with its severity and basis.
    pub accept: Vec<String>,
    /// What happens where it does not hold.
    pub if_not: String,
    /// What can hurt.
    pub caution: String,
    /// What else is said of it: a label with its words.
    pub beside: Vec<(&'static str, String)>,
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
        terms: terms(&root),
        cautions: texts("cautions"),
        settings: named(whole, &root, "settings"),
        bases: named(whole, &root, "basis"),
        ..Outline::default()
    };
    if outline.rests_on.is_empty() {
        (outline.rests_on, outline.edits) = written_out(&whole.document.source.text);
    }
    for (key, into) in [("setup", &mut outline.setup), ("steps", &mut outline.steps)] {
        if let Some(list) = root.get(key) {
            let of = Reading {
                whole,
                in_setup: key == "setup",
            };
            of.steps(&list, ("", 0), into);
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

/// The texts below a key, by their names.
fn named(whole: &Whole, at: &At<'_>, key: &str) -> Vec<[String; 3]> {
    let texts = at.get(key);
    let all = texts.iter().flat_map(At::entries);
    let one = |(name, at): (&str, At<'_>)| {
        let value = at.text().unwrap_or_default();
        [name.to_owned(), value, from(whole, &at.pointer)]
    };
    all.map(one).collect()
}

/// What a procedure is for, what it is decided by, and what it needs.
fn terms(root: &At<'_>) -> Vec<(String, String)> {
    let listed = |at: &At<'_>, key: &str| {
        let list = at.get(key);
        let all: Vec<String> = list
            .iter()
            .flat_map(At::items)
            .filter_map(|i| i.text())
            .collect();
        (!all.is_empty()).then(|| all.join(", "))
    };
    let mut terms = Vec::new();
    let mut term = |label: &str, words: String| terms.push((label.to_owned(), words));
    if let Some(category) = root.text_of("category") {
        term("Category", category);
    }
    if let Some(applies) = root.get("applies_to") {
        let models = listed(&applies, "models").map(|models| format!("models {models}"));
        let all: Vec<String> = applies.text_of("maker").into_iter().chain(models).collect();
        term("Applies to", all.join(", "));
    }
    let decision = root.text_of("decision");
    term(
        "Decision rule",
        decision.unwrap_or_else(|| "the shop's".to_owned()),
    );
    let roles = root.get("instruments");
    for (name, role) in roles.iter().flat_map(At::entries) {
        let kind = role.text_of("kind").map(|kind| format!("kind {kind}"));
        let measures = listed(&role, "measures").map(|all| format!("measures {all}"));
        let all: Vec<String> = kind.into_iter().chain(measures).collect();
        term(&format!("Instrument: {name}"), all.join(", "));
    }
    terms
}

/// What steps are read with.
struct Reading<'a> {
    whole: &'a Whole,
    in_setup: bool,
}

impl Reading<'_> {
    fn steps(&self, list: &At<'_>, (around, depth): (&str, usize), into: &mut Vec<OutlinedStep>) {
        for at in list.items() {
            let id = at.text_of("id").unwrap_or_default();
            let path = match around {
                "" => id,
                around => format!("{around}.{id}"),
            };
            into.push(self.step(&at, path.clone(), depth));
            if let Some(inside) = at.get("steps") {
                self.steps(&inside, (&path, depth + 1), into);
            }
        }
    }

    fn step(&self, at: &At<'_>, path: String, depth: usize) -> OutlinedStep {
        let verb = VERBS.into_iter().find(|verb| at.get(verb).is_some());
        let verb = verb.unwrap_or_default();
        let value = at.text_of(verb).unwrap_or_default();
        let title = at.text_of("title");
        let (title, said) = match verb {
            "group" => (title.unwrap_or(value), String::new()),
            "each" => (title.unwrap_or_default(), rows(at, &value)),
            _ => (title.unwrap_or_default(), said(at, value)),
        };
        let own: Vec<String> = named(self.whole, at, "settings")
            .into_iter()
            .map(|[name, value, _]| format!("{name} = {value}"))
            .collect();
        let judged = criteria(at, verb);
        OutlinedStep {
            path,
            depth,
            verb: verb.to_owned(),
            title,
            said: if own.is_empty() { said } else { own.join("; ") },
            when: at.text_of("when").unwrap_or_default(),
            if_not: if_not(at, &judged, self.in_setup),
            accept: judged.into_iter().map(|c| c.told()).collect(),
            caution: at.text_of("caution").unwrap_or_default(),
            beside: beside(at),
            from: from(self.whole, &at.pointer),
        }
    }
}

/// What else is said of a step.
fn beside(at: &At<'_>) -> Vec<(&'static str, String)> {
    let range = at.get("range").map(|range| {
        let ends: Vec<String> = range.items().filter_map(|end| end.text()).collect();
        ends.join(" to ")
    });
    let is_set = |key: &str| at.get(key).is_some_and(|v| v.value.as_bool() == Some(true));
    let free = [
        ("optional", "may be skipped without a reason"),
        ("record_only", "for the record only"),
    ];
    let free: Vec<&str> = free
        .into_iter()
        .filter(|(key, _)| is_set(key))
        .map(|f| f.1)
        .collect();
    let free = (!free.is_empty()).then(|| free.join(", "));
    let all = [
        ("Plausible", range),
        ("Resolution", at.text_of("resolution")),
        ("Pattern", at.text_of("pattern")),
        ("Optional", free),
        (
            "After a stop",
            is_set("after_stop").then(|| "asked all the same".to_owned()),
        ),
        ("Why", at.text_of("why")),
        ("Help", at.text_of("help")),
        ("Picture", at.text_of("picture")),
    ];
    let said = |(label, words): (&'static str, Option<String>)| Some((label, words?));
    all.into_iter().filter_map(said).collect()
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
        let field = |(name, value): (&str, At<'_>)| Some(format!("{name} {}", value.text()?));
        let all: Vec<String> = row.entries().filter_map(field).collect();
        all.join(", ")
    };
    let rows: Vec<String> = rows.iter().flat_map(At::items).map(fields).collect();
    format!("for each {row}: {}", rows.join("; "))
}

/// What must hold.
struct Outlined {
    that: String,
    severity: CriterionSeverity,
    basis: Option<String>,
}

impl Outlined {
    /// In words; a severity that ends the work is not to be overlooked.
    fn told(self) -> String {
        let severity = match self.severity {
            CriterionSeverity::Critical => "CRITICAL",
            other => other.word(),
        };
        let basis = self.basis.map(|basis| format!("basis {basis}"));
        let beside: Vec<String> = std::iter::once(severity.to_owned()).chain(basis).collect();
        format!("{} ({})", self.that, beside.join(", "))
    }
}

/// What must hold of a step, that the answer is yes included.
fn criteria(at: &At<'_>, verb: &str) -> Vec<Outlined> {
    let outlined = |criterion: Option<&At<'_>>| {
        let part = |key: &str| {
            criterion
                .and_then(|c| c.text_of(key))
                .or_else(|| at.text_of(key))
        };
        let severity = part("severity").and_then(|word| CriterionSeverity::from_word(&word));
        Some(Outlined {
            that: match criterion {
                Some(criterion) => criterion.text_of("that").or_else(|| criterion.text())?,
                None => "the answer is yes".to_owned(),
            },
            severity: severity.unwrap_or(CriterionSeverity::Major),
            basis: part("basis"),
        })
    };
    match at.get("accept") {
        None if verb == "confirm" => outlined(None).into_iter().collect(),
        None => Vec::new(),
        Some(all) if all.value.is_array() => {
            all.items().filter_map(|c| outlined(Some(&c))).collect()
        }
        Some(one) => outlined(Some(&one)).into_iter().collect(),
    }
}

/// What happens where a step does not hold, also where the recipe leaves it to the default.
fn if_not(at: &At<'_>, judged: &[Outlined], in_setup: bool) -> String {
    if judged.is_empty() {
        return String::new();
    }
    let said = at.get("on_fail");
    let word = said
        .as_ref()
        .and_then(|s| s.text().or_else(|| s.text_of("then")));
    let critical = |c: &Outlined| c.severity == CriterionSeverity::Critical;
    let then = match word.as_deref() {
        Some("stop") => "the session ends",
        Some("continue") => "the session goes on",
        _ if in_setup => "asked again until it holds",
        _ if judged.iter().all(critical) => "the session ends",
        _ if judged.iter().any(critical) => "the session ends if a critical one fails",
        _ => "the session goes on",
    };
    match said.and_then(|s| s.get("retry")?.whole()) {
        None => then.to_owned(),
        Some(1) => format!("may be repeated once; then {then}"),
        Some(n) => format!("may be repeated {n} times; then {then}"),
    }
}
