//! Stored answers for an unattended session.
//!
//! Never in here: the walk. Changes when an answers file gets a key.

use std::collections::HashMap;

use crate::engine::Question;
use crate::plan::{Item, Plan, Section, Then, Verb};
use crate::recipe::cursor::At;
use crate::recipe::schema::{Form, faults, nearest};
use crate::recipe::yaml::Document;
use crate::text::{Code, Finding, Source};

use super::session::Session;

/// A correction to be made at the end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredFix {
    /// The step.
    pub path: String,
    /// Which reading, from 1.
    pub reading: usize,
    /// The right entry.
    pub to: String,
    /// Why.
    pub why: String,
}

/// Answers by the path of the step.
#[derive(Clone, Debug, Default)]
pub struct Answers {
    /// Whether yes/no and `tell` steps without an answer of their own are answered with yes.
    pub confirm_all: bool,
    /// The texts, in the order in which they are asked for.
    pub answers: HashMap<String, Vec<String>>,
    /// The file's name, for messages.
    pub file: String,
    /// The places of the answers, for messages.
    pub places: HashMap<String, String>,
    /// Corrections to be made at the end.
    pub corrections: Vec<StoredFix>,
}

/// What stored answers have for a question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Given {
    /// An entry.
    Text(String),
    /// The step is passed over; the reason may be empty where none is needed.
    Skip(String),
    /// Nothing.
    Missing,
}

impl Answers {
    /// What is entered next. What was given already is told from the session, so that a resumed one goes on where it stood.
    #[must_use]
    pub fn entry(&self, question: &Question<'_>, session: &Session<'_>) -> Given {
        let item = question.item;
        let given = session.state.items[question.index].readings.len();
        let stored = self.answers.get(&item.path);
        if let Some(text) = stored.and_then(|texts| texts.get(given)) {
            return Given::Text(text.clone());
        }
        let yes = matches!(item.verb, Verb::Tell | Verb::Confirm);
        match stored {
            None if yes && self.confirm_all && given == 0 => Given::Text("yes".to_owned()),
            // What must hold before the first step is asked again until it does.
            _ if question.attempt > 1 && item.section == Section::Setup => {
                mended(stored, question, session).map_or(Given::Missing, Given::Text)
            }
            // A retry that has no answers is not taken.
            _ if question.attempt > 1 && question.reading == 1 => {
                Given::Skip("no further attempt in the stored answers".to_owned())
            }
            None if item.optional => Given::Skip(String::new()),
            _ => Given::Missing,
        }
    }

    /// The next correction that was not made yet.
    #[must_use]
    pub fn next_fix(&self, session: &Session<'_>) -> Option<&StoredFix> {
        let made = |fix: &StoredFix| {
            let index = session.plan.items.iter().position(|i| i.path == fix.path);
            let corrections = index.map(|i| &session.state.items[i].corrections);
            let mut those = corrections.into_iter().flatten();
            those.any(|c| c.reading == fix.reading && c.why == fix.why.trim())
        };
        self.corrections.iter().find(|fix| !made(fix))
    }
}

/// The stored answer of a setup step that did not hold, where it is another one than what was given last: the file was
/// mended, or somebody else answered before.
fn mended(
    stored: Option<&Vec<String>>,
    question: &Question<'_>,
    session: &Session<'_>,
) -> Option<String> {
    let texts = stored?;
    let last = texts.get(texts.len().checked_sub(question.readings)?..)?;
    let given = &session.state.items[question.index].readings;
    let before = (question.attempt - 2) * question.readings;
    let given = given.get(before..before + question.readings)?;
    let same = given
        .iter()
        .map(|r| r.text.as_str())
        .eq(last.iter().map(|t| t.trim()));
    (!same).then(|| last[question.reading - 1].clone())
}

/// Checks the shape of an answers file; whether the answers fit is told when they meet their recipe.
pub(super) fn check_answers(source: Source) -> Vec<Finding> {
    match Document::read(source) {
        Ok(document) => faults(&document, Form::Answers),
        Err(findings) => findings,
    }
}

/// Reads an answers file and holds it against the plan.
///
/// # Errors
/// A file with faults; an answer that fits no step.
pub fn read_answers(source: Source, plan: &Plan) -> Result<Answers, Vec<Finding>> {
    let document = Document::read(source)?;
    let mut findings = faults(&document, Form::Answers);
    let root = At::root(&document);
    let known: HashMap<&str, &Item> = plan.items.iter().map(|i| (i.path.as_str(), i)).collect();
    let mut answers = Answers {
        file: document.source.name.to_string(),
        confirm_all: root.text_of("confirm").as_deref() == Some("all"),
        ..Answers::default()
    };
    for (path, at) in root.get("answers").iter().flat_map(At::entries) {
        match known.get(path) {
            Some(item) if !matches!(item.verb.word(), "compute" | "judge") => {}
            Some(item) => {
                let message = format!(
                    "the step `{path}` is a `{}`: it asks for nothing",
                    item.verb.word()
                );
                findings.push(at.finding_at_key(Code::UnknownName, message, "remove the answer"));
            }
            None => {
                let help = match nearest(path, known.keys().copied()) {
                    Some(near) => format!("the nearest path is `{near}`"),
                    None => {
                        "paths look like `accuracy.2.delivered`, rows counted from 1".to_owned()
                    }
                };
                findings.push(at.finding_at_key(
                    Code::UnknownName,
                    format!("no step has the path `{path}`"),
                    help,
                ));
            }
        }
        let texts: Vec<String> = if at.value.is_array() {
            at.items().filter_map(|i| i.text()).collect()
        } else {
            at.text().into_iter().collect()
        };
        // A step that was not filled in counts as missing.
        if at.value.is_null() {
            continue;
        }
        let place = document.source.place(at.span().start);
        answers.places.insert(
            path.to_owned(),
            format!("{}:{}:{}", document.source.name, place.line, place.column),
        );
        if let Some(most) = known
            .get(path)
            .and_then(|item| most_entries(item))
            .filter(|most| texts.len() > *most)
        {
            let message = format!(
                "`{path}` has {} answers, but takes at most {most}",
                texts.len()
            );
            findings.push(at.finding(
                Code::WrongValue,
                message,
                "give the repeats, then those of each retry that the recipe allows",
            ));
        }
        answers.answers.insert(path.to_owned(), texts);
    }
    for at in root.get("corrections").iter().flat_map(At::items) {
        let path = at.text_of("step").unwrap_or_default();
        if !known.contains_key(path.as_str()) {
            let place = at.get("step").unwrap_or_else(|| at.clone());
            findings.push(place.finding(
                Code::UnknownName,
                format!("no step has the path `{path}`"),
                "name the step whose entry is to be corrected",
            ));
        }
        answers.corrections.push(StoredFix {
            path,
            reading: at.get("reading").and_then(|r| r.whole()).unwrap_or(1) as usize,
            to: at.text_of("to").unwrap_or_default(),
            why: at.text_of("why").unwrap_or_default(),
        });
    }
    if findings.is_empty() {
        Ok(answers)
    } else {
        Err(findings)
    }
}

/// How many entries a step can take in all; nothing where it is asked until it holds.
fn most_entries(item: &Item) -> Option<usize> {
    let attempts = usize::try_from(item.on_fail.retries)
        .unwrap_or(usize::MAX)
        .saturating_add(1);
    (item.on_fail.then != Then::AskAgain).then(|| item.verb.entries().saturating_mul(attempts))
}
