//! The records of some revisions of a recipe: where each lies, and what it is of.
//!
//! Never in here: what was measured. Changes when records are chosen otherwise.

use rusqlite::types::Value as Bound;

use super::{Chosen, Index, IndexFault};

/// Revisions of a recipe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Revisions {
    /// This one and all before it.
    UpTo(u32),
    /// This one alone.
    Only(u32),
    /// All behind this one.
    After(u32),
}

/// A record as the index knows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stored {
    /// The file below the records' folder.
    pub file: String,
    /// The record's id.
    pub record: String,
    /// When it began.
    pub started: String,
    /// Tag of the device.
    pub device: String,
    /// Its model.
    pub model: String,
    /// The recipe's revision.
    pub revision: i64,
    /// Whether it was a trial.
    pub trial: bool,
    /// Its verdict.
    pub verdict: String,
}

impl Revisions {
    /// As a part of a query, with what is bound in it.
    fn part(self) -> (&'static str, u32) {
        match self {
            Self::UpTo(n) => (" AND p.revision <= ?", n),
            Self::Only(n) => (" AND p.revision = ?", n),
            Self::After(n) => (" AND p.revision > ?", n),
        }
    }
}

impl Index {
    /// Tells the chosen records of some revisions, in order of time.
    ///
    /// # Errors
    /// Those of the index, and those of `tell`.
    pub fn stored<E: From<IndexFault>>(
        &self,
        chosen: Chosen<'_>,
        revisions: Revisions,
        tell: &mut dyn FnMut(Stored) -> Result<(), E>,
    ) -> Result<(), E> {
        let (records, bound) = of(chosen, revisions);
        let sql = format!(
            "SELECT r.file, r.id, r.started, d.tag, d.model, p.revision, r.trial, r.verdict {records} ORDER BY r.at, r.id"
        );
        let mut all = self.connection.prepare(&sql).map_err(IndexFault::from)?;
        let rows = all.query_map(rusqlite::params_from_iter(&bound), |row| self.row(row));
        for row in rows.map_err(IndexFault::from)? {
            tell(row.map_err(IndexFault::from)?)?;
        }
        Ok(())
    }

    /// Tells the chosen records in order of time, with the recipe of each and who made it.
    ///
    /// # Errors
    /// Those of the index.
    pub fn each_stored(
        &self,
        chosen: Chosen<'_>,
        tell: &mut dyn FnMut(Stored, String, String),
    ) -> Result<(), IndexFault> {
        let (records, bound) = chosen.records();
        let sql = format!(
            "SELECT r.file, r.id, r.started, d.tag, d.model, p.revision, r.trial, r.verdict, p.id, r.by {records} \
             ORDER BY r.at, r.id"
        );
        let mut all = self.connection.prepare(&sql)?;
        let mut rows = all.query(rusqlite::params_from_iter(&bound))?;
        while let Some(row) = rows.next()? {
            tell(self.row(row)?, row.get(8)?, self.word(row.get(9)?));
        }
        Ok(())
    }

    /// The records of a device, the newest first, with the recipe of each.
    ///
    /// # Errors
    /// Those of the index.
    pub fn of_device(&self, tag: &str) -> Result<Vec<(String, Stored)>, IndexFault> {
        let mut all = self.connection.prepare_cached(
            "SELECT r.file, r.id, r.started, d.tag, d.model, p.revision, r.trial, r.verdict, p.id FROM record r \
             JOIN device d ON d.key = r.device JOIN recipe p ON p.key = r.recipe \
             WHERE d.tag = ?1 AND r.fault IS NULL ORDER BY r.at DESC, r.id DESC",
        )?;
        let rows = all.query_map([tag], |row| Ok((row.get(8)?, self.row(row)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn row(&self, row: &rusqlite::Row<'_>) -> rusqlite::Result<Stored> {
        Ok(Stored {
            file: row.get(0)?,
            record: row.get(1)?,
            started: row.get(2)?,
            device: row.get(3)?,
            model: row.get(4)?,
            revision: row.get(5)?,
            trial: row.get(6)?,
            verdict: self.word(row.get(7)?),
        })
    }

    /// How many of the chosen records are of some revisions.
    ///
    /// # Errors
    /// Those of the index.
    pub fn count_stored(
        &self,
        chosen: Chosen<'_>,
        revisions: Revisions,
    ) -> Result<usize, IndexFault> {
        let (records, bound) = of(chosen, revisions);
        let mut all = self
            .connection
            .prepare(&format!("SELECT count(*) {records}"))?;
        let count: i64 = all.query_row(rusqlite::params_from_iter(&bound), |row| row.get(0))?;
        Ok(usize::try_from(count).unwrap_or(0))
    }
}

fn of(chosen: Chosen<'_>, revisions: Revisions) -> (String, Vec<Bound>) {
    let (mut records, mut bound) = chosen.records();
    let (part, n) = revisions.part();
    records += part;
    bound.push(Bound::Integer(i64::from(n)));
    (records, bound)
}
