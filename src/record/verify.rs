//! Verification: the seal, and everything that was computed, computed again from what was entered.
//!
//! Never in here: files (the attachments' bytes are handed in). Changes when a record rests on something new.

use serde_json::Value as Json;

use crate::engine::Event;
use crate::plan::Decision;
use crate::trust::{digest_bytes, digest_json};

use super::again::{Again, again};
use super::differ::{Differences, told};
use super::make::{body_digest, make, record_text};
use super::plans::Plans;
use super::wire::{RECORD_FORMAT, Record};

/// The version of this program, which words sentences as this version does.
const PROGRAM: &str = env!("CARGO_PKG_VERSION");

/// What a check came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the words of the contract")]
pub enum Answer {
    Ok,
    Bad,
    NotKnown,
}

impl Answer {
    /// The word that is printed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Bad => "bad",
            Self::NotKnown => "not known",
        }
    }
}

/// One check with its outcome.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// What was checked.
    pub what: &'static str,
    /// The outcome.
    pub answer: Answer,
    /// The reason.
    pub reason: String,
}

fn check(what: &'static str, answer: Answer, reason: impl Into<String>) -> Check {
    Check {
        what,
        answer,
        reason: reason.into(),
    }
}

/// Checks what a record says of itself. `attached` gives the bytes of an attachment by its digest, if they are at hand;
/// `plans` keeps recipes that were read.
///
/// # Errors
/// Text that is no record, or one of a newer format.
pub fn verify(
    text: &str,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    plans: &Plans,
) -> Result<(Record, Vec<Check>), String> {
    let form = Form::of(text)?;
    let record = &form.record;
    let mut checks = vec![
        seal(&form),
        recomputed(&form, attached, plans),
        recipe_digest(record),
        instruments(record),
    ];
    checks.push(attachments(record, attached));
    Ok((form.record, checks))
}

/// A record with the tree of its text, where the text says more than the record holds: keys that this version does not
/// know, or another layout.
struct Form {
    record: Record,
    tree: Option<Json>,
}

impl Form {
    fn of(text: &str) -> Result<Self, String> {
        if let Ok(record) = serde_json::from_str::<Record>(text)
            && record.format <= RECORD_FORMAT
            && record_text(&record).is_ok_and(|own| own == text)
        {
            return Ok(Self { record, tree: None });
        }
        let tree: Json = serde_json::from_str(text).map_err(|e| format!("not JSON: {e}"))?;
        let format = tree.get("format").and_then(Json::as_u64);
        if let Some(format) = format.filter(|f| *f > u64::from(RECORD_FORMAT)) {
            return Err(format!(
                "written in format {format} by a newer program; this one reads up to {RECORD_FORMAT}"
            ));
        }
        let record =
            serde_json::from_value(tree.clone()).map_err(|e| format!("not a record: {e}"))?;
        let tree = Some(tree);
        Ok(Self { record, tree })
    }

    /// The digest of all but the seal.
    fn digest(&self) -> Result<String, String> {
        let Some(tree) = &self.tree else {
            return body_digest(&self.record);
        };
        let mut body = tree.clone();
        if let Some(map) = body.as_object_mut() {
            map.remove("seal");
        }
        digest_json(&body)
    }

    fn differences(&self, mut fresh: Record) -> Result<Vec<String>, String> {
        fresh.seal.clone_from(&self.record.seal);
        if self.tree.is_none() && fresh == self.record {
            return Ok(Vec::new());
        }
        let tree = |record: &Record| serde_json::to_value(record).map_err(|e| e.to_string());
        let own = match &self.tree {
            Some(tree) => tree.clone(),
            None => tree(&self.record)?,
        };
        let found = Differences::between(&own, &tree(&fresh)?, self.record.program == PROGRAM);
        Ok(found.iter().map(|d| told(&own, d)).collect())
    }
}

fn seal(form: &Form) -> Check {
    let says = &form.record.seal.digest;
    match form.digest() {
        Ok(digest) if digest == *says => check("seal", Answer::Ok, digest),
        Ok(digest) => check(
            "seal",
            Answer::Bad,
            format!("the content has digest {digest}, the seal says {says}"),
        ),
        Err(error) => check("seal", Answer::Bad, error),
    }
}

fn recipe_digest(record: &Record) -> Check {
    let digest = digest_bytes(record.recipe.source.as_bytes());
    if digest == record.recipe.digest {
        return check("recipe", Answer::Ok, digest);
    }
    check(
        "recipe",
        Answer::Bad,
        format!(
            "the embedded recipe has digest {digest}, the record says {}",
            record.recipe.digest
        ),
    )
}

fn recomputed(form: &Form, attached: &dyn Fn(&str) -> Option<Vec<u8>>, plans: &Plans) -> Check {
    let (what, record) = ("values and verdicts", &form.record);
    let found = made_again(record, attached, plans).and_then(|fresh| form.differences(fresh));
    match found {
        Ok(found) if found.is_empty() => check(what, Answer::Ok, "recomputed from the entries"),
        Ok(found) => check(what, Answer::Bad, found.join("; ")),
        Err(error) => {
            // Without the log there is nothing to compute from.
            let logs = record
                .setup
                .iter()
                .chain(&record.steps)
                .any(|s| s.verb == "trace");
            let missing = record
                .attachments
                .iter()
                .any(|a| attached(&a.digest).is_none());
            let answer = if logs && missing {
                Answer::NotKnown
            } else {
                Answer::Bad
            };
            check("values and verdicts", answer, error)
        }
    }
}

/// Says where the decimal sign or the decision rule of the record can't be that of its session.
fn conventions(record: &Record, stated: Option<Decision>) -> Result<(), String> {
    if ![".", ","].contains(&record.decimal.as_str()) {
        let says = &record.decimal;
        return Err(format!(
            "decimal: the record says {says}, which is no decimal sign"
        ));
    }
    match stated.map(Decision::word) {
        Some(stated) if stated != record.decision => Err(format!(
            "decision: the record says {}, the embedded recipe states {stated}",
            record.decision
        )),
        _ => Ok(()),
    }
}

/// The record made again from its own journal.
fn made_again(
    record: &Record,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    plans: &Plans,
) -> Result<Record, String> {
    let plan = plans.of(&record.recipe.source)?;
    conventions(record, plan.decision)?;
    let Again {
        plan,
        head,
        events,
        state,
    } = again(record, plan, attached)?;
    let Some(Event::Close { record: id, at }) = events.last() else {
        return Err("the embedded journal does not end with its closing".to_owned());
    };
    Ok(make(&head, &plan, &state, &events, id, at))
}

fn instruments(record: &Record) -> Check {
    let day = record.started.get(..10).unwrap_or_default();
    let late: Vec<String> = record
        .instruments
        .values()
        .filter(|i| i.due.as_str() < day)
        .map(|i| format!("`{}` was due on {}", i.id, i.due))
        .collect();
    if late.is_empty() {
        return check(
            "instruments",
            Answer::Ok,
            format!("in calibration on {day}"),
        );
    }
    check("instruments", Answer::Bad, late.join(", "))
}

fn attachments(record: &Record, attached: &dyn Fn(&str) -> Option<Vec<u8>>) -> Check {
    let mut missing = Vec::new();
    for attachment in &record.attachments {
        match attached(&attachment.digest) {
            Some(bytes) if digest_bytes(&bytes) == attachment.digest => {}
            Some(_) => {
                return check(
                    "attachments",
                    Answer::Bad,
                    format!("`{}` has been changed", attachment.name),
                );
            }
            None => missing.push(format!("`{}`", attachment.name)),
        }
    }
    if missing.is_empty() {
        let count = record.attachments.len();
        return check(
            "attachments",
            Answer::Ok,
            if count == 0 {
                "none".to_owned()
            } else {
                format!("{count} unchanged")
            },
        );
    }
    check(
        "attachments",
        Answer::NotKnown,
        format!("not at hand: {}", missing.join(", ")),
    )
}
