//! Verification: the seal, and everything that was computed, computed again from what was entered.
//!
//! Never in here: files (the attachments' bytes are handed in). Changes when a record rests on something new.

use serde_json::Value as Json;

use crate::engine::Event;
use crate::plan::Decision;
use crate::trust::{digest_bytes, digest_json};

use super::again::{Again, again};
use super::differ::{Differences, told};
use super::make::make;
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
    let json: Json = serde_json::from_str(text).map_err(|e| format!("not JSON: {e}"))?;
    if let Some(format) = json
        .get("format")
        .and_then(Json::as_u64)
        .filter(|f| *f > u64::from(RECORD_FORMAT))
    {
        return Err(format!(
            "written in format {format} by a newer program; this one reads up to {RECORD_FORMAT}"
        ));
    }
    let record: Record =
        serde_json::from_value(json.clone()).map_err(|e| format!("not a record: {e}"))?;
    let mut checks = vec![
        seal(&json, &record),
        recomputed(&json, &record, attached, plans),
        recipe_digest(&record),
        instruments(&record),
    ];
    checks.push(attachments(&record, attached));
    Ok((record, checks))
}

fn seal(json: &Json, record: &Record) -> Check {
    let mut body = json.clone();
    if let Some(map) = body.as_object_mut() {
        map.remove("seal");
    }
    match digest_json(&body) {
        Ok(digest) if digest == record.seal.digest => check("seal", Answer::Ok, digest),
        Ok(digest) => check(
            "seal",
            Answer::Bad,
            format!(
                "the content has digest {digest}, the seal says {}",
                record.seal.digest
            ),
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

fn recomputed(
    json: &Json,
    record: &Record,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    plans: &Plans,
) -> Check {
    match made_again(record, attached, plans) {
        Ok(fresh) => {
            let found = Differences::between(json, &fresh, record.program == PROGRAM);
            if found.is_empty() {
                return check(
                    "values and verdicts",
                    Answer::Ok,
                    "recomputed from the entries",
                );
            }
            let lines: Vec<String> = found.iter().map(|d| told(json, d)).collect();
            check("values and verdicts", Answer::Bad, lines.join("; "))
        }
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
) -> Result<Json, String> {
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
    serde_json::to_value(make(&head, &plan, &state, &events, id, at)).map_err(|e| e.to_string())
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
