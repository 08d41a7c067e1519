//! Documents that are tests: the pages of the findings, planted faults, recipes without any.
//!
//! Never in here: expectations; they stand in the documents. Changes when a kind of document is added.

mod document;
mod faults;
mod pages;
mod pictures;
mod reviewed;
mod shipped;
