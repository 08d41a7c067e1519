//! What `check --watch` looks at: the files that are checked, and those that what is found in them can rest on.
//!
//! Never in here: the checks, waiting. Changes when checks look at other files.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::host::{Host, Stamp};

use super::AppError;
use super::check::collect;
use super::shelf::Shelf;

/// Size and time of change of each file.
pub type Seen = BTreeMap<PathBuf, Stamp>;

/// How the files stand that a check of these paths rests on: those that are checked, and all that lie beside them, in the
/// shop's folder and in that of its recipes, where bases, fragments, registers and approvals are.
///
/// # Errors
/// More files than one call checks.
pub fn seen(host: &dyn Host, paths: &[PathBuf]) -> Result<Seen, AppError> {
    let mut files = Vec::new();
    for path in paths {
        collect(host, path, true, &mut files)?;
    }
    let beside = |file: &PathBuf| file.parent().unwrap_or(Path::new("")).to_owned();
    let mut folders: BTreeSet<PathBuf> = files.iter().map(beside).collect();
    for folder in folders.clone() {
        folders.extend(Shelf::beside(host, &folder).places());
    }
    // Templates are checked with their shop.
    let templates: Vec<PathBuf> = folders.iter().map(|f| f.join("templates")).collect();
    folders.extend(templates);
    for folder in folders {
        let folder = if folder.as_os_str().is_empty() {
            PathBuf::from(".")
        } else {
            folder
        };
        // A folder that can't be listed has nothing that a check could read.
        let listed = host.list(&folder).unwrap_or_default();
        files.extend(listed.into_iter().filter(|file| !host.is_folder(file)));
    }
    let stamp = |file: PathBuf| host.stamp(&file).ok().map(|stamp| (file, stamp));
    Ok(files.into_iter().filter_map(stamp).collect())
}
