//! Reading records and verifying them.
//!
//! Never in here: what is verified (see the record room). Changes when records lie elsewhere.

use std::path::{Path, PathBuf};

use crate::host::Host;
use crate::record::{Answer, Check, Record, verify};
use crate::shop::Paths;

use super::AppError;

/// Largest record that is read, in bytes.
const MAX_RECORD: u64 = 256 * 1024 * 1024;

/// A record's checks; the reason where it can't be read at all.
#[derive(Debug)]
pub struct Verified {
    /// The file.
    pub path: PathBuf,
    /// The checks.
    pub outcome: Result<(Box<Record>, Vec<Check>), String>,
}

/// All records of a shop, by year and id.
///
/// # Errors
/// Those of the system.
pub fn all_records(host: &dyn Host, paths: &Paths) -> Result<Vec<PathBuf>, AppError> {
    let mut records = Vec::new();
    let root = paths.records();
    for year in host.list(&root).map_err(|e| AppError::at(&root, &e))? {
        if host.is_folder(&year) {
            let files = host.list(&year).map_err(|e| AppError::at(&year, &e))?;
            records.extend(
                files
                    .into_iter()
                    .filter(|f| f.extension().is_some_and(|e| e == "json")),
            );
        }
    }
    Ok(records)
}

/// The file that a record's id or path means.
fn locate(host: &dyn Host, shop: Option<&Paths>, record: &str) -> PathBuf {
    let direct = Path::new(record);
    if host.exists(direct) {
        return direct.to_owned();
    }
    let by_id = shop.map(|paths| {
        let year = record.rsplit('-').nth(1).unwrap_or_default();
        paths.records().join(year).join(format!("{record}.json"))
    });
    by_id
        .filter(|p| host.exists(p))
        .unwrap_or_else(|| direct.to_owned())
}

/// The bytes of an attachment, from the folder of the shop that a record lies in.
#[must_use]
pub fn attachment_of(host: &dyn Host, record: &Path, digest: &str) -> Option<Vec<u8>> {
    let shop = record.parent()?.parent()?.parent()?;
    let file = shop
        .join("attachments")
        .join(digest.trim_start_matches("sha256:"));
    host.read(&file, MAX_RECORD).ok()
}

/// Reads a record for rendering.
///
/// # Errors
/// Those of the system; a file that is no record.
pub fn read_record(
    host: &dyn Host,
    shop: Option<&Paths>,
    record: &str,
) -> Result<(PathBuf, Record), AppError> {
    let path = locate(host, shop, record);
    let bytes = host
        .read(&path, MAX_RECORD)
        .map_err(|e| AppError::at(&path, &e))?;
    let record = serde_json::from_slice(&bytes)
        .map_err(|e| AppError::new(format!("{}: not a record: {e}", path.display())))?;
    Ok((path, record))
}

/// Whether a record in a shop's folder lies under its own name: a copy under another one stands for a test that never was.
fn own_name(path: &Path, record: &Record) -> Check {
    let filed = path
        .parent()
        .and_then(Path::parent)
        .and_then(Path::file_name)
        .is_some_and(|n| n == "records");
    let (answer, reason) = match path.file_stem() {
        Some(stem) if stem == record.record.as_str() => {
            (Answer::Ok, "the file is named after the record".to_owned())
        }
        _ if filed => (
            Answer::Bad,
            format!("the file holds the record {}", record.record),
        ),
        _ => (
            Answer::NotKnown,
            "a copy outside a shop's folder".to_owned(),
        ),
    };
    Check {
        what: "name",
        answer,
        reason,
    }
}

/// Verifies a record.
///
/// # Errors
/// Those of the system.
pub fn verify_file(
    host: &dyn Host,
    shop: Option<&Paths>,
    record: &str,
) -> Result<Verified, AppError> {
    let path = locate(host, shop, record);
    let bytes = host
        .read(&path, MAX_RECORD)
        .map_err(|e| AppError::at(&path, &e))?;
    let outcome = match std::str::from_utf8(&bytes) {
        Ok(text) => verify(text, &|digest| attachment_of(host, &path, digest)).map(
            |(record, mut checks)| {
                checks.push(own_name(&path, &record));
                (Box::new(record), checks)
            },
        ),
        Err(_) => Err("not UTF-8 text".to_owned()),
    };
    Ok(Verified { path, outcome })
}

/// Why a record does not verify; empty if it does.
///
/// # Errors
/// Those of the system.
pub fn doubts(host: &dyn Host, path: &Path) -> Result<Vec<String>, AppError> {
    let verified = verify_file(host, None, &path.display().to_string())?;
    Ok(match verified.outcome {
        Err(error) => vec![error],
        Ok((_, checks)) => {
            let bad = checks.into_iter().filter(|c| c.answer == Answer::Bad);
            bad.map(|c| format!("{}: {}", c.what, c.reason)).collect()
        }
    })
}
