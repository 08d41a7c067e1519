//! The files of a shop that are YAML, and where everything lies.
//!
//! Never in here: reading from disk. Changes when a file gets a key.

use std::path::{Path, PathBuf};

use indexmap::IndexMap;

use crate::journal::{Instrument, Measure};
use crate::plan::{Accuracy, Decision};
use crate::quantity::{DecimalSign, Dimension, named_kinds, parse_quantity};
use crate::recipe::cursor::At;
use crate::recipe::schema::{Form, faults, nearest};
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
fn document(source: Source, form: Form, findings: &mut Vec<Finding>) -> Option<Document> {
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
fn once(at: &At<'_>, id: &str, seen: &mut Vec<String>, findings: &mut Vec<Finding>) {
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
        let roles = at
            .get("roles")
            .map(|r| r.items().filter_map(|i| i.text()).collect())
            .unwrap_or_default();
        people.push(Person {
            id,
            name: at.text_of("name").unwrap_or_default(),
            roles,
        });
    }
    (people, findings)
}

/// Reads `instruments.yaml`.
pub fn read_instruments(source: Source) -> (Vec<Instrument>, Vec<Finding>) {
    let mut findings = Vec::new();
    let Some(document) = document(source, Form::Instruments, &mut findings) else {
        return (Vec::new(), findings);
    };
    let mut seen = Vec::new();
    let mut instruments = Vec::new();
    for at in At::root(&document)
        .get("instruments")
        .iter()
        .flat_map(At::items)
    {
        let text = |key: &str| at.text_of(key).unwrap_or_default();
        once(&at, &text("id"), &mut seen, &mut findings);
        day(&at, "calibrated", &mut findings);
        day(&at, "due", &mut findings);
        let measures = at
            .get("measures")
            .map(|m| measures(&m, &mut findings))
            .unwrap_or_default();
        instruments.push(Instrument {
            id: text("id"),
            kind: text("kind"),
            serial: text("serial"),
            certificate: text("certificate"),
            calibrated: text("calibrated"),
            due: text("due"),
            measures,
        });
    }
    (instruments, findings)
}

/// Reports a day that the calendar does not have.
fn day(at: &At<'_>, key: &str, findings: &mut Vec<Finding>) {
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

fn measures(at: &At<'_>, findings: &mut Vec<Finding>) -> IndexMap<String, Measure> {
    let mut measures = IndexMap::new();
    for (kind, entry) in at.entries() {
        let Some(dimension) = Dimension::from_name(kind) else {
            let help = match nearest(kind, named_kinds()) {
                Some(near) => format!("the nearest known kind is `{near}`"),
                None => "kinds are volume, flow, pressure, mass, time, temperature, length, current, resistance, voltage …".to_owned(),
            };
            findings.push(entry.finding_at_key(
                Code::ShopFault,
                format!("`{kind}` is not a kind of quantity"),
                help,
            ));
            continue;
        };
        let range = entry
            .get("range")
            .and_then(|r| range(&r, dimension, findings));
        accuracy(&entry, dimension, findings);
        measures.insert(
            kind.to_owned(),
            Measure {
                range,
                accuracy: entry.text_of("accuracy"),
                limits: entry.text_of("limits"),
                k: entry.text_of("k"),
                resolution: entry.text_of("resolution"),
            },
        );
    }
    measures
}

/// Says what can't be read of accuracy and resolution.
fn accuracy(entry: &At<'_>, dimension: Dimension, findings: &mut Vec<Finding>) {
    if let Some(at) = entry.get("accuracy")
        && let Some(text) = at.text()
        && let Err(message) = Accuracy::parse(&text, entry.text_of("k").as_deref(), dimension)
    {
        let help = "write a part of the reading, a fixed part, or both: `1 % + 0.02 mL`";
        findings.push(at.finding(Code::ShopFault, message, help));
    }
    if let Some(at) = entry.get("resolution")
        && let Some(text) = at.text()
    {
        let message = match parse_quantity(&text) {
            Ok(q) if q.kind().dimension == dimension && !q.value().to_exact().is_negative() => {
                return;
            }
            Ok(q) => format!(
                "`{text}` is a {}, not a step of a {} display",
                q.kind(),
                dimension.name()
            ),
            Err(error) => error.to_string(),
        };
        findings.push(at.finding(
            Code::ShopFault,
            message,
            "write the step of the display: `0.01 mL`",
        ));
    }
}

fn range(at: &At<'_>, dimension: Dimension, findings: &mut Vec<Finding>) -> Option<[String; 2]> {
    let mut ends = Vec::new();
    for end in at.items() {
        let text = end.text()?;
        match parse_quantity(&text) {
            Ok(quantity) if quantity.kind().dimension == dimension => ends.push((text, quantity)),
            Ok(quantity) => {
                let message = format!(
                    "`{text}` is of kind {}, not {}",
                    quantity.kind(),
                    dimension.name()
                );
                findings.push(end.finding(
                    Code::ShopFault,
                    message,
                    "write both ends in units of the kind",
                ));
            }
            Err(error) => findings.push(end.finding(
                Code::ShopFault,
                error.to_string(),
                "write a number and a unit: `0 mL`",
            )),
        }
    }
    let [(low, a), (high, b)] = &ends[..] else {
        return None;
    };
    if a.compare(b).is_ok_and(std::cmp::Ordering::is_ge) {
        findings.push(at.finding(
            Code::ShopFault,
            format!("the range from {a} to {b} is empty"),
            "write the lower end first",
        ));
    }
    Some([low.clone(), high.clone()])
}
