//! What each command does: plain data in, plain data out. The terminal is one of its callers.
//!
//! Never in here: printing, prompts. Changes when a command is added.

mod answers;
mod calc;
mod check;
mod demo;
mod due;
mod error;
mod import;
mod init;
mod open;
mod ratio;
mod records;
mod registers;
mod session;
mod start;
mod upkeep;

pub use answers::{Answers, StoredFix, read_answers};
pub use calc::{Calculated, Sheet, calculate, calculated_json};
pub use check::{Checked, check};
pub use demo::{DEMO_DEVICE, DEMO_PERSON, DEMO_RECIPE, demo_answers, lay_out_demo};
pub use due::{DueList, LastPassed, due};
pub use error::AppError;
pub use import::{Import, Imported, Told, begin_import, import};
pub use init::init;
pub use open::{OpenShop, find_shop, open_shop, read_source};
pub use records::{Verified, all_records, attachment_of, doubts, read_record, verify_file};
pub use registers::{Open, add_entry, open_register};
pub use session::{Held, Session, describe_session, list_sessions, resume, unfinished_on};
pub use start::{Choice, Start, find_recipe, roles_of, start};
pub use upkeep::{Calibrated, Done, all_upkeep, calibrated, upkeep_done};
