//! Looking back over records: the index that is made of them, `trace` and `trend`.
//!
//! Never in here: asserted times. Changes when records are asked something new.

mod kept;
mod made;
mod replayed;
mod traced;
mod trended;
