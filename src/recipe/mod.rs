//! From YAML text to a plan: tree, schema, model, checks, lowering of expressions.
//!
//! Never in here: running. Changes when the language does.

pub mod expression;
pub mod yaml;

pub use expression::{Found, LoweringError, Names, lower};
