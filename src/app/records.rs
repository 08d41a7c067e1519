//! Where records lie, and reading them.
//!
//! Never in here: verifying them. Changes when records lie elsewhere.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

use crate::host::Host;
use crate::record::{Attachment, Record};
use crate::shop::Paths;

use super::AppError;
use crate::record::{carried, is_pdf};
use crate::text::counted;
use crate::trust::digest_bytes;

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
    // A record from elsewhere could name any file.
    let name = digest.strip_prefix("sha256:")?;
    if !name.bytes().all(|b| b.is_ascii_hexdigit()) {
        return None;
    }
    let file = shop.join("attachments").join(name);
    host.read(&file, MAX_RECORD).ok()
}

/// A record as it is kept: its text, and what was attached to it where a PDF carries both.
pub struct RecordFile {
    /// The text of its file.
    pub text: Vec<u8>,
    /// The other files that a PDF carries, by their digests; nothing where it is no PDF.
    along: Option<HashMap<String, Vec<u8>>>,
}

impl RecordFile {
    /// Reads a record's file, or the record that a PDF carries.
    ///
    /// # Errors
    /// Those of the system; a PDF that carries no record, or several.
    pub fn read(host: &dyn Host, path: &Path) -> Result<Self, AppError> {
        let bytes = host
            .read(path, MAX_RECORD)
            .map_err(|e| AppError::at(path, &e))?;
        if !is_pdf(&bytes) {
            return Ok(Self {
                text: bytes,
                along: None,
            });
        }
        Self::carried(bytes).map_err(|e| AppError::new(format!("{}: {e}", path.display())))
    }

    fn carried(pdf: Vec<u8>) -> Result<Self, String> {
        let files = carried(pdf)?;
        let (mut records, others): (Vec<_>, Vec<_>) =
            files.into_iter().partition(|f| holds_record(f));
        let text = match (records.pop(), records.len()) {
            (Some(text), 0) => text,
            (None, _) => return Err("a PDF that carries no record".to_owned()),
            (_, others) => return Err(format!("a PDF that carries {} records", others + 1)),
        };
        let by_digest = |file: Vec<u8>| (digest_bytes(&file), file);
        Ok(Self {
            text,
            along: Some(others.into_iter().map(by_digest).collect()),
        })
    }

    /// Whether it is a PDF, which carries a copy of the record.
    #[must_use]
    pub fn is_pdf(&self) -> bool {
        self.along.is_some()
    }

    /// The bytes of an attachment: a PDF has to carry them itself; beside a record's own file they lie in the shop.
    #[must_use]
    pub fn attached(&self, host: &dyn Host, record: &Path, digest: &str) -> Option<Vec<u8>> {
        match &self.along {
            Some(along) => along.get(digest).cloned(),
            None => attachment_of(host, record, digest),
        }
    }

    /// What is wrong with the files that a PDF carries beside the record: one that was attached is not among them as it was
    /// then, or there are others.
    #[must_use]
    pub(super) fn astray(&self, attached: &[Attachment]) -> Option<String> {
        let along = self.along.as_ref()?;
        let gone = attached.iter().filter(|a| !along.contains_key(&a.digest));
        let gone: Vec<String> = gone.map(|a| format!("`{}`", a.name)).collect();
        if !gone.is_empty() {
            let gone = gone.join(", ");
            return Some(format!("changed in the PDF, or missing from it: {gone}"));
        }
        let known: HashSet<&str> = attached.iter().map(|a| a.digest.as_str()).collect();
        match along.keys().filter(|d| !known.contains(d.as_str())).count() {
            0 => None,
            n => Some(format!(
                "the PDF carries {} more that the record does not know",
                counted(n, "file")
            )),
        }
    }
}

/// Whether a file is a record's, by what every record begins to tell.
fn holds_record(file: &[u8]) -> bool {
    #[derive(serde::Deserialize)]
    struct Begun {
        #[allow(dead_code, reason = "it has to be there")]
        record: String,
        #[allow(dead_code, reason = "it has to be there")]
        seal: serde::de::IgnoredAny,
    }
    serde_json::from_slice::<Begun>(file).is_ok()
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
    let held = RecordFile::read(host, &path)?;
    let record = serde_json::from_slice(&held.text)
        .map_err(|e| AppError::new(format!("{}: not a record: {e}", path.display())))?;
    Ok((path, record))
}
