//! The registers: spreadsheets of other people, additions, upkeep, and what falls due.
//!
//! Never in here: sessions. Changes when a register is kept otherwise.

mod added;
mod asked;
mod calendar;
mod dialects;
mod due;
mod failing;
mod faults;
mod made;
mod upkeep;
