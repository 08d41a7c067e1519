//! What can happen in a session. Times and file digests come in with the event.
//!
//! Never in here: how events are stored (see the journal). Changes when a session can do something new.

/// When a timed step was started and stopped.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Timer {
    /// RFC 3339 time of the start.
    pub started: String,
    /// RFC 3339 time of the stop.
    pub stopped: String,
}

/// Where a value was read from that no hand typed: somebody saw it and confirmed it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Heard {
    /// Id of the instrument.
    pub instrument: String,
    /// The line that it printed, whole.
    pub line: String,
}

/// An event, with its RFC 3339 time in `at`.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub enum Event {
    /// A value was entered for the step that is asked for.
    Entry {
        path: String,
        text: String,
        /// Whether a value outside the plausible range was confirmed.
        confirmed: bool,
        timer: Option<Timer>,
        /// The line of an instrument that it was read from.
        heard: Option<Heard>,
        at: String,
    },
    /// A timed step was started.
    TimerStarted { path: String, at: String },
    /// An earlier entry was corrected; `reading` counts from 1 over all attempts of the step.
    Fix {
        path: String,
        reading: usize,
        text: String,
        confirmed: bool,
        why: String,
        at: String,
    },
    /// The step that is asked for was skipped.
    Skip {
        path: String,
        why: String,
        at: String,
    },
    /// A skipped step is taken up again; without a path, the session that was stopped.
    Reopen { path: Option<String>, at: String },
    /// A note was made at a step.
    Note {
        path: String,
        text: String,
        at: String,
    },
    /// A file was attached at a step.
    File {
        path: String,
        name: String,
        digest: String,
        bytes: u64,
        at: String,
    },
    /// The session was ended before its time.
    Stop { why: String, at: String },
    /// The session was paused.
    Pause { at: String },
    /// The session was taken up again; `lost` says what of a torn last line was dropped.
    Resume {
        lost: Option<String>,
        /// Who goes on, if it is somebody else than before.
        by: Option<String>,
        /// That the recipe was withdrawn meanwhile: when, by whom and why.
        withdrawn: Option<String>,
        at: String,
    },
    /// The session was closed: the record of this id is made of it.
    Close { record: String, at: String },
}

impl Event {
    /// Its time.
    #[must_use]
    pub fn at(&self) -> &str {
        match self {
            Self::Entry { at, .. }
            | Self::TimerStarted { at, .. }
            | Self::Fix { at, .. }
            | Self::Skip { at, .. }
            | Self::Reopen { at, .. }
            | Self::Note { at, .. }
            | Self::File { at, .. }
            | Self::Stop { at, .. }
            | Self::Pause { at }
            | Self::Resume { at, .. }
            | Self::Close { at, .. } => at,
        }
    }
}
