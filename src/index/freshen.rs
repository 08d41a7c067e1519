//! Bringing the index up to date: files that are new, changed or gone since, by their size and time of change.
//!
//! Never in here: where the index lies. Changes when records lie elsewhere.

use std::collections::HashMap;
use std::path::PathBuf;

use rayon::prelude::*;
use rusqlite::{Connection, TransactionBehavior};

use crate::host::{Host, Stamp};
use crate::record::RestingOf;
use crate::shop::Paths;

use super::extract::{Extract, at_ms, extract};
use super::store::Store;
use super::{IndexFault, MAX_RECORD};

/// How many records are held at once.
const AT_ONCE: usize = 256;
/// A file that was changed so shortly before it was read may change again within one tick of its clock, so that it is read
/// again the next time. Sticks tell times to 2 s.
const TICK_MS: i64 = 3_000;
/// Stands for a time of change that is not relied on.
const NOT_SURE: i64 = i64::MIN;

/// A file of the records' folder.
struct Found {
    path: PathBuf,
    /// Its name below the folder, as `2026/B1-2026-0001.json`.
    name: String,
    stamp: Stamp,
}

/// Brings an index up to date with the files.
pub(super) fn freshen(
    connection: &mut Connection,
    host: &dyn Host,
    paths: &Paths,
) -> Result<(), IndexFault> {
    let mut known = known(connection)?;
    let mut read = Vec::new();
    let mut gone = Vec::new();
    for file in found(host, paths)? {
        match known.remove(&file.name) {
            Some((_, stamp)) if stamp == file.stamp => {}
            Some((key, _)) => {
                gone.push(key);
                read.push(file);
            }
            None => read.push(file),
        }
    }
    gone.extend(known.into_values().map(|(key, _)| key));
    if read.is_empty() && gone.is_empty() {
        return Ok(());
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let mut store = Store::new(&transaction);
    for key in gone {
        store.remove(key)?;
    }
    let resting = RestingOf::default();
    let now_ms = at_ms(&host.now());
    for some in read.chunks(AT_ONCE) {
        let taken: Vec<Result<Extract, String>> =
            some.par_iter().map(|f| take(host, f, &resting)).collect();
        for (file, taken) in some.iter().zip(taken) {
            let stamp = relied_on(file.stamp, now_ms);
            match taken {
                Ok(of) => store.add(&file.name, stamp, &of)?,
                Err(why) => store.fault(&file.name, stamp, &why)?,
            }
        }
    }
    drop(store);
    transaction.commit()?;
    Ok(())
}

fn take(host: &dyn Host, file: &Found, resting: &RestingOf) -> Result<Extract, String> {
    let bytes = host.read(&file.path, MAX_RECORD);
    extract(&bytes.map_err(|e| e.to_string())?, resting)
}

fn relied_on(stamp: Stamp, now_ms: i64) -> Stamp {
    let fresh = (now_ms - stamp.changed_ns / 1_000_000).abs() < TICK_MS;
    let changed_ns = if fresh { NOT_SURE } else { stamp.changed_ns };
    Stamp {
        changed_ns,
        ..stamp
    }
}

/// The files that the index knows, with their keys.
fn known(connection: &Connection) -> Result<HashMap<String, (i64, Stamp)>, IndexFault> {
    let mut all = connection.prepare("SELECT file, key, bytes, changed FROM record")?;
    let rows = all.query_map([], |row| {
        let stamp = Stamp {
            bytes: u64::try_from(row.get::<_, i64>(2)?).unwrap_or(u64::MAX),
            changed_ns: row.get(3)?,
        };
        Ok((row.get(0)?, (row.get(1)?, stamp)))
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The records' files, by year and name.
fn found(host: &dyn Host, paths: &Paths) -> Result<Vec<Found>, IndexFault> {
    let root = paths.records();
    let mut files = Vec::new();
    for year in host.list(&root).map_err(|e| IndexFault::at(&root, e))? {
        if host.is_folder(&year) {
            let of_year = host.list(&year).map_err(|e| IndexFault::at(&year, e))?;
            let is_record = |f: &PathBuf| f.extension().is_some_and(|e| e == "json");
            files.extend(of_year.into_iter().filter(is_record));
        }
    }
    let one = |path: PathBuf| {
        let name = path.strip_prefix(&root).ok()?;
        let parts: Vec<_> = name.iter().map(|p| p.to_string_lossy()).collect();
        let name = parts.join("/");
        // A file that is gone by now was never there.
        let stamp = host.stamp(&path).ok()?;
        Some(Found { path, name, stamp })
    };
    Ok(files.into_par_iter().filter_map(one).collect())
}
