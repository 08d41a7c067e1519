//! The run as a pure function: plan, state, event in; state and what to ask next out.
//!
//! Never in here: a clock, a disk, a terminal. Changes when a session can do something new.

mod ask;
mod bench;
mod decide;
mod drawing;
mod entry;
mod event;
mod judge;
mod limits;
mod state;
mod step;
mod values;

pub use ask::{Question, question, sentence, settled_since};
pub use bench::{Bench, Fitted};
pub use drawing::{DrawnStep, draw};
pub use entry::{Refusal, is_numbered, is_plausible, read_entry};
pub use event::{Event, Timer};
pub use judge::{Judged, Verdict};
pub use limits::{Limit, limits};
pub use state::{
    Attempt, Correction, Ended, File, ItemState, Note, Reading, RecordVerdict, State, Status,
};
pub use step::{apply, begin};
