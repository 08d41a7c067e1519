//! What a session knows: for every item what was entered, and what follows from it.
//!
//! Never in here: how it follows. Changes when a record has to tell something new.

use std::cell::RefCell;

use crate::plan::{Behind, Device, Sources, Spread, Value};

use super::{Heard, Judged, Timer};

/// One accepted entry.
#[derive(Clone, Debug)]
pub struct Reading {
    /// As typed.
    pub text: String,
    /// What it was read as.
    pub value: Value,
    /// When.
    pub at: String,
    /// Whether it lies outside the plausible range and was confirmed.
    pub confirmed: bool,
    /// Start and stop, where a watch was used.
    pub timer: Option<Timer>,
    /// The line of an instrument that it was read from.
    pub heard: Option<Heard>,
}

/// A correction; the reading it corrected is kept.
#[derive(Clone, Debug)]
pub struct Correction {
    /// Which reading, from 1 over all attempts.
    pub reading: usize,
    /// What stood there before.
    pub before: Reading,
    /// Why it was corrected.
    pub why: String,
    /// When.
    pub at: String,
}

/// A note.
#[derive(Clone, Debug)]
pub struct Note {
    /// Its text.
    pub text: String,
    /// When.
    pub at: String,
}

/// An attached file.
#[derive(Clone, Debug)]
pub struct File {
    /// Its name.
    pub name: String,
    /// `sha256:` and hexadecimal digits.
    pub digest: String,
    /// Its size.
    pub bytes: u64,
    /// When it was attached.
    pub at: String,
}

/// One attempt at a step.
#[derive(Clone, Debug)]
pub struct Attempt {
    /// The value: a list where there are several readings.
    pub value: Option<Value>,
    /// The value with its sensitivities to sources of error.
    pub spread: Option<Spread>,
    /// What lies behind the value.
    pub behind: Behind,
    /// The criteria, judged.
    pub criteria: Vec<Judged>,
}

/// Where a step stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Status {
    /// Not come to yet.
    #[default]
    Pending,
    /// Done.
    Done,
    /// Skipped, with the reason.
    Skipped(String),
    /// Its condition is false, with the values that made it so.
    NotApplicable(String),
    /// It could not be done: a value that it rests on is missing or gives no result.
    Undone(String),
}

/// An item's state: what was put in, and what was derived.
#[derive(Clone, Debug, Default)]
pub struct ItemState {
    /// Accepted entries of all attempts, in order.
    pub readings: Vec<Reading>,
    /// The reason and time of a skip.
    pub skipped: Option<Note>,
    /// A watch that runs: its start.
    pub timer: Option<String>,
    /// Corrections.
    pub corrections: Vec<Correction>,
    /// Notes.
    pub notes: Vec<Note>,
    /// Attached files.
    pub files: Vec<File>,
    /// Derived: where it stands.
    pub status: Status,
    /// Derived: its attempts.
    pub attempts: Vec<Attempt>,
}

impl ItemState {
    /// The value: that of the last attempt.
    #[must_use]
    pub fn value(&self) -> Option<&Value> {
        self.attempts.last().and_then(|a| a.value.as_ref())
    }

    /// The value of the last attempt with its sensitivities.
    #[must_use]
    pub fn spread(&self) -> Option<&Spread> {
        self.attempts.last().and_then(|a| a.spread.as_ref())
    }

    /// The criteria as the last attempt decided them.
    #[must_use]
    pub fn criteria(&self) -> &[Judged] {
        self.attempts
            .last()
            .map(|a| a.criteria.as_slice())
            .unwrap_or_default()
    }
}

/// Why a session has come to its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ended {
    /// All steps are done.
    Complete,
    /// A step failed that ends the session, and what is asked after a stop is done; its index.
    Failed(usize),
    /// The technician ended it, with the reason.
    Stopped(String),
}

/// The verdict of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the words of the language")]
pub enum RecordVerdict {
    Pass,
    PassWithRemarks,
    Fail,
    Incomplete,
}

impl RecordVerdict {
    /// The word that records use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::PassWithRemarks => "pass with remarks",
            Self::Fail => "fail",
            Self::Incomplete => "incomplete",
        }
    }
}

/// A session's state.
#[derive(Clone, Debug, Default)]
pub struct State {
    /// The device, as names in the recipe mean it.
    pub device: Device,
    /// One for every item of the plan.
    pub items: Vec<ItemState>,
    /// The item that is asked for.
    pub cursor: usize,
    /// Derived: the item whose fail stopped the session. What is asked after a stop may still be open.
    pub stopped_at: Option<usize>,
    /// Whether and why it has ended.
    pub ended: Option<Ended>,
    /// The record that it was closed as.
    pub closed: Option<String>,
    /// Derived: the sources of error that have acted.
    pub sources: RefCell<Sources>,
}
