//! Writing records into the index, and taking them out.
//!
//! Never in here: which records. Changes when a table does.

use std::collections::HashMap;

use rusqlite::{Connection, OptionalExtension, Params, Transaction, params};

use crate::host::Stamp;

use super::IndexFault;
use super::extract::{Extract, HeldRow, ValueRow};

/// A set of roles as SQLite keeps it.
fn bits(set: u64) -> i64 {
    i64::from_ne_bytes(set.to_ne_bytes())
}

/// Writes records in one transaction; keys of what stands often are kept.
pub(super) struct Store<'t> {
    into: &'t Transaction<'t>,
    words: HashMap<String, i64>,
    steps: HashMap<(String, String), i64>,
}

impl<'t> Store<'t> {
    pub fn new(into: &'t Transaction<'t>) -> Self {
        Self {
            into,
            words: HashMap::new(),
            steps: HashMap::new(),
        }
    }

    /// Takes out what is kept of a file.
    pub fn remove(&self, key: i64) -> Result<(), IndexFault> {
        for sql in [
            "DELETE FROM used WHERE record = ?1",
            "DELETE FROM value WHERE record = ?1",
            "DELETE FROM held WHERE record = ?1",
            "DELETE FROM record WHERE key = ?1",
        ] {
            self.run(sql, [key])?;
        }
        Ok(())
    }

    /// Remembers a file that is no record.
    pub fn fault(&self, file: &str, stamp: Stamp, why: &str) -> Result<(), IndexFault> {
        self.run(
            "INSERT INTO record(file, bytes, changed, fault) VALUES(?1, ?2, ?3, ?4)",
            params![file, size(stamp), stamp.changed_ns, why],
        )
    }

    /// Writes a record.
    pub fn add(&mut self, file: &str, stamp: Stamp, of: &Extract) -> Result<(), IndexFault> {
        let r = &of.record;
        let d = &r.device;
        let device = self.key(
            "device(tag, serial, maker, model)",
            "tag = ?1 AND serial = ?2 AND maker = ?3 AND model = ?4",
            params![d.tag, d.serial, d.maker, d.model],
        )?;
        let recipe = self.key(
            "recipe(id, revision, digest)",
            "id = ?1 AND revision = ?2 AND digest = ?3",
            params![r.recipe.id, r.recipe.revision, r.recipe.digest],
        )?;
        let (occasion, by) = (self.word(&r.occasion)?, self.word(&r.by)?);
        let (verdict, decision) = (self.word(&r.verdict)?, self.word(&r.decision)?);
        self.run(
            "INSERT INTO record(file, bytes, changed, id, device, recipe, occasion, trial, at, started, finished, by, \
             verdict, decision, fits) VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
            params![
                file, size(stamp), stamp.changed_ns, r.record, device, recipe, occasion, r.trial, of.at_ms, r.started,
                r.finished, by, verdict, decision, of.fits
            ],
        )?;
        let record = self.into.last_insert_rowid();
        self.used(record, of)?;
        for (n, row) in of.values.iter().enumerate() {
            self.value(record, n, row)?;
        }
        for (n, row) in of.held.iter().enumerate() {
            self.held(record, n, row)?;
        }
        Ok(())
    }

    fn used(&mut self, record: i64, of: &Extract) -> Result<(), IndexFault> {
        for (n, role) in &of.roles {
            let Some(i) = of.record.instruments.get(role) else {
                continue;
            };
            let instrument = self.key(
                "instrument(id, certificate, calibrated, due)",
                "id = ?1 AND certificate = ?2 AND calibrated = ?3 AND due = ?4",
                params![i.id, i.certificate, i.calibrated, i.due],
            )?;
            let role = self.word(role)?;
            self.run(
                "INSERT OR IGNORE INTO used(instrument, at, record, n, role) VALUES(?1, ?2, ?3, ?4, ?5)",
                params![instrument, of.at_ms, record, whole(*n), role],
            )?;
        }
        Ok(())
    }

    fn value(&mut self, record: i64, n: usize, row: &ValueRow) -> Result<(), IndexFault> {
        let step = self.step(&row.path, &row.title)?;
        let unit = match &row.value {
            Some((_, unit)) => Some(self.word(unit)?),
            None => None,
        };
        let (standard, expanded) = pair(&row.uncertainty);
        self.run(
            "INSERT INTO value(record, n, step, repeats, value, unit, standard, expanded, read_from, rests) \
             VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
            params![
                record, whole(n), step, whole(row.repeats), row.value.as_ref().map(|(v, _)| v), unit, standard, expanded,
                row.read_from.map(whole), bits(row.rests)
            ],
        )
    }

    fn held(&mut self, record: i64, n: usize, row: &HeldRow) -> Result<(), IndexFault> {
        let step = self.step(&row.path, &row.title)?;
        let (of, unit) = (self.word(&row.of)?, self.word(&row.unit)?);
        let (verdict, severity) = (self.word(&row.verdict)?, self.word(&row.severity)?);
        let (standard, expanded) = pair(&row.uncertainty);
        self.run(
            "INSERT INTO held(record, n, step, of, value, unit, low, high, standard, expanded, verdict, severity, rests) \
             VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
            params![
                record, whole(n), step, of, row.value, unit, row.low, row.high, standard, expanded, verdict, severity,
                bits(row.rests)
            ],
        )
    }

    fn run(&self, sql: &str, with: impl Params) -> Result<(), IndexFault> {
        self.into.prepare_cached(sql)?.execute(with)?;
        Ok(())
    }

    fn word(&mut self, text: &str) -> Result<i64, IndexFault> {
        if let Some(key) = self.words.get(text) {
            return Ok(*key);
        }
        let key = self.key("word(text)", "text = ?1", params![text])?;
        self.words.insert(text.to_owned(), key);
        Ok(key)
    }

    fn step(&mut self, path: &str, title: &str) -> Result<i64, IndexFault> {
        let named = (path.to_owned(), title.to_owned());
        if let Some(key) = self.steps.get(&named) {
            return Ok(*key);
        }
        let key = self.key(
            "step(path, title)",
            "path = ?1 AND title = ?2",
            params![path, title],
        )?;
        self.steps.insert(named, key);
        Ok(key)
    }

    /// The key of a row that stands once; it is written where it does not stand yet.
    fn key(
        &self,
        table: &str,
        same: &str,
        with: &[&dyn rusqlite::ToSql],
    ) -> Result<i64, IndexFault> {
        let name = table.split('(').next().unwrap_or_default();
        let find = format!("SELECT key FROM {name} WHERE {same}");
        let mut found = self.into.prepare_cached(&find)?;
        if let Some(key) = found.query_row(with, |row| row.get(0)).optional()? {
            return Ok(key);
        }
        let places: Vec<String> = (1..=with.len()).map(|n| format!("?{n}")).collect();
        let add = format!("INSERT INTO {table} VALUES({})", places.join(", "));
        self.run(&add, with)?;
        Ok(self.into.last_insert_rowid())
    }
}

/// All words, by their keys.
pub(super) fn words(connection: &Connection) -> Result<HashMap<i64, String>, IndexFault> {
    let mut all = connection.prepare("SELECT key, text FROM word")?;
    let rows = all.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn whole(n: usize) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}

fn size(stamp: Stamp) -> i64 {
    i64::try_from(stamp.bytes).unwrap_or(i64::MAX)
}

fn pair(of: &Option<(String, String)>) -> (Option<&str>, Option<&str>) {
    let both = of.as_ref().map(|(s, e)| (s.as_str(), e.as_str()));
    (both.map(|b| b.0), both.map(|b| b.1))
}
