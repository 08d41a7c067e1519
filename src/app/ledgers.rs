//! The ledgers on disk: one a bench and kind, read and appended to under a lock.
//!
//! Never in here: what is entered. Changes when ledgers lie elsewhere.

use std::collections::{BTreeMap, HashSet};
use std::io;
use std::path::{Path, PathBuf};

use crate::host::{Host, Lock};
use crate::shop::{APPROVALS, ApprovalAct, Approvals, LEDGER, Paths, RecordAct};
use crate::trust::{Act, Entry, Ledger, MAX_LEDGER, Tail, is_before};

use super::AppError;
use super::open::OpenShop;

/// Reads the ledger of a bench; an empty one where there is no file yet.
fn read<A: Act>(host: &dyn Host, path: &Path, bench: &str) -> Result<Ledger<A>, AppError> {
    Ok(Ledger::read(bench, &bytes_of(host, path)?))
}

pub(super) fn bytes_of(host: &dyn Host, path: &Path) -> Result<Vec<u8>, AppError> {
    match host.read(path, MAX_LEDGER) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        other => other.map_err(|e| AppError::at(path, &e)),
    }
}

/// The ledgers of all benches in a folder; their names begin with `prefix`.
fn all<A: Act>(host: &dyn Host, folder: &Path, prefix: &str) -> Result<Vec<Ledger<A>>, AppError> {
    let files = files(host, folder, prefix)?.into_iter();
    files
        .map(|(file, bench)| read(host, &file, &bench))
        .collect()
}

/// The ledgers' files in a folder, with their benches.
pub(super) fn files(
    host: &dyn Host,
    folder: &Path,
    prefix: &str,
) -> Result<Vec<(PathBuf, String)>, AppError> {
    let files = host.list(folder).map_err(|e| AppError::at(folder, &e))?;
    let benches = files.into_iter().filter_map(|file| {
        let name = file.file_name()?.to_str()?;
        let bench = name.strip_prefix(prefix)?.strip_suffix(".jsonl")?;
        let bench = bench.to_owned();
        Some((file, bench))
    });
    Ok(benches.collect())
}

/// The ledgers of records.
///
/// # Errors
/// Those of the system.
pub fn record_ledgers(host: &dyn Host, paths: &Paths) -> Result<Vec<Ledger<RecordAct>>, AppError> {
    all(host, &paths.records(), LEDGER)
}

/// The ledgers of approvals.
///
/// # Errors
/// Those of the system.
pub fn approval_ledgers(
    host: &dyn Host,
    paths: &Paths,
) -> Result<Vec<Ledger<ApprovalAct>>, AppError> {
    all(host, &paths.root, APPROVALS)
}

/// The last line of each bench's ledger of approvals.
///
/// # Errors
/// Those of the system; a last line that was altered.
pub(super) fn approvals_known(
    host: &dyn Host,
    paths: &Paths,
) -> Result<BTreeMap<String, String>, AppError> {
    let mut known = BTreeMap::new();
    for (path, bench) in files(host, &paths.root, APPROVALS)? {
        let tail = Tail::<ApprovalAct>::read(&bench, &bytes_of(host, &path)?);
        let tail = tail.map_err(|fault| altered(&path, &fault))?;
        known.extend(tail.entry().map(|entry| (bench, entry.to_owned())));
    }
    Ok(known)
}

/// That no line of approvals is gone that stood there when a record was sealed: it may have been a withdrawal.
///
/// # Errors
/// Those of the system; a ledger of approvals that was cut, by which nothing is run.
pub(super) fn approvals_uncut(host: &dyn Host, paths: &Paths) -> Result<(), AppError> {
    let ledgers = approval_ledgers(host, paths)?;
    let lines = ledgers.iter().flat_map(|l| &l.entries);
    let known: HashSet<&str> = lines.map(|e| e.entry.as_str()).collect();
    for (path, _) in files(host, &paths.records(), LEDGER)? {
        for stated in approvals_stated(&bytes_of(host, &path)?) {
            if let Some((bench, _)) = stated.iter().find(|(_, e)| !known.contains(e.as_str())) {
                return Err(AppError::new(format!(
                    "{}: was cut: a line is gone that stood here when a record was sealed\nnothing can be run by it until it is put back from a copy; `stepwell verify` tells more",
                    paths.approvals(bench).display()
                )));
            }
        }
    }
    Ok(())
}

/// What the lines of a ledger of records state of approvals, each once: most lines state the same.
fn approvals_stated(ledger: &[u8]) -> Vec<BTreeMap<String, String>> {
    const KEY: &[u8] = b"\"approvals\":";
    let mut stated: HashSet<&[u8]> = HashSet::new();
    for at in memchr::memmem::find_iter(ledger, KEY) {
        let rest = &ledger[at + KEY.len()..];
        let end = memchr::memchr(b'}', rest).map_or(rest.len(), |end| end + 1);
        stated.insert(&rest[..end]);
    }
    // A line that can't be read is told by `verify`.
    let read = |part: &[u8]| serde_json::from_slice(part).ok();
    stated.into_iter().filter_map(read).collect()
}

/// What is approved, by the ledgers of all benches.
///
/// # Errors
/// Those of the system; a ledger that was altered, which nothing may rest on.
pub fn approvals(host: &dyn Host, paths: &Paths) -> Result<Approvals, AppError> {
    let ledgers = approval_ledgers(host, paths)?;
    for ledger in &ledgers {
        if let Some(fault) = ledger.faults.first() {
            return Err(altered(&paths.approvals(&ledger.bench), &fault.to_string()));
        }
    }
    Ok(Approvals::of(&ledgers))
}

fn altered(path: &Path, fault: &str) -> AppError {
    AppError::new(format!(
        "{}: {fault}\nnothing can rest on this ledger until it is put back from a copy; `stepwell verify` tells more",
        path.display()
    ))
}

/// A ledger that is held for writing.
pub(super) struct Held<'h, A> {
    host: &'h dyn Host,
    path: PathBuf,
    bytes: Vec<u8>,
    tail: Tail<A>,
    _lock: Lock,
}

impl<'h, A: Act> Held<'h, A> {
    /// Locks the ledger of a bench and reads its end, waiting for another process to be done with it.
    pub(super) fn open(host: &'h dyn Host, path: &Path, bench: &str) -> Result<Self, AppError> {
        let folder = path.parent().unwrap_or(Path::new("."));
        host.make_folder(folder)
            .map_err(|e| AppError::at(folder, &e))?;
        let name = path.file_stem().map(|n| n.to_string_lossy().into_owned());
        let lock_path = folder.join(format!(".{}.lock", name.unwrap_or_default()));
        let lock = host.wait_lock(&lock_path).map_err(|error| {
            if error.kind() == io::ErrorKind::WouldBlock {
                let path = path.display();
                return AppError::new(format!(
                    "{path}: another process is writing to it; try again"
                ));
            }
            AppError::at(&lock_path, &error)
        })?;
        let bytes = bytes_of(host, path)?;
        let tail = Tail::read(bench, &bytes).map_err(|fault| altered(path, &fault))?;
        Ok(Self {
            host,
            path: path.to_owned(),
            bytes,
            tail,
            _lock: lock,
        })
    }

    /// The digest of the last line.
    pub(super) fn last(&self) -> Option<String> {
        self.tail.entry().map(str::to_owned)
    }

    /// Whether an act about it, told by its part of the line, was entered before.
    pub(super) fn holds(&self, part: &str) -> bool {
        let whole = usize::try_from(self.tail.whole).unwrap_or(usize::MAX);
        let lines = &self.bytes[..whole.min(self.bytes.len())];
        memchr::memmem::find(lines, part.as_bytes()).is_some()
    }

    /// Enters an act; a torn last line, which nobody was told of as done, goes first.
    pub(super) fn enter(&mut self, act: A, at: &str) -> Result<Entry<A>, AppError> {
        let (torn, whole) = (self.tail.torn, self.tail.whole);
        let fault = |fault: String| AppError::new(format!("{}: {fault}", self.path.display()));
        let (entry, line) = self.tail.next(act, at).map_err(fault)?;
        let io = |e: io::Error| AppError::at(&self.path, &e);
        if self.host.exists(&self.path) {
            if torn {
                self.host.truncate(&self.path, whole).map_err(io)?;
                self.tail.torn = false;
            }
            self.host.append(&self.path, &line).map_err(io)?;
        } else {
            self.host.create(&self.path, &line).map_err(io)?;
        }
        self.bytes.extend(&line);
        Ok(entry)
    }
}

/// Whether the bench's ledger has a record that was made from a session.
pub(super) fn was_sealed(
    host: &dyn Host,
    open: &OpenShop,
    session: &str,
) -> Result<bool, AppError> {
    let bytes = bytes_of(host, &open.paths.ledger(&open.shop.bench))?;
    let part = format!("\"session\":\"{session}\"");
    Ok(memchr::memmem::find(&bytes, part.as_bytes()).is_some())
}

/// Refuses to begin anything while the clock stands before the last line of the bench's ledger.
pub(super) fn clock_is_right(host: &dyn Host, path: &Path, bench: &str) -> Result<(), AppError> {
    let tail = Tail::<RecordAct>::read(bench, &bytes_of(host, path)?);
    let tail = tail.map_err(|fault| altered(path, &fault))?;
    let now = host.now();
    match tail.at().filter(|at| is_before(&now, at)) {
        Some(at) => Err(AppError::new(format!(
            "the clock says {now}, but the last record was sealed at {at}: set the clock right first"
        ))),
        None => Ok(()),
    }
}
