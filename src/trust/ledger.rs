//! Ledgers: lines of canonical JSON, each linked to the one before by its digest, one ledger a bench.
//!
//! Never in here: files, and what the acts mean. Changes only with the version of the lines: old ledgers rest on them.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::canonical::canonical_text;
use super::digest::{canonical, canonical_without, digest_bytes};

/// Version of the lines.
const VERSION: u32 = 1;

/// Largest ledger that is read, in bytes: about a million records.
pub const MAX_LEDGER: u64 = 1024 * 1024 * 1024;

/// What a ledger enters.
pub trait Act: Serialize + DeserializeOwned + Clone {}

/// A line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry<A> {
    /// What was done.
    pub act: A,
    /// When.
    pub at: String,
    /// The bench that keeps the ledger.
    pub bench: String,
    /// `sha256:` of the canonical line without this field.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub entry: String,
    /// Version of the line.
    pub ledger: u32,
    /// Counted from 1.
    pub number: u64,
    /// `entry` of the line before; none in the first.
    pub previous: Option<String>,
}

/// What is wrong with a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LedgerFault {
    /// The line, counted from 1.
    pub line: u64,
    /// What is wrong.
    pub message: String,
}

impl std::fmt::Display for LedgerFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {} {}", self.line, self.message)
    }
}

/// A ledger as it was read.
#[derive(Clone, Debug)]
pub struct Ledger<A> {
    /// The bench that keeps it.
    pub bench: String,
    /// The lines that can be read.
    pub entries: Vec<Entry<A>>,
    /// What is wrong.
    pub faults: Vec<LedgerFault>,
    /// How many bytes end with a line end.
    pub whole: u64,
    /// Whether a last line without an end stands behind them.
    pub torn: bool,
}

impl<A: Act> Entry<A> {
    /// The digest that `entry` has to be.
    fn digest(&self) -> Result<String, String> {
        canonical_without(self, Some("entry")).map(|bytes| digest_bytes(&bytes))
    }

    fn text(&self) -> Result<Vec<u8>, String> {
        canonical(self)
    }
}

impl<A: Act> Ledger<A> {
    /// Reads the ledger of a bench.
    #[must_use]
    pub fn read(bench: &str, bytes: &[u8]) -> Self {
        let whole = bytes.iter().rposition(|b| *b == b'\n').map_or(0, |n| n + 1);
        let mut ledger = Self {
            bench: bench.to_owned(),
            entries: Vec::new(),
            faults: Vec::new(),
            whole: whole as u64,
            torn: whole < bytes.len(),
        };
        let mut link = Link::Begins;
        for (line, number) in bytes[..whole].split_inclusive(|b| *b == b'\n').zip(1u64..) {
            let (entry, faults) = line_of::<A>(line, bench, number, &link);
            ledger.faults.extend(faults);
            link = entry.as_ref().map_or(Link::Unknown, |e| Link::After {
                number: e.number,
                entry: e.entry.clone(),
                at: e.at.clone(),
            });
            ledger.entries.extend(entry);
        }
        ledger
    }
}

/// The end of a ledger, which is all that writing to it needs.
#[derive(Clone, Debug)]
pub struct Tail<A> {
    bench: String,
    last: Option<Entry<A>>,
    /// How many bytes end with a line end.
    pub whole: u64,
    /// Whether a last line without an end stands behind them: nobody was told that it was written.
    pub torn: bool,
}

impl<A: Act> Tail<A> {
    /// Reads the last whole line.
    ///
    /// # Errors
    /// A last line that can't be read or was altered.
    pub fn read(bench: &str, bytes: &[u8]) -> Result<Self, String> {
        let end = |bytes: &[u8]| bytes.iter().rposition(|b| *b == b'\n').map_or(0, |n| n + 1);
        let whole = end(bytes);
        let begin = end(&bytes[..whole.saturating_sub(1)]);
        let last = &bytes[begin..whole];
        let last = if last.is_empty() {
            None
        } else {
            let number = serde_json::from_slice::<serde_json::Value>(last).ok();
            let number = number.and_then(|l| l.get("number")?.as_u64()).unwrap_or(0);
            let (entry, faults) = line_of(last, bench, number, &Link::Unknown);
            if let Some(fault) = faults.first() {
                return Err(fault.to_string());
            }
            entry
        };
        Ok(Self {
            bench: bench.to_owned(),
            last,
            whole: whole as u64,
            torn: whole < bytes.len(),
        })
    }

    /// The digest of the last line.
    #[must_use]
    pub fn entry(&self) -> Option<&str> {
        self.last.as_ref().map(|e| e.entry.as_str())
    }

    /// When the last line was written.
    #[must_use]
    pub fn at(&self) -> Option<&str> {
        self.last.as_ref().map(|e| e.at.as_str())
    }

    /// The line for an act, to be appended; from then on it is the last one.
    ///
    /// # Errors
    /// A clock that was set back, an act that has no canonical form.
    pub fn next(&mut self, act: A, at: &str) -> Result<(Entry<A>, Vec<u8>), String> {
        if let Some(last) = &self.last
            && is_before(at, &last.at)
        {
            return Err(format!(
                "the clock says {at}, but the last line was written at {}: set the clock right",
                last.at
            ));
        }
        let mut entry = Entry {
            act,
            at: at.to_owned(),
            bench: self.bench.clone(),
            entry: String::new(),
            ledger: VERSION,
            number: self.last.as_ref().map_or(0, |e| e.number) + 1,
            previous: self.last.as_ref().map(|e| e.entry.clone()),
        };
        entry.entry = entry.digest()?;
        let mut line = entry.text()?;
        line.push(b'\n');
        self.last = Some(entry.clone());
        self.whole += line.len() as u64;
        Ok((entry, line))
    }
}

/// Whether a time lies before another one; times are RFC 3339.
#[must_use]
pub fn is_before(a: &str, b: &str) -> bool {
    let read = |text: &str| text.parse::<jiff::Timestamp>().ok();
    read(a).zip(read(b)).is_some_and(|(a, b)| a < b)
}

/// What a line has to follow.
enum Link {
    Begins,
    After {
        number: u64,
        entry: String,
        at: String,
    },
    /// The line before can't be read, which is told there.
    Unknown,
}

fn line_of<A: Act>(
    line: &[u8],
    bench: &str,
    number: u64,
    link: &Link,
) -> (Option<Entry<A>>, Vec<LedgerFault>) {
    let fault = |message: String| LedgerFault {
        line: number,
        message,
    };
    let text = line.strip_suffix(b"\n").unwrap_or(line);
    let entry: Entry<A> = match serde_json::from_slice(text) {
        Ok(entry) => entry,
        Err(error) => return (None, vec![fault(unreadable(text, &error))]),
    };
    let mut faults = Vec::new();
    let form = |without| canonical_text(text, without).ok();
    if form(None).as_deref() != Some(text)
        || form(Some("entry")).is_none_or(|bare| digest_bytes(&bare) != entry.entry)
    {
        faults.push(fault("was altered after it was written".to_owned()));
    }
    let follows = match link {
        Link::Begins => entry.previous.is_none() && entry.number == 1,
        Link::After {
            number,
            entry: before,
            ..
        } => entry.previous.as_ref() == Some(before) && entry.number == number + 1,
        Link::Unknown => entry.number == number,
    };
    if !follows {
        faults.push(fault(format!(
            "does not follow the line before: a line was removed, added or moved (it has number {})",
            entry.number
        )));
    }
    if let Link::After { at, .. } = link
        && is_before(&entry.at, at)
    {
        faults.push(fault(format!(
            "says that it was written at {}, before the line above it",
            entry.at
        )));
    }
    if entry.bench != bench {
        faults.push(fault(format!(
            "belongs to the ledger of bench {}, not {bench}",
            entry.bench
        )));
    }
    (Some(entry), faults)
}

fn unreadable(text: &[u8], error: &serde_json::Error) -> String {
    let newer = serde_json::from_slice::<serde_json::Value>(text)
        .ok()
        .and_then(|json| json.get("ledger")?.as_u64())
        .filter(|v| *v > u64::from(VERSION));
    match newer {
        Some(version) => format!("written in version {version} by a newer program"),
        None => format!("can't be read: {error}"),
    }
}
