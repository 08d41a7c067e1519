//! The command line: arguments, prompts, printing, exit codes.
//!
//! Never in here: what a command does (see `app`). Changes when a command or an option is added.

mod approving;
mod arguments;
mod asked;
mod author;
mod begun;
mod budget;
mod checking;
mod commands;
mod completing;
mod correct;
mod differing;
mod drifts;
mod entries;
mod falling;
mod fitted;
mod history;
mod hours;
mod house;
mod importing;
mod input;
mod keys;
mod looking;
mod manual;
mod many;
mod offered;
mod outlining;
mod paging;
mod paper;
mod queue;
mod raising;
mod registers;
mod rendering;
mod repairing;
mod replaying;
mod said;
mod shaping;
mod show;
mod signing;
mod standing;
mod traced;
mod verifying;
mod walk;
mod watch;
mod words;

pub use arguments::Arguments;
pub use commands::main;
