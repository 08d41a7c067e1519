//! What each command does: plain data in, plain data out. The terminal is one of its callers.
//!
//! Never in here: printing, prompts. Changes when a command is added.

mod answers;
mod approve;
mod calc;
mod check;
mod close;
mod countersign;
mod demo;
mod error;
mod init;
mod ledgers;
mod open;
mod proof;
mod ratio;
mod records;
mod require;
mod session;
mod sign;
mod start;
mod trace;
mod trend;
mod verify;

pub use answers::{Answers, StoredFix, read_answers};
pub use approve::{Approved, Runnable, approve, approved_source, permitted, runnable, withdraw};
pub use calc::{Calculated, Sheet, calculate, calculated_json};
pub use check::{Checked, check};
pub use close::TECHNICIAN;
pub use countersign::{Countersigned, countersign};
pub use demo::{DEMO_DEVICE, DEMO_PERSON, DEMO_RECIPE, demo_answers, lay_out_demo};
pub use error::AppError;
pub use init::init;
pub use ledgers::{approval_ledgers, approvals, record_ledgers};
pub use open::{OpenShop, find_shop, open_shop, read_source};
pub use proof::REVIEWER;
pub use records::{all_records, attachment_of, read_record};
pub use require::missing;
pub use session::{Held, Session, describe_session, list_sessions, resume, unfinished_on};
pub use sign::{Sign, may_be_unsigned, sign_with};
pub use start::{Choice, Start, recipe_file, roles_of, start};
pub use trace::{TraceCount, Traced, TracedRecord, Tracing, trace};
pub use trend::{Crossing, Fit, History, Trend, TrendPoint, trend};
pub use verify::{FileCheck, Verified, doubts, verify_records, verify_shop};
