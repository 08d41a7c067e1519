//! The run as a pure function: plan, state, event in; state and what to ask next out.
//!
//! Never in here: a clock, a disk, a terminal. Changes when a session can do something new.

mod ask;
mod entry;
mod event;
mod judge;
mod state;
mod step;

pub use ask::{Question, question, sentence, settled_since};
pub use entry::{Refusal, is_plausible, read_entry};
pub use event::{Event, Timer};
pub use judge::{Judged, Limit, Verdict, limits};
pub use state::{
    Attempt, Correction, Ended, File, ItemState, Note, Reading, RecordVerdict, State, Status,
};
pub use step::{Bench, apply, begin};
