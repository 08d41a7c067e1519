//! `countersign`: the reviewer's signature, into the ledger first and then into the record.
//!
//! Never in here: who may do it (see `shop::policy`). Changes when a countersignature asks for more.

use std::path::PathBuf;

use crate::host::Host;
use crate::record::{Record, record_text};
use crate::shop::{Deed, Paths, Permit, RecordAct};
use crate::trust::{Signature, Statement, digest_bytes};

use super::AppError;
use super::approve::permitted;
use super::ledgers::Held as Ledger;
use super::open::OpenShop;
use super::proof::{Proof, REVIEWER, took_part};
use super::records::read_record;
use super::sign::Sign;
use super::verify::doubts;

/// What came of it.
#[derive(Debug)]
pub struct Countersigned {
    /// The record, with the signature in it.
    pub record: Record,
    /// Its file.
    pub path: PathBuf,
    /// Whether the signature had been given before.
    pub before: bool,
}

/// Adds the signature of a reviewer to a record.
///
/// # Errors
/// A record that does not verify, somebody who may not or who made it, a person without a key, and those of the system.
pub fn countersign(
    host: &dyn Host,
    open: &OpenShop,
    named: &str,
    by: &str,
    sign: &mut Sign<'_>,
) -> Result<Countersigned, AppError> {
    let permit = permitted(host, open, by, Deed::Countersign)?;
    let (path, mut record) = read_record(host, Some(&open.paths), named)?;
    in_this_shop(&open.paths, &record, &path)?;
    let mut before = entered(host, &open.paths, &mut record, &permit)?;
    // Held until the file is written: two signatures at once must not overwrite each other.
    let mut _held = None;
    if before.is_none() {
        not_their_own(&record, &permit)?;
        if let Some(doubt) = doubts(host, &path)?.first() {
            return Err(AppError::new(format!(
                "{} does not verify: {doubt}\nit was not countersigned",
                record.record
            )));
        }
        let statement = Statement {
            at: host.now(),
            by: permit.person().id.clone(),
            digest: record.seal.digest.clone(),
            name: permit.person().name.clone(),
            role: REVIEWER.to_owned(),
        };
        // Signed before the ledger is held: nobody else waits while a passphrase is typed.
        let signature = sign(statement)?.ok_or_else(|| keyless(&permit))?;
        let bench = &open.shop.bench;
        let mut ledger = Ledger::open(host, &open.paths.ledger(bench), bench)?;
        before = entered(host, &open.paths, &mut record, &permit)?;
        if before.is_none() {
            add(&mut record, &signature);
            let text = record_text(&record).map_err(AppError::new)?;
            let act = RecordAct::Countersign {
                record: record.record.clone(),
                digest: record.seal.digest.clone(),
                file: digest_bytes(text.as_bytes()),
                signature,
            };
            ledger.enter(act, &host.now())?;
        }
        _held = Some(ledger);
    } else if let Some(signature) = &before {
        enter_again(host, open, &record, signature)?;
    }
    let text = record_text(&record).map_err(AppError::new)?;
    host.write(&path, text.as_bytes()).map_err(|error| {
        AppError::new(format!(
            "the signature is in the ledger, but not in the record yet: {}\nthe same command completes it once that is mended",
            AppError::at(&path, &error)
        ))
    })?;
    Ok(Countersigned {
        record,
        path,
        before: before.is_some(),
    })
}

/// Where two benches countersigned apart, no ledger has the file with both signatures yet.
fn enter_again(
    host: &dyn Host,
    open: &OpenShop,
    record: &Record,
    signature: &Signature,
) -> Result<(), AppError> {
    let text = record_text(record).map_err(AppError::new)?;
    let written = digest_bytes(text.as_bytes());
    let proof = Proof::read(host, &open.paths)?;
    let is_entered = proof.about(&record.record).any(|e| {
        matches!(&e.act, RecordAct::Seal { file, .. } | RecordAct::Countersign { file, .. } if *file == written)
    });
    if is_entered {
        return Ok(());
    }
    let bench = &open.shop.bench;
    let mut ledger = Ledger::open(host, &open.paths.ledger(bench), bench)?;
    let act = RecordAct::Countersign {
        record: record.record.clone(),
        digest: record.seal.digest.clone(),
        file: written,
        signature: signature.clone(),
    };
    ledger.enter(act, &host.now()).map(|_| ())
}

/// The signature that the person gave before; put into the record where a fault kept it out.
fn entered(
    host: &dyn Host,
    paths: &Paths,
    record: &mut Record,
    permit: &Permit,
) -> Result<Option<Signature>, AppError> {
    let proof = Proof::read(host, paths)?;
    let by = &permit.person().id;
    let mut given = None;
    for entry in proof.about(&record.record) {
        let RecordAct::Countersign {
            digest, signature, ..
        } = &entry.act
        else {
            continue;
        };
        if *digest != record.seal.digest {
            continue;
        }
        add(record, signature);
        if signature.statement.by == *by {
            given = Some(signature.clone());
        }
    }
    Ok(given)
}

/// Adds a countersignature, once; they stand in the order of their times, so that two benches write the same file.
fn add(record: &mut Record, signature: &Signature) {
    let all = &mut record.seal.signatures;
    if !all.contains(signature) {
        all.push(signature.clone());
    }
    all.sort_by_key(|s| {
        let after = s.statement.role == REVIEWER;
        (after, s.statement.at.parse::<jiff::Timestamp>().ok())
    });
}

/// Refuses a record that lies outside the records of this shop, or under another name.
pub(super) fn in_this_shop(
    paths: &Paths,
    record: &Record,
    path: &std::path::Path,
) -> Result<(), AppError> {
    let own = std::path::absolute(paths.record(&record.record)).ok();
    if own.is_some() && own == std::path::absolute(path).ok() {
        return Ok(());
    }
    Err(AppError::new(format!(
        "{}: is not among the records of this shop",
        path.display()
    )))
}

fn not_their_own(record: &Record, permit: &Permit) -> Result<(), AppError> {
    let by = &permit.person().id;
    if took_part(record).contains(by) {
        return Err(AppError::new(format!(
            "`{by}` had a part in this record; somebody else has to countersign it"
        )));
    }
    Ok(())
}

fn keyless(permit: &Permit) -> AppError {
    let by = &permit.person().id;
    AppError::new(format!(
        "`{by}` has no key to sign with; `stepwell people key {by}` makes one"
    ))
}
