//! `amend`: something added to a sealed record; its own file first, then the ledger.
//!
//! Never in here: who may do it (see `shop::policy`), checking (see `amendments`). Changes when an amendment holds more.

use std::collections::BTreeMap;
use std::path::PathBuf;

use crate::engine::RecordVerdict as Verdict;
use crate::host::Host;
use crate::record::{AMENDMENT_FORMAT, Amendment, Pointed, Record, Seal};
use crate::shop::{Deed, Paths, Permit, RecordAct};
use crate::trust::{Statement, digest_bytes, is_before};

use super::AppError;
use super::amendments::{AMENDMENT, MAX_AMENDMENT, Overruled, files, overruled};
use super::approve::permitted;
use super::countersign::in_this_shop;
use super::ledgers::{Held as Ledger, clock_is_right};
use super::open::OpenShop;
use super::proof::Proof;
use super::records::read_record;
use super::sign::{Sign, may_be_unsigned};
use super::verify::doubts;

/// Longest reason or note, in characters.
const MAX_TEXT: usize = 4000;

/// What is added to a record.
#[derive(Clone, Copy, Debug)]
pub struct Amending<'a> {
    /// The record's id, or a path to it.
    pub record: &'a str,
    /// Who adds it.
    pub by: &'a str,
    /// Why.
    pub why: &'a str,
    /// What has to be known.
    pub note: Option<&'a str>,
    /// The record that holds instead: its id, or a path to it.
    pub correction: Option<&'a str>,
    /// Whether the record is declared void.
    pub void: bool,
}

/// What came of it.
#[derive(Debug)]
pub struct Amended {
    /// The amendment.
    pub amendment: Amendment,
    /// Its file.
    pub path: PathBuf,
    /// Whether it had been added before.
    pub before: bool,
}

/// Adds to a record of this shop. The same once more completes what a fault left undone, and adds nothing.
///
/// # Errors
/// Somebody who may not, no reason, a record that does not verify or lies elsewhere, and those of the system.
pub fn amend(
    host: &dyn Host,
    open: &OpenShop,
    what: &Amending<'_>,
    sign: &mut Sign<'_>,
) -> Result<Amended, AppError> {
    let permit = permitted(host, open, what.by, Deed::Amend)?;
    may_be_unsigned(&open.shop, &permit)?;
    let draft = draft(host, open, what, &permit)?;
    let bench = &open.shop.bench;
    let mut ledger = Ledger::open(host, &open.paths.ledger(bench), bench)?;
    let (amendment, path, before) = match known(host, open, &draft)? {
        Some(known) => known,
        None => {
            clock_is_right(host, &open.paths.ledger(bench), bench)?;
            let amendment = sealed(host, open, draft, &ledger, &permit, sign)?;
            let path = write(host, &open.paths, &amendment)?;
            (amendment, path, false)
        }
    };
    if !before {
        let text = amendment.text().map_err(AppError::new)?;
        let act = RecordAct::Amend {
            record: amendment.of.record.clone(),
            digest: amendment.of.digest.clone(),
            amendment: amendment.amendment.clone(),
            file: digest_bytes(text.as_bytes()),
        };
        ledger.enter(act, &host.now()).map_err(|cause| {
            AppError::new(format!(
                "the amendment is safe in {}, but is not in the ledger yet: {cause}\nthe same command completes it once that is mended",
                path.display()
            ))
        })?;
    }
    Ok(Amended {
        amendment,
        path,
        before,
    })
}

/// Whether something may be added: told before a passphrase is asked for.
///
/// # Errors
/// As [`amend`].
pub fn may_amend(
    host: &dyn Host,
    open: &OpenShop,
    what: &Amending<'_>,
    permit: &Permit,
) -> Result<(), AppError> {
    may_be_unsigned(&open.shop, permit)?;
    draft(host, open, what, permit).map(drop)
}

/// What would be added, without number, time and seal.
fn draft(
    host: &dyn Host,
    open: &OpenShop,
    what: &Amending<'_>,
    permit: &Permit,
) -> Result<Amendment, AppError> {
    let why = told("--why", what.why)?
        .ok_or_else(|| AppError::new("an amendment needs its reason: `--why TEXT`"))?;
    let note = what.note.map(|note| told("--note", note)).transpose()?;
    let (of, record) = pointed(host, open, what.record)?;
    let correction = what
        .correction
        .map(|c| pointed(host, open, c))
        .transpose()?;
    if let Some((_, by)) = &correction {
        may_correct(&record, by, &overruled(host, &open.paths)?)?;
    }
    Ok(Amendment {
        format: AMENDMENT_FORMAT,
        amendment: String::new(),
        of,
        by: permit.person().id.clone(),
        name: permit.person().name.clone(),
        at: String::new(),
        why,
        note: note.flatten(),
        correction: correction.map(|(record, _)| record),
        void: what.void,
        bench: open.shop.bench.clone(),
        program: env!("CARGO_PKG_VERSION").to_owned(),
        seal: Seal::default(),
    })
}

/// A text as it is kept; nothing where it is blank.
fn told(option: &str, text: &str) -> Result<Option<String>, AppError> {
    let text = text.trim();
    if text.chars().count() > MAX_TEXT {
        return Err(AppError::new(format!(
            "`{option}` is longer than {MAX_TEXT} characters; attach a file to a correcting record instead"
        )));
    }
    if text.chars().any(|c| c.is_control() && c != '\n') {
        return Err(AppError::new(format!(
            "`{option}` holds a control character; write plain text"
        )));
    }
    Ok((!text.is_empty()).then(|| text.to_owned()))
}

/// A record is corrected by another whole one of the same device, which is not corrected itself.
fn may_correct(
    of: &Record,
    by: &Record,
    overruled: &BTreeMap<String, Overruled>,
) -> Result<(), AppError> {
    let (record, other) = (&of.record, &by.record);
    let (device, its_device) = (&of.device.tag, &by.device.tag);
    let refused = |why: String| Err(AppError::new(why));
    if record == other {
        return refused(format!(
            "{record} can't be corrected by itself; name the record that holds instead"
        ));
    }
    if device != its_device {
        return refused(format!(
            "{record} is of device {device}, but {other} is of device {its_device}; name a record of the same device, or add a note"
        ));
    }
    let (recipe, its_recipe) = (&of.recipe.id, &by.recipe.id);
    if recipe != its_recipe {
        return refused(format!(
            "{record} is of recipe {recipe}, but {other} is of recipe {its_recipe}; name a record of the same recipe, or add a note"
        ));
    }
    match overruled.get(other) {
        Some(Overruled::By(holds)) => {
            return refused(format!(
                "{other} is itself corrected by {holds}; name that one"
            ));
        }
        Some(Overruled::Void(_)) => {
            return refused(format!(
                "{other} is void, and can't hold instead of {record}"
            ));
        }
        None => {}
    }
    if is_before(&by.started, &of.started) {
        return refused(format!(
            "{other} was begun before {record}; what holds instead is measured later"
        ));
    }
    if by.trial && !of.trial {
        return refused(format!(
            "{other} is a trial, which can't hold instead of {record}"
        ));
    }
    if by.verdict == Verdict::Incomplete.word() {
        return refused(format!(
            "{other} is incomplete, which can't hold instead of {record}"
        ));
    }
    Ok(())
}

/// A record of this shop that verifies.
fn pointed(host: &dyn Host, open: &OpenShop, named: &str) -> Result<(Pointed, Record), AppError> {
    let (path, record): (PathBuf, Record) = read_record(host, Some(&open.paths), named)?;
    in_this_shop(&open.paths, &record, &path)?;
    // What became of an attachment is a thing to be noted.
    let doubts = doubts(host, &path)?;
    if let Some(doubt) = doubts.iter().find(|d| !d.starts_with("attachments: ")) {
        return Err(AppError::new(format!(
            "{} does not verify: {doubt}\nnothing was added",
            record.record
        )));
    }
    let pointed = Pointed {
        record: record.record.clone(),
        digest: record.seal.digest.clone(),
    };
    Ok((pointed, record))
}

/// The same words by the same person on the same record: whether they were entered before.
fn known(
    host: &dyn Host,
    open: &OpenShop,
    draft: &Amendment,
) -> Result<Option<(Amendment, PathBuf, bool)>, AppError> {
    let proof = Proof::read(host, &open.paths)?;
    let same = |a: &Amendment| {
        let blank = Amendment {
            amendment: String::new(),
            at: String::new(),
            name: draft.name.clone(),
            program: draft.program.clone(),
            seal: Seal::default(),
            ..a.clone()
        };
        blank == *draft
    };
    for kept in proof.amendments_of(&draft.of.record) {
        let Some(amendment) = kept.amendment.clone().filter(same) else {
            continue;
        };
        if let Some(fault) = kept.faults.first() {
            return Err(AppError::new(format!("{}: {fault}", kept.path.display())));
        }
        if !kept.entered && !is_as_written(host, &kept.path, &amendment)? {
            return Err(AppError::new(format!(
                "{}: is not in the ledger, and not as the program wrote it; move it away",
                kept.path.display()
            )));
        }
        return Ok(Some((amendment, kept.path.clone(), kept.entered)));
    }
    Ok(None)
}

/// Whether a file holds an amendment as it is written, to the byte.
fn is_as_written(
    host: &dyn Host,
    path: &std::path::Path,
    amendment: &Amendment,
) -> Result<bool, AppError> {
    let bytes = host
        .read(path, MAX_AMENDMENT)
        .map_err(|e| AppError::at(path, &e))?;
    let text = amendment.text().map_err(AppError::new)?;
    Ok(text.as_bytes() == bytes)
}

fn sealed(
    host: &dyn Host,
    open: &OpenShop,
    mut draft: Amendment,
    ledger: &Ledger<'_, RecordAct>,
    permit: &Permit,
    sign: &mut Sign<'_>,
) -> Result<Amendment, AppError> {
    draft.at = host.now();
    draft.amendment = free_number(host, open, draft.at.get(..4).unwrap_or("0000"), ledger)?;
    draft.seal().map_err(AppError::new)?;
    let signature = sign(Statement {
        at: host.now(),
        by: draft.by.clone(),
        digest: draft.seal.digest.clone(),
        name: permit.person().name.clone(),
        role: AMENDMENT.to_owned(),
    })?;
    draft.seal.signatures.extend(signature);
    Ok(draft)
}

/// The next free id of the bench: `B1-2026-A0003`. What was removed keeps its number.
fn free_number(
    host: &dyn Host,
    open: &OpenShop,
    year: &str,
    ledger: &Ledger<'_, RecordAct>,
) -> Result<String, AppError> {
    let prefix = format!("{}-{year}-A", open.shop.bench);
    let files = files(host, &open.paths)?;
    let numbers = files.iter().filter_map(|f| {
        let stem = f.file_stem()?.to_str()?;
        stem.strip_prefix(&prefix)?.parse::<u32>().ok()
    });
    let mut next = numbers.max().unwrap_or(0).saturating_add(1);
    while ledger.holds(&format!("\"amendment\":\"{prefix}{next:04}\"")) {
        next = next.saturating_add(1);
    }
    Ok(format!("{prefix}{next:04}"))
}

fn write(host: &dyn Host, paths: &Paths, amendment: &Amendment) -> Result<PathBuf, AppError> {
    let path = paths.amendment(&amendment.amendment);
    let text = amendment.text().map_err(AppError::new)?;
    if let Some(folder) = path.parent() {
        host.make_folder(folder)
            .map_err(|e| AppError::at(folder, &e))?;
    }
    host.create(&path, text.as_bytes())
        .map_err(|e| AppError::at(&path, &e))?;
    Ok(path)
}
