//! `instruments done` and `instruments calibrated`: what was done for an instrument, and its history.
//!
//! Never in here: when it is due. Changes when something else is kept of an instrument.

use std::path::Path;

use jiff::civil::Date;

use crate::host::Host;
use crate::recipe::schema::nearest;
use crate::shop::import::{Change, Changed, Known, Register};
use crate::shop::{
    CALIBRATION, Deed, Kept, Paths, Shop, Upkeep, permit, read_day, read_kept, read_shop,
    read_upkeep, upkeep_line,
};
use crate::text::{Finding, Source};

use super::AppError;
use super::bench::with_own_bench;
use super::open::{read_people_of, read_source};
use super::registers::{lock_registers, open_register};

/// What was done, by whom, and when.
#[derive(Clone, Debug)]
pub struct Done<'a> {
    /// The instrument.
    pub instrument: &'a str,
    /// Who did it.
    pub by: &'a str,
    /// The day; today where none is given.
    pub on: Option<&'a str>,
    /// A remark.
    pub note: &'a str,
}

impl<'a> Done<'a> {
    /// The same, of the instrument as the register spells it.
    fn of(&self, instrument: &'a str) -> Self {
        Self {
            instrument,
            ..self.clone()
        }
    }
}

/// A new certificate.
#[derive(Clone, Debug)]
pub struct Calibrated<'a> {
    /// Its number.
    pub certificate: &'a str,
    /// Last day on which the instrument may be used with it.
    pub due: &'a str,
}

/// All that was done for instruments, at all benches; with what can't be read.
///
/// # Errors
/// Those of the system.
pub fn all_upkeep(host: &dyn Host, paths: &Paths) -> Result<(Vec<Upkeep>, Vec<Finding>), AppError> {
    let files = host
        .list(&paths.root)
        .map_err(|e| AppError::at(&paths.root, &e))?;
    let (mut done, mut findings) = (Vec::new(), Vec::new());
    for file in files.iter().filter(|f| is_upkeep(f)) {
        match read_source(host, file)? {
            Ok(source) => {
                let (mut those, mut found) = read_upkeep(&source);
                done.append(&mut those);
                findings.append(&mut found);
            }
            Err(finding) => findings.push(finding),
        }
    }
    Ok((done, findings))
}

/// Whether a file is one of those that keep what was done.
pub(super) fn is_upkeep(file: &Path) -> bool {
    let name = file
        .file_name()
        .and_then(|n| n.to_str())
        .unwrap_or_default();
    name.starts_with("upkeep-") && name.ends_with(".jsonl")
}

/// Keeps that upkeep was done; gives what was kept.
///
/// # Errors
/// An instrument, task or person that is not known; a day that can't be; those of the system.
pub fn upkeep_done(
    host: &dyn Host,
    root: &Path,
    what: &str,
    done: &Done<'_>,
) -> Result<Upkeep, AppError> {
    let paths = Paths::at(root);
    let _lock = lock_registers(host, &paths)?;
    let kept = instrument(host, &paths, done.instrument)?;
    if !kept.upkeep.iter().any(|(task, _)| task == what) {
        let tasks: Vec<&str> = kept.upkeep.iter().map(|(t, _)| t.as_str()).collect();
        let help = match nearest(what, tasks.iter().copied()) {
            Some(near) => format!("the nearest one is `{near}`"),
            None if what == CALIBRATION => {
                "`stepwell instruments calibrated` takes a new certificate".to_owned()
            }
            None if tasks.is_empty() => "give it an `upkeep` in instruments.yaml".to_owned(),
            None => format!("it has: {}", tasks.join(", ")),
        };
        return Err(AppError::new(format!(
            "`{}` has no upkeep `{what}`; {help}",
            done.instrument
        )));
    }
    let entry = entry(host, &paths, what, &done.of(&kept.instrument.id))?;
    append(host, &paths, &entry)?;
    Ok(entry)
}

/// Enters a new certificate into the register and keeps the old one in the history; gives what was kept.
///
/// # Errors
/// An instrument or person that is not known; days that can't be; those of the system.
pub fn calibrated(
    host: &dyn Host,
    root: &Path,
    new: &Calibrated<'_>,
    done: &Done<'_>,
) -> Result<Upkeep, AppError> {
    let paths = Paths::at(root);
    let _lock = lock_registers(host, &paths)?;
    let register = open_register(host, &paths, Register::Instruments)?;
    let known = register.entry(done.instrument)?;
    let done = &done.of(&known.id);
    let mut entry = entry(host, &paths, CALIBRATION, done)?;
    let due = days(known, new, entry.on)?;
    let values = [("certificate", new.certificate.to_owned())];
    crate::shop::import::check_entry(Register::Instruments, done.instrument, &values).map_err(
        |faults| {
            AppError::new(
                faults
                    .iter()
                    .map(ToString::to_string)
                    .collect::<Vec<_>>()
                    .join("\n"),
            )
        },
    )?;
    let certificate = new.certificate.trim().to_owned();
    entry.former_certificate = Some(known.values["certificate"].clone());
    entry.certificate = Some(certificate.clone());
    let on = entry.on.to_string();
    let change = change(
        known,
        &[
            ("certificate", certificate),
            ("calibrated", on),
            ("due", due.to_string()),
        ],
    );
    // The history first: nothing is in the register alone that would be lost if the second write fails.
    let (all, _) = all_upkeep(host, &paths)?;
    let again = |d: &Upkeep| {
        (&d.instrument, &d.what, &d.certificate, d.on)
            == (&entry.instrument, &entry.what, &entry.certificate, entry.on)
    };
    if !all.iter().any(again) {
        append(host, &paths, &entry)?;
    }
    if !change.fields.is_empty() {
        register.write(host, &[change])?;
    }
    Ok(entry)
}

/// The day until which a new certificate holds, held against the day of the calibration and the register.
fn days(known: &Known, new: &Calibrated<'_>, on: Date) -> Result<Date, AppError> {
    let due = read_day(new.due)
        .map_err(|e| AppError::new(format!("`--due`: {}; {}", e.message, e.help)))?;
    if due <= on {
        return Err(AppError::new(format!(
            "`--due {due}` is not after the calibration of {}",
            on
        )));
    }
    let later = known.values["calibrated"].as_str();
    if read_day(later).is_ok_and(|later| later > on) {
        return Err(AppError::new(format!(
            "the register has a later calibration of `{}`, of {later}; nothing was written",
            known.id
        )));
    }
    Ok(due)
}

fn change(known: &Known, values: &[(&'static str, String)]) -> Change {
    let differing = values
        .iter()
        .filter(|(field, new)| known.values[*field] != *new);
    let fields = differing.map(|(field, new)| Changed {
        field,
        old: known.values[*field].clone(),
        new: new.clone(),
    });
    Change {
        id: known.id.clone(),
        added: false,
        fields: fields.collect(),
    }
}

fn instrument(host: &dyn Host, paths: &Paths, id: &str) -> Result<Kept, AppError> {
    let open = open_register(host, paths, Register::Instruments)?;
    let id = &open.entry(id)?.id;
    let source = source(host, paths, "instruments.yaml")?;
    let kept = read_kept(source)
        .0
        .into_iter()
        .find(|k| k.instrument.id == *id);
    kept.ok_or_else(|| AppError::new(format!("there is no instrument `{id}` any more")))
}

fn source(host: &dyn Host, paths: &Paths, name: &str) -> Result<Source, AppError> {
    read_source(host, &paths.file(name))?.map_err(|finding| AppError::Findings(vec![finding]))
}

/// What is to be kept of something done, its person and day checked.
fn entry(host: &dyn Host, paths: &Paths, what: &str, done: &Done<'_>) -> Result<Upkeep, AppError> {
    let today = host.today();
    let on = done.on.unwrap_or(&today);
    let on =
        read_day(on).map_err(|e| AppError::new(format!("`--on`: {}; {}", e.message, e.help)))?;
    if on.to_string() > today {
        return Err(AppError::new(format!(
            "`--on {on}` lies in the future; today is {today}"
        )));
    }
    may_enter(host, paths, done.by, &today)?;
    if done.note.chars().any(char::is_control) {
        return Err(AppError::new(
            "`--note` has a character that can't be seen; write it in one line",
        ));
    }
    Ok(Upkeep {
        instrument: done.instrument.to_owned(),
        what: what.to_owned(),
        by: done.by.to_owned(),
        on,
        at: host.now(),
        note: done.note.trim().to_owned(),
        former_certificate: None,
        certificate: None,
    })
}

/// Whether the policy lets a person enter it today, whichever day it was done on.
fn may_enter(host: &dyn Host, paths: &Paths, by: &str, today: &str) -> Result<(), AppError> {
    let people = read_people_of(host, paths)?;
    let allowed = permit(&own_shop(host, paths)?, &people, by, Deed::Upkeep, today);
    allowed.map(drop).map_err(AppError::new)
}

/// What the shop says of itself, at this bench.
fn own_shop(host: &dyn Host, paths: &Paths) -> Result<Shop, AppError> {
    let (shop, findings) = read_shop(source(host, paths, "shop.yaml")?);
    with_own_bench(host, paths, shop.ok_or(AppError::Findings(findings))?)
}

/// Adds a line to this bench's file, which is written anew as a whole.
fn append(host: &dyn Host, paths: &Paths, entry: &Upkeep) -> Result<(), AppError> {
    let path = paths.upkeep(&own_shop(host, paths)?.bench);
    let mut text = if host.exists(&path) {
        let old = read_source(host, &path)?.map_err(|finding| AppError::Findings(vec![finding]))?;
        old.text.to_string()
    } else {
        String::new()
    };
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
    text.push_str(&upkeep_line(entry).map_err(AppError::new)?);
    host.write(&path, text.as_bytes())
        .map_err(|e| AppError::at(&path, &e))
}
