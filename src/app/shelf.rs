//! Where recipes find those that they rest on: beside the file, in the shop's folder of recipes, among the texts that were
//! approved.
//!
//! Never in here: what is done with them. Changes when recipes are kept elsewhere.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use crate::host::Host;
use crate::recipe::schema::nearest;
use crate::recipe::{Absent, Door, Fetched, Library, Name, Reading, read_with};
use crate::shop::{Paths, Standing};
use crate::text::{Severity, Source};
use crate::trust::digest_bytes;

use super::AppError;
use super::ledgers::approvals;
use super::open::read_source;

/// Most files of a folder that are looked through for a recipe's id.
const MAX_FILES: usize = 10_000;
/// Most lines at the top of a file in which its id and revision are looked for.
const MAX_LINES: usize = 2_000;

/// A file with a recipe in it.
#[derive(Clone, Debug)]
struct Filed {
    path: PathBuf,
    source: Source,
    revision: u32,
}

/// The recipes that those of a folder may rest on.
pub(super) struct Shelf<'h> {
    host: &'h dyn Host,
    /// The folders that are looked through, in this order.
    folders: Vec<PathBuf>,
    shop: Option<Paths>,
    /// The recipes of the folders by their ids, if it came to looking through them.
    by_id: OnceLock<HashMap<String, Vec<PathBuf>>>,
}

impl<'h> Shelf<'h> {
    /// For recipes in a folder: those in it, and those of the shop that it lies in.
    pub(super) fn beside(host: &'h dyn Host, folder: &Path) -> Self {
        let here = absolute(folder);
        let root = here
            .as_deref()
            .and_then(|here| here.ancestors().find(|f| host.exists(&f.join("shop.yaml"))));
        let shop = root.map(|root| {
            // As the user names it, where that can be told.
            let up = here.as_deref().and_then(|h| h.strip_prefix(root).ok());
            let count = up.map_or(0, |up| up.components().count());
            let named = folder.ancestors().nth(count);
            let named = named.filter(|n| absolute(n).is_some_and(|n| n == *root));
            let named = named.unwrap_or(root);
            let here = Path::new(".");
            Paths::at(if named.as_os_str().is_empty() {
                here
            } else {
                named
            })
        });
        let mut folders = vec![folder.to_owned()];
        if let Some(recipes) = shop.as_ref().map(Paths::recipes)
            && absolute(&recipes) != here
        {
            folders.push(recipes);
        }
        Self {
            host,
            folders,
            shop,
            by_id: OnceLock::new(),
        }
    }

    /// The folders that are looked into: with recipes, and the shop's own for what was approved.
    pub(super) fn places(&self) -> Vec<PathBuf> {
        let shop = self.shop.as_ref().map(|paths| paths.root.clone());
        self.folders.iter().cloned().chain(shop).collect()
    }

    /// The recipe in a file, if it is the one of that id.
    fn filed(&self, path: &Path, id: &str) -> Option<Filed> {
        let source = read_source(self.host, path).ok()?.ok()?;
        let (found, revision) = id_and_revision(&source.text);
        (found == Some(id)).then(|| Filed {
            path: path.to_owned(),
            source,
            revision: revision.unwrap_or(0),
        })
    }

    /// The files that hold a recipe: the one named after it, else those whose id it is.
    fn files(&self, name: &Name) -> Vec<Filed> {
        let named = self.folders.iter().flat_map(|folder| {
            ["yaml", "yml"].map(|ending| folder.join(format!("{}.{ending}", name.id)))
        });
        let named = named.filter(|path| self.host.exists(path));
        let found: Vec<Filed> = named.filter_map(|p| self.filed(&p, &name.id)).collect();
        if found.iter().any(|f| f.revision == name.revision) {
            return found;
        }
        let others = self.ids().get(&name.id).into_iter().flatten();
        let others: Vec<Filed> = others
            .filter(|path| found.iter().all(|f| f.path != **path))
            .filter_map(|path| self.filed(path, &name.id))
            .collect();
        found.into_iter().chain(others).collect()
    }

    /// All recipes of the folders by their ids.
    fn ids(&self) -> &HashMap<String, Vec<PathBuf>> {
        self.by_id.get_or_init(|| {
            let mut ids: HashMap<String, Vec<PathBuf>> = HashMap::new();
            let lists = self.folders.iter().filter_map(|f| listed(self.host, f));
            let is_yaml = |p: &PathBuf| p.extension().is_some_and(|e| e == "yaml" || e == "yml");
            for path in lists.flatten().filter(is_yaml).take(MAX_FILES) {
                let source = read_source(self.host, &path).ok().and_then(Result::ok);
                if let Some(source) = source
                    && let (Some(id), _) = id_and_revision(&source.text)
                {
                    ids.entry(id.to_owned()).or_default().push(path);
                }
            }
            ids
        })
    }

    /// The text of a revision that was approved, if it was.
    ///
    /// # Errors
    /// A ledger or text that can't be read, or was altered.
    pub(super) fn approved(&self, name: &Name) -> Result<Option<Source>, String> {
        let Some(paths) = &self.shop else {
            return Ok(None);
        };
        let known = approvals(self.host, paths).map_err(|e| e.to_string())?;
        let (Standing::Approved(entry) | Standing::Withdrawn(entry)) =
            known.standing(&name.id, name.revision)
        else {
            return Ok(None);
        };
        let digest = &entry.act.of().digest;
        let path = paths.approved_text(digest);
        let source = read_source(self.host, &path).map_err(|e| e.to_string())?;
        let altered = || {
            let path = path.display();
            format!("{path}: was altered after it was approved; put it back from a copy")
        };
        let source = source.map_err(|_| altered())?;
        if digest_bytes(source.text.as_bytes()) != *digest {
            return Err(altered());
        }
        Ok(Some(source))
    }

    /// The recipe that may have been meant.
    fn near(&self, id: &str) -> Option<String> {
        nearest(id, self.ids().keys().map(String::as_str)).map(str::to_owned)
    }
}

impl Door for Shelf<'_> {
    fn fetch(&self, name: &Name) -> Result<Fetched, Absent> {
        let files = self.files(name);
        let newest = files.iter().map(|f| f.revision).max().unwrap_or(0);
        let newest = newest.max(name.revision);
        if let Some(file) = files.iter().find(|f| f.revision == name.revision) {
            let source = file.source.clone();
            return Ok(Fetched { source, newest });
        }
        match self.approved(name) {
            Ok(Some(source)) => Ok(Fetched { source, newest }),
            Err(why) => Err(Absent::Unreadable(why)),
            Ok(None) => Err(match files.first() {
                Some(file) => {
                    let place = format!("`{}`", file.path.display());
                    Absent::OtherRevision(place, file.revision)
                }
                None => Absent::Unknown(self.near(&name.id)),
            }),
        }
    }
}

/// A path from the root; the empty one is the folder at hand.
fn absolute(path: &Path) -> Option<PathBuf> {
    match path.as_os_str().is_empty() {
        true => std::path::absolute(".").ok(),
        false => std::path::absolute(path).ok(),
    }
}

/// The files of a folder, named as the folder is.
fn listed(host: &dyn Host, folder: &Path) -> Option<Vec<PathBuf>> {
    if !folder.as_os_str().is_empty() {
        return host.list(folder).ok();
    }
    let files = host.list(Path::new(".")).ok()?.into_iter();
    let plain = |f: PathBuf| f.strip_prefix(".").map(Path::to_owned).unwrap_or(f);
    Some(files.map(plain).collect())
}

/// Id and revision of a recipe, by the lines of its header: cheaper than reading all of a file that is not the one.
pub(super) fn id_and_revision(text: &str) -> (Option<&str>, Option<u32>) {
    let value = |key: &str| {
        let lines = text.lines().take(MAX_LINES);
        let rest = lines.filter_map(|line| line.strip_prefix(key)?.strip_prefix(':'));
        let value = rest
            .map(|rest| rest.split(" #").next().unwrap_or_default())
            .next()?;
        Some(value.trim().trim_matches(['"', '\'']))
    };
    (
        value("recipe"),
        value("revision").and_then(|r| r.parse().ok()),
    )
}

/// Reads a recipe's file, and what it rests on.
///
/// # Errors
/// Those of the system; a file that is no text.
pub(super) fn read_recipe(host: &dyn Host, path: &Path) -> Result<Reading, AppError> {
    let source = read_source(host, path)?.map_err(|finding| AppError::Findings(vec![finding]))?;
    let shelf = Shelf::beside(host, path.parent().unwrap_or(Path::new("")));
    Ok(read_through(source, &shelf))
}

/// Reads a recipe, and what it rests on through a door.
pub(super) fn read_through(source: Source, door: &dyn Door) -> Reading {
    let name = format!("{} (written out)", source.name);
    let mut reading = read_with(source, &Library::new(door));
    let whole = reading
        .whole
        .as_ref()
        .filter(|w| w.document.is_put_together());
    let text = whole
        .filter(|_| reading.plan.is_some())
        .map(|whole| Source::new(&name, whole.text()));
    if let Some(text) = text {
        // What is run is what the effective text says by itself; that is what others will read later.
        let again = crate::recipe::read(text);
        let errors = again.findings.into_iter();
        reading
            .findings
            .extend(errors.filter(|f| f.severity() == Severity::Error));
        reading.plan = again.plan;
    }
    reading
}
