//! `check`: recipes, a shop's files, or all of a shop.
//!
//! Never in here: the checks themselves. Changes when another kind of file is checked.

use std::cmp::Reverse;
use std::collections::{BTreeSet, HashMap, HashSet};
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use crate::host::Host;
use crate::journal::{Device, Instrument};
use crate::plan::Reaches;
use crate::recipe::{Library, Reading, check_file_name, check_pictures, check_ranges, look_over};
use crate::shop::import::read_ways;
use crate::shop::{
    Paths, doubted_devices, read_day, read_devices, read_instruments, read_people, read_shop,
    read_upkeep,
};
use crate::text::{Finding, Source};

use super::AppError;
use super::answers::check_answers;
use super::contradictions::{Sought, check_contradictions};
use super::fitting::check_fitting;
use super::ledgers::approvals;
use super::open::{read_people_of, read_source};
use super::ratio::check_ratios;
use super::shelf::Shelf;
use super::standing::{Known, check_standing};
use super::upkeep::is_upkeep;

/// Most files that one call checks.
const MAX_FILES: usize = 100_000;

/// What a file gave, with its number.
type Numbered = (usize, Result<Vec<Finding>, AppError>);

/// What was checked and found.
#[derive(Debug)]
pub struct Checked {
    /// The files, in order.
    pub files: Vec<PathBuf>,
    /// Findings, by file and place.
    pub findings: Vec<Finding>,
}

/// Checks files and folders; a folder means the recipes in it, and a shop's own files where it is one.
///
/// # Errors
/// Those of the system.
pub fn check(host: &dyn Host, paths: &[PathBuf]) -> Result<Checked, AppError> {
    let mut files = Vec::new();
    for path in paths {
        collect(host, path, true, &mut files)?;
    }
    if files.is_empty() {
        let named: Vec<String> = paths.iter().map(|p| p.display().to_string()).collect();
        return Err(AppError::new(format!(
            "{}: there is nothing to check; recipes end in .yaml",
            named.join(", ")
        )));
    }
    let findings = check_all(host, &files)?;
    Ok(Checked { files, findings })
}

/// The files that are checked of what lies under a path.
pub(super) fn collect(
    host: &dyn Host,
    path: &Path,
    named: bool,
    files: &mut Vec<PathBuf>,
) -> Result<(), AppError> {
    if !host.is_folder(path) {
        if named || is_checked(path) {
            files.push(path.to_owned());
        }
        return Ok(());
    }
    if files.len() > MAX_FILES {
        return Err(AppError::new(format!(
            "{}: more than {MAX_FILES} files; name a smaller folder",
            path.display()
        )));
    }
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    // Approved texts are what they were; `verify` sees to that.
    let beside = [
        "records",
        "sessions",
        "attachments",
        "templates",
        "approved",
    ];
    let beside = beside.contains(&name.as_str());
    if !named && (beside || name.starts_with('.')) {
        return Ok(());
    }
    for entry in host.list(path).map_err(|e| AppError::at(path, &e))? {
        // Of the folder that one is in nobody writes the dot.
        let entry = entry.strip_prefix(".").unwrap_or(&entry);
        collect(host, entry, false, files)?;
    }
    Ok(())
}

fn is_checked(path: &Path) -> bool {
    let yaml = path.extension().is_some_and(|e| e == "yaml" || e == "yml");
    yaml || is_upkeep(path) || path.file_name().is_some_and(|n| n == "devices.csv")
}

/// Checks files, as many at a time as there are cores.
fn check_all(host: &dyn Host, files: &[PathBuf]) -> Result<Vec<Finding>, AppError> {
    let next = AtomicUsize::new(0);
    let results: Mutex<Vec<Numbered>> = Mutex::new(Vec::new());
    let folders = folders(files);
    let shelves: Vec<Shelf<'_>> = folders.iter().map(|f| Shelf::beside(host, f)).collect();
    let around = Around {
        registers: Registers::default(),
        sought: Sought::default(),
        libraries: folders
            .into_iter()
            .zip(shelves.iter().map(|s| Library::new(s)))
            .collect(),
    };
    // What takes longest comes first, so that no core waits for it in the end.
    let bytes = |index: &usize| host.stamp(&files[*index]).map_or(0, |stamp| stamp.bytes);
    let mut order: Vec<usize> = (0..files.len()).collect();
    order.sort_by_cached_key(|index| Reverse(bytes(index)));
    let workers = std::thread::available_parallelism()
        .map_or(1, usize::from)
        .min(files.len());
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let next = next.fetch_add(1, Ordering::Relaxed);
                    let Some(&index) = order.get(next) else {
                        return;
                    };
                    let found = check_file(host, &files[index], &around);
                    results
                        .lock()
                        .unwrap_or_else(PoisonError::into_inner)
                        .push((index, found));
                }
            });
        }
    });
    let mut results = results.into_inner().unwrap_or_else(PoisonError::into_inner);
    results.sort_by_key(|(index, _)| *index);
    let mut findings = Vec::new();
    for (_, found) in results {
        findings.append(&mut found?);
    }
    Ok(once(findings))
}

fn check_file(host: &dyn Host, path: &Path, around: &Around<'_>) -> Result<Vec<Finding>, AppError> {
    let source: Source = match read_source(host, path)? {
        Ok(source) => source,
        Err(finding) => return Ok(vec![finding]),
    };
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    Ok(match name.as_str() {
        "shop.yaml" => read_shop(source).1,
        "people.yaml" => read_people(source).1,
        "instruments.yaml" => read_instruments(source).1,
        "devices.csv" => {
            let mut found = read_devices(&source).1;
            found.extend(
                read_day(&host.today())
                    .map_or_else(|_| Vec::new(), |t| doubted_devices(&source, t)),
            );
            found.sort_by_key(|f| f.span.start);
            found
        }
        "imports.yaml" => read_ways(source).1,
        _ if is_upkeep(path) => read_upkeep(&source).1,
        _ if holds_answers(&source) => check_answers(source),
        _ => check_recipe(host, path, source, around),
    })
}

fn check_recipe(host: &dyn Host, path: &Path, source: Source, around: &Around<'_>) -> Vec<Finding> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let library = around
        .libraries
        .iter()
        .find(|(known, _)| known == folder)
        .map(|(_, library)| library);
    let reading = match library {
        Some(library) => look_over(source, library),
        None => crate::recipe::read(source),
    };
    let Reading {
        plan,
        mut findings,
        whole,
    } = reading;
    let Some(whole) = whole else {
        return findings;
    };
    if let Some(plan) = &plan {
        let beside = around.registers.of(host, path);
        findings.extend(check_ratios(&whole, plan, &beside.instruments));
        let reaches = Reaches::of(&plan.items);
        findings.extend(check_ranges(&whole, plan, &reaches));
        let sought = &around.sought;
        let contradictions = check_contradictions(&whole, plan, &reaches, &findings, sought);
        findings.extend(contradictions);
    }
    // Where recipes are found by name, the file must have it; and what is run by name is approved by its revision.
    let shelved = folder.file_name() == Some(OsStr::new("recipes"));
    let plan = plan.filter(|_| shelved);
    if let Some(plan) = &plan {
        let beside = around.registers.of(host, path);
        findings.extend(check_standing(&whole, plan, &beside.standing));
        let (devices, instruments) = (&beside.devices, &beside.instruments);
        findings.extend(check_fitting(&whole, plan, devices, instruments));
    }
    findings.extend(plan.and_then(|p| check_file_name(&whole, &p)));
    let lies_there = |name: &str| host.exists(&folder.join(name));
    findings.extend(check_pictures(&whole, &lies_there));
    findings.sort_by_key(|f| (!f.chain.is_empty(), f.span.start));
    findings
}

/// What the recipes of one call have in common: read once for all of them.
struct Around<'d> {
    registers: Registers,
    sought: Sought,
    /// The recipes that those of a folder may rest on.
    libraries: Vec<(PathBuf, Library<'d>)>,
}

/// The folders of the files.
fn folders(files: &[PathBuf]) -> Vec<PathBuf> {
    let of = |file: &PathBuf| file.parent().unwrap_or(Path::new("")).to_owned();
    let folders: BTreeSet<PathBuf> = files.iter().map(of).collect();
    folders.into_iter().collect()
}

/// Each finding once: what a base or fragment has by itself is told there, and not again by each that rests on it.
fn once(findings: Vec<Finding>) -> Vec<Finding> {
    let place = |f: &Finding| (f.source.name.clone(), f.span, f.code, f.message.clone());
    let by_itself: HashSet<_> = findings
        .iter()
        .filter(|f| f.chain.is_empty())
        .map(place)
        .collect();
    let mut led_to = HashSet::new();
    let is_new = |f: &Finding| {
        f.chain.is_empty() || (!by_itself.contains(&place(f)) && led_to.insert(place(f)))
    };
    findings.into_iter().filter(is_new).collect()
}

/// What recipes of a shop are held against; nothing of what can't be read, which has findings of its own.
#[derive(Default)]
struct Surroundings {
    devices: Vec<Device>,
    instruments: Vec<Instrument>,
    standing: Known,
}

/// The surroundings of recipes, by their folder, each read once.
#[derive(Default)]
struct Registers(Mutex<HashMap<PathBuf, Arc<Surroundings>>>);

impl Registers {
    /// Those of the shop that a file lies in; empty where it lies in none.
    fn of(&self, host: &dyn Host, file: &Path) -> Arc<Surroundings> {
        let folder = file.parent().map(Path::to_owned).unwrap_or_default();
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(those) = known.get(&folder) {
            return Arc::clone(those);
        }
        let those: Arc<Surroundings> = surroundings(host, &folder).unwrap_or_default().into();
        known.insert(folder, Arc::clone(&those));
        those
    }
}

fn surroundings(host: &dyn Host, folder: &Path) -> Option<Surroundings> {
    let here = std::path::absolute(folder).ok()?;
    let shop = here
        .ancestors()
        .find(|f| host.exists(&f.join("shop.yaml")))?;
    let paths = Paths::at(shop);
    let source = |name: &str| read_source(host, &paths.file(name)).ok()?.ok();
    let read = source("instruments.yaml").map(read_instruments);
    let instruments = read.and_then(|(all, found)| found.is_empty().then_some(all));
    let devices = source("devices.csv").map(|source| read_devices(&source).0);
    Some(Surroundings {
        devices: devices.into_iter().flatten().map(|d| d.device).collect(),
        instruments: instruments.unwrap_or_default(),
        standing: Known {
            people: read_people_of(host, &paths).ok(),
            approvals: approvals(host, &paths).ok(),
        },
    })
}

/// Whether a file holds stored answers, which lie beside recipes, rather than a recipe.
fn holds_answers(source: &Source) -> bool {
    source.text.lines().any(|line| line.starts_with("answers:"))
}
