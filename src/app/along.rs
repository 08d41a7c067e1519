//! Amendments that a PDF carries with its record: what they say, and whether they are sound in themselves.
//!
//! Never in here: those of a shop (see `amendments`). Changes when an amendment can be proven in another way.

use std::path::PathBuf;
use std::sync::Arc;

use crate::record::{Amendment, Answer, Check, Record};
use crate::trust::RECORD;

use super::amendments::{AMENDMENT, AMENDMENTS, KeptAmendment};
use super::proof::check;
use super::records::RecordFile;
use super::signers::sound;

/// The amendments of the record among the files that a PDF carries, by their ids.
pub(super) fn added(held: &RecordFile, record: &Record) -> Vec<KeptAmendment> {
    let files = held.unattached(&record.attachments);
    let mut all: Vec<KeptAmendment> = files
        .into_iter()
        .filter_map(|file| {
            let (amendment, digest) = Amendment::read(file).ok()?;
            let own = amendment.of.record == record.record;
            own.then(|| KeptAmendment {
                path: PathBuf::from(format!("{}.json", amendment.amendment)),
                record: Some(record.record.clone()),
                faults: faults(&amendment, &digest, record),
                // No ledger is at hand that could have it.
                entered: true,
                text: Arc::new(file.to_vec()),
                amendment: Some(amendment),
            })
        })
        .collect();
    all.sort_by(|a, b| a.path.cmp(&b.path));
    all
}

/// What is wrong with an amendment by itself.
fn faults(amendment: &Amendment, digest: &str, record: &Record) -> Vec<String> {
    let mut faults = Vec::new();
    if digest != amendment.seal.digest {
        faults.push("was altered after it was sealed".to_owned());
    }
    if amendment.of.digest != record.seal.digest {
        faults.push("is about another text of this record".to_owned());
    }
    let broken = amendment.seal.signatures.iter().find_map(|signature| {
        let statement = &signature.statement;
        let own = statement.digest == amendment.seal.digest
            && statement.by == amendment.by
            && statement.role == AMENDMENT;
        match own {
            true => sound(signature, RECORD).err(),
            false => Some("the signature is about something else".to_owned()),
        }
    });
    faults.extend(broken);
    faults
}

/// The check of amendments that no shop here knows; nothing where there are none.
pub(super) fn alone(all: &[KeptAmendment]) -> Option<Check> {
    let doubtful = all.iter().find(|kept| !kept.faults.is_empty());
    if let Some(kept) = doubtful {
        let why = format!("{}: {}", kept.name(), kept.faults[0]);
        return Some(check(AMENDMENTS, Answer::Bad, why));
    }
    let told: Vec<String> = all
        .iter()
        .filter_map(|k| k.amendment.as_ref())
        .map(told)
        .collect();
    (!told.is_empty()).then(|| check(AMENDMENTS, Answer::NotKnown, told.join("; ")))
}

fn told(amendment: &Amendment) -> String {
    let day = amendment.at.get(..10).unwrap_or_default();
    let (id, by, why) = (&amendment.amendment, &amendment.by, &amendment.why);
    let signed = match amendment.seal.signatures.first() {
        Some(signature) => {
            let found = sound(signature, RECORD).unwrap_or_else(|broken| broken);
            format!("signed by {found}")
        }
        None => "not signed".to_owned(),
    };
    let says = match &amendment.correction {
        _ if amendment.void => format!("void since {day} by {by}: {why}"),
        Some(other) => {
            let other = &other.record;
            format!("corrected on {day} by {by}: {other} holds instead: {why}")
        }
        None => format!("amended on {day} by {by}: {why}"),
    };
    format!("{says} ({id}; {signed})")
}
