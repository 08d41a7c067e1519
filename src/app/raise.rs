//! `raise`: all recipes of the shop that rest on an older revision of a recipe rest on its newest one, and those that rest on
//! these too. Nothing is written of what would have errors then.
//!
//! Never in here: how a text is changed (see `recipe::raising`). Changes when recipes are raised by another rule.

use std::collections::{BTreeMap, HashMap};
use std::path::PathBuf;

use serde_json::Value;

use crate::diff::{Difference, Revision, Weight, compare};
use crate::host::Host;
use crate::plan::Plan;
use crate::recipe::cursor::At;
use crate::recipe::raising::{HistoryEntry, pins, raised};
use crate::recipe::yaml::Document;
use crate::recipe::{Absent, Door, Fetched, Name, Reading};
use crate::shop::{Approvals, Standing};
use crate::text::{Finding, Severity, Source};

use super::beneath::withdrawn;
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
    /// Why; without it, what `changes` of the newer revision says.
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
    /// What it is; of the same revision where that was never approved and has the same author.
    pub now: Name,
    /// What it rests on that has another revision or text now.
    pub on: Vec<Name>,
    /// Its own settings, with their values, that go before those which the newer revision changed.
    pub keeps: Vec<(String, String)>,
    /// What that changes against its newest approved revision, where that can be told; or the errors that keep it from being
    /// written.
    pub outcome: Result<Option<Difference>, Vec<Finding>>,
}

impl Raised {
    /// Whether something changes in effect.
    #[must_use]
    pub fn is_changed(&self) -> bool {
        let of = |d: &Difference| d.changes.iter().any(|c| !is_formal(c.weight));
        matches!(&self.outcome, Ok(Some(difference)) if of(difference))
    }
}

fn is_formal(weight: Weight) -> bool {
    matches!(weight, Weight::Identity | Weight::Notation)
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
        let of_it = self.raised.keys().filter(|n| n.id == name.id);
        let newest = of_it.map(|n| n.revision).max();
        if let Some(source) = self.raised.get(name) {
            let newest = newest.unwrap_or(name.revision);
            let source = source.clone();
            return Ok(Fetched { source, newest });
        }
        self.shelf.fetch(name)
    }
}

/// A shop's recipes, about to be raised.
struct Work<'a> {
    host: &'a dyn Host,
    open: &'a OpenShop,
    asked: &'a Raising<'a>,
    known: Approvals,
    shelf: Shelf<'a>,
    root: &'a Kept,
    /// The revision that each has in the end, of those whose text or base changes.
    to: BTreeMap<String, u32>,
}

/// Raises all recipes that rest on an older revision of a recipe, or on one that is raised; also tells of files in the folder
/// that can't be read.
///
/// # Errors
/// No such recipe, one that was withdrawn or has errors, and those of the system; then nothing is raised.
pub fn raise(
    host: &dyn Host,
    open: &OpenShop,
    asked: &Raising<'_>,
) -> Result<(Vec<Raised>, Vec<Finding>), AppError> {
    if open.people.iter().all(|p| p.id != asked.by) {
        return Err(AppError::new(format!(
            "`{}` is not in people.yaml",
            asked.by
        )));
    }
    let (kept, unread) = recipes_of(host, open)?;
    let Some(root) = kept.iter().find(|k| k.name.id == asked.recipe) else {
        return Err(AppError::new(format!(
            "there is no recipe `{}` in {}",
            asked.recipe,
            open.paths.recipes().display()
        )));
    };
    let known = approvals(host, &open.paths)?;
    if let Some(why) = withdrawn(&known, &root.name) {
        return Err(AppError::new(format!(
            "{why}\nnothing is raised to it; give it another revision first"
        )));
    }
    let shelf = Shelf::beside(host, &open.paths.recipes());
    errors_of(read_through(root.document.source.clone(), &shelf)).map_err(AppError::Findings)?;
    let mut work = Work {
        host,
        open,
        asked,
        known,
        shelf,
        root,
        to: BTreeMap::new(),
    };
    work.to = work.ends(&kept);
    Ok((work.raise(&kept)?, unread))
}

impl Work<'_> {
    /// The revision of each recipe in the end: that of the one that was asked for, and of each that rests on an older one or
    /// on one whose text changes.
    fn ends(&self, kept: &[Kept]) -> BTreeMap<String, u32> {
        let root = &self.root.name;
        let mut to = BTreeMap::from([(root.id.clone(), root.revision)]);
        // Each turn finds one more at least; none is found twice.
        loop {
            let is_behind = |pin: &Name| {
                let end = to.get(&pin.id);
                end.is_some_and(|r| *r > pin.revision || *r == pin.revision && pin.id != root.id)
            };
            let more: Vec<(String, u32)> = (kept.iter())
                .filter(|k| !to.contains_key(&k.name.id))
                .filter(|k| k.pins.iter().any(|(pin, _)| is_behind(pin)))
                .map(|k| (k.name.id.clone(), self.end_of(k)))
                .collect();
            if more.is_empty() {
                return to;
            }
            to.extend(more);
        }
    }

    /// A revision that was approved gets the next one, and so does one of another author: whoever raises a recipe has a part
    /// in it.
    fn end_of(&self, kept: &Kept) -> u32 {
        let name = &kept.name;
        let standing = self.known.standing(&name.id, name.revision);
        let is_open = matches!(standing, Standing::Unapproved);
        let is_own = said_of(kept, name.revision, "by").as_deref() == Some(self.asked.by);
        name.revision + u32::from(!(is_open && is_own))
    }

    fn raise(&self, kept: &[Kept]) -> Result<Vec<Raised>, AppError> {
        let mut all: Vec<(&Kept, Raised, Source)> = Vec::new();
        for recipe in kept.iter().filter(|k| k.name != self.root.name) {
            let Some(revision) = self.to.get(&recipe.name.id) else {
                continue;
            };
            let now = Name {
                id: recipe.name.id.clone(),
                revision: *revision,
            };
            let on = self.on(recipe);
            let is_moved = |pin: &Name| self.to.get(&pin.id).is_some_and(|r| *r > pin.revision);
            if now == recipe.name && !recipe.pins.iter().any(|(pin, _)| is_moved(pin)) {
                continue;
            }
            let (source, outcome) = match self.text(recipe, &now, &on, true) {
                Ok(source) => (source, Ok(None)),
                Err(findings) => (recipe.document.source.clone(), Err(findings)),
            };
            let one = Raised {
                path: recipe.path.clone(),
                before: recipe.name.clone(),
                now,
                on,
                keeps: self.keeps(recipe),
                outcome,
            };
            all.push((recipe, one, source));
        }
        let overlay = Overlay {
            raised: all
                .iter()
                .map(|(_, one, source)| (one.now.clone(), source.clone()))
                .collect(),
            shelf: &self.shelf,
        };
        for (recipe, one, source) in &mut all {
            if one.outcome.is_ok() {
                let reading = read_through(source.clone(), &overlay);
                one.outcome = self.weighed(recipe, reading);
            }
            // What does not reach a recipe is not said to have changed it.
            if matches!(one.outcome, Ok(Some(_)))
                && !one.is_changed()
                && let Ok(text) = self.text(recipe, &one.now, &one.on, false)
            {
                *source = text;
            }
        }
        if !self.asked.only_tell {
            self.write(&all)?;
        }
        Ok(all.into_iter().map(|(_, one, _)| one).collect())
    }

    /// What a recipe will rest on, of what changes.
    fn on(&self, recipe: &Kept) -> Vec<Name> {
        let of = |(pin, _): &(Name, String)| {
            let revision = *self.to.get(&pin.id)?;
            let id = pin.id.clone();
            Some(Name { id, revision })
        };
        let mut on: Vec<Name> = recipe.pins.iter().filter_map(of).collect();
        on.sort_by(|a, b| a.id.cmp(&b.id));
        on.dedup();
        on
    }

    fn text(
        &self,
        recipe: &Kept,
        now: &Name,
        on: &[Name],
        reaches: bool,
    ) -> Result<Source, Vec<Finding>> {
        let why = match self.asked.why {
            Some(why) => why.trim().to_owned(),
            None => self.why(recipe, on, reaches),
        };
        let entry = HistoryEntry {
            revision: now.revision,
            date: &self.host.today(),
            by: self.asked.by,
            why: &why,
        };
        let text = raised(&recipe.document, &self.to, &entry)?;
        Ok(Source::new(&recipe.document.source.name, &text))
    }

    /// The reason to follow: what the newer revisions say of themselves.
    fn why(&self, recipe: &Kept, on: &[Name], reaches: bool) -> String {
        let root = &self.root.name;
        let pinned = |k: &Kept| {
            let of_root = k.pins.iter().filter(|(pin, _)| pin.id == root.id);
            of_root.map(|(pin, _)| pin.revision).min()
        };
        let first = pinned(recipe).unwrap_or(root.revision.saturating_sub(1)) + 1;
        let said: Vec<String> = (first..=root.revision)
            .filter_map(|revision| said_of(self.root, revision, "why"))
            .collect();
        let names: Vec<String> = on.iter().map(Name::to_string).collect();
        let mut why = format!("Rests on {}", names.join(" and "));
        if !on.contains(root) {
            why += &format!(", and so on {root}");
        }
        match (said.is_empty(), reaches) {
            (false, true) => format!("{why}: {}", said.join("; ")),
            (false, false) => format!("{why}; nothing changes here by it ({})", said.join("; ")),
            (true, true) => why,
            (true, false) => format!("{why}; nothing changes here by it"),
        }
    }

    /// The settings of a recipe that go before those which the newer revision changed.
    fn keeps(&self, recipe: &Kept) -> Vec<(String, String)> {
        let settings = |document: &Document| {
            document
                .root
                .get("settings")
                .and_then(Value::as_object)
                .cloned()
        };
        let pin = recipe
            .pins
            .iter()
            .find(|(pin, _)| pin.id == self.root.name.id);
        let old = pin.and_then(|(pin, _)| self.shelf.fetch(pin).ok());
        let old = old.and_then(|fetched| settings(&Document::read(fetched.source).ok()?));
        let (Some(old), Some(new), Some(own)) = (
            old,
            settings(&self.root.document),
            settings(&recipe.document),
        ) else {
            return Vec::new();
        };
        let kept = own
            .into_iter()
            .filter(|(name, _)| old.get(name) != new.get(name));
        let text = |value: Value| {
            value
                .as_str()
                .map_or_else(|| value.to_string(), str::to_owned)
        };
        kept.map(|(name, value)| (name, text(value))).collect()
    }

    /// What changes against the newest approved revision; against the file where none is approved.
    fn weighed(&self, recipe: &Kept, now: Reading) -> Result<Option<Difference>, Vec<Finding>> {
        let now = errors_of(now)?;
        let newest = self.known.newest(&recipe.name.id).map(|e| Name {
            id: recipe.name.id.clone(),
            revision: e.act.of().revision,
        });
        let approved = newest.and_then(|name| self.shelf.approved(&name).ok().flatten());
        let before = approved.unwrap_or_else(|| recipe.document.source.clone());
        let before = read_through(before, &self.shelf);
        // A fragment has no plan, nor has what rested on a text that is gone.
        let (Some(old), Some(new)) = (before.plan, now.plan) else {
            return Ok(None);
        };
        let of = |plan: Plan| {
            let named = format!("{}@{}", plan.recipe, plan.revision);
            Revision::new(&named, plan).map(|r| r.in_shop(Some(self.open.shop.decision)))
        };
        Ok(Some(compare(&of(old)?, &of(new)?)))
    }

    /// Writes all that have no errors; if one can't be written, those before it are put back.
    fn write(&self, all: &[(&Kept, Raised, Source)]) -> Result<(), AppError> {
        let mut written: Vec<&Kept> = Vec::new();
        for (recipe, _, source) in all.iter().filter(|(_, one, _)| one.outcome.is_ok()) {
            if let Err(error) = self.host.write(&recipe.path, source.text.as_bytes()) {
                let mut told =
                    format!("{}; nothing was raised", AppError::at(&recipe.path, &error));
                for one in written {
                    let old = one.document.source.text.as_bytes();
                    if let Err(error) = self.host.write(&one.path, old) {
                        told += &format!(
                            "\n{} is raised, and can't be put back: {error}",
                            one.path.display()
                        );
                    }
                }
                return Err(AppError::new(told));
            }
            written.push(recipe);
        }
        Ok(())
    }
}

/// The recipes and fragments in the shop's folder, of each its newest revision; and what is wrong with those that can't be
/// read.
fn recipes_of(host: &dyn Host, open: &OpenShop) -> Result<(Vec<Kept>, Vec<Finding>), AppError> {
    let mut files = Vec::new();
    collect(host, &open.paths.recipes(), false, &mut files)?;
    let (mut kept, mut unread): (Vec<Kept>, _) = (Vec::new(), Vec::new());
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
            Err(faults) => unread.extend(faults),
        }
    }
    kept.sort_by(|a, b| {
        let newest_first = b.name.revision.cmp(&a.name.revision);
        a.name.id.cmp(&b.name.id).then(newest_first)
    });
    kept.dedup_by(|b, a| a.name.id == b.name.id);
    Ok((kept, unread))
}

/// What a recipe's history says of a revision under a key.
fn said_of(kept: &Kept, revision: u32, key: &str) -> Option<String> {
    let revision = revision.to_string();
    let of_it = |at: &At<'_>| at.text_of("revision").as_ref() == Some(&revision);
    let changes = At::root(&kept.document).get("changes")?;
    changes.items().find(of_it)?.text_of(key)
}

/// A reading without errors, or its errors.
fn errors_of(reading: Reading) -> Result<Reading, Vec<Finding>> {
    let is_error = |f: &Finding| f.severity() == Severity::Error;
    match reading.findings.iter().any(is_error) {
        true => Err(reading.findings.into_iter().filter(is_error).collect()),
        false => Ok(reading),
    }
}
