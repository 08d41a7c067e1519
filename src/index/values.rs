//! The history of a value over the records of a device, a model or a recipe.
//!
//! Never in here: statistics. Changes when records are chosen otherwise.

use std::collections::BTreeMap;

use rusqlite::Row;
use rusqlite::types::Value as Bound;

use crate::quantity::Exact;

use super::{Index, IndexFault};

/// Which records are looked at; what is not given does not narrow.
#[derive(Clone, Copy, Debug, Default)]
pub struct Chosen<'a> {
    /// Tag of the device.
    pub device: Option<&'a str>,
    /// Model of the devices.
    pub model: Option<&'a str>,
    /// Id of the recipe.
    pub recipe: Option<&'a str>,
    /// The first day.
    pub since: Option<&'a str>,
    /// The last day.
    pub until: Option<&'a str>,
    /// Whether trials count too.
    pub trials: bool,
}

/// A value that can be had.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Known {
    /// Its name: the path of its step; with `: EXPRESSION` behind it, what a criterion of that step held against a limit.
    pub name: String,
    /// The title of its step.
    pub title: String,
    /// The recipe that it stands in.
    pub recipe: String,
    /// Its unit.
    pub unit: String,
    /// In how many records it stands.
    pub records: usize,
}

/// A value of one record.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// The record's id.
    pub record: String,
    /// When it began.
    pub started: String,
    /// The same in milliseconds since 1970.
    pub at_ms: i64,
    /// Tag of the device.
    pub device: String,
    /// Id of the recipe.
    pub recipe: String,
    /// Its revision.
    pub revision: i64,
    /// Title of the step.
    pub title: String,
    /// The value as decimal text, of repeats their mean.
    pub value: String,
    /// The unit of value and limits.
    pub unit: String,
    /// Of how many readings it is the mean.
    pub repeats: i64,
    /// The expanded uncertainty, where it is known.
    pub expanded: Option<String>,
    /// The lower end of what is allowed.
    pub low: Option<String>,
    /// The upper end of what is allowed.
    pub high: Option<String>,
    /// The verdict of the criteria that draw these limits; empty without any.
    pub verdict: String,
}

/// What a criterion held against a limit.
pub(super) struct Held {
    pub(super) of: String,
    value: Option<String>,
    unit: String,
    low: Option<String>,
    high: Option<String>,
    expanded: Option<String>,
    verdict: String,
}

impl Chosen<'_> {
    /// The records that are chosen, as a part of a query, with what is bound in it.
    pub(super) fn records(&self) -> (String, Vec<Bound>) {
        let mut sql =
            "FROM record r JOIN device d ON d.key = r.device JOIN recipe p ON p.key = r.recipe \
                       WHERE r.fault IS NULL"
                .to_owned();
        let mut bound = Vec::new();
        for (given, part) in [
            (self.device, "d.tag = ?"),
            (self.model, "d.model = ?"),
            (self.recipe, "p.id = ?"),
            (self.since, "substr(r.started, 1, 10) >= ?"),
            (self.until, "substr(r.started, 1, 10) <= ?"),
        ] {
            if let Some(text) = given {
                sql += &format!(" AND {part}");
                bound.push(Bound::Text(text.to_owned()));
            }
        }
        if !self.trials {
            sql += " AND r.trial = 0";
        }
        (sql, bound)
    }
}

impl Index {
    /// The tags, models and recipes that stand in records, trials included.
    ///
    /// # Errors
    /// Those of the index.
    pub fn known_names(&self) -> Result<[Vec<String>; 3], IndexFault> {
        let all = |sql: &str| -> Result<Vec<String>, IndexFault> {
            let mut all = self.connection.prepare(sql)?;
            let rows = all.query_map([], |row| row.get(0))?;
            Ok(rows.collect::<Result<_, _>>()?)
        };
        Ok([
            all("SELECT DISTINCT tag FROM device ORDER BY tag")?,
            all("SELECT DISTINCT model FROM device ORDER BY model")?,
            all("SELECT DISTINCT id FROM recipe ORDER BY id")?,
        ])
    }

    /// The values that can be had of the chosen records, by recipe and in the order of its steps.
    ///
    /// # Errors
    /// Those of the index.
    pub fn known_values(&self, chosen: Chosen<'_>) -> Result<Vec<Known>, IndexFault> {
        let (records, bound) = chosen.records();
        let mut all: BTreeMap<(String, i64, i64, String), Known> = BTreeMap::new();
        let mut count =
            |recipe: String, place: (i64, i64), name: String, row: (String, String, i64)| {
                let (title, unit, records) = row;
                let key = (recipe.clone(), place.0, place.1, name.clone());
                let known = all.entry(key).or_insert_with(|| Known {
                    name,
                    title,
                    recipe,
                    unit,
                    records: 0,
                });
                known.records += usize::try_from(records).unwrap_or(0);
            };
        let sql = format!(
            "SELECT p.id, s.path, s.title, v.unit, count(*), min(v.n) {} AND v.value IS NOT NULL GROUP BY p.id, s.path",
            joined(&records, "value v", "v")
        );
        let mut values = self.connection.prepare(&sql)?;
        let mut rows = values.query(rusqlite::params_from_iter(&bound))?;
        while let Some(row) = rows.next()? {
            let of = (row.get(2)?, self.word(row.get(3)?), row.get(4)?);
            count(row.get(0)?, (0, row.get(5)?), row.get(1)?, of);
        }
        let sql = format!(
            "SELECT p.id, s.path, s.title, h.unit, count(DISTINCT r.key), min(h.n), h.of {} AND h.value IS NOT NULL \
             GROUP BY p.id, s.path, h.of",
            joined(&records, "held h", "h")
        );
        let mut held = self.connection.prepare(&sql)?;
        let mut rows = held.query(rusqlite::params_from_iter(&bound))?;
        while let Some(row) = rows.next()? {
            let (path, of): (String, String) = (row.get(1)?, self.word(row.get(6)?));
            if !is_own(&path, &of) {
                let told = (row.get(2)?, self.word(row.get(3)?), row.get(4)?);
                count(row.get(0)?, (1, row.get(5)?), format!("{path}: {of}"), told);
            }
        }
        Ok(all.into_values().collect())
    }

    /// A value of the chosen records in order of time; records without it are left out.
    ///
    /// # Errors
    /// Those of the index.
    pub fn history(&self, chosen: Chosen<'_>, name: &str) -> Result<Vec<Kept>, IndexFault> {
        let (path, of) = match name.split_once(": ") {
            Some((path, of)) => (path, Some(of)),
            None => (name, None),
        };
        let (records, bound) = chosen.records();
        let sql = format!(
            "SELECT r.key, r.id, r.started, r.at, d.tag, p.id, p.revision {records} ORDER BY r.at, r.id"
        );
        let mut all = self.connection.prepare(&sql)?;
        let mut values = self.connection.prepare(
            "SELECT s.title, v.value, v.unit, v.repeats, v.expanded FROM value v JOIN step s ON s.key = v.step \
             WHERE v.record = ?1 AND s.path = ?2 AND v.value IS NOT NULL",
        )?;
        let mut held = self.connection.prepare(
            "SELECT s.title, h.of, h.value, h.unit, h.low, h.high, h.expanded, h.verdict FROM held h \
             JOIN step s ON s.key = h.step WHERE h.record = ?1 AND s.path = ?2 ORDER BY h.n",
        )?;
        let mut rows = all.query(rusqlite::params_from_iter(&bound))?;
        let mut history = Vec::new();
        while let Some(row) = rows.next()? {
            let key: i64 = row.get(0)?;
            let mut kept = record(row)?;
            let limits: Vec<Held> = held
                .query_map(rusqlite::params![key, path], |row| {
                    self.held(row, &mut kept.title)
                })?
                .collect::<Result<_, _>>()?;
            let mut own = values.query(rusqlite::params![key, path])?;
            let found = match (of, own.next()?) {
                (Some(of), _) => kept.take_held(&limits, of),
                (None, Some(row)) => {
                    (kept.title, kept.value) = (row.get(0)?, row.get(1)?);
                    (kept.unit, kept.repeats) = (self.word(row.get(2)?), row.get(3)?);
                    kept.expanded = row.get(4)?;
                    true
                }
                (None, None) => false,
            };
            if found {
                kept.narrow(&limits, |l| {
                    of.map_or_else(|| is_own(path, &l.of), |of| l.of == of)
                });
                history.push(kept);
            }
        }
        Ok(history)
    }

    pub(super) fn held(&self, row: &Row<'_>, title: &mut String) -> rusqlite::Result<Held> {
        *title = row.get(0)?;
        Ok(Held {
            of: self.word(row.get(1)?),
            value: row.get(2)?,
            unit: self.word(row.get(3)?),
            low: row.get(4)?,
            high: row.get(5)?,
            expanded: row.get(6)?,
            verdict: self.word(row.get(7)?),
        })
    }
}

/// The chosen records with the rows of a table and their steps.
fn joined(records: &str, table: &str, short: &str) -> String {
    let rows =
        format!("JOIN {table} ON {short}.record = r.key JOIN step s ON s.key = {short}.step WHERE");
    records.replacen("WHERE", &rows, 1)
}

/// A record without a value.
pub(super) fn record(row: &Row<'_>) -> rusqlite::Result<Kept> {
    Ok(Kept {
        record: row.get(1)?,
        started: row.get(2)?,
        at_ms: row.get(3)?,
        device: row.get(4)?,
        recipe: row.get(5)?,
        revision: row.get(6)?,
        title: String::new(),
        value: String::new(),
        unit: String::new(),
        repeats: 1,
        expanded: None,
        low: None,
        high: None,
        verdict: String::new(),
    })
}

/// Whether what is held against a limit is the step's own value, or the mean of its repeats.
pub(super) fn is_own(path: &str, of: &str) -> bool {
    let own = path.rsplit('.').next().unwrap_or_default();
    of == own || of.strip_prefix("mean(").and_then(|o| o.strip_suffix(')')) == Some(own)
}

impl Kept {
    /// Takes as its value what a criterion held against a limit.
    pub(super) fn take_held(&mut self, limits: &[Held], of: &str) -> bool {
        let Some(held) = limits.iter().find(|l| l.of == of && l.value.is_some()) else {
            return false;
        };
        self.value = held.value.clone().unwrap_or_default();
        self.unit = held.unit.clone();
        self.expanded = held.expanded.clone();
        true
    }

    /// Takes the narrowest of the limits that are about its value, the uncertainty of a mean, and the worst verdict of their
    /// criteria.
    pub(super) fn narrow(&mut self, limits: &[Held], about: impl Fn(&Held) -> bool) {
        let read = |text: &String| Exact::parse(text).ok();
        for limit in limits.iter().filter(|l| l.unit == self.unit && about(l)) {
            let above = |new: &String, old: &String| read(new) > read(old);
            if let Some(low) = limit
                .low
                .as_ref()
                .filter(|l| self.low.as_ref().is_none_or(|o| above(l, o)))
            {
                self.low = Some(low.clone());
            }
            if let Some(high) = limit
                .high
                .as_ref()
                .filter(|h| self.high.as_ref().is_none_or(|o| above(o, h)))
            {
                self.high = Some(high.clone());
            }
            if self.expanded.is_none() {
                self.expanded = limit.expanded.clone();
            }
            if weight(&limit.verdict) > weight(&self.verdict) {
                self.verdict = limit.verdict.clone();
            }
        }
    }
}

/// How much a verdict weighs against others.
fn weight(verdict: &str) -> u8 {
    match verdict {
        "fail" => 5,
        "conditional fail" => 4,
        "not judged" => 3,
        "conditional pass" => 2,
        "" => 0,
        _ => 1,
    }
}
