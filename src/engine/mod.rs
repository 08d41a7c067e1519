//! The run as a pure function: plan, state, event in; state and what to ask next out.
//!
//! Never in here: a clock, a disk, a terminal. Changes when a session can do something new.

mod affine;
mod ahead;
mod ask;
mod bench;
mod curves;
mod decide;
mod drawing;
mod entry;
mod event;
mod form;
mod judge;
mod limits;
mod misreading;
mod outlier;
mod rejudging;
mod sizes;
mod state;
mod step;
mod values;

pub use ahead::{Ahead, is_reached, limits_ahead};
pub use ask::{
    Question, limits_known, question, question_at, sentence, sentence_with, settled_since,
};
pub use bench::{Bench, Fitted};
pub use curves::{Curve, curves, passed_levels};
pub use drawing::{Conformance, DrawingsLeft, DrawnLimit, DrawnStep, draw};
pub use entry::{Refusal, is_numbered, is_plausible, read_entry, read_log};
pub use event::{Event, Heard, Timer};
pub use judge::{Judged, Verdict};
pub use limits::{Distance, Limit, limits};
pub use misreading::{Misread, Misreading, misread, read_with};
pub use outlier::{Apart, stands_apart};
pub use rejudging::{Lack, Leftover, Moved, Rejudged, bench_under, rejudge};
pub use sizes::Sizes;
pub use state::{
    Attempt, Correction, Ended, File, ItemState, Note, Reading, RecordVerdict, State, Status,
};
pub use step::{apply, begin};
