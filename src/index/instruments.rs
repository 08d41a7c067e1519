//! Which records rest on an instrument: what it was used for, and how near a limit the nearest value was.
//!
//! Never in here: what an error of it would have changed. Changes when more is told of a use.

use std::collections::HashMap;

use rusqlite::{Row, params};

use crate::quantity::Exact;

use super::{Index, IndexFault};

/// An instrument with the certificate that it had.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Certified {
    /// Its role in the recipe.
    pub role: String,
    /// Its certificate.
    pub certificate: String,
    /// The day of its calibration.
    pub calibrated: String,
    /// The day on which the next one was due.
    pub due: String,
}

/// A value that rests on an instrument.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Use {
    /// The path of the step.
    pub step: String,
    /// Its title.
    pub title: String,
    /// The value as decimal text, of repeats their mean; nothing where it has no number, as a log.
    pub value: Option<String>,
    /// Its unit.
    pub unit: String,
    /// Of how many readings it is the mean.
    pub repeats: i64,
    /// Whether it was read from the instrument, and not computed from such readings.
    pub is_reading: bool,
}

/// A value beside the limit that it was nearest to.
#[derive(Clone, Debug, PartialEq)]
pub struct Near {
    /// The path of the step.
    pub step: String,
    /// What was held against the limit, as the recipe's author wrote it.
    pub of: String,
    /// The value as decimal text.
    pub value: String,
    /// The unit of value and limits.
    pub unit: String,
    /// The lower end of what is allowed.
    pub low: Option<String>,
    /// The upper end of what is allowed.
    pub high: Option<String>,
    /// How far inside the nearer end the value lies, in the unit; below zero it is outside.
    pub inside: Exact,
    /// That as a ratio of half the width between both ends, or of the size of the only end; nothing where that is zero.
    pub share: Option<f64>,
    /// The verdict of the criterion.
    pub verdict: String,
}

/// A record that rests on an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct RestingRecord {
    /// The file below the records' folder.
    pub file: String,
    /// The record's id.
    pub record: String,
    /// When it began.
    pub started: String,
    /// Tag of the device.
    pub device: String,
    /// The recipe's id.
    pub recipe: String,
    /// Its revision.
    pub revision: i64,
    /// Whether it was a trial.
    pub trial: bool,
    /// Its verdict.
    pub verdict: String,
    /// The roles that the instrument had.
    pub roles: Vec<Certified>,
    /// What it was used for; empty where nothing was read from it.
    pub uses: Vec<Use>,
    /// The value that was nearest to its limit.
    pub nearest: Option<Near>,
}

/// The days between which records began, both ends included.
#[derive(Clone, Copy, Debug, Default)]
pub struct Days<'a> {
    /// The first day.
    pub since: Option<&'a str>,
    /// The last day.
    pub until: Option<&'a str>,
}

impl<'a> Days<'a> {
    /// The ends of a comparison of texts.
    fn bounds(self) -> (&'a str, &'a str) {
        (self.since.unwrap_or(""), self.until.unwrap_or("9999-12-31"))
    }
}

/// A record's key, its place in time, and the instrument's roles as places.
struct Found {
    key: i64,
    places: Vec<i64>,
    record: RestingRecord,
}

impl Index {
    /// The ids of all instruments that stand in records.
    ///
    /// # Errors
    /// Those of the index.
    pub fn instruments(&self) -> Result<Vec<String>, IndexFault> {
        let mut all = self
            .connection
            .prepare("SELECT DISTINCT id FROM instrument ORDER BY id")?;
        let rows = all.query_map([], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The units in which an instrument was read, in records of these days; nothing where logs were taken from it, which
    /// may hold any.
    ///
    /// # Errors
    /// Those of the index.
    pub fn units_read(&self, id: &str, days: Days<'_>) -> Result<Option<Vec<String>>, IndexFault> {
        let mut all = self.prepared(
            "SELECT DISTINCT v.unit, v.value IS NULL FROM instrument i JOIN used u ON u.instrument = i.key \
             JOIN value v ON v.record = u.record AND v.read_from = u.n JOIN record r ON r.key = u.record \
             WHERE i.id = ?1 AND substr(r.started, 1, 10) >= ?2 AND substr(r.started, 1, 10) <= ?3",
        )?;
        let (since, until) = days.bounds();
        let rows = all.query_map(params![id, since, until], |row| {
            Ok((self.word(row.get(0)?), row.get::<_, bool>(1)?))
        })?;
        let rows: Vec<(String, bool)> = rows.collect::<Result<_, _>>()?;
        let logged = rows.iter().any(|(_, is_log)| *is_log);
        Ok((!logged).then(|| rows.into_iter().map(|(unit, _)| unit).collect()))
    }

    /// The days on which an instrument was calibrated, as far as records tell, in order.
    ///
    /// # Errors
    /// Those of the index.
    pub fn calibrations(&self, id: &str) -> Result<Vec<String>, IndexFault> {
        let sql = "SELECT DISTINCT calibrated FROM instrument WHERE id = ?1 AND calibrated <> '' ORDER BY calibrated";
        let mut all = self.connection.prepare(sql)?;
        let rows = all.query_map([id], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Tells every record that names an instrument, in order of time.
    ///
    /// # Errors
    /// Those of the index, and those of `tell`.
    pub fn resting_on<E: From<IndexFault>>(
        &self,
        id: &str,
        days: Days<'_>,
        tell: &mut dyn FnMut(RestingRecord) -> Result<(), E>,
    ) -> Result<(), E> {
        let found = self.naming(id, days)?;
        let mut values = self.prepared(
            "SELECT s.path, s.title, v.value, v.unit, v.repeats, v.read_from, v.rests FROM value v \
             JOIN step s ON s.key = v.step WHERE v.record = ?1 ORDER BY v.n",
        )?;
        let mut held = self.prepared(
            "SELECT s.path, h.of, h.value, h.unit, h.low, h.high, h.verdict, h.rests FROM held h \
             JOIN step s ON s.key = h.step WHERE h.record = ?1 ORDER BY h.n",
        )?;
        for Found {
            key,
            places,
            mut record,
        } in found
        {
            let uses = values.query_map([key], |row| self.value(row, &places));
            let uses = uses.and_then(Iterator::collect::<Result<Vec<_>, _>>);
            record.uses = uses
                .map_err(IndexFault::from)?
                .into_iter()
                .flatten()
                .collect();
            let near = held.query_map([key], |row| self.near(row, &places));
            let near = near.and_then(Iterator::collect::<Result<Vec<_>, _>>);
            let near = near.map_err(IndexFault::from)?.into_iter().flatten();
            record.nearest = near.min_by(|a, b| nearness(a).total_cmp(&nearness(b)));
            tell(record)?;
        }
        Ok(())
    }

    fn prepared(&self, sql: &str) -> Result<rusqlite::Statement<'_>, IndexFault> {
        Ok(self.connection.prepare(sql)?)
    }

    /// The records that name an instrument, without what it was used for.
    fn naming(&self, id: &str, days: Days<'_>) -> Result<Vec<Found>, IndexFault> {
        let mut all = self.prepared(
            "SELECT r.key, u.n, u.role, i.certificate, i.calibrated, i.due, r.file, r.id, r.started, d.tag, p.id, \
             p.revision, r.trial, r.verdict FROM instrument i JOIN used u ON u.instrument = i.key \
             JOIN record r ON r.key = u.record JOIN device d ON d.key = r.device JOIN recipe p ON p.key = r.recipe \
             WHERE i.id = ?1 AND substr(r.started, 1, 10) >= ?2 AND substr(r.started, 1, 10) <= ?3 \
             ORDER BY u.at, r.id, r.key, u.n",
        )?;
        let (since, until) = days.bounds();
        let mut rows = all.query(params![id, since, until])?;
        let mut found: Vec<Found> = Vec::new();
        let mut at: HashMap<i64, usize> = HashMap::new();
        while let Some(row) = rows.next()? {
            let key: i64 = row.get(0)?;
            let place = *at.entry(key).or_insert(found.len());
            if place == found.len() {
                found.push(self.found(key, row)?);
            }
            found[place].places.push(row.get(1)?);
            found[place].record.roles.push(Certified {
                role: self.word(row.get(2)?),
                certificate: row.get(3)?,
                calibrated: row.get(4)?,
                due: row.get(5)?,
            });
        }
        Ok(found)
    }

    fn found(&self, key: i64, row: &Row<'_>) -> Result<Found, IndexFault> {
        let record = RestingRecord {
            file: row.get(6)?,
            record: row.get(7)?,
            started: row.get(8)?,
            device: row.get(9)?,
            recipe: row.get(10)?,
            revision: row.get(11)?,
            trial: row.get(12)?,
            verdict: self.word(row.get(13)?),
            roles: Vec::new(),
            uses: Vec::new(),
            nearest: None,
        };
        Ok(Found {
            key,
            places: Vec::new(),
            record,
        })
    }

    fn value(&self, row: &Row<'_>, places: &[i64]) -> rusqlite::Result<Option<Use>> {
        if !rests(row.get(6)?, places) {
            return Ok(None);
        }
        let read_from: Option<i64> = row.get(5)?;
        Ok(Some(Use {
            step: row.get(0)?,
            title: row.get(1)?,
            value: row.get(2)?,
            unit: self.word(row.get(3)?),
            repeats: row.get(4)?,
            is_reading: read_from.is_some_and(|n| places.contains(&n)),
        }))
    }

    fn near(&self, row: &Row<'_>, places: &[i64]) -> rusqlite::Result<Option<Near>> {
        let value: Option<String> = row.get(2)?;
        let (Some(value), true) = (value, rests(row.get(7)?, places)) else {
            return Ok(None);
        };
        let (low, high): (Option<String>, Option<String>) = (row.get(4)?, row.get(5)?);
        let Some((inside, share)) = distance(&value, low.as_deref(), high.as_deref()) else {
            return Ok(None);
        };
        Ok(Some(Near {
            step: row.get(0)?,
            of: self.word(row.get(1)?),
            unit: self.word(row.get(3)?),
            verdict: self.word(row.get(6)?),
            value,
            low,
            high,
            inside,
            share,
        }))
    }
}

/// Whether a set of roles holds one of these places.
fn rests(set: i64, places: &[i64]) -> bool {
    let set = u64::from_ne_bytes(set.to_ne_bytes());
    let holds =
        |n: &i64| set == u64::MAX || u32::try_from(*n).is_ok_and(|n| n < 63 && set >> n & 1 == 1);
    places.iter().any(holds)
}

/// How far a value lies inside the nearer end, and that as a ratio of half the width, or of the only end.
fn distance(value: &str, low: Option<&str>, high: Option<&str>) -> Option<(Exact, Option<f64>)> {
    let read = |text: &str| Exact::parse(text).ok();
    let value = read(value)?;
    let (low, high) = (low.and_then(read), high.and_then(read));
    let above = low.as_ref().map(|l| value.clone() - l.clone());
    let below = high.as_ref().map(|h| h.clone() - value.clone());
    let inside = above.into_iter().chain(below).min()?;
    let span = match (low, high) {
        (Some(low), Some(high)) => (high - low).checked_div(&Exact::from(2))?,
        (Some(only), None) | (None, Some(only)) => only.abs(),
        (None, None) => return None,
    };
    let share = inside.checked_div(&span).map(|s| s.to_f64());
    Some((inside, share))
}

/// By what the nearest value is told: the share, or by itself whether it is inside.
fn nearness(near: &Near) -> f64 {
    let without = if near.inside.is_negative() {
        -1.0
    } else {
        f64::from(u8::from(!near.inside.is_zero()))
    };
    near.share.unwrap_or(without)
}
