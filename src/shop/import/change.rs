//! What entries would change in a register, field by field.
//!
//! Never in here: writing it. Changes when values are compared otherwise.

use std::collections::{HashMap, HashSet};

use indexmap::IndexMap;

use crate::shop::interval::{Unit, last_of, read_days, read_intervals};
use crate::shop::odd;

use super::entry::Entry;
use super::fault::Fault;
use super::field::{Kind, Register};
use super::measures::measures_from;

/// An entry that the register has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Known {
    /// Its tag or id.
    pub id: String,
    /// Its fields as text; those it lacks are empty.
    pub values: IndexMap<&'static str, String>,
}

/// A field that becomes another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Changed {
    /// The field.
    pub field: &'static str,
    /// What it was; empty where it was nothing.
    pub old: String,
    /// What it becomes.
    pub new: String,
}

/// An entry that is added or changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Its tag or id.
    pub id: String,
    /// Whether the register lacks it.
    pub added: bool,
    /// Its fields.
    pub fields: Vec<Changed>,
}

/// What a file would change.
#[derive(Clone, Debug, Default)]
pub struct Changes {
    /// What is added or changed, in the order of the file.
    pub list: Vec<Change>,
    /// How many entries of the file are in the register as they are.
    pub unchanged: usize,
    /// How many entries of the register the file lacks; they stay.
    pub absent: usize,
    /// New entries that lack something.
    pub faults: Vec<Fault>,
    /// What is odd.
    pub notices: Vec<String>,
}

/// Holds entries against the register. An empty cell says nothing: what the register has stays.
#[must_use]
pub fn changes(register: Register, entries: &[Entry], known: &[Known]) -> Changes {
    let by_id: HashMap<&str, &Known> = known.iter().map(|k| (k.id.as_str(), k)).collect();
    let mut found = Changes::default();
    let mut back = 0;
    for entry in entries {
        let Some(known) = by_id.get(entry.id.as_str()) else {
            add(register, entry, &mut found);
            continue;
        };
        let fields: Vec<Changed> = entry
            .values
            .iter()
            .filter_map(|(field, new)| differs(register, field, known.values.get(field), new))
            .collect();
        back += usize::from(fields.iter().any(goes_back));
        if fields.is_empty() {
            found.unchanged += 1;
        } else {
            found.list.push(Change {
                id: entry.id.clone(),
                added: false,
                fields,
            });
        }
    }
    let in_file: HashSet<&str> = entries.iter().map(|e| e.id.as_str()).collect();
    found.absent = known
        .iter()
        .filter(|k| !in_file.contains(k.id.as_str()))
        .count();
    if register == Register::Devices {
        found.notices.extend(odd_devices(known, &found.list));
    }
    if back > 0 {
        found.notices.push(format!(
            "a day in the file is earlier than the register's, in {back} of them"
        ));
    }
    found
}

/// Most odd devices that are told one by one.
const MAX_ODD: usize = 20;

/// What would be odd about the devices that are added or changed.
fn odd_devices(known: &[Known], changes: &[Change]) -> Vec<String> {
    let by_id: HashMap<&str, &Change> = changes.iter().map(|c| (c.id.as_str(), c)).collect();
    let field = |id: &str, values: Option<&Known>, name: &str| {
        let change = by_id
            .get(id)
            .and_then(|c| c.fields.iter().find(|f| f.field == name));
        let old = values.and_then(|k| k.values.get(name));
        change.map(|f| &f.new).or(old).cloned().unwrap_or_default()
    };
    let added = changes.iter().filter(|c| c.added);
    let all = known.iter().map(|k| (k.id.as_str(), Some(k)));
    let all = all.chain(added.map(|c| (c.id.as_str(), None)));
    let devices: Vec<odd::Known> = all
        .map(|(id, values)| odd::Known {
            tag: id.to_owned(),
            serial: field(id, values, "serial"),
            maker: field(id, values, "maker"),
            model: field(id, values, "model"),
        })
        .collect();
    let touched = |at: usize| by_id.contains_key(devices[at].tag.as_str());
    let odd = odd::odd(&devices).into_iter();
    let mut told: Vec<String> = odd
        .filter(|o| touched(o.at) || o.beside.is_some_and(touched))
        .map(|o| format!("{}; {}", o.message, o.help))
        .collect();
    let more = told.len().saturating_sub(MAX_ODD);
    told.truncate(MAX_ODD);
    if more > 0 {
        told.push(format!(
            "{more} more such devices; `stepwell check` tells them"
        ));
    }
    told
}

fn add(register: Register, entry: &Entry, found: &mut Changes) {
    let needed = register.fields().iter().skip(1).filter(|f| f.needed);
    let lacks: Vec<&str> = needed
        .map(|f| f.name)
        .filter(|name| entry.values.iter().all(|(field, _)| field != name))
        .collect();
    if !lacks.is_empty() {
        found.faults.push(Fault {
            line: entry.line,
            column: None,
            cell: entry.id.clone(),
            message: format!("a new {} without {}", register.one(), lacks.join(", ")),
            help: "fill these in".to_owned(),
        });
        return;
    }
    let fields = entry.values.iter().map(|(field, new)| Changed {
        field,
        old: String::new(),
        new: new.clone(),
    });
    found.list.push(Change {
        id: entry.id.clone(),
        added: true,
        fields: fields.collect(),
    });
}

fn differs(
    register: Register,
    field: &'static str,
    old: Option<&String>,
    new: &str,
) -> Option<Changed> {
    let old = old.map(String::as_str).unwrap_or_default();
    let kind = register
        .fields()
        .iter()
        .find(|f| f.name == field)
        .map(|f| f.kind);
    let same = old == new || kind.is_some_and(|k| !old.is_empty() && alike(k, old, new));
    (!same).then(|| Changed {
        field,
        old: old.to_owned(),
        new: new.to_owned(),
    })
}

/// Whether two texts mean the same: `12` and `12 months`.
fn alike(kind: Kind, old: &str, new: &str) -> bool {
    match kind {
        Kind::Interval(_) => {
            let read = |text| read_intervals(text, Unit::Months).ok();
            read(old).is_some_and(|o| Some(o) == read(new))
        }
        Kind::Days => read_days(old).is_ok_and(|o| Ok(o) == read_days(new)),
        Kind::Roles => {
            let set =
                |text: &str| -> HashSet<String> { text.split(", ").map(str::to_owned).collect() };
            set(old) == set(new)
        }
        Kind::Measures => measures_from(old).is_ok_and(|o| Ok(o) == measures_from(new)),
        _ => false,
    }
}

/// Whether a day becomes an earlier one.
fn goes_back(changed: &Changed) -> bool {
    let last = |text: &str| read_days(text).ok().and_then(|d| last_of(&d, None));
    let days = ["last-done", "calibrated", "due"];
    let both = last(&changed.old).zip(last(&changed.new));
    days.contains(&changed.field) && both.is_some_and(|(old, new)| new < old)
}
