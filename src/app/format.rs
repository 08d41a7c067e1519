//! `fmt`: files laid out evenly. What was approved as it is stays as it is.
//!
//! Never in here: how a text is laid out. Changes when other files are laid out.

use std::path::{Path, PathBuf};

use crate::host::Host;
use crate::recipe::format::format;
use crate::shop::{Paths, Standing};
use crate::text::Finding;
use crate::trust::digest_bytes;

use super::check::collect;
use super::open::read_source;
use super::shelf::id_and_revision;
use super::{AppError, approvals};

/// What came of a file.
#[derive(Debug)]
pub enum Formatted {
    /// It is even already.
    Even,
    /// It was written anew, or would be.
    Changed,
    /// It was approved as it is: the text of a revision is never changed.
    Approved,
    /// It can't be laid out.
    Refused(Vec<Finding>),
}

/// Lays files out evenly; a folder means the YAML files in it. With `only_tell` nothing is written.
///
/// # Errors
/// Those of the system; nothing to lay out.
pub fn format_files(
    host: &dyn Host,
    paths: &[PathBuf],
    only_tell: bool,
) -> Result<Vec<(PathBuf, Formatted)>, AppError> {
    let mut files = Vec::new();
    for path in paths {
        collect(host, path, true, &mut files)?;
    }
    files.retain(|file| file.extension().is_some_and(|e| e == "yaml" || e == "yml"));
    if files.is_empty() {
        return Err(AppError::new(
            "there is nothing to lay out; recipes end in .yaml",
        ));
    }
    let one = |file: PathBuf| {
        let formatted = format_file(host, &file, only_tell)?;
        Ok((file, formatted))
    };
    files.into_iter().map(one).collect()
}

fn format_file(host: &dyn Host, file: &Path, only_tell: bool) -> Result<Formatted, AppError> {
    let source = match read_source(host, file)? {
        Ok(source) => source,
        Err(finding) => return Ok(Formatted::Refused(vec![finding])),
    };
    let even = match format(&source) {
        Ok(even) => even,
        Err(findings) => return Ok(Formatted::Refused(findings)),
    };
    if even == *source.text {
        return Ok(Formatted::Even);
    }
    if is_approved(host, file, &source.text)? {
        return Ok(Formatted::Approved);
    }
    if !only_tell {
        host.write(file, even.as_bytes())
            .map_err(|e| AppError::at(file, &e))?;
    }
    Ok(Formatted::Changed)
}

/// Whether this very text is an approved revision of the shop that the file lies in.
fn is_approved(host: &dyn Host, file: &Path, text: &str) -> Result<bool, AppError> {
    let (Some(id), Some(revision)) = id_and_revision(text) else {
        return Ok(false);
    };
    let here = std::path::absolute(file).map_err(|e| AppError::at(file, &e))?;
    let is_shop = |folder: &&Path| host.exists(&folder.join("shop.yaml"));
    let Some(shop) = here.ancestors().skip(1).find(is_shop) else {
        return Ok(false);
    };
    let standing = approvals(host, &Paths::at(shop))?;
    Ok(match standing.standing(id, revision) {
        Standing::Approved(entry) | Standing::Withdrawn(entry) => {
            entry.act.of().digest == digest_bytes(text.as_bytes())
        }
        Standing::Unapproved => false,
    })
}
