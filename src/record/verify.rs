//! Verification: the seal, and everything that was computed, computed again from what was entered.
//!
//! Never in here: files (the attachments' bytes are handed in). Changes when a record rests on something new.

use serde_json::Value as Json;

use crate::engine::Event;
use crate::plan::Decision;
use crate::trust::{canonical_text, canonical_without, digest_bytes};

use super::again::{Again, again};
use super::differ::{Differences, told};
use super::known::Known;
use super::make::{Ran, make, record_text};
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
/// `known` keeps what was read of others.
///
/// # Errors
/// Text that is no record, or one of a newer format.
pub fn verify(
    text: &str,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    known: &Known,
) -> Result<(Record, Vec<Check>), String> {
    verify_session(text, attached, known).map(|(record, checks, _)| (record, checks))
}

/// The same, with the session as it was run again for it; nothing where it could not be.
///
/// # Errors
/// Those of `verify`.
pub fn verify_session(
    text: &str,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    known: &Known,
) -> Result<(Record, Vec<Check>, Option<Again>), String> {
    let form = Form::of(text)?;
    let record = &form.record;
    let (recomputed, session) = recomputed(&form, attached, known);
    let mut checks = vec![
        seal(&form),
        recomputed,
        recipe_digest(record),
        instruments(record),
    ];
    checks.push(attachments(record, attached));
    Ok((form.record, checks, session))
}

/// A record with its text, and the canonical form of all that stands there but the seal.
struct Form<'t> {
    record: Record,
    text: &'t str,
    body: Vec<u8>,
}

impl<'t> Form<'t> {
    fn of(text: &'t str) -> Result<Self, String> {
        let record: Record = serde_json::from_str(text).map_err(|e| unreadable(text, &e))?;
        if record.format > RECORD_FORMAT {
            return Err(newer(u64::from(record.format)));
        }
        let body =
            canonical_text(text.as_bytes(), Some("seal")).map_err(|e| format!("not JSON: {e}"))?;
        Ok(Self { record, text, body })
    }

    /// Where the record and what its entries give differ.
    fn differences(&self, mut fresh: Record) -> Result<Vec<String>, String> {
        fresh.seal.clone_from(&self.record.seal);
        // As the program writes it, or in another layout.
        let same = record_text(&fresh)? == self.text
            || canonical_without(&fresh, Some("seal"))? == self.body;
        if same {
            return Ok(Vec::new());
        }
        let own: Json = serde_json::from_str(self.text).map_err(|e| e.to_string())?;
        let fresh = serde_json::to_value(fresh).map_err(|e| e.to_string())?;
        let found = Differences::between(&own, &fresh, self.record.program == PROGRAM);
        Ok(found.iter().map(|d| told(&own, d)).collect())
    }
}

/// Why a text is no record that this program reads.
#[must_use]
pub fn unreadable(text: &str, error: &serde_json::Error) -> String {
    if text.trim().is_empty() {
        return "an empty file, which holds no record".to_owned();
    }
    if text.trim_start().starts_with('<') {
        return "a web page, which carries no record; verify the record's JSON file, or a PDF of it"
            .to_owned();
    }
    let Ok(tree) = serde_json::from_str::<Json>(text) else {
        return format!("not JSON: {error}");
    };
    let format = tree.get("format").and_then(Json::as_u64);
    match format.filter(|f| *f > u64::from(RECORD_FORMAT)) {
        Some(format) => newer(format),
        None => format!("not a record: {error}"),
    }
}

fn newer(format: u64) -> String {
    format!("written in format {format} by a newer program; this one reads up to {RECORD_FORMAT}")
}

fn seal(form: &Form<'_>) -> Check {
    let says = &form.record.seal.digest;
    let digest = digest_bytes(&form.body);
    if digest == *says {
        return check("seal", Answer::Ok, digest);
    }
    check(
        "seal",
        Answer::Bad,
        format!("the content has digest {digest}, the seal says {says}"),
    )
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
    form: &Form<'_>,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    known: &Known,
) -> (Check, Option<Again>) {
    let (what, record) = ("values and verdicts", &form.record);
    let mut session = None;
    let found = made_again(record, attached, known).and_then(|(fresh, again)| {
        session = Some(again);
        form.differences(fresh)
    });
    let told = match found {
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
            check(what, answer, error)
        }
    };
    (told, session)
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
    known: &Known,
) -> Result<(Record, Again), String> {
    let plan = known.plan(&record.recipe.source)?;
    conventions(record, plan.decision)?;
    let again = again(record, plan, known, attached)?;
    let Some(Event::Close { record: id, at }) = again.events.last() else {
        return Err("the embedded journal does not end with its closing".to_owned());
    };
    let session = Ran {
        head: &again.head,
        plan: &again.plan,
        bench: &again.bench,
        state: &again.state,
        events: &again.events,
    };
    let fresh = make(&session, id, at);
    Ok((fresh, again))
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
