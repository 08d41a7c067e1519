//! Sessions as a technician types them: at a real terminal of 80 columns, and the same words through a pipe.
//!
//! Never in here: what is judged. Changes when a session gets a word or says something else.

mod captured;
mod comfort;
mod ended;
mod made;
mod near;
mod played;
mod reports;
mod required;
mod seats;
mod signing;
mod unseen;
mod words;
