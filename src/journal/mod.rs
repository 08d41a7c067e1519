//! A session on disk: one line an event, written and synced before the next question; recovery after a crash; replay.
//!
//! Never in here: what an event does (see the engine). Changes when the form of the lines does.

mod recover;
mod wire;

pub use recover::{Damage, Recovered, recover, replay};
pub use wire::{
    Device, Head, Instrument, Measure, RecipeHead, event_from_json, event_from_line, event_to_line,
    head_to_line,
};
