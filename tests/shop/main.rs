//! Recipes in a shop: what rests on its instruments, its folder and its loggers' files.
//!
//! Never in here: how sessions look. Changes when a shop has another kind of file.

mod author;
mod bulletin;
mod completing;
mod day;
mod decisions;
mod derived;
mod device;
mod fitting;
mod logs;
mod made;
mod past;
mod places;
mod raising;
mod ratios;
mod remarked;
mod roles;
