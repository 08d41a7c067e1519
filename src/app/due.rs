//! `due`: what is to be done, by day.
//!
//! Never in here: which day that is (see the shop room). Changes when something else falls due.

use std::collections::{HashMap, HashSet};
use std::path::Path;

use jiff::civil::Date;

use crate::host::Host;
use crate::index::{Ended, Stored};
use crate::journal::Instrument;
use crate::record::Record;
use crate::shop::{
    AFTER_REPAIR, Due, Kept, Paths, Registered, Subject, Task, Tested, Upkeep, due_of_device,
    due_of_instrument, is_check, read_day, read_devices, read_kept, sort_due,
};
use crate::text::Finding;

use super::AppError;
use super::amendments::{Overruled, overruled};
use super::open::read_source;
use super::proof::shop_of;
use super::trace::open_index;
use super::upkeep::all_upkeep;

/// How the last records of devices ended, by tag.
type ByTag = HashMap<String, Vec<Ended>>;

/// What is to be done in a shop.
#[derive(Clone, Debug)]
pub struct DueList {
    /// All of it, by day: what is overdue first.
    pub list: Vec<Due>,
    /// Devices that have no interval, and so are never due.
    pub without: Vec<String>,
    /// Records that can't be read, and so don't count.
    pub unread: Vec<String>,
}

/// What is to be done, whenever.
///
/// # Errors
/// Those of the system; findings in the registers or in what was done.
pub fn due(host: &dyn Host, root: &Path) -> Result<DueList, AppError> {
    let paths = Paths::at(root);
    let today = today(host)?;
    let (devices, instruments, done) = registers(host, &paths)?;
    let (ended, unread) = last_ended(host, &paths)?;
    let looked_up = |tag: &str, recipe: Option<&str>| tested(&ended, tag, recipe);
    let mut list: Vec<Due> = devices
        .iter()
        .flat_map(|d| due_of_device(d, &looked_up, today))
        .collect();
    list.extend(
        instruments
            .iter()
            .flat_map(|i| due_of_instrument(i, &done, today)),
    );
    sort_due(&mut list);
    let without = devices.iter().filter(|d| d.interval.is_empty());
    Ok(DueList {
        list,
        without: without.map(|d| d.device.tag.clone()).collect(),
        unread,
    })
}

/// Upkeep of instruments that is overdue today, a part for each instrument: `FM-01 (cleaning, leak check)`.
///
/// # Errors
/// As [`due`].
pub fn overdue_upkeep(
    host: &dyn Host,
    paths: &Paths,
    instruments: &[&Instrument],
) -> Result<Vec<String>, AppError> {
    let today = today(host)?;
    let (_, kept, done) = registers(host, paths)?;
    let is_taken = |k: &&Kept| instruments.iter().any(|i| i.id == k.instrument.id);
    let overdue = |due: Due| match due.task {
        Task::Upkeep(what) if due.days < 0 => Some(what),
        _ => None,
    };
    let told = |k: &Kept| {
        let all = due_of_instrument(k, &done, today);
        let all: Vec<String> = all.into_iter().filter_map(overdue).collect();
        (!all.is_empty()).then(|| format!("{} ({})", k.instrument.id, all.join(", ")))
    };
    Ok(kept.iter().filter(is_taken).filter_map(told).collect())
}

/// What a device is due for next; nothing where it has no interval.
///
/// # Errors
/// As [`due`].
pub fn due_again(host: &dyn Host, root: &Path, tag: &str) -> Result<Option<Due>, AppError> {
    let of_device = |d: &&Due| d.subject == Subject::Device && d.id == tag;
    let all = due(host, root)?.list;
    Ok(all
        .into_iter()
        .filter(|d| of_device(&d))
        .min_by_key(|d| d.day))
}

/// A record of a device, as a list tells it.
#[derive(Clone, Debug)]
pub struct OfDevice {
    /// The recipe.
    pub recipe: String,
    /// The record.
    pub stored: Stored,
    /// Why it does not count any longer.
    pub overruled: Option<Overruled>,
}

/// The records of a device, the newest first.
///
/// # Errors
/// Those of the system.
pub fn records_of(host: &dyn Host, paths: &Paths, tag: &str) -> Result<Vec<OfDevice>, AppError> {
    let overruled = overruled(host, paths)?;
    let all = open_index(host, paths)?.of_device(tag)?;
    let told = |(recipe, stored): (String, Stored)| OfDevice {
        recipe,
        overruled: overruled.get(&stored.record).cloned(),
        stored,
    };
    Ok(all.into_iter().map(told).collect())
}

/// The newer record by which a device does not pass any longer: the last one by some recipe that failed it, or that left it
/// half tested by the same recipe. Trials don't count, nor do records that were corrected or declared void.
///
/// # Errors
/// Those of the system.
pub fn overtaken(
    host: &dyn Host,
    shop: Option<&Paths>,
    path: &Path,
    record: &Record,
) -> Result<Option<OfDevice>, AppError> {
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let own = shop_of(&absolute).map(Paths::at);
    let Some(paths) = own.as_ref().or(shop) else {
        return Ok(None);
    };
    let all = records_of(host, paths, &record.device.tag)?;
    let Some(own) = all.iter().position(|of| of.stored.record == record.record) else {
        return Ok(None);
    };
    let counts = |of: &&OfDevice| !of.stored.trial && of.overruled.is_none();
    let mut seen = HashSet::new();
    let newer = all.iter().take(own).filter(counts);
    let mut last = newer.filter(|of| seen.insert(of.recipe.as_str()));
    let fails = |of: &&OfDevice| match of.stored.verdict.as_str() {
        "fail" => true,
        "incomplete" => of.recipe == record.recipe.id,
        _ => false,
    };
    Ok(last.find(fails).cloned())
}

fn today(host: &dyn Host) -> Result<Date, AppError> {
    let today = host.today();
    read_day(&today).map_err(|_| AppError::new(format!("the clock says {today}; set it right")))
}

type Registers = (Vec<Registered>, Vec<Kept>, Vec<Upkeep>);

fn registers(host: &dyn Host, paths: &Paths) -> Result<Registers, AppError> {
    let mut findings: Vec<Finding> = Vec::new();
    let devices = match read_source(host, &paths.file("devices.csv"))? {
        Ok(source) => {
            let (devices, mut found) = read_devices(&source);
            findings.append(&mut found);
            devices
        }
        Err(finding) => {
            findings.push(finding);
            Vec::new()
        }
    };
    let instruments = match read_source(host, &paths.file("instruments.yaml"))? {
        Ok(source) => {
            let (kept, mut found) = read_kept(source);
            findings.append(&mut found);
            kept
        }
        Err(finding) => {
            findings.push(finding);
            Vec::new()
        }
    };
    let (done, mut found) = all_upkeep(host, paths)?;
    findings.append(&mut found);
    if findings.is_empty() {
        Ok((devices, instruments, done))
    } else {
        Err(AppError::Findings(findings))
    }
}

/// How the last records of devices ended, by tag, and the records that can't be read. Trials don't count, nor do records
/// that were corrected by another one or declared void.
fn last_ended(host: &dyn Host, paths: &Paths) -> Result<(ByTag, Vec<String>), AppError> {
    let index = open_index(host, paths)?;
    let mut by_tag = ByTag::new();
    let overruled = overruled(host, paths)?;
    let without: Vec<&str> = overruled.keys().map(String::as_str).collect();
    for ended in index.last_ended(&without)? {
        by_tag.entry(ended.tag.clone()).or_default().push(ended);
    }
    let unread = index.no_records()?.into_iter().map(|(path, _)| path);
    Ok((by_tag, unread.collect()))
}

/// What the records of a device say by a recipe; or by any that is for the device, where the register names none: then a
/// pass counts on those occasions that make a check. A good test after a repair takes back a fail, by whatever recipe.
fn tested(ended: &ByTag, tag: &str, recipe: Option<&str>) -> Tested {
    let all = || ended.get(tag).into_iter().flatten();
    let is_named = |e: &Ended| recipe.is_some_and(|recipe| e.recipe == recipe);
    let repaired = |e: &Ended| e.fits && occasion_is(e, AFTER_REPAIR);
    let tells = |e: &&Ended| match recipe {
        Some(_) => is_named(e) || repaired(e),
        None => e.fits,
    };
    let renews = |e: &&Ended| {
        let counts = is_named(e) || (recipe.is_none() && e.fits && is_check(&e.occasion));
        counts && e.passed
    };
    let day = |e: &Ended| read_day(&e.day).ok();
    let last = all().filter(tells).max_by_key(|e| e.at);
    let passed = all().filter(renews).max_by_key(|e| e.at);
    Tested {
        passed: passed.and_then(|e| Some((day(e)?, e.recipe.clone()))),
        failed: last.filter(|e| !e.passed).and_then(day),
    }
}

fn occasion_is(ended: &Ended, occasion: &str) -> bool {
    ended.occasion.eq_ignore_ascii_case(occasion)
}
