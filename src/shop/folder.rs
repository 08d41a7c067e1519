//! The files of a shop that are YAML, and where everything lies.
//!
//! Never in here: reading from disk. Changes when a file gets a key.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use indexmap::IndexMap;

use crate::plan::Decision;
use crate::quantity::DecimalSign;
use crate::recipe::cursor::At;
use crate::recipe::schema::{Form, faults};
use crate::recipe::yaml::Document;
use crate::text::{Code, Finding, Source, is_day};
use crate::trust::PublicKey;

use super::occasion::is_same;
use super::policy::Deed;

/// How the names of approvals' ledgers begin; the bench follows.
pub const APPROVALS: &str = "approvals-";
/// How the names of records' ledgers begin; the bench follows.
pub const LEDGER: &str = "ledger-";

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

    /// The folder of the shop's own templates.
    #[must_use]
    pub fn templates(&self) -> PathBuf {
        self.root.join("templates")
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

    /// The lock under which sessions are begun: whether another one is on the device is looked at by one process at a time.
    #[must_use]
    pub fn beginning_lock(&self) -> PathBuf {
        self.root.join(".beginning.lock")
    }

    /// The lock of a session.
    #[must_use]
    pub fn session_lock(&self, session: &str) -> PathBuf {
        self.sessions().join(format!(".{session}.lock"))
    }

    /// The folder of the texts that were approved, named by their digest.
    #[must_use]
    pub fn approved(&self) -> PathBuf {
        self.root.join("approved")
    }

    /// The text that was approved, by its digest.
    #[must_use]
    pub fn approved_text(&self, digest: &str) -> PathBuf {
        let name = digest.trim_start_matches("sha256:");
        self.approved().join(format!("{name}.yaml"))
    }

    /// The ledger of a bench's approvals.
    #[must_use]
    pub fn approvals(&self, bench: &str) -> PathBuf {
        self.root.join(format!("{APPROVALS}{bench}.jsonl"))
    }

    /// The ledger of a bench's records.
    #[must_use]
    pub fn ledger(&self, bench: &str) -> PathBuf {
        self.records().join(format!("{LEDGER}{bench}.jsonl"))
    }

    /// The file of a record, by its id.
    #[must_use]
    pub fn record(&self, id: &str) -> PathBuf {
        let year = id.rsplit('-').nth(1).unwrap_or("0000");
        self.records().join(year).join(format!("{id}.json"))
    }

    /// The folder of what was added to records, by year.
    #[must_use]
    pub fn amendments(&self) -> PathBuf {
        self.root.join("amendments")
    }

    /// The file of an amendment, by its id.
    #[must_use]
    pub fn amendment(&self, id: &str) -> PathBuf {
        let year = id.rsplit('-').nth(1).unwrap_or("0000");
        self.amendments().join(year).join(format!("{id}.json"))
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
    /// The key that checks their signatures.
    pub public_key: Option<PublicKey>,
    /// Keys that they used before.
    pub former_keys: Vec<PublicKey>,
    /// The day from which nothing can be done in their name.
    pub left: Option<String>,
}

/// What a shop says of itself.
#[derive(Clone, Debug)]
pub struct Shop {
    /// Its name.
    pub name: String,
    /// A sentence about its data.
    pub notice: Option<String>,
    /// The language of the fixed texts of renderings, as `de`.
    pub language: Option<String>,
    /// The id of this bench.
    pub bench: String,
    /// The decimal sign that is typed.
    pub decimal: DecimalSign,
    /// The decision rule of recipes that state none.
    pub decision: Decision,
    /// Whether the end of a timed step is heard.
    pub beep: bool,
    /// The roles that may do each deed, where the shop says it.
    pub may: Option<IndexMap<String, Vec<String>>>,
    /// The day from which nobody without a key may do anything that is signed; an empty text where that was always so.
    pub signatures_since: Option<String>,
    /// Why devices are tested here, besides what is usual.
    pub occasions: Vec<String>,
    /// What records must have.
    pub require: Vec<Requirement>,
}

/// What a record must have before it can be sealed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Requirement {
    /// The occasion that it is for; every one without it.
    pub occasion: Option<String>,
    /// Pictures that must be attached.
    pub photographs: u32,
    /// Files that must be attached.
    pub files: u32,
    /// Notes that must be written.
    pub notes: u32,
    /// Paths of steps that must not be skipped.
    pub entries: Vec<String>,
    /// Fields of the device's register that must be filled in.
    pub device: Vec<String>,
}

impl Shop {
    /// Whether what is done on a day has to be signed.
    #[must_use]
    pub fn requires_signature(&self, day: &str) -> bool {
        let since = self.signatures_since.as_deref();
        since.is_some_and(|since| since <= day)
    }

    /// The roles that may do a deed.
    #[must_use]
    pub fn allowed(&self, deed: Deed) -> Vec<String> {
        match &self.may {
            Some(may) => may.get(deed.word()).cloned().unwrap_or_default(),
            None => deed.usual().iter().map(|r| (*r).to_owned()).collect(),
        }
    }

    /// What is required on an occasion.
    pub fn required<'s>(&'s self, occasion: &'s str) -> impl Iterator<Item = &'s Requirement> {
        let fits = move |r: &&Requirement| {
            let of = r.occasion.as_deref();
            of.is_none_or(|o| is_same(o, occasion))
        };
        self.require.iter().filter(fits)
    }
}

impl Person {
    /// The keys that they have or had.
    #[must_use]
    pub fn keys(&self) -> Vec<PublicKey> {
        let now = self.public_key.iter();
        now.chain(&self.former_keys).cloned().collect()
    }
}

/// The texts of a list.
fn texts(at: &At<'_>, key: &str) -> Vec<String> {
    let list = at.get(key);
    let items = list.iter().flat_map(At::items);
    items.filter_map(|i| i.text()).collect()
}

fn requirement(at: &At<'_>) -> Requirement {
    let count = |key: &str| at.get(key).and_then(|c| c.whole()).unwrap_or(0);
    Requirement {
        occasion: at.text_of("occasion"),
        photographs: count("photographs"),
        files: count("files"),
        notes: count("notes"),
        entries: texts(at, "entries"),
        device: texts(at, "device"),
    }
}

/// Reads a public key; one that can't be read is a finding.
fn public_key(at: &At<'_>, findings: &mut Vec<Finding>) -> Option<PublicKey> {
    let text = at.text()?;
    match PublicKey::parse(&text) {
        Ok(key) => Some(key),
        Err(fault) => {
            let help = "paste the line of the file that ends in `.pub`";
            findings.push(at.finding(Code::ShopFault, fault.to_string(), help));
            None
        }
    }
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

/// The day in `signatures: required since 2026-03-31`.
fn signatures_since(root: &At<'_>, findings: &mut Vec<Finding>) -> Option<String> {
    let place = root.get("signatures")?;
    let text = place.text()?;
    let day = text.strip_prefix("required")?.trim();
    let day = day.strip_prefix("since").map_or(day, str::trim);
    if !day.is_empty() && !is_day(day) {
        findings.push(place.finding(
            Code::ShopFault,
            format!("`{day}` is not a day of the calendar"),
            "write it as `required since 2026-03-31`",
        ));
    }
    Some(day.to_owned())
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
        language: root.text_of("language"),
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
        beep: root
            .get("beep")
            .is_none_or(|b| b.value.as_bool() != Some(false)),
        may: root.get("may").map(|may| {
            let deeds = may.entries().map(|(deed, _)| deed.to_owned());
            deeds
                .map(|deed| (deed.clone(), texts(&may, &deed)))
                .collect()
        }),
        signatures_since: signatures_since(&root, &mut findings),
        occasions: texts(&root, "occasions"),
        require: root
            .get("require")
            .iter()
            .flat_map(At::items)
            .map(|r| requirement(&r))
            .collect(),
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
    let mut keys = HashMap::new();
    let mut people = Vec::new();
    for at in At::root(&document).get("people").iter().flat_map(At::items) {
        let id = at.text_of("id").unwrap_or_default();
        once(&at, &id, &mut seen, &mut findings);
        let key = at.get("public_key");
        if let Some(place) = &key
            && let Some(line) = place.text()
        {
            one_person(place, &id, &line, &mut keys, &mut findings);
        }
        let former = at.get("former_keys");
        people.push(Person {
            id,
            name: at.text_of("name").unwrap_or_default(),
            roles: texts(&at, "roles"),
            public_key: key.and_then(|k| public_key(&k, &mut findings)),
            former_keys: former
                .iter()
                .flat_map(At::items)
                .filter_map(|k| public_key(&k, &mut findings))
                .collect(),
            left: at.text_of("left"),
        });
        day(&at, "left", &mut findings);
    }
    (people, findings)
}

/// Reports a key that somebody else has too.
fn one_person(
    at: &At<'_>,
    id: &str,
    line: &str,
    keys: &mut HashMap<String, String>,
    findings: &mut Vec<Finding>,
) {
    // The comment behind a key says nothing of it.
    let key = line
        .split_whitespace()
        .take(2)
        .collect::<Vec<_>>()
        .join(" ");
    if let Some(other) = keys.insert(key, id.to_owned()) {
        findings.push(at.finding(
            Code::ShopFault,
            format!("`{other}` has the same key as `{id}`"),
            "each person signs with a key of their own",
        ));
    }
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
