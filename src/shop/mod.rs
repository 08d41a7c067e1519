//! A shop's folder: its own settings, people, devices, instruments.
//!
//! Never in here: sessions and records. Changes when a shop keeps something new.

mod devices;
mod fill;
mod folder;

pub use devices::{Registered, read_devices};
pub use fill::{Candidate, NoneSuitable, candidates, is_of_role};
pub use folder::{Paths, Person, Shop, read_instruments, read_people, read_shop};
