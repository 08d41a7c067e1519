//! The files of a shop that are YAML, and where everything lies.
//!
//! Never in here: reading from disk. Changes when a file gets a key.

use std::path::{Path, PathBuf};

use crate::plan::Decision;
use crate::quantity::DecimalSign;
use crate::recipe::cursor::At;
use crate::recipe::schema::{Form, faults};
use crate::recipe::yaml::Document;
use crate::text::{Code, Finding, Source, is_day};

/// Where a shop's files lie.
#[derive(Clone, Debug)]
pub struct Paths {
    /// The folder.
    pub root: PathBuf,
}

impl Paths {
    /// The file of that name in the folder.
    #[must_use]
    pub fn file(&self, name: &str) -> PathBuf {
        self.root.join(name)
    }

    /// The folder of recipes.
    #[must_use]
    pub fn recipes(&self) -> PathBuf {
        self.root.join("recipes")
    }

    /// The folder of sessions under way.
    #[must_use]
    pub fn sessions(&self) -> PathBuf {
        self.root.join("sessions")
    }

    /// The folder of records, by year.
    #[must_use]
    pub fn records(&self) -> PathBuf {
        self.root.join("records")
    }

    /// The folder of attached files, named by their digest.
    #[must_use]
    pub fn attachments(&self) -> PathBuf {
        self.root.join("attachments")
    }

    /// The journal of a session.
    #[must_use]
    pub fn journal(&self, session: &str) -> PathBuf {
        self.sessions().join(format!("{session}.jsonl"))
    }

    /// What was done for the instruments at a bench.
    #[must_use]
    pub fn upkeep(&self, bench: &str) -> PathBuf {
        self.file(&format!("upkeep-{bench}.jsonl"))
    }

    /// The folder that a path is in, if it is a shop's.
    #[must_use]
    pub fn at(root: &Path) -> Self {
        Self {
            root: root.to_owned(),
        }
    }
}

/// A person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Person {
    /// Their id.
    pub id: String,
    /// Their name.
    pub name: String,
    /// `technician`, `author`, `reviewer`.
    pub roles: Vec<String>,
    /// The key that checks their signatures: an OpenSSH public key line.
    pub key: Option<String>,
    /// Keys that they signed with before.
    pub former_keys: Vec<String>,
    /// The day they left.
    pub left: Option<String>,
}

/// What a shop says of itself.
#[derive(Clone, Debug)]
pub struct Shop {
    /// Its name.
    pub name: String,
    /// A sentence about its data.
    pub notice: Option<String>,
    /// The id of this bench.
    pub bench: String,
    /// The decimal sign that is typed.
    pub decimal: DecimalSign,
    /// The decision rule of recipes that state none.
    pub decision: Decision,
}

/// Reads a document of a form; the findings of a file that can't be read at all.
pub(super) fn document(
    source: Source,
    form: Form,
    findings: &mut Vec<Finding>,
) -> Option<Document> {
    match Document::read(source) {
        Ok(document) => {
            findings.extend(faults(&document, form));
            Some(document)
        }
        Err(mut found) => {
            findings.append(&mut found);
            None
        }
    }
}

/// Reads `shop.yaml`.
pub fn read_shop(source: Source) -> (Option<Shop>, Vec<Finding>) {
    let mut findings = Vec::new();
    let Some(document) = document(source, Form::Shop, &mut findings) else {
        return (None, findings);
    };
    let root = At::root(&document);
    let shop = Shop {
        name: root.text_of("name").unwrap_or_default(),
        notice: root.text_of("notice"),
        bench: root.text_of("bench").unwrap_or_default(),
        decimal: if root.text_of("decimal").as_deref() == Some(",") {
            DecimalSign::Comma
        } else {
            DecimalSign::Point
        },
        decision: root
            .text_of("decision")
            .and_then(|w| Decision::from_word(&w))
            .unwrap_or(Decision::Simple),
    };
    (findings.is_empty().then_some(shop), findings)
}

/// The ids of a register's entries, with a finding for one that stands twice.
pub(super) fn once(at: &At<'_>, id: &str, seen: &mut Vec<String>, findings: &mut Vec<Finding>) {
    if seen.iter().any(|s| s == id) {
        let place = at.get("id").unwrap_or_else(|| at.clone());
        findings.push(place.finding(
            Code::ShopFault,
            format!("`{id}` stands twice in the register"),
            "give each entry its own id",
        ));
    }
    seen.push(id.to_owned());
}

/// Reads `people.yaml`.
pub fn read_people(source: Source) -> (Vec<Person>, Vec<Finding>) {
    let mut findings = Vec::new();
    let Some(document) = document(source, Form::People, &mut findings) else {
        return (Vec::new(), findings);
    };
    let mut seen = Vec::new();
    let mut people = Vec::new();
    for at in At::root(&document).get("people").iter().flat_map(At::items) {
        let id = at.text_of("id").unwrap_or_default();
        once(&at, &id, &mut seen, &mut findings);
        day(&at, "left", &mut findings);
        people.push(Person {
            id,
            name: at.text_of("name").unwrap_or_default(),
            roles: texts(&at, "roles"),
            key: at.text_of("key"),
            former_keys: texts(&at, "former_keys"),
            left: at.text_of("left"),
        });
    }
    (people, findings)
}

/// The texts of a list.
fn texts(at: &At<'_>, key: &str) -> Vec<String> {
    let list = at.get(key);
    list.iter()
        .flat_map(At::items)
        .filter_map(|i| i.text())
        .collect()
}

/// Reports a day that the calendar does not have.
pub(super) fn day(at: &At<'_>, key: &str, findings: &mut Vec<Finding>) {
    let Some(place) = at.get(key) else { return };
    let valid = place.text().is_some_and(|text| is_day(&text));
    if !valid && findings.iter().all(|f| f.path != place.pointer) {
        findings.push(place.finding(
            Code::ShopFault,
            format!("`{key}` is not a day of the calendar"),
            "write it as 2026-03-31",
        ));
    }
}
