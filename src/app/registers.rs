//! The registers: reading them as fields, adding an entry, importing a spreadsheet.
//!
//! Never in here: what cells mean (see the shop room), asking. Changes when a register is kept otherwise.

use std::collections::HashMap;
use std::io;
use std::path::{Path, PathBuf};

use indexmap::IndexMap;

use crate::host::{Host, Lock};
use crate::recipe::schema::nearest;
use crate::recipe::yaml::MAX_BYTES;
use crate::shop::import::{
    Change, Changed, Changes, Known, Register, changes, check_entry, measures_text,
};
use crate::shop::{
    Kept, Paths, Person, Registered, amend_devices, amend_list, read_devices, read_kept,
    read_people,
};
use crate::text::{Finding, Source, meant};
use crate::trust::PublicKey;

use super::AppError;
use super::open::read_source;

/// A register as it stands.
#[derive(Debug)]
pub struct Open {
    /// Which.
    pub register: Register,
    /// Its entries, by field.
    pub entries: Vec<Known>,
    path: PathBuf,
    source: Source,
    marked: bool,
}

/// Opens a register.
///
/// # Errors
/// Those of the system; findings in it.
pub fn open_register(host: &dyn Host, paths: &Paths, register: Register) -> Result<Open, AppError> {
    let path = paths.file(register.file());
    let source = read_source(host, &path)?.map_err(|finding| AppError::Findings(vec![finding]))?;
    let bytes = host
        .read(&path, MAX_BYTES as u64)
        .map_err(|e| AppError::at(&path, &e))?;
    let (entries, findings) = read_entries(register, &source);
    if !findings.is_empty() {
        return Err(AppError::Findings(findings));
    }
    Ok(Open {
        register,
        entries,
        path,
        source,
        marked: bytes.starts_with(&[0xEF, 0xBB, 0xBF]),
    })
}

/// A tag or id as the register spells it; as it was typed where the register has no such entry or can't be read.
#[must_use]
pub fn as_registered(host: &dyn Host, paths: &Paths, register: Register, typed: &str) -> String {
    let open = open_register(host, paths, register).ok();
    let known = open.and_then(|open| open.entry(typed).ok().map(|known| known.id.clone()));
    known.unwrap_or_else(|| typed.to_owned())
}

impl Open {
    /// The entry of a tag or id.
    ///
    /// # Errors
    /// There is none.
    pub fn entry(&self, id: &str) -> Result<&Known, AppError> {
        meant(self.entries.iter(), id, |e| &e.id).ok_or_else(|| {
            let help = match nearest(id, self.entries.iter().map(|e| e.id.as_str())) {
                Some(near) => format!("the nearest one is `{near}`"),
                None => format!("`stepwell {} list` lists them", self.register.name()),
            };
            AppError::new(format!(
                "there is no {} `{id}`; {help}",
                self.register.one()
            ))
        })
    }

    /// Writes changes, all of them or none. What is written is read again first: it must have no findings, and be the
    /// old entries with these changes and nothing else.
    ///
    /// # Errors
    /// A register that would not be right; those of the system. The file is then as it was.
    pub fn write(&self, host: &dyn Host, list: &[Change]) -> Result<(), AppError> {
        let refused = |why: String| {
            AppError::new(format!(
                "{}: nothing was written: {why}",
                self.path.display()
            ))
        };
        let text = match self.register {
            Register::Devices => amend_devices(&self.source.text, list),
            _ => amend_list(&self.source, self.register.name(), list),
        }
        .map_err(refused)?;
        if text.len() > MAX_BYTES {
            let limit = MAX_BYTES / (1024 * 1024);
            return Err(refused(format!(
                "the register would be larger than {limit} MiB; leave columns or rows out"
            )));
        }
        let (entries, findings) =
            read_entries(self.register, &Source::new(&self.source.name, &text));
        if let Some(first) = findings.first() {
            return Err(refused(format!("{}; {}", first.message, first.help)));
        }
        if entries != self.with(list) {
            return Err(refused(
                "something else would change with it; write the change by hand".to_owned(),
            ));
        }
        let mark = if self.marked { "\u{feff}" } else { "" };
        host.write(&self.path, format!("{mark}{text}").as_bytes())
            .map_err(|e| AppError::at(&self.path, &e))
    }

    /// The entries as they are to be.
    fn with(&self, list: &[Change]) -> Vec<Known> {
        let mut entries = self.entries.clone();
        let places: HashMap<String, usize> = (0..)
            .zip(&entries)
            .map(|(i, e)| (e.id.clone(), i))
            .collect();
        for change in list {
            let at = places.get(&change.id).copied().unwrap_or_else(|| {
                entries.push(Known {
                    id: change.id.clone(),
                    values: empty(self.register),
                });
                entries.len() - 1
            });
            for Changed { field, new, .. } in &change.fields {
                entries[at].values.insert(field, new.clone());
            }
        }
        entries
    }
}

/// All fields of a register but the id, empty.
fn empty(register: Register) -> IndexMap<&'static str, String> {
    let fields = register
        .fields()
        .iter()
        .skip(1)
        .filter(|f| f.name == f.fills);
    fields.map(|f| (f.name, String::new())).collect()
}

fn read_entries(register: Register, source: &Source) -> (Vec<Known>, Vec<Finding>) {
    let filled = |id: &str, values: &[&str]| {
        let mut known = Known {
            id: id.to_owned(),
            values: empty(register),
        };
        for (slot, value) in known.values.values_mut().zip(values) {
            (*value).clone_into(slot);
        }
        known
    };
    match register {
        Register::Devices => {
            let (devices, findings) = read_devices(source);
            (
                devices.iter().map(|d| of_device(d, &filled)).collect(),
                findings,
            )
        }
        Register::People => {
            let (people, findings) = read_people(source.clone());
            (
                people.iter().map(|p| of_person(p, &filled)).collect(),
                findings,
            )
        }
        Register::Instruments => {
            let (kept, findings) = read_kept(source.clone());
            (
                kept.iter().map(|k| of_instrument(k, &filled)).collect(),
                findings,
            )
        }
    }
}

/// Makes an entry of an id and the values of its fields in their order.
type Filled<'a> = dyn Fn(&str, &[&str]) -> Known + 'a;

fn of_device(registered: &Registered, filled: &Filled<'_>) -> Known {
    let d = &registered.device;
    filled(
        &d.tag,
        &[
            &d.serial,
            &d.maker,
            &d.model,
            &d.category,
            &d.location,
            &registered.interval,
            &registered.last_done,
        ],
    )
}

fn of_person(person: &Person, filled: &Filled<'_>) -> Known {
    let key = person.public_key.as_ref().map(PublicKey::text);
    let former: Vec<String> = person.former_keys.iter().map(PublicKey::line).collect();
    filled(
        &person.id,
        &[
            &person.name,
            &person.roles.join(", "),
            &key.unwrap_or_default(),
            &former.join(", "),
            &person.left.clone().unwrap_or_default(),
        ],
    )
}

fn of_instrument(kept: &Kept, filled: &Filled<'_>) -> Known {
    let i = &kept.instrument;
    let measures = measures_text(&i.measures);
    filled(
        &i.id,
        &[
            &i.kind,
            &kept.maker,
            &kept.model,
            &i.serial,
            &i.certificate,
            &i.calibrated,
            &i.due,
            &measures,
        ],
    )
}

/// Keeps others from changing the registers meanwhile.
///
/// # Errors
/// Another window does; those of the system.
pub(super) fn lock_registers(host: &dyn Host, paths: &Paths) -> Result<Lock, AppError> {
    let folder = paths.sessions();
    host.make_folder(&folder)
        .map_err(|e| AppError::at(&folder, &e))?;
    let path = folder.join(".registers.lock");
    host.lock(&path).map_err(|error| {
        if error.kind() == io::ErrorKind::WouldBlock {
            return AppError::new(
                "the registers are being changed in another window; try again when it is done",
            );
        }
        AppError::at(&path, &error)
    })
}

/// Adds an entry; gives what is odd about it.
///
/// # Errors
/// An id that is there already; what the register can't take; those of the system.
pub fn add_entry(
    host: &dyn Host,
    root: &Path,
    register: Register,
    id: &str,
    values: &[(&'static str, String)],
) -> Result<Vec<String>, AppError> {
    let told = |faults: Vec<crate::shop::import::Fault>| {
        let lines: Vec<String> = faults.iter().map(ToString::to_string).collect();
        AppError::new(lines.join("\n"))
    };
    let (entry, notices) = check_entry(register, id, values).map_err(told)?;
    let paths = Paths::at(root);
    let _lock = lock_registers(host, &paths)?;
    let open = open_register(host, &paths, register)?;
    if open.entries.iter().any(|e| e.id == entry.id) {
        return Err(AppError::new(format!(
            "the {} `{}` is in the register already; change it in {}, or import a file that has the change",
            register.one(),
            entry.id,
            register.file()
        )));
    }
    let Changes { list, faults, .. } = changes(register, &[entry], &open.entries);
    if !faults.is_empty() {
        return Err(told(faults));
    }
    open.write(host, &list)?;
    Ok(notices)
}
