//! What is left after a crash: killed at any moment, cut at any byte, a disk that fills up, a byte that flips.
//!
//! Never in here: what is asked or judged. Changes when a session is kept otherwise.

mod cut;
mod flip;
mod full;
mod kill;
mod made;
mod reseal;
mod wording;
