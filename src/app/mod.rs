//! What each command does: plain data in, plain data out. The terminal is one of its callers.
//!
//! Never in here: printing, prompts. Changes when a command is added.

mod amend;
mod amendments;
mod answers;
mod approve;
mod bench;
mod calc;
mod capture;
mod check;
mod close;
mod contradictions;
mod countersign;
mod demo;
mod diff;
mod drifting;
mod due;
mod elsewhere;
mod error;
mod format;
mod habits;
mod import;
mod init;
mod keys;
mod ledgers;
mod open;
mod outline;
mod past;
mod proof;
mod ratio;
mod records;
mod registers;
mod replay;
mod require;
mod schemas;
mod series;
mod session;
mod shelf;
mod shipped;
mod sign;
mod signers;
mod standing;
mod start;
mod through;
mod trace;
mod trend;
mod underway;
mod upkeep;
mod verify;
mod watched;

pub use amend::{Amended, Amending, amend, may_amend};
pub use amendments::{AMENDMENTS, KeptAmendment, Overruled, Surroundings, overruled, surroundings};
pub use answers::{Answers, Given, StoredFix, read_answers};
pub use approve::{
    Approved, Runnable, approve, approved_file, approved_source, permitted, runnable, withdraw,
};
pub use calc::{Calculated, Sheet, calculate, calculated_json};
pub use capture::{Ears, Offered};
pub use check::{Checked, check};
pub use close::TECHNICIAN;
pub use contradictions::{Sought, check_contradictions};
pub use countersign::{Countersigned, countersign};
pub use demo::{DEMO_DEVICE, DEMO_PERSON, DEMO_RECIPE, demo_answers, lay_out_demo};
pub use diff::{Around, Compared, GitDifference, GitFile, diff, git_diff};
pub use drifting::{Drift, Drifts, drifting};
pub use due::{DueList, OfDevice, due, due_again, records_of};
pub use error::AppError;
pub use format::{Formatted, format_files};
pub use habits::{taken_last, time_left};
pub use import::{Import, Imported, Told, begin_import, import};
pub use init::init;
pub use keys::{allowed_signers, give_key, is_free, make_key, put_aside};
pub use ledgers::{approval_ledgers, approvals, record_ledgers};
pub use open::{OpenShop, find_shop, open_shop, read_shop_of, read_source};
pub use outline::{Outline, OutlinedStep, outline, procedure};
pub use past::{PastCount, lay_out_past};
pub use proof::REVIEWER;
pub use records::{RecordFile, all_records, attachment_of, read_record};
pub use registers::{Open, add_entry, open_register};
pub use replay::{Outcome, Replay, ReplayCount, Replayed, Replaying, Tally, replay};
pub use require::missing;
pub use schemas::{SCHEMAS, schema};
pub use series::{Chosen, Surrounded, series};
pub use session::{Held, Resumed, Session, resume};
pub use shipped::{demo_data, recipes};
pub use sign::{Sign, may_be_unsigned, own_key, sign_with};
pub use start::{Choice, Start, is_for_others, may_start, recipe_file, roles_of, start};
pub use through::{Doing, run_through};
pub use trace::{TraceCount, Traced, TracedRecord, Tracing, trace};
pub use trend::{Crossing, Fit, History, Trend, TrendPoint, trend};
pub use underway::{
    Unfinished, describe_session, leave_if_empty, list_sessions, meant_session, unfinished_on,
};
pub use upkeep::{Calibrated, Done, all_upkeep, calibrated, upkeep_done};
pub use verify::{FileCheck, FileKind, Verified, doubts, verify_records, verify_shop};
pub use watched::{Seen, seen};
