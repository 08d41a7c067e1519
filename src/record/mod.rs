//! The finished record: made from the journal, sealed by a digest, recomputed when it is verified.
//!
//! Never in here: rendering, signatures. Changes when a record tells something new.

mod differ;
mod digest;
mod largest;
mod logged;
mod make;
mod remarks;
mod uncertain;
mod verify;
mod wire;
mod wording;

pub use digest::{canonical, digest_bytes, digest_json};
pub use largest::largest;
pub use make::{make, seal, value_json};
pub use uncertain::{rounded, uncertainties, uncertainty};
pub use verify::{Answer, Check, verify};
pub use wire::*;
