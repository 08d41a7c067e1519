//! Stepwell: test recipes for infusion pumps, walked through step by step, judged, and kept as records.
//!
//! The rooms stand in the order in which data goes through them.

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod maths;
pub mod plan;
pub mod quantity;
pub mod recipe;
pub mod text;
