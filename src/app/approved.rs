//! The texts of recipes that were approved, for whoever looks at an old one.
//!
//! Never in here: whether one may be run (see `approve`). Changes when approved texts are kept otherwise.

use std::path::PathBuf;

use crate::host::Host;
use crate::shop::{Paths, Standing};
use crate::text::Source;

use super::approve::{listed, named_revision};
use super::open::read_source;
use super::{AppError, approvals};

/// The text of a recipe that was approved, for whoever looks at an old one.
///
/// # Errors
/// No such approval, and those of the system.
pub fn approved_source(
    host: &dyn Host,
    paths: &Paths,
    named: &str,
) -> Result<Option<Source>, AppError> {
    let Some(path) = approved_file(host, paths, named)? else {
        return Ok(None);
    };
    read_source(host, &path)?
        .map(Some)
        .map_err(|finding| AppError::Findings(vec![finding]))
}

/// The file of a text that was approved, by `RECIPE@REVISION`; nothing for another name.
///
/// # Errors
/// No such approval, and those of the system.
pub fn approved_file(
    host: &dyn Host,
    paths: &Paths,
    named: &str,
) -> Result<Option<PathBuf>, AppError> {
    let Some((id, revision)) = named_revision(named) else {
        return Ok(None);
    };
    let known = approvals(host, paths)?;
    let (Standing::Approved(entry) | Standing::Withdrawn(entry)) = known.standing(id, revision)
    else {
        return Err(AppError::new(format!(
            "`{named}` was never approved; {}",
            listed(&known, id)
        )));
    };
    Ok(Some(paths.approved_text(&entry.act.of().digest)))
}
