//! Other people's spreadsheets: from the bytes of a CSV file to what would change in a register.
//!
//! Never in here: reading and writing files, asking. Changes when another dialect is to be understood.

mod cell;
mod change;
mod columns;
mod date;
mod entry;
mod fault;
mod field;
mod measures;
mod sheet;
mod stored;

pub use cell::{CATEGORY_NOTICE, Cell, read_cell};
pub use change::{Change, Changed, Changes, Known, changes};
pub use columns::{Column, settle};
pub use date::{DateForm, Dates, dates_of};
pub use entry::{Checked, Entry, check_entry, entries};
pub use fault::Fault;
pub use field::{Field, Kind, Register};
pub use measures::{measures_from, measures_text, measures_yaml};
pub use sheet::{Encoding, MAX_FILE, MAX_ROWS, Sheet, read_sheet};
pub use stored::{Stored, Way, read_ways, with_way};
