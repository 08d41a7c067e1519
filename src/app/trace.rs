//! `trace`: the records that rest on an instrument, and which verdicts an error of it could have overturned.
//!
//! Never in here: how records are found (see the index), how they are judged again (see the record room). Changes when the
//! question does.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::engine::Misreading;
use crate::host::Host;
use crate::index::{Certified, Days, Index, IndexFault, RestingRecord};
use crate::journal::Instrument;
use crate::quantity::{Dimension, Unit};
use crate::recipe::schema::nearest;
use crate::record::{Known, MisreadRecord, Record, with_error};
use crate::shop::{Paths, read_instruments};

use super::amendments::{Overruled, overruled};
use super::records::{MAX_RECORD, attachment_of};
use super::{AppError, read_source};

/// How many records are held at once.
const AT_ONCE: usize = 64;

/// What is asked of an instrument.
#[derive(Clone, Copy, Debug)]
pub struct Traced<'a> {
    /// Its id.
    pub instrument: &'a str,
    /// The first day; without it, that of the calibration before its present one, if one is known.
    pub since: Option<&'a str>,
    /// The last day; without it, that of its present calibration, if an error is supposed and an earlier one is known.
    pub until: Option<&'a str>,
    /// How far it may have been off.
    pub error: Option<&'a Misreading>,
}

/// A record that rests on the instrument.
#[derive(Clone, Debug)]
pub struct TracedRecord {
    /// What it rests on it with.
    pub resting: RestingRecord,
    /// Why it does not hold any longer.
    pub overruled: Option<Overruled>,
    /// What the error could have changed, or why that can't be told; nothing where no error is supposed.
    pub misread: Option<Result<MisreadRecord, String>>,
}

impl TracedRecord {
    /// Whether a verdict could have been another one, or nobody can tell.
    #[must_use]
    pub fn is_doubted(&self) -> bool {
        let doubted =
            |m: &Result<MisreadRecord, String>| m.as_ref().map_or(true, MisreadRecord::is_changed);
        self.misread.as_ref().is_some_and(doubted)
    }
}

/// What was found of an instrument, before its records.
#[derive(Debug)]
pub struct Tracing<'a> {
    asked: Traced<'a>,
    index: Index,
    paths: &'a Paths,
    /// The first day that is looked at; nothing where all are.
    pub since: Option<String>,
    /// The last day that is looked at; nothing where all are.
    pub until: Option<String>,
    /// The day of its present calibration, if it is known.
    pub calibrated: Option<String>,
    /// What is to be known of the index: files that are no records, an index in memory.
    pub notes: Vec<String>,
}

/// What came of all records.
#[derive(Clone, Copy, Debug, Default)]
pub struct TraceCount {
    /// Records that rest on it.
    pub resting: usize,
    /// Records that name it, but hold no reading of it.
    pub without_reading: usize,
    /// Records that rest on a later calibration than the one that is looked at.
    pub later: usize,
    /// Records whose verdicts could have been others.
    pub doubted: usize,
}

/// Finds an instrument in the register or in the records.
///
/// # Errors
/// Those of the system; an instrument that stands in neither.
pub fn trace<'a>(
    host: &dyn Host,
    paths: &'a Paths,
    asked: Traced<'a>,
) -> Result<Tracing<'a>, AppError> {
    let registered = register(host, paths)?;
    let index = open_index(host, paths)?;
    let id = asked.instrument;
    let known = index.instruments()?;
    let own = registered.iter().find(|i| i.id == id);
    if own.is_none() && !known.iter().any(|k| k == id) {
        let all = registered.iter().map(|i| i.id.as_str());
        let near = nearest(id, all.chain(known.iter().map(String::as_str)));
        let help = near.map_or_else(String::new, |n| format!("; the nearest one is `{n}`"));
        return Err(AppError::new(format!(
            "no instrument `{id}` stands in instruments.yaml or in a record{help}"
        )));
    }
    let mut days = index.calibrations(id)?;
    let own = own.map(|i| i.calibrated.clone()).filter(|c| !c.is_empty());
    let present = own.or(days.last().cloned());
    days.retain(|day| present.as_ref().is_some_and(|p| day < p));
    let before = days.pop();
    // What was read under the present calibration does not share the error that was found at it.
    let ends = asked.error.and(before.as_ref()).and(present.clone());
    let since = asked.since.map(str::to_owned).or(before);
    let until = asked.until.map(str::to_owned).or(ends);
    if let Some(error) = asked.error {
        let days = Days {
            since: since.as_deref(),
            until: until.as_deref(),
        };
        acts(error, id, index.units_read(id, days)?)?;
    }
    Ok(Tracing {
        notes: notes(&index)?,
        asked,
        index,
        paths,
        since,
        until,
        calibrated: present,
    })
}

/// That each fixed part of an error is of a kind of quantity that was read from the instrument.
fn acts(error: &Misreading, id: &str, units: Option<Vec<String>>) -> Result<(), AppError> {
    let Some(units) = units.filter(|u| !u.is_empty()) else {
        return Ok(());
    };
    let kinds: BTreeSet<String> = units
        .iter()
        .filter_map(|unit| Unit::parse(unit).ok())
        .map(|unit| unit.kind().dimension.name())
        .collect();
    let names = error.fixed_kinds().map(Dimension::name);
    match names.into_iter().find(|name| !kinds.contains(name)) {
        Some(name) => Err(AppError::new(format!(
            "--error: `{}` has a fixed part that is a {name}, and no {name} was read from {id}: its readings are {}",
            error.text(),
            kinds.into_iter().collect::<Vec<_>>().join(", ")
        ))),
        None => Ok(()),
    }
}

/// The instruments of the register; what can't be read of it is left to `check`.
fn register(host: &dyn Host, paths: &Paths) -> Result<Vec<Instrument>, AppError> {
    let file = paths.file("instruments.yaml");
    if !host.exists(&file) {
        return Ok(Vec::new());
    }
    let source = read_source(host, &file)?;
    Ok(source.map(|s| read_instruments(s).0).unwrap_or_default())
}

/// The index of a shop's records.
pub(super) fn open_index(host: &dyn Host, paths: &Paths) -> Result<Index, AppError> {
    Ok(Index::open(host, paths)?)
}

/// What is to be known of an index.
pub(super) fn notes(index: &Index) -> Result<Vec<String>, AppError> {
    let mut notes = Vec::new();
    if let Some(why) = &index.in_memory {
        notes.push(format!(
            "the index of records is not kept, and is made anew each time: {why}"
        ));
    }
    for (file, why) in index.no_records()? {
        notes.push(format!("records/{file} is left out: {why}"));
    }
    Ok(notes)
}

impl From<IndexFault> for AppError {
    fn from(fault: IndexFault) -> Self {
        match fault {
            IndexFault::Outside(path, error) => Self::at(&path, &error),
            other => Self::new(other.to_string()),
        }
    }
}

impl Tracing<'_> {
    /// The day of the present calibration, where it ends what is looked at without having been asked for.
    #[must_use]
    pub fn ends(&self) -> Option<&str> {
        self.until.as_deref().filter(|_| self.asked.until.is_none())
    }

    /// Tells each record that rests on the instrument, in order of time; no more than some dozens are held at once where
    /// they are judged again.
    ///
    /// # Errors
    /// Those of the index.
    pub fn records(
        &self,
        host: &dyn Host,
        tell: &mut dyn FnMut(TracedRecord),
    ) -> Result<TraceCount, AppError> {
        let days = Days {
            since: self.since.as_deref(),
            until: self.asked.until,
        };
        let judging = Judging {
            host,
            paths: self.paths,
            asked: self.asked,
            known: Known::default(),
            overruled: overruled(host, self.paths)?,
        };
        let mut count = TraceCount::default();
        let mut waiting = Vec::new();
        let mut told = |waiting: &mut Vec<RestingRecord>, count: &mut TraceCount| {
            let all: Vec<TracedRecord> = std::mem::take(waiting)
                .into_par_iter()
                .map(|resting| judging.judged(resting))
                .collect();
            for record in all {
                count.doubted += usize::from(record.is_doubted());
                tell(record);
            }
        };
        self.index
            .resting_on(self.asked.instrument, days, &mut |resting| {
                if resting.uses.is_empty() && resting.nearest.is_none() {
                    count.without_reading += 1;
                    return Ok::<(), AppError>(());
                }
                if self.ends().is_some_and(|day| is_later(&resting, day)) {
                    count.later += 1;
                    return Ok(());
                }
                count.resting += 1;
                waiting.push(resting);
                if waiting.len() == AT_ONCE {
                    told(&mut waiting, &mut count);
                }
                Ok(())
            })?;
        told(&mut waiting, &mut count);
        Ok(count)
    }
}

/// Whether a record was made after a calibration; on its day the certificates in the record tell.
fn is_later(resting: &RestingRecord, calibrated: &str) -> bool {
    let day = resting.started.get(..10).unwrap_or_default();
    let is_new = |role: &Certified| role.calibrated.as_str() >= calibrated;
    day > calibrated || (!resting.roles.is_empty() && resting.roles.iter().all(is_new))
}

/// What records are judged again with.
struct Judging<'a> {
    host: &'a dyn Host,
    paths: &'a Paths,
    asked: Traced<'a>,
    known: Known,
    overruled: BTreeMap<String, Overruled>,
}

impl Judging<'_> {
    fn judged(&self, resting: RestingRecord) -> TracedRecord {
        let misread = self.asked.error.map(|error| self.misread(&resting, error));
        TracedRecord {
            overruled: self.overruled.get(&resting.record).cloned(),
            resting,
            misread,
        }
    }

    fn misread(
        &self,
        resting: &RestingRecord,
        error: &Misreading,
    ) -> Result<MisreadRecord, String> {
        let path = self.paths.records().join(&resting.file);
        let bytes = self
            .host
            .read(&path, MAX_RECORD)
            .map_err(|e| e.to_string())?;
        let record: Record =
            serde_json::from_slice(&bytes).map_err(|e| format!("not a record: {e}"))?;
        let attached = |digest: &str| attachment_of(self.host, &path, digest);
        with_error(
            &record,
            self.asked.instrument,
            error,
            &attached,
            &self.known,
        )
    }
}
