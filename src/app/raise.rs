//! `raise`: all recipes of the shop that rest on an older revision of a recipe rest on its newest one, and those that rest on
//! these too. Nothing is written of what would have errors then.
//!
//! Never in here: how a text is changed (see `recipe::raising`). Changes when recipes are raised by another rule.

use std::collections::{BTreeMap, HashMap};
use std::path::PathBuf;

use crate::diff::{Difference, Revision, compare};
use crate::host::Host;
use crate::recipe::cursor::At;
use crate::recipe::raising::{HistoryEntry, pins, raised};
use crate::recipe::yaml::Document;
use crate::recipe::{Absent, Door, Fetched, Name, Reading};
use crate::shop::Standing;
use crate::text::{Finding, Severity, Source};

use super::check::collect;
use super::open::{OpenShop, read_source};
use super::shelf::{Shelf, read_through};
use super::{AppError, approvals};

/// What is to be raised.
#[derive(Clone, Copy, Debug)]
pub struct Raising<'a> {
    /// The recipe or fragment that has a newer revision.
    pub recipe: &'a str,
    /// Who raises; stands in `changes`.
    pub by: &'a str,
    /// Why; without it, what the newest entry in `changes` of the raised recipe says.
    pub why: Option<&'a str>,
    /// Nothing is written.
    pub only_tell: bool,
}

/// A recipe that rests on newer revisions now.
#[derive(Debug)]
pub struct Raised {
    /// Its file.
    pub path: PathBuf,
    /// What it was.
    pub before: Name,
    /// What it is; of the same revision where the one before was never approved.
    pub now: Name,
    /// What it rests on now, as far as that changed.
    pub on: Vec<Name>,
    /// What that changes, where that can be told; or the errors that keep it from being written.
    pub outcome: Result<Option<Difference>, Vec<Finding>>,
}

/// A recipe of the shop's folder.
struct Kept {
    path: PathBuf,
    document: Document,
    name: Name,
    pins: Vec<(Name, String)>,
}

/// Recipes as they would be.
struct Overlay<'a> {
    raised: HashMap<Name, Source>,
    shelf: &'a Shelf<'a>,
}

impl Door for Overlay<'_> {
    fn fetch(&self, name: &Name) -> Result<Fetched, Absent> {
        let newest = self
            .raised
            .keys()
            .filter(|n| n.id == name.id)
            .map(|n| n.revision)
            .max();
        if let Some(source) = self.raised.get(name) {
            let newest = newest.unwrap_or(name.revision);
            return Ok(Fetched {
                source: source.clone(),
                newest,
            });
        }
        self.shelf.fetch(name)
    }
}

/// Raises all recipes that rest on an older revision of a recipe, or on one that is raised.
///
/// # Errors
/// No such recipe, recipes that can't be read, nothing to raise, and those of the system.
pub fn raise(
    host: &dyn Host,
    open: &OpenShop,
    asked: &Raising<'_>,
) -> Result<Vec<Raised>, AppError> {
    if open.people.iter().all(|p| p.id != asked.by) {
        return Err(AppError::new(format!(
            "`{}` is not in people.yaml",
            asked.by
        )));
    }
    let kept = recipes_of(host, open)?;
    let root = kept
        .iter()
        .filter(|k| k.name.id == asked.recipe)
        .max_by_key(|k| k.name.revision);
    let Some(root) = root else {
        return Err(AppError::new(format!(
            "there is no recipe `{}` in {}",
            asked.recipe,
            open.paths.recipes().display()
        )));
    };
    let known = approvals(host, &open.paths)?;
    let is_entered = |name: &Name| {
        !matches!(
            known.standing(&name.id, name.revision),
            Standing::Unapproved
        )
    };
    let to = raised_ids(&kept, root, &is_entered);
    let why = match asked.why {
        Some(why) => why.trim().to_owned(),
        None => follows(root),
    };
    let today = host.today();
    let mut changed: Vec<(&Kept, Name, Source)> = Vec::new();
    for recipe in &kept {
        let moved = recipe
            .pins
            .iter()
            .any(|(pin, _)| to.get(&pin.id).is_some_and(|r| *r > pin.revision));
        if !moved {
            continue;
        }
        let revision = to
            .get(&recipe.name.id)
            .copied()
            .unwrap_or(recipe.name.revision);
        let entry = HistoryEntry {
            revision,
            date: &today,
            by: Some(asked.by),
            why: &why,
        };
        let entry = (revision > recipe.name.revision).then_some(entry);
        let text = raised(&recipe.document, &to, entry.as_ref());
        let now = Name {
            id: recipe.name.id.clone(),
            revision,
        };
        let source = Source::new(&recipe.document.source.name, &text);
        changed.push((recipe, now, source));
    }
    let shelf = Shelf::beside(host, &open.paths.recipes());
    let overlay = Overlay {
        raised: changed
            .iter()
            .map(|(_, name, source)| (name.clone(), source.clone()))
            .collect(),
        shelf: &shelf,
    };
    let mut all = Vec::new();
    for (recipe, now, source) in changed {
        let on = pins_of(&source)
            .into_iter()
            .filter(|n| to.get(&n.id) == Some(&n.revision))
            .collect();
        // What was approved counts, even where what it rested on is gone.
        let before = shelf.approved(&recipe.name).map_err(AppError::new)?;
        let before = before.unwrap_or_else(|| recipe.document.source.clone());
        let before = read_through(before, &shelf);
        let outcome = weighed(open, before, read_through(source.clone(), &overlay));
        if outcome.is_ok() && !asked.only_tell {
            host.write(&recipe.path, source.text.as_bytes())
                .map_err(|e| AppError::at(&recipe.path, &e))?;
        }
        all.push(Raised {
            path: recipe.path.clone(),
            before: recipe.name.clone(),
            now,
            on,
            outcome,
        });
    }
    Ok(all)
}

/// The recipes and fragments in the shop's folder.
fn recipes_of(host: &dyn Host, open: &OpenShop) -> Result<Vec<Kept>, AppError> {
    let mut files = Vec::new();
    collect(host, &open.paths.recipes(), false, &mut files)?;
    let (mut kept, mut findings) = (Vec::new(), Vec::new());
    for path in files {
        let document = read_source(host, &path)?
            .map_err(|f| vec![f])
            .and_then(Document::read);
        match document {
            Ok(document) => kept.push(Kept {
                name: Name::of(&document),
                pins: pins(&document),
                path,
                document,
            }),
            Err(faults) => findings.extend(faults),
        }
    }
    match findings.is_empty() {
        true => Ok(kept),
        false => Err(AppError::Findings(findings)),
    }
}

fn pins_of(source: &Source) -> Vec<Name> {
    let document = Document::read(source.clone());
    let pins = document.map(|d| pins(&d)).unwrap_or_default();
    let mut names: Vec<Name> = pins.into_iter().map(|(name, _)| name).collect();
    names.sort_by(|a, b| a.id.cmp(&b.id));
    names.dedup();
    names
}

/// The revision of each recipe that another one has to rest on: that of the one that was asked for, and one more of each that
/// rests on an older one. A revision that was never approved is changed as it stands.
fn raised_ids(
    kept: &[Kept],
    root: &Kept,
    is_entered: &dyn Fn(&Name) -> bool,
) -> BTreeMap<String, u32> {
    let mut to = BTreeMap::from([(root.name.id.clone(), root.name.revision)]);
    // Each turn raises one more at least; none is raised twice.
    loop {
        let behind = |k: &&Kept| {
            !to.contains_key(&k.name.id)
                && k.pins
                    .iter()
                    .any(|(pin, _)| to.get(&pin.id).is_some_and(|r| *r > pin.revision))
        };
        let more: Vec<(String, u32)> = (kept.iter().filter(behind))
            .map(|k| {
                (
                    k.name.id.clone(),
                    k.name.revision + u32::from(is_entered(&k.name)),
                )
            })
            .collect();
        if more.is_empty() {
            return to;
        }
        to.extend(more);
    }
}

/// What a recipe's own history says of its revision, as the reason to follow it.
fn follows(root: &Kept) -> String {
    let name = &root.name;
    let revision = name.revision.to_string();
    let said = At::root(&root.document).get("changes").and_then(|changes| {
        let of_it = |at: &At<'_>| at.text_of("revision").as_ref() == Some(&revision);
        changes.items().find(of_it)?.text_of("why")
    });
    match said {
        Some(why) => format!("Rests on {name}: {why}"),
        None => format!("Rests on {name}"),
    }
}

fn weighed(
    open: &OpenShop,
    before: Reading,
    now: Reading,
) -> Result<Option<Difference>, Vec<Finding>> {
    let is_error = |f: &Finding| f.severity() == Severity::Error;
    if now.findings.iter().any(is_error) {
        return Err(now.findings.into_iter().filter(is_error).collect());
    }
    // A fragment has no plan, nor has what rested on a text that is gone.
    let (Some(old), Some(new)) = (before.plan, now.plan) else {
        return Ok(None);
    };
    let of = |plan: crate::plan::Plan| {
        let named = format!("{}@{}", plan.recipe, plan.revision);
        Revision::new(&named, plan).map(|r| r.in_shop(Some(open.shop.decision)))
    };
    Ok(Some(compare(&of(old)?, &of(new)?)))
}
