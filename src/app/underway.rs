//! Sessions that have not come to their end: which there are, on which device, and how somebody names one.
//!
//! Never in here: going on with one (see `session`). Changes when sessions are listed or told otherwise.

use std::collections::HashSet;
use std::io;
use std::sync::PoisonError;

use crate::engine::Event;
use crate::host::Host;
use crate::journal::{Recovered, event_from_line, recover, replay};
use crate::record::{Known, closed_by};
use crate::shop::Paths;

use super::AppError;
use super::session::{MAX_JOURNAL, WRITING, lock};

/// The sessions under way: their ids.
///
/// # Errors
/// Those of the system.
pub fn list_sessions(host: &dyn Host, paths: &Paths) -> Result<Vec<String>, AppError> {
    let folder = paths.sessions();
    let files = host.list(&folder).map_err(|e| AppError::at(&folder, &e))?;
    let journals = files
        .iter()
        .filter(|f| f.extension().is_some_and(|e| e == "jsonl"));
    Ok(journals
        .filter_map(|f| Some(f.file_stem()?.to_str()?.to_owned()))
        .collect())
}

/// The session under way that somebody means: by its name, by the tag of its device, or by a part of its name that no
/// other one has. What fits none stays as it was typed.
///
/// # Errors
/// Several that fit; those of the system.
pub fn meant_session(host: &dyn Host, paths: &Paths, typed: &str) -> Result<String, AppError> {
    let all = list_sessions(host, paths)?;
    if all.iter().any(|s| s == typed) {
        return Ok(typed.to_owned());
    }
    let on_device = |session: &&String| {
        let bytes = host.read(&paths.journal(session), MAX_JOURNAL);
        let head = bytes.ok().and_then(|b| recover(&b).ok()).map(|r| r.head);
        head.is_some_and(|h| h.device.tag.eq_ignore_ascii_case(typed))
    };
    let mut fit: Vec<&String> = all.iter().filter(on_device).collect();
    if fit.is_empty() && !typed.is_empty() {
        fit = all.iter().filter(|s| s.contains(typed)).collect();
    }
    match fit[..] {
        [] => Ok(typed.to_owned()),
        [one] => Ok(one.clone()),
        _ => {
            let told = fit.iter().map(|s| describe_session(host, paths, s));
            let told = told.collect::<Result<Vec<_>, _>>()?;
            Err(AppError::new(format!(
                "`{typed}` fits {} sessions; name one of them:\n  {}",
                fit.len(),
                told.join("\n  ")
            )))
        }
    }
}

/// Removes the session of this process in which nothing was entered, when it is interrupted; whether it did. Nothing can
/// be written into any session from then on.
pub fn leave_if_empty(host: &dyn Host, paths: &Paths, session: &str) -> bool {
    let held = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    // An event that is being written by this moment is there now; one that comes later waits for the end of the process.
    std::mem::forget(held);
    let journal = paths.journal(session);
    let bytes = host.read(&journal, MAX_JOURNAL);
    let recovered = bytes.ok().and_then(|bytes| recover(&bytes).ok());
    let empty = recovered.is_some_and(|r| r.lost.is_none() && r.events.iter().all(is_nothing));
    let removed = empty && host.remove(&journal).is_ok();
    if removed {
        // A lock file that stays behind does no harm.
        let _ = host.remove(&paths.session_lock(session));
    }
    removed
}

/// Whether an event enters, writes or attaches nothing.
pub(super) fn is_nothing(event: &Event) -> bool {
    matches!(
        event,
        Event::Pause { .. } | Event::Resume { .. } | Event::Stop { .. } | Event::Reopen { .. }
    )
}

/// The ids that were given to records whose sessions are not completed yet.
///
/// # Errors
/// Those of the system.
pub(super) fn promised(host: &dyn Host, paths: &Paths) -> Result<HashSet<String>, AppError> {
    let mut all = HashSet::new();
    for session in list_sessions(host, paths)? {
        // One that was completed meanwhile promises nothing any longer.
        let bytes = host
            .read(&paths.journal(&session), MAX_JOURNAL)
            .unwrap_or_default();
        let whole = bytes.strip_suffix(b"\n").unwrap_or(&bytes);
        let closes = |line: &&[u8]| memchr::memmem::find(line, b"\"event\":\"close\"").is_some();
        for line in whole.split(|b| *b == b'\n').filter(closes) {
            let text = std::str::from_utf8(line).unwrap_or_default();
            if let Ok((_, Event::Close { record, .. })) = event_from_line(text) {
                all.insert(record);
            }
        }
    }
    Ok(all)
}

/// A session under way on a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unfinished {
    /// Its id.
    pub session: String,
    /// Who has it.
    pub by: String,
    /// When it was begun.
    pub since: String,
    /// Whether a process has it open now.
    pub held: bool,
}

impl std::fmt::Display for Unfinished {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self {
            session, by, since, ..
        } = self;
        let since = since.get(..16).unwrap_or(since).replace('T', " ");
        write!(f, "{session}, by {by}, begun {since}, ")?;
        if self.held {
            write!(f, "is open in another window")
        } else {
            write!(f, "is paused\n`stepwell resume {session}` goes on there")
        }
    }
}

/// The sessions under way on a device.
///
/// # Errors
/// Those of the system.
pub fn unfinished_on(
    host: &dyn Host,
    paths: &Paths,
    tag: &str,
) -> Result<Vec<Unfinished>, AppError> {
    let mut all = Vec::new();
    for session in list_sessions(host, paths)? {
        let path = paths.journal(&session);
        let bytes = match host.read(&path, MAX_JOURNAL) {
            // It was closed meanwhile.
            Err(error) if error.kind() == io::ErrorKind::NotFound => continue,
            other => other.map_err(|e| AppError::at(&path, &e))?,
        };
        // One that can't be read is told by `resume`.
        let Ok(recovered) = recover(&bytes) else {
            continue;
        };
        let head = &recovered.head;
        if head.device.tag == tag {
            all.push(Unfinished {
                by: closed_by(head, &recovered.events).to_owned(),
                since: head.started.clone(),
                held: lock(host, paths, &session).is_err(),
                session,
            });
        }
    }
    Ok(all)
}

/// The sessions under way that have an instrument, a line each.
///
/// # Errors
/// Those of the system.
pub fn sessions_with(
    host: &dyn Host,
    paths: &Paths,
    instrument: &str,
) -> Result<Vec<String>, AppError> {
    let mut all = Vec::new();
    for session in list_sessions(host, paths)? {
        // One that was closed meanwhile, or can't be read, has none.
        let bytes = host.read(&paths.journal(&session), MAX_JOURNAL);
        let head = bytes.ok().and_then(|b| recover(&b).ok()).map(|r| r.head);
        if head.is_some_and(|h| h.instruments.values().any(|i| i.id == instrument)) {
            all.push(describe_session(host, paths, &session)?);
        }
    }
    Ok(all)
}

/// How far a session is: the step that is asked for, or what was entered where that can't be told.
fn how_far(of: &Recovered) -> String {
    let plan = Known::default().plan(&of.head.recipe.source);
    let at = plan.ok().and_then(|plan| {
        let state = replay(&plan, &mut of.head.bench(), &of.events, &|_| None).ok()?;
        let number = plan.items.get(state.cursor)?.number;
        Some(format!("at step {number} of {}", plan.items.len()))
    });
    at.unwrap_or_else(|| {
        let is_entry = |e: &&Event| matches!(e, Event::Entry { .. });
        let entries = of.events.iter().filter(is_entry).count();
        match entries {
            1 => "1 entry".to_owned(),
            n => format!("{n} entries"),
        }
    })
}

/// A session under way, in a line.
///
/// # Errors
/// Those of the system.
pub fn describe_session(host: &dyn Host, paths: &Paths, session: &str) -> Result<String, AppError> {
    let path = paths.journal(session);
    let bytes = host
        .read(&path, MAX_JOURNAL)
        .map_err(|e| AppError::at(&path, &e))?;
    Ok(match recover(&bytes) {
        Ok(recovered) => {
            let head = &recovered.head;
            let begun = head.started.get(..16).unwrap_or(&head.started);
            format!(
                "{session}  {} {} {}, {} rev {}, by {}, begun {}, {}",
                head.device.tag,
                head.device.maker,
                head.device.model,
                head.recipe.id,
                head.recipe.revision,
                closed_by(head, &recovered.events),
                begun.replace('T', " "),
                how_far(&recovered)
            )
        }
        Err(damage) => format!("{session}  can't be read: {damage}"),
    })
}
