//! Stepwell: test recipes for infusion pumps, walked through step by step, judged, and kept as records.
//!
//! The rooms stand in the order in which data goes through them: text and numbers first, then reading a recipe,
//! running it, keeping what happened, and showing it.

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod text;

pub mod quantity;

pub mod host;

pub mod maths;

pub mod trace;

pub mod plan;

pub mod recipe;

pub mod engine;

pub mod journal;

pub mod trust;

pub mod record;

pub mod diff;

pub mod shop;

pub mod index;

pub mod render;

pub mod app;

pub mod cli;
