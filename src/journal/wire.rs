//! The stored form of a journal, with its version. A field renamed here is a change of the file format.
//!
//! Never in here: logic. Changes only with the version, or by fields that may be missing.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use crate::engine::{Event, Heard, Timer};

/// Version of the journal's lines.
pub const VERSION: u32 = 1;

/// The first line: all that a session rests on.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
pub struct Head {
    /// Version of the lines.
    pub journal: u32,
    /// Version of the program that began the session.
    pub program: String,
    /// Id of the session.
    pub session: String,
    /// When it began.
    pub started: String,
    /// Who runs it.
    pub by: String,
    /// The bench.
    pub bench: String,
    /// The decimal sign that is typed.
    pub decimal: String,
    /// How values near a limit are decided upon.
    #[serde(default)]
    pub decision: String,
    /// Why the device is tested.
    pub occasion: String,
    /// Whether an unapproved recipe was allowed.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub trial: bool,
    /// Whether it was run although the recipe is for other devices.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub other_device: bool,
    /// The device.
    pub device: Device,
    /// The recipe.
    pub recipe: RecipeHead,
    /// The instruments, by role.
    pub instruments: IndexMap<String, Instrument>,
}

/// The recipe of a session, with its whole text.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct RecipeHead {
    pub id: String,
    pub revision: u32,
    /// `sha256:` of the text.
    pub digest: String,
    /// The effective text.
    pub source: String,
    /// The line of the ledger that approves it; none in a trial.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub approval: Option<serde_json::Value>,
}

/// A device as the register had it that day.
#[derive(Clone, Debug, Default, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Device {
    pub tag: String,
    pub serial: String,
    pub maker: String,
    pub model: String,
    pub category: String,
    pub location: String,
}

/// An instrument as the register had it that day.
#[derive(Clone, Debug, Default, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Instrument {
    pub id: String,
    pub kind: String,
    pub serial: String,
    pub certificate: String,
    pub calibrated: String,
    pub due: String,
    pub measures: IndexMap<String, Measure>,
}

/// What an instrument says of itself for one kind of quantity, as text.
#[derive(Clone, Debug, Default, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Measure {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range: Option<[String; 2]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accuracy: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub k: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resolution: Option<String>,
}

#[derive(Serialize, Deserialize)]
struct Line {
    n: u64,
    #[serde(flatten)]
    event: Stored,
}

#[derive(Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "snake_case", deny_unknown_fields)]
enum Stored {
    Entry {
        path: String,
        text: String,
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        confirmed: bool,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        timer: Option<StoredTimer>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        heard: Option<StoredHeard>,
        at: String,
    },
    TimerStarted {
        path: String,
        at: String,
    },
    Fix {
        path: String,
        reading: usize,
        text: String,
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        confirmed: bool,
        why: String,
        at: String,
    },
    Skip {
        path: String,
        why: String,
        at: String,
    },
    Reopen {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        path: Option<String>,
        at: String,
    },
    Note {
        path: String,
        text: String,
        at: String,
    },
    File {
        path: String,
        name: String,
        digest: String,
        bytes: u64,
        at: String,
    },
    Stop {
        why: String,
        at: String,
    },
    Pause {
        at: String,
    },
    Resume {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lost: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        by: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        withdrawn: Option<String>,
        at: String,
    },
    Close {
        record: String,
        at: String,
    },
}

#[derive(Serialize, Deserialize)]
struct StoredTimer {
    started: String,
    stopped: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StoredHeard {
    instrument: String,
    line: String,
}

impl From<Event> for Stored {
    fn from(event: Event) -> Self {
        match event {
            Event::Entry {
                path,
                text,
                confirmed,
                timer,
                heard,
                at,
            } => {
                let timer = timer.map(|t| StoredTimer {
                    started: t.started,
                    stopped: t.stopped,
                });
                let heard = heard.map(|h| StoredHeard {
                    instrument: h.instrument,
                    line: h.line,
                });
                Self::Entry {
                    path,
                    text,
                    confirmed,
                    timer,
                    heard,
                    at,
                }
            }
            Event::TimerStarted { path, at } => Self::TimerStarted { path, at },
            Event::Fix {
                path,
                reading,
                text,
                confirmed,
                why,
                at,
            } => Self::Fix {
                path,
                reading,
                text,
                confirmed,
                why,
                at,
            },
            Event::Skip { path, why, at } => Self::Skip { path, why, at },
            Event::Reopen { path, at } => Self::Reopen { path, at },
            Event::Note { path, text, at } => Self::Note { path, text, at },
            Event::File {
                path,
                name,
                digest,
                bytes,
                at,
            } => Self::File {
                path,
                name,
                digest,
                bytes,
                at,
            },
            Event::Stop { why, at } => Self::Stop { why, at },
            Event::Pause { at } => Self::Pause { at },
            Event::Resume {
                lost,
                by,
                withdrawn,
                at,
            } => Self::Resume {
                lost,
                by,
                withdrawn,
                at,
            },
            Event::Close { record, at } => Self::Close { record, at },
        }
    }
}

impl From<Stored> for Event {
    fn from(stored: Stored) -> Self {
        match stored {
            Stored::Entry {
                path,
                text,
                confirmed,
                timer,
                heard,
                at,
            } => {
                let timer = timer.map(|t| Timer {
                    started: t.started,
                    stopped: t.stopped,
                });
                let heard = heard.map(|h| Heard {
                    instrument: h.instrument,
                    line: h.line,
                });
                Self::Entry {
                    path,
                    text,
                    confirmed,
                    timer,
                    heard,
                    at,
                }
            }
            Stored::TimerStarted { path, at } => Self::TimerStarted { path, at },
            Stored::Fix {
                path,
                reading,
                text,
                confirmed,
                why,
                at,
            } => Self::Fix {
                path,
                reading,
                text,
                confirmed,
                why,
                at,
            },
            Stored::Skip { path, why, at } => Self::Skip { path, why, at },
            Stored::Reopen { path, at } => Self::Reopen { path, at },
            Stored::Note { path, text, at } => Self::Note { path, text, at },
            Stored::File {
                path,
                name,
                digest,
                bytes,
                at,
            } => Self::File {
                path,
                name,
                digest,
                bytes,
                at,
            },
            Stored::Stop { why, at } => Self::Stop { why, at },
            Stored::Pause { at } => Self::Pause { at },
            Stored::Resume {
                lost,
                by,
                withdrawn,
                at,
            } => Self::Resume {
                lost,
                by,
                withdrawn,
                at,
            },
            Stored::Close { record, at } => Self::Close { record, at },
        }
    }
}

/// The first line, with its line feed.
#[must_use]
pub fn head_to_line(head: &Head) -> String {
    serde_json::to_string(head).expect("a head has only text keys") + "\n"
}

/// The line of an event, with its line feed; `number` counts events from 1.
#[must_use]
pub fn event_to_line(number: u64, event: Event) -> String {
    serde_json::to_string(&Line {
        n: number,
        event: event.into(),
    })
    .expect("an event has only text keys")
        + "\n"
}

/// What happened, from a line of a journal that was read as JSON.
///
/// # Errors
/// What is wrong with it.
pub fn event_from_json(line: &serde_json::Value) -> Result<Event, String> {
    let line = Line::deserialize(line).map_err(|e| e.to_string())?;
    Ok(line.event.into())
}

/// Reads a line of a journal: its number and what happened.
///
/// # Errors
/// What is no such line.
pub fn event_from_line(line: &str) -> Result<(u64, Event), String> {
    let line: Line = serde_json::from_str(line).map_err(|e| e.to_string())?;
    Ok((line.n, line.event.into()))
}
