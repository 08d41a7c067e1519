//! What changed in effect between two revisions of a recipe: a limit loosened, a check removed, a sentence reworded.
//!
//! Limits are compared by what they accept, not by their text: both sides are brought into one normal form (`lower`,
//! `polynomial`, `formula`) over values that matched steps share (`pairing`, `values`), and held against each other by
//! numbers that stand for all others (`region`). Never in here: files, printing. Changes when a recipe can say something
//! new, or when a change is weighed otherwise.

mod alone;
mod arithmetic;
mod change;
mod compare;
mod computed;
mod condition;
mod criteria;
mod formula;
mod given;
mod header;
mod judged;
mod keys;
mod lexicon;
mod lower;
mod opening;
mod pairing;
mod partners;
mod polynomial;
mod reach;
mod region;
mod repeat;
mod revision;
mod rows;
mod sense;
mod sentences;
mod settings;
mod severity;
mod signature;
mod truth;
mod values;
mod warn;
mod wording;

pub use alone::Conditions;
pub use change::{Change, Difference, Lean, Warning, Weight};
pub use compare::compare;
pub use partners::{Partners, partners};
pub use revision::Revision;
pub use signature::signature;
