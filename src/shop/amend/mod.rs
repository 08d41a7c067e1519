//! Changing a register by its text: what is not concerned stays as it was written, comments and order too.
//!
//! Never in here: reading and writing files. Changes when a register is written otherwise.

mod devices;
mod list;
mod scalar;

pub use devices::amend_devices;
pub use list::amend_list;

/// A register's text with changes in it, or why it can't be changed so.
pub type Amended = Result<String, String>;
