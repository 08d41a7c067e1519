//! Opening the index: the one in the shop's folder, made again where anything is odd about it; one in memory where the
//! folder can't be written to.
//!
//! Never in here: what is asked. Changes when the index lies elsewhere.

use std::collections::HashMap;
use std::path::PathBuf;
use std::time::Duration;

use rusqlite::Connection;

use crate::host::Host;
use crate::shop::Paths;

use super::IndexFault;
use super::freshen::freshen;
use super::schema::{APPLICATION, TABLES, VERSION};
use super::store::words;

/// The folder of what can be made again, in a shop's folder.
pub const FOLDER: &str = ".stepwell";
const FILE: &str = "index.sqlite";
/// What SQLite keeps beside its file.
const BESIDE: [&str; 3] = ["-journal", "-wal", "-shm"];
/// How long another process may be writing.
const PATIENCE: Duration = Duration::from_secs(10);

/// The index of a shop's records, up to date when it was opened.
#[derive(Debug)]
pub struct Index {
    pub(super) connection: Connection,
    pub(super) words: HashMap<i64, String>,
    /// Why it is in memory, where it is.
    pub in_memory: Option<String>,
}

impl Index {
    /// Opens the index and brings it up to date with the records' files.
    ///
    /// # Errors
    /// A folder of records that can't be listed; an index that can be made neither on disk nor in memory.
    pub fn open(host: &dyn Host, paths: &Paths) -> Result<Self, IndexFault> {
        let why = match on_disk(host, paths) {
            Ok(connection) => return Self::of(connection, None),
            Err(IndexFault::Outside(path, error)) if path.starts_with(paths.records()) => {
                return Err(IndexFault::Outside(path, error));
            }
            Err(fault) => fault,
        };
        let why = if why.is_busy() {
            why
        } else {
            remove(host, paths);
            match on_disk(host, paths) {
                Ok(connection) => return Self::of(connection, None),
                Err(fault) => fault,
            }
        };
        let mut connection = Connection::open_in_memory()?;
        make(&connection)?;
        freshen(&mut connection, host, paths)?;
        Self::of(connection, Some(why.to_string()))
    }

    fn of(connection: Connection, in_memory: Option<String>) -> Result<Self, IndexFault> {
        connection.set_prepared_statement_cache_capacity(32);
        let words = words(&connection)?;
        Ok(Self {
            connection,
            words,
            in_memory,
        })
    }

    /// The text of a word's key.
    pub(super) fn word(&self, key: Option<i64>) -> String {
        key.and_then(|k| self.words.get(&k))
            .cloned()
            .unwrap_or_default()
    }

    /// Files among the records that are none, with the reason.
    ///
    /// # Errors
    /// Those of the index.
    pub fn no_records(&self) -> Result<Vec<(String, String)>, IndexFault> {
        let sql = "SELECT file, fault FROM record WHERE fault IS NOT NULL ORDER BY file";
        let mut all = self.connection.prepare(sql)?;
        let rows = all.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

fn file(paths: &Paths) -> PathBuf {
    paths.root.join(FOLDER).join(FILE)
}

fn on_disk(host: &dyn Host, paths: &Paths) -> Result<Connection, IndexFault> {
    let folder = paths.root.join(FOLDER);
    if !host.is_folder(&folder) {
        host.make_folder(&folder)
            .map_err(|e| IndexFault::at(&folder, e))?;
        let ignored = folder.join(".gitignore");
        host.write(&ignored, b"*\n")
            .map_err(|e| IndexFault::at(&ignored, e))?;
    }
    let mut connection = Connection::open(file(paths))?;
    connection.busy_timeout(PATIENCE)?;
    // An index that a power cut tears is made again; a torn one is told by its pages.
    connection.pragma_update(None, "synchronous", "NORMAL")?;
    let of = |name: &str| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    match (
        of("application_id")?,
        of("user_version")?,
        of("schema_version")?,
    ) {
        (APPLICATION, VERSION, _) => sound(&connection)?,
        (0, 0, 0) => make(&connection)?,
        _ => return Err(IndexFault::OtherForm),
    }
    freshen(&mut connection, host, paths)?;
    Ok(connection)
}

/// Looks the pages over: rows out of order or missing in an index would be left out silently.
fn sound(connection: &Connection) -> Result<(), IndexFault> {
    let said: String = connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
    if said == "ok" {
        Ok(())
    } else {
        Err(IndexFault::OtherForm)
    }
}

fn make(connection: &Connection) -> Result<(), IndexFault> {
    connection.execute_batch(&format!(
        "BEGIN IMMEDIATE; {TABLES} PRAGMA application_id = {APPLICATION}; PRAGMA user_version = {VERSION}; COMMIT;"
    ))?;
    Ok(())
}

/// Removes the file, and what SQLite left beside it; one that can't be removed is met again when it is opened.
fn remove(host: &dyn Host, paths: &Paths) {
    let file = file(paths);
    let beside = BESIDE.map(|end| file.with_file_name(format!("{FILE}{end}")));
    for path in beside.iter().chain([&file]) {
        if host.exists(path) {
            let _ = host.remove(path);
        }
    }
}
