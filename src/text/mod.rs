//! Text and what is found in it: sources, places, findings, and the table of their codes.
//!
//! Never in here: what a recipe means. Changes when findings are shown or coded otherwise.

mod code;
mod counted;
mod day;
mod finding;
mod meant;
mod quoted;
mod reviewed;
mod shown;
mod source;

pub use code::Code;
pub use counted::counted;
pub use day::is_day;
pub use finding::{Finding, Severity};
pub use meant::meant;
pub use quoted::quoted;
pub use reviewed::{findings_as_github, findings_as_sarif};
pub use shown::{findings_as_json, findings_as_text};
pub use source::{Place, Source, Span};
