//! The finished record: made from the journal, sealed by a digest, recomputed when it is verified.
//!
//! Never in here: rendering, keys, ledgers. Changes when a record tells something new.

mod again;
mod amendment;
mod carried;
mod differ;
mod fitting;
mod foreseen;
mod known;
mod largest;
mod logged;
mod make;
mod misread;
mod parting;
mod rejudged;
mod remarks;
mod resting;
mod uncertain;
mod verify;
mod wire;
mod wording;

pub use again::Again;
pub use amendment::{AMENDMENT_FORMAT, Amendment, Pointed};
pub use carried::{Carried, carried, is_pdf, is_whole};
pub use fitting::{is_of_category, misfit};
pub use foreseen::foresee;
pub use known::Known;
pub use largest::largest;
pub use make::{Ran, closed_by, make, record_text, seal, value_json};
pub use misread::{Doubted, JudgedOff, MisreadRecord, Outcome, with_error};
pub use parting::parting_words;
pub use rejudged::{LeftReading, Missing, RejudgedCriterion, RejudgedRecord, Under, rejudged};
pub use resting::{Resting, RestingOf};
pub use uncertain::{rounded, uncertainties, uncertainty};
pub use verify::{Answer, Check, unreadable, verify, verify_session};
pub use wire::*;
pub use wording::same_numbers;
