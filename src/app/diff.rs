//! `diff`: two revisions of a recipe, wherever they lie, held against each other; also as git's external diff.
//!
//! Never in here: what a change weighs (see the room `diff`). Changes when a revision can lie somewhere else.

use std::path::Path;

use similar::TextDiff;

use crate::diff::{Difference, Revision, compare};
use crate::host::Host;
use crate::plan::Decision;
use crate::recipe::yaml::MAX_BYTES;
use crate::recipe::{Absent, Door, Fetched, Name, Reading};
use crate::shop::{Paths, read_shop};
use crate::text::{Finding, Source};

use super::approved::approved_source;
use super::open::read_source;
use super::shelf::{Shelf, id_and_revision, read_recipe, read_through};
use super::{AppError, find_shop};

/// What git gives for a side that does not exist.
const NOTHING: &str = "/dev/null";
/// Lines around a change of a text.
const CONTEXT: usize = 3;

/// Two revisions, compared.
#[derive(Debug)]
pub struct Compared {
    /// The older one.
    pub old: Revision,
    /// The newer one.
    pub new: Revision,
    /// What differs.
    pub difference: Difference,
}

/// Where revisions are looked for.
#[derive(Clone, Copy)]
pub struct Around<'a> {
    /// The outside.
    pub host: &'a dyn Host,
    /// The shop that was named.
    pub shop: Option<&'a Path>,
    /// The folder that the command runs in.
    pub here: &'a Path,
}

/// Compares two revisions: files, `RECIPE@REVISION`, or `GITREV:PATH`.
///
/// # Errors
/// A revision that is not there, findings of one with errors, and those of the system.
pub fn diff(around: Around<'_>, old: &str, new: &str) -> Result<Compared, AppError> {
    let (a, b) = (around.revision(old), around.revision(new));
    let (a, b) = match (a, b) {
        (Err(AppError::Findings(mut a)), Err(AppError::Findings(b))) => {
            a.extend(b);
            return Err(AppError::Findings(a));
        }
        (a, b) => (a?, b?),
    };
    Ok(Compared {
        difference: compare(&a, &b),
        old: a,
        new: b,
    })
}

impl Around<'_> {
    fn revision(self, named: &str) -> Result<Revision, AppError> {
        let path = Path::new(named);
        let reading = if self.host.exists(path) {
            read_recipe(self.host, path)?
        } else if let Some((revision, path)) = named.split_once(':') {
            self.of_git(named, revision, path)?
        } else if named.contains('@') {
            self.approved(named)?
        } else {
            self.of_shop(named)?
        };
        let revision = Revision::of(named, reading).map_err(AppError::Findings)?;
        Ok(revision.in_shop(self.rule()))
    }

    /// The decision rule of the shop, where there is one that can be read.
    fn rule(self) -> Option<Decision> {
        let file = self.paths().ok()?.file("shop.yaml");
        let (shop, _) = read_shop(read_source(self.host, &file).ok()?.ok()?);
        Some(shop?.decision)
    }

    fn paths(self) -> Result<Paths, AppError> {
        find_shop(self.host, self.shop, self.here).map(|root| Paths::at(&root))
    }

    /// The whole text of a revision that was approved.
    fn approved(self, named: &str) -> Result<Reading, AppError> {
        let found = approved_source(self.host, &self.paths()?, named)?;
        let source = found.ok_or_else(|| {
            AppError::new(format!(
                "`{named}`: write it as RECIPE@REVISION, `volumetric-annual@3`"
            ))
        })?;
        Ok(crate::recipe::read(source))
    }

    fn of_shop(self, named: &str) -> Result<Reading, AppError> {
        let paths = self.paths().ok();
        let path = paths.map(|p| p.recipes().join(format!("{named}.yaml")));
        match path.filter(|path| self.host.exists(path)) {
            Some(path) => read_recipe(self.host, &path),
            None => Err(AppError::new(format!(
                "there is no file or recipe `{named}`; name a file, RECIPE@REVISION or GITREV:PATH"
            ))),
        }
    }

    /// A file of a revision in git, with what lies beside it there; else with what lies in the folder now.
    fn of_git(self, named: &str, revision: &str, path: &str) -> Result<Reading, AppError> {
        if revision.is_empty() || path.is_empty() {
            return Err(AppError::new(format!(
                "`{named}`: write it as GITREV:PATH, `HEAD:recipes/volumetric-annual.yaml`"
            )));
        }
        let source = self
            .git_source(named)
            .map_err(|why| AppError::new(format!("`{named}`: {why}")))?;
        let folder = Path::new(path).parent().unwrap_or(Path::new(""));
        let door = GitShelf {
            around: self,
            folder: format!("{revision}:{}", folder.display()),
            now: Shelf::beside(self.host, &self.here.join(folder)),
        };
        Ok(read_through(source, &door))
    }

    fn git_source(self, named: &str) -> Result<Source, String> {
        let bytes = self
            .host
            .git_show(self.here, named, MAX_BYTES as u64)
            .map_err(|e| e.to_string())?;
        let text = String::from_utf8(bytes).map_err(|_| "it is not UTF-8 text".to_owned())?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        Ok(Source::new(named, text))
    }
}

/// The recipes beside one in a revision of git, and behind them those of today.
struct GitShelf<'a> {
    around: Around<'a>,
    /// `REVISION:FOLDER`
    folder: String,
    now: Shelf<'a>,
}

impl Door for GitShelf<'_> {
    fn fetch(&self, name: &Name) -> Result<Fetched, Absent> {
        let slash = if self.folder.ends_with(':') { "" } else { "/" };
        let beside = format!("{}{slash}{}.yaml", self.folder, name.id);
        match self.around.git_source(&beside) {
            Ok(source)
                if id_and_revision(&source.text) == (Some(&name.id), Some(name.revision)) =>
            {
                let newest = name.revision;
                Ok(Fetched { source, newest })
            }
            // Of another revision there, or under another name.
            _ => self.now.fetch(name),
        }
    }
}

/// What git tells its external diff of a file.
#[derive(Clone, Copy, Debug)]
pub struct GitFile<'a> {
    /// Its path.
    pub path: &'a str,
    /// A file with the old text.
    pub old: &'a str,
    /// A file with the new text.
    pub new: &'a str,
    /// The path that it was renamed to.
    pub renamed: Option<&'a str>,
}

impl<'a> GitFile<'a> {
    /// From the seven arguments that git gives, nine where the file was renamed.
    #[must_use]
    pub fn from_arguments(given: &'a [String]) -> Option<Self> {
        let (path, old, new, renamed) = match given {
            [path, old, _, _, new, _, _] => (path, old, new, None),
            [path, old, _, _, new, _, _, renamed, _] => (path, old, new, Some(renamed.as_str())),
            _ => return None,
        };
        Some(Self {
            path,
            old,
            new,
            renamed,
        })
    }
}

/// What git's external diff has to tell of a file.
#[derive(Debug)]
pub enum GitDifference {
    /// Two revisions of a recipe.
    Compared(Box<Compared>),
    /// A recipe that came or went: which, and how it is called.
    Alone {
        /// Whether it is new.
        added: bool,
        /// How it is called, and its revision.
        what: String,
    },
    /// The lines of a file that is no recipe, or of one with errors, and these.
    Lines(String, Vec<Finding>),
}

/// Compares a file as git's external diff does.
///
/// # Errors
/// Those of the system.
pub fn git_diff(host: &dyn Host, file: GitFile<'_>) -> Result<GitDifference, AppError> {
    let named = |path: &str, side: &str| -> Result<Option<Source>, AppError> {
        if path == NOTHING {
            return Ok(None);
        }
        let source = match read_source(host, Path::new(path))? {
            Ok(source) => Source::new(&format!("{} ({side})", file.path), &source.text),
            Err(finding) => return Err(AppError::Findings(vec![finding])),
        };
        Ok(Some(source))
    };
    let (old, new) = (named(file.old, "before")?, named(file.new, "now")?);
    let lines = |findings: Vec<Finding>| {
        let text =
            |of: &Option<Source>| of.as_ref().map(|s| s.text.to_string()).unwrap_or_default();
        GitDifference::Lines(unified(&text(&old), &text(&new), file.path), findings)
    };
    if !old.iter().chain(&new).all(is_recipe) {
        return Ok(lines(Vec::new()));
    }
    let folder = Path::new(file.path).parent().unwrap_or(Path::new(""));
    let shelf = Shelf::beside(host, folder);
    let read = |source: &Option<Source>| {
        source
            .clone()
            .map(|s| Revision::of(&s.name.clone(), read_through(s, &shelf)))
            .transpose()
    };
    Ok(match (read(&old), read(&new)) {
        (Ok(Some(a)), Ok(Some(b))) => GitDifference::Compared(Box::new(Compared {
            difference: compare(&a, &b),
            old: a,
            new: b,
        })),
        (Ok(None), Ok(Some(alone))) => GitDifference::Alone {
            added: true,
            what: called(&alone),
        },
        (Ok(Some(alone)), Ok(None)) => GitDifference::Alone {
            added: false,
            what: called(&alone),
        },
        (a, b) => {
            let findings = [a.err(), b.err()].into_iter().flatten().flatten();
            lines(findings.collect())
        }
    })
}

fn called(of: &Revision) -> String {
    let plan = of.plan();
    let criteria: usize = plan.items.iter().map(|i| i.criteria.len()).sum();
    format!(
        "{} revision {}, {} steps with {criteria} criteria: {}",
        plan.recipe,
        plan.revision,
        plan.items.len(),
        plan.title
    )
}

/// Whether a text is likely to be a recipe: a file of a shop that is something else has no `recipe` key.
fn is_recipe(source: &Source) -> bool {
    let begins = |key: &str| source.text.lines().any(|line| line.starts_with(key));
    begins("format:") && begins("recipe:")
}

fn unified(old: &str, new: &str, path: &str) -> String {
    let diff = TextDiff::from_lines(old, new);
    let mut unified = diff.unified_diff();
    unified
        .context_radius(CONTEXT)
        .header(&format!("a/{path}"), &format!("b/{path}"))
        .to_string()
}
