//! Logged series: reading what any logger writes as CSV into columns of numbers with units.
//!
//! Values are doubles in the SI unit of their kind; times are in s. Nothing is resampled, filled in or left out silently:
//! what can't be read is a fault with its row and column, what is odd but readable an observation. Never in here: what a
//! series is for. Changes when a logger's way of writing is taken up.

mod candidate;
mod clock;
mod decimal;
mod fault;
mod heading;
mod layout;
mod mapping;
mod observe;
mod packed;
mod read;
mod readings;
mod rows;
mod si;
mod suffix;
mod units;

pub use fault::TraceFault;
pub use mapping::{ColumnChoice, Header, Mapping, Separator, TimeColumn, TimeForm, Wanted};
pub use observe::{Observation, Oddity};
pub use read::{Column, PackedTrace, Ranges, Trace, Zero, read, read_packed, read_shown};

/// Most rows of readings.
pub const MAX_ROWS: usize = 5_000_000;
/// Longest file, in bytes.
pub const MAX_BYTES: usize = 256 * 1024 * 1024;
/// Most columns.
pub const MAX_COLUMNS: usize = 200;
/// Longest line, in bytes.
pub const MAX_LINE: usize = 64 * 1024;
