//! A session of which a copy was sealed at another bench: what is left of it here.
//!
//! Never in here: going on with a session. Changes when sessions are copied otherwise.

use crate::engine::Event;
use crate::host::Host;
use crate::journal::{Recovered, event_to_line};
use crate::record::Record;
use crate::shop::{LEDGER, Paths, RecordAct};
use crate::trust::Entry;

use super::AppError;
use super::ledgers::{bytes_of, files};
use super::records::read_record;

/// The record that some ledger has of a session.
fn sealed_as(host: &dyn Host, paths: &Paths, session: &str) -> Result<Option<String>, AppError> {
    let part = format!("\"session\":\"{session}\"");
    for (path, _) in files(host, &paths.records(), LEDGER)? {
        let bytes = bytes_of(host, &path)?;
        let Some(at) = memchr::memmem::find(&bytes, part.as_bytes()) else {
            continue;
        };
        let begin = bytes[..at]
            .iter()
            .rposition(|b| *b == b'\n')
            .map_or(0, |n| n + 1);
        let line = bytes[begin..]
            .split(|b| *b == b'\n')
            .next()
            .unwrap_or_default();
        if let Ok(entry) = serde_json::from_slice::<Entry<RecordAct>>(line) {
            return Ok(Some(entry.act.record().to_owned()));
        }
    }
    Ok(None)
}

/// Refuses to go on with a session that was sealed elsewhere; its journal here goes if all of it is in that record.
///
/// # Errors
/// Such a session; those of the system.
pub(super) fn not_sealed_elsewhere(
    host: &dyn Host,
    paths: &Paths,
    session: &str,
    journal: &Recovered,
) -> Result<(), AppError> {
    let Some(id) = sealed_as(host, paths, session)? else {
        return Ok(());
    };
    if matches!(journal.events.last(), Some(Event::Close { record, .. }) if *record == id) {
        return Ok(());
    }
    let path = paths.journal(session);
    let (_, record) = read_record(host, Some(paths), &id)?;
    if !begins_with(&record, &journal.events) {
        return Err(AppError::new(format!(
            "the session `{session}` was sealed at another bench as record {id}, which lacks some of the entries in {}; move that file away, and add what it holds with `stepwell amend {id}`",
            path.display()
        )));
    }
    host.remove(&path).map_err(|e| AppError::at(&path, &e))?;
    Err(AppError::new(format!(
        "the session `{session}` was sealed at another bench as record {id}, which has all of its entries; what was left of it here was removed"
    )))
}

/// Whether a record's journal begins with these events.
fn begins_with(record: &Record, events: &[Event]) -> bool {
    let lines = events.iter().cloned().zip(1u64..);
    let mut lines = lines.map(|(event, n)| serde_json::from_str(&event_to_line(n, event)).ok());
    let mut kept = record.journal.iter();
    lines.all(|line: Option<serde_json::Value>| line.as_ref() == kept.next())
}
