//! What a record can be trusted for: approvals, signatures, ledgers, policy, and what is found when somebody meddles.
//!
//! Never in here: what other programs say of them (see `outside`). Changes when something else is proven.

mod altered;
mod amending;
mod approving;
mod copies;
mod faults;
mod forged;
mod made;
mod merging;
mod people;
mod policy;
mod signing;
mod walk;
