//! Where records lie, and reading them.
//!
//! Never in here: verifying them. Changes when records lie elsewhere.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

use crate::host::Host;
use crate::record::{Attachment, Record};
use crate::shop::Paths;

use super::AppError;
use crate::record::{Carried, carried, is_pdf, is_whole, unreadable};
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
    // Ids are typed in small letters too.
    let ids = [record.to_owned(), record.to_ascii_uppercase()];
    let by_id = |shop: &Paths| {
        let files = ids.iter().map(|id| shop.record(id));
        files.into_iter().find(|p| host.exists(p))
    };
    shop.and_then(by_id).unwrap_or_else(|| direct.to_owned())
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
    /// What a PDF carries besides; nothing where it is no PDF.
    along: Option<Along>,
}

/// What a PDF carries beside a record.
struct Along {
    /// The other files, by their digests.
    files: HashMap<String, Vec<u8>>,
    /// Whether the PDF has its end.
    whole: bool,
    /// The title of its pages.
    title: Option<String>,
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
        let whole = is_whole(&bytes);
        let cut = match whole {
            true => "",
            false => "; it is damaged: its end is missing",
        };
        Self::carried(bytes, whole)
            .map_err(|e| AppError::new(format!("{}: {e}{cut}", path.display())))
    }

    fn carried(pdf: Vec<u8>, whole: bool) -> Result<Self, String> {
        let Carried { files, title } = carried(pdf)?;
        let (mut records, others): (Vec<_>, Vec<_>) =
            files.into_iter().partition(|f| holds_record(f));
        let text = match (records.pop(), records.len()) {
            (Some(text), 0) => text,
            (None, _) => return Err("a PDF that carries no record".to_owned()),
            (_, others) => return Err(format!("a PDF that carries {} records", others + 1)),
        };
        let by_digest = |file: Vec<u8>| (digest_bytes(&file), file);
        let files = others.into_iter().map(by_digest).collect();
        Ok(Self {
            text,
            along: Some(Along {
                files,
                whole,
                title,
            }),
        })
    }

    /// Whether it is a PDF, which carries a copy of the record.
    #[must_use]
    pub fn is_pdf(&self) -> bool {
        self.along.is_some()
    }

    /// Whether it is a PDF that lost its end.
    pub(super) fn is_cut(&self) -> bool {
        self.along.as_ref().is_some_and(|along| !along.whole)
    }

    /// The title of the pages of a PDF, where it names no such record: they were made from another one.
    pub(super) fn strange_title(&self, record: &str) -> Option<&str> {
        let title = self.along.as_ref()?.title.as_deref()?;
        (!title.contains(record)).then_some(title)
    }

    /// The bytes of an attachment: a PDF has to carry them itself; beside a record's own file they lie in the shop.
    #[must_use]
    pub fn attached(&self, host: &dyn Host, record: &Path, digest: &str) -> Option<Vec<u8>> {
        match &self.along {
            Some(along) => along.files.get(digest).cloned(),
            None => attachment_of(host, record, digest),
        }
    }

    /// The files that a PDF carries and that were not attached to the record.
    pub(super) fn unattached(&self, attached: &[Attachment]) -> Vec<&[u8]> {
        let known: HashSet<&str> = attached.iter().map(|a| a.digest.as_str()).collect();
        let files = self.along.iter().flat_map(|along| &along.files);
        let others = files.filter(|(digest, _)| !known.contains(digest.as_str()));
        others.map(|(_, file)| file.as_slice()).collect()
    }

    /// What is wrong with the files that a PDF carries beside the record: one that was attached is not among them as it was
    /// then, or there are others than so many that were added to it.
    #[must_use]
    pub(super) fn astray(&self, attached: &[Attachment], added: usize) -> Option<String> {
        let along = self.along.as_ref()?;
        let gone = attached
            .iter()
            .filter(|a| !along.files.contains_key(&a.digest));
        let gone: Vec<String> = gone.map(|a| format!("`{}`", a.name)).collect();
        if !gone.is_empty() {
            let gone = gone.join(", ");
            return Some(format!("changed in the PDF, or missing from it: {gone}"));
        }
        match self.unattached(attached).len().saturating_sub(added) {
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
    let record = serde_json::from_slice(&held.text).map_err(|e| {
        let why = unreadable(&String::from_utf8_lossy(&held.text), &e);
        AppError::new(format!("{}: {why}", path.display()))
    })?;
    Ok((path, record))
}
