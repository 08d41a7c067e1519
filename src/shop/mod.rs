//! A shop's folder: its own settings, people, devices, instruments.
//!
//! Never in here: sessions and the content of records. Changes when a shop keeps something new.

mod acts;
mod approvals;
mod devices;
mod fill;
mod folder;
mod policy;

pub use acts::{Approval, ApprovalAct, RecordAct};
pub use approvals::{Approvals, Standing};
pub use devices::{Registered, read_devices};
pub use fill::{Candidate, NoneSuitable, candidates, is_of_role};
pub use folder::{
    APPROVALS, LEDGER, Paths, Person, Requirement, Shop, read_instruments, read_people, read_shop,
};
pub use policy::{Deed, Permit, permit};
