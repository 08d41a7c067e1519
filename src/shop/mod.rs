//! A shop's folder: its own settings, people, devices, instruments.
//!
//! Never in here: sessions and the content of records. Changes when a shop keeps something new.

mod acts;
mod amend;
mod approvals;
mod devices;
mod due;
mod fill;
mod folder;
pub mod import;
mod instruments;
mod interval;
mod legible;
mod occasion;
mod odd;
mod policy;
mod rows;
mod speaks;
mod upkeep;

pub use acts::{Approval, ApprovalAct, RecordAct};
pub use amend::{Amended, amend_devices, amend_list};
pub use approvals::{Approvals, Standing};
pub use devices::{MAX_DEVICES, Registered, read_devices};
pub use due::{Due, Subject, Task, Tested, TestedBy, due_of_device, due_of_instrument, sort_due};
pub use fill::{Candidate, NoneSuitable, candidates, is_of_role};
pub use folder::{APPROVALS, LEDGER, Paths, Person, Requirement, Shop, read_people, read_shop};
pub use instruments::{Kept, read_instruments, read_kept};
pub use interval::{
    Interval, PerRecipe, Unit, Unreadable, last_of, read_day, read_days, read_intervals,
};
pub use occasion::{
    AFTER_INCIDENT, AFTER_REPAIR, POST_REPAIR, USUAL_OCCASION, is_after_incident, is_check,
    occasion_of,
};
pub use odd::doubted_devices;
pub use policy::{Deed, Permit, permit};
pub use speaks::{Speaks, Spoken};
pub use upkeep::{CALIBRATION, Upkeep, read_upkeep, upkeep_line};
