//! Where records lie, and reading them.
//!
//! Never in here: verifying them. Changes when records lie elsewhere.

use std::path::{Path, PathBuf};

use crate::host::Host;
use crate::record::Record;
use crate::shop::Paths;

use super::AppError;

/// Largest record that is read, in bytes.
pub(super) const MAX_RECORD: u64 = 256 * 1024 * 1024;

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
pub(super) fn locate(host: &dyn Host, shop: Option<&Paths>, record: &str) -> PathBuf {
    let direct = Path::new(record);
    if host.exists(direct) {
        return direct.to_owned();
    }
    let by_id = shop.map(|paths| paths.record(record));
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
