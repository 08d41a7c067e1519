//! An index of a shop's records: what was measured, against which limits, with which instruments, so that many records can
//! be asked at once. It rests on the record files alone and can be thrown away at any time.
//!
//! SQLite opens the index's file by itself; everything else on disk goes through the host. Never in here: judging, verifying.
//! Changes when records are asked something new.

mod extract;
mod fault;
mod freshen;
mod instruments;
mod newest;
mod open;
mod passed;
mod schema;
mod series;
mod store;
mod stored;
mod values;

pub use extract::converted;
pub use fault::IndexFault;
pub use instruments::{Certified, Days, Near, RestingRecord, Use};
pub use open::{FOLDER, Index};
pub use passed::Ended;
pub use series::Series;
pub use stored::{Revisions, Stored};
pub use values::{Chosen, Kept, Known};

/// Largest record that is read, in bytes.
const MAX_RECORD: u64 = 256 * 1024 * 1024;
