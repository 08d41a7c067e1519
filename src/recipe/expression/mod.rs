//! From an author's expression to the typed form: evalexpr's grammar, our meaning.
//!
//! Never in here: evaluation. Changes when the language gets an operator, a function or a refusal.

mod call;
mod constant;
mod lower;
mod operator;
mod remedy;
mod series;
mod token;

pub use lower::{Found, LoweringError, Names, lower};
pub use remedy::remedy;
