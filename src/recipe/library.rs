//! The other recipes that one may rest on: asked for by name and revision, read once, put together once.
//!
//! Never in here: disk (a door to it comes from outside), putting together (see `merge`). Changes when recipes are
//! found or remembered otherwise.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use serde_json::Value;

use crate::text::{Code, Finding, Severity, Source};
use crate::trust::digest_bytes;

use super::cursor::At;
use super::effective::{effective_text, is_same_tree};
use super::memo::Memo;
use super::merge::put_together;
use super::schema::{self, Form};
use super::strict::MAX_DEPTH;
use super::yaml::{Document, MAX_BYTES};

/// How many recipes may rest on one another.
pub const MAX_LEVELS: usize = 8;

/// Most bytes that the beginning of a line takes: blanks for each level, a hyphen.
const MAX_LINE_START: usize = 4 * MAX_DEPTH;

/// Most recipes without a base that are remembered since they were read by themselves: others mostly rest on few.
const MOST_SOUND: usize = 256;

/// Most bytes that one byte of a text takes where it is written out: `\u001b`.
const MAX_ESCAPE: usize = 6;

/// How far a way is followed until it is given up.
const MAX_WAY: usize = 8 * MAX_LEVELS;

/// A recipe's id and revision.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Name {
    /// The id.
    pub id: String,
    /// The revision.
    pub revision: u32,
}

impl Name {
    /// `volumetric-annual@3` in its two parts.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (id, revision) = text.rsplit_once('@')?;
        let revision = revision.parse().ok()?;
        Some(Self {
            id: id.to_owned(),
            revision,
        })
    }

    /// The id and revision of a recipe's text.
    #[must_use]
    pub fn of(document: &Document) -> Self {
        let root = At::root(document);
        Self {
            id: root.text_of("recipe").unwrap_or_default(),
            revision: root.get("revision").and_then(|r| r.whole()).unwrap_or(0),
        }
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}@{}", self.id, self.revision)
    }
}

/// The text of a recipe that was asked for.
#[derive(Clone, Debug)]
pub struct Fetched {
    /// The text.
    pub source: Source,
    /// The newest revision that there is of it.
    pub newest: u32,
}

/// Why a recipe that was asked for is not there.
#[derive(Clone, Debug)]
pub enum Absent {
    /// There is none of that id; the nearest one.
    Unknown(Option<String>),
    /// There is another revision: where, and which.
    OtherRevision(String, u32),
    /// It can't be read.
    Unreadable(String),
}

/// Where recipes come from.
pub trait Door: Sync {
    /// The text of a revision of a recipe.
    ///
    /// # Errors
    /// Why it is not there.
    fn fetch(&self, name: &Name) -> Result<Fetched, Absent>;
}

/// A door behind which there is nothing.
struct Nowhere;

impl Door for Nowhere {
    fn fetch(&self, _: &Name) -> Result<Fetched, Absent> {
        Err(Absent::Unknown(None))
    }
}

/// A recipe with all that it rests on put into it.
#[derive(Debug)]
pub struct Whole {
    /// Its id and revision.
    pub name: Name,
    /// The whole tree.
    pub document: Arc<Document>,
    /// What it rests on, in words (`extends`, `use … as …`), if it is not the file as it stands.
    pub rests_on: Vec<(String, Arc<Self>)>,
    /// What was changed of the base, in words.
    pub edits: Vec<String>,
    /// What was removed of the base: the path, and the pointer in the file to where that is said.
    pub removed: Vec<(String, String)>,
    /// How many recipes rest on one another in it, itself counted.
    pub levels: usize,
    /// About how long its text is, in bytes.
    pub weight: usize,
    text: OnceLock<Arc<str>>,
}

impl Whole {
    /// A recipe that was put together.
    #[must_use]
    pub fn new(name: Name, document: Arc<Document>) -> Self {
        Self {
            name,
            weight: weight(&document.root),
            document,
            rests_on: Vec::new(),
            edits: Vec::new(),
            removed: Vec::new(),
            levels: 1,
            text: OnceLock::new(),
        }
    }

    /// Whether it has a base.
    fn is_derived(&self) -> bool {
        let document = self.document.own().unwrap_or(&self.document);
        At::root(document).get("extends").is_some()
    }

    /// All bases and fragments that it rests on, through however many others; each once.
    #[must_use]
    pub fn sources(&self) -> Vec<Arc<Self>> {
        let mut found: Vec<Arc<Self>> = Vec::new();
        let mut open: Vec<&Arc<Self>> = self.rests_on.iter().map(|(_, other)| other).collect();
        while let Some(other) = open.pop() {
            if found.iter().all(|f| f.name != other.name) {
                found.push(Arc::clone(other));
                open.extend(other.rests_on.iter().map(|(_, other)| other));
            }
        }
        found
    }

    /// Who wrote this revision, by its entry in `changes`.
    #[must_use]
    pub fn author(&self) -> Option<String> {
        let root = At::root(&self.document);
        let changes = root.get("changes")?;
        let revision = self.name.revision.to_string();
        let of_it = |at: &At<'_>| at.text_of("revision").as_ref() == Some(&revision);
        changes.items().find(of_it)?.text_of("by")
    }

    /// The effective text: the file's own where the recipe stands for itself.
    #[must_use]
    pub fn text(&self) -> &Arc<str> {
        self.text.get_or_init(|| {
            if self.document.is_put_together() {
                let text: Arc<str> = effective_text(self).into();
                debug_assert!(reads_back(self, &text), "{text}");
                text
            } else {
                Arc::clone(&self.document.source.text)
            }
        })
    }

    /// The recipe that a part stands in, and what an edit in it did to bring the part there.
    #[must_use]
    pub fn stands_in(&self, pointer: &str) -> (Name, Option<&str>) {
        let (document, mark) = self.document.stands_in(pointer);
        (Name::of(document), mark)
    }

    /// Whether the effective text is no longer than a file may be.
    #[must_use]
    pub fn text_fits(&self) -> bool {
        // What is written of it is at most this long: small ones need not be written out for this.
        let told = self.rests_on.iter().map(|(how, _)| how).chain(&self.edits);
        let told: usize = told.map(|line| MAX_LINE_START + line.len()).sum();
        let lines = values(&self.document.root).saturating_mul(MAX_LINE_START);
        let bytes = (self.weight + told).saturating_mul(MAX_ESCAPE);
        lines.saturating_add(bytes) <= MAX_BYTES || self.text().len() <= MAX_BYTES
    }

    /// The digest of the effective text.
    #[must_use]
    pub fn digest(&self) -> String {
        digest_bytes(self.text().as_bytes())
    }
}

/// Whether an effective text gives the tree that it was made from, or is too large to be read.
fn reads_back(whole: &Whole, text: &str) -> bool {
    if text.len() > MAX_BYTES {
        return true;
    }
    let read = Document::read(Source::new("effective", text));
    read.is_ok_and(|read| is_same_tree(&At::root(&read), &At::root(&whole.document)))
}

/// About how many bytes a value takes as text.
fn weight(value: &Value) -> usize {
    match value {
        Value::String(text) => text.len() + 2,
        Value::Array(items) => items.iter().map(|i| weight(i) + 2).sum(),
        Value::Object(map) => map.iter().map(|(k, v)| k.len() + weight(v) + 3).sum(),
        _ => 4,
    }
}

/// How many values a value holds, itself counted.
fn values(value: &Value) -> usize {
    let inside: usize = match value {
        Value::Array(items) => items.iter().map(values).sum(),
        Value::Object(map) => map.values().map(values).sum(),
        _ => 0,
    };
    inside + 1
}

/// Why a recipe can't be rested on.
#[derive(Clone, Debug)]
pub enum Failure {
    /// It is not there.
    Absent(Absent),
    /// It has errors.
    Faulty(Vec<Finding>),
}

/// Recipes that lead back to one of them, or on and on, in order.
#[derive(Debug)]
pub struct Circular(pub Vec<Name>);

impl Circular {
    /// Whether they lead back.
    pub fn is_circle(&self) -> bool {
        self.0
            .split_last()
            .is_some_and(|(last, before)| before.contains(last))
    }
}

/// A recipe that is rested on, and the newest revision that there is of it.
pub type Kept = Result<(Arc<Whole>, u32), Failure>;

/// What came of putting a file together.
pub struct Gathered {
    /// The recipe; nothing where what it rests on is not there.
    pub whole: Option<Arc<Whole>>,
    /// What was found on the way.
    pub findings: Vec<Finding>,
}

/// Recipes that were read; each once, however many rest on it.
pub struct Library<'d> {
    door: &'d dyn Door,
    kept: Mutex<HashMap<Name, Kept>>,
    /// What was put together without a fault, by the names of the sources.
    sound: Mutex<HashMap<Arc<str>, Arc<Whole>>>,
    memo: Arc<Memo>,
}

impl fmt::Debug for Library<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Library")
    }
}

impl<'d> Library<'d> {
    /// The recipes behind a door.
    #[must_use]
    pub fn new(door: &'d dyn Door) -> Self {
        Self {
            door,
            kept: Mutex::default(),
            sound: Mutex::default(),
            memo: Arc::default(),
        }
    }

    /// What was found sound in recipes that were checked with this library.
    pub(super) fn memo(&self) -> &Arc<Memo> {
        &self.memo
    }

    /// No recipes.
    #[must_use]
    pub fn none() -> Library<'static> {
        Library::new(&Nowhere)
    }

    /// Reads a text from outside the library and puts it together.
    #[must_use]
    pub fn gather(&self, source: Source) -> Gathered {
        match self.put(source, &[]) {
            Ok(gathered) => gathered,
            // Said of the file that was read first.
            Err(_) => unreachable!("a circle is told by the file at which it was entered"),
        }
    }

    /// Reads a text and puts it together, once for those who read it by itself and those who rest on it. `way` names those
    /// that led to it, itself last; nothing leads to what is read from outside.
    fn put(&self, source: Source, way: &[Name]) -> Result<Gathered, Circular> {
        let known = locked(&self.sound).get(&source.name).map(Arc::clone);
        if let Some(whole) = known.filter(|k| k.document.source.text == source.text) {
            return Ok(Gathered {
                whole: Some(whole),
                findings: Vec::new(),
            });
        }
        let name = Arc::clone(&source.name);
        let (document, faults) = match open(source) {
            Ok(opened) => opened,
            Err(findings) => {
                let whole = None;
                return Ok(Gathered { whole, findings });
            }
        };
        let own = [Name::of(&document)];
        let way = if way.is_empty() { &own } else { way };
        let gathered = put_together(self, document, faults, way)?;
        if let (Some(whole), []) = (&gathered.whole, &*gathered.findings)
            && !whole.is_derived()
        {
            let mut sound = locked(&self.sound);
            if sound.len() < MOST_SOUND {
                sound.insert(name, Arc::clone(whole));
            }
        }
        Ok(gathered)
    }

    /// A recipe to rest on. `way` names those that led to it.
    pub fn find(&self, name: &Name, way: &[Name]) -> Result<Kept, Circular> {
        let mut way = way.to_vec();
        let ends = way.contains(name) || way.len() == MAX_WAY;
        way.push(name.clone());
        if ends {
            return Err(Circular(way));
        }
        if let Some(kept) = locked(&self.kept).get(name) {
            return Ok(kept.clone());
        }
        // Two threads may read the same one at the same time: better than that they wait for one another.
        let found = self.read(name, &way)?;
        locked(&self.kept).insert(name.clone(), found.clone());
        Ok(found)
    }

    fn read(&self, name: &Name, way: &[Name]) -> Result<Kept, Circular> {
        let fetched = match self.door.fetch(name) {
            Ok(fetched) => fetched,
            Err(absent) => return Ok(Err(Failure::Absent(absent))),
        };
        let Gathered { whole, findings } = self.put(fetched.source, way)?;
        let is_error = |f: &Finding| f.severity() == Severity::Error;
        let faulty = |mut findings: Vec<Finding>| {
            findings.retain(is_error);
            Err(Failure::Faulty(findings))
        };
        Ok(match whole {
            Some(whole) if !findings.iter().any(is_error) => Ok((whole, fetched.newest)),
            // What else is wrong with it is told at once, as for a file that is read by itself.
            Some(whole) => faulty(super::check(whole, findings, &self.memo).findings),
            None => faulty(findings),
        })
    }
}

/// A map under its lock; a thread that fell over left one that is whole all the same.
fn locked<K, V>(map: &Mutex<HashMap<K, V>>) -> MutexGuard<'_, HashMap<K, V>> {
    map.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Reads a recipe's text, with the faults of its shape.
///
/// # Errors
/// A text that is no recipe at all.
fn open(source: Source) -> Result<(Document, Vec<Finding>), Vec<Finding>> {
    let mut document = Document::read(source)?;
    if !document.root.is_object() {
        let what = if document.root.is_null() {
            "the file is empty"
        } else {
            "the file is not a recipe"
        };
        return Err(vec![At::root(&document).finding(
            Code::WrongValue,
            what,
            "a recipe is a mapping of keys, beginning with `format: 1`",
        )]);
    }
    let faults = schema::faults_mending_keys(&mut document, Form::Recipe);
    Ok((document, faults))
}
