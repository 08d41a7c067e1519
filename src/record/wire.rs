//! The stored form of a record, with its version. A field renamed here is a change of the file format.
//!
//! Never in here: logic. Changes only with the version, or by fields that may be missing.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use crate::journal::{Device, Instrument};
use crate::trust::Signature;

/// Version of the record's form.
pub const RECORD_FORMAT: u32 = 1;

/// A record.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(
    missing_docs,
    reason = "the fields are named after what they hold; the contract lists them"
)]
pub struct Record {
    pub format: u32,
    pub record: String,
    pub session: String,
    pub program: String,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub trial: bool,
    /// Whether it was run although the recipe is for other devices.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub other_device: bool,
    pub recipe: Recipe,
    pub device: Device,
    pub occasion: String,
    pub by: String,
    pub bench: String,
    pub decimal: String,
    pub started: String,
    pub finished: String,
    pub instruments: IndexMap<String, Instrument>,
    pub cautions: Vec<String>,
    pub basis: IndexMap<String, String>,
    pub decision: String,
    pub setup: Vec<Step>,
    pub steps: Vec<Step>,
    pub verdict: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended: Option<String>,
    pub remarks: Vec<String>,
    pub attachments: Vec<Attachment>,
    pub journal: Vec<serde_json::Value>,
    pub seal: Seal,
}

/// The recipe that was followed.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Recipe {
    pub id: String,
    pub revision: u32,
    pub title: String,
    pub category: String,
    pub digest: String,
    pub source: String,
    pub approval: Option<serde_json::Value>,
}

/// A step as it went.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(
    missing_docs,
    reason = "the fields are named after what they hold; the contract lists them"
)]
pub struct Step {
    pub path: String,
    pub verb: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub within: Vec<String>,
    pub prompt: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// `done`, `skipped`, `not applicable`, `not done`.
    pub state: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// As typed: a text, or a list with `repeat`.
    pub entry: serde_json::Value,
    pub value: serde_json::Value,
    pub at: Option<String>,
    pub uncertainty: serde_json::Value,
    pub attempts: Vec<Attempt>,
    pub criteria: Vec<Criterion>,
    pub notes: Vec<Note>,
    pub corrections: Vec<Correction>,
    /// Curves that are drawn with the step.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub curves: Vec<Curve>,
    /// Times at which the step's log passes levels.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub passed: Vec<Passed>,
}

/// A curve of a log, thinned for drawing.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[serde(tag = "curve", rename_all = "snake_case")]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub enum Curve {
    /// Window in min, largest and smallest error in %.
    Trumpet {
        points: Vec<[f64; 3]>,
        mean_error: f64,
    },
    /// Time in min, flow in mL/h.
    StartUp { points: Vec<[f64; 2]>, rate: f64 },
}

/// A time at which a log passes a level.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Passed {
    /// The step that looked for it.
    pub step: String,
    pub at_s: f64,
}

/// An attempt.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Attempt {
    pub entry: serde_json::Value,
    pub value: serde_json::Value,
    pub at: Option<String>,
    /// Nothing where there is no criterion.
    pub verdict: Option<String>,
    /// For each entry the instrument's line that it was read from; empty where all were typed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heard: Vec<Option<Heard>>,
    /// For each entry whether the computer's own clock took the time; empty where it took none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub timed: Vec<bool>,
}

/// The line of an instrument that an entry was read from.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Heard {
    pub instrument: String,
    pub line: String,
}

/// A criterion, judged.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(
    missing_docs,
    reason = "the fields are named after what they hold; the contract lists them"
)]
pub struct Criterion {
    pub that: String,
    pub shown: String,
    pub limits: Vec<Limit>,
    pub basis: Option<String>,
    pub severity: String,
    pub verdict: String,
    /// Whether it rests on an inexact number that lies within its numerical error of what it is compared with.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub within_numerical_error: bool,
}

/// The ends of what is allowed.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Limit {
    /// What is held against it, as the author wrote it.
    pub of: String,
    /// The value of that, where it is known.
    pub value: Option<Quantity>,
    pub low: Option<Quantity>,
    pub high: Option<Quantity>,
    /// Whether the ends themselves are outside.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub strict: bool,
    /// The uncertainty of the value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Uncertainty>,
    /// The uncertainty of the distance to the nearer end, where it is another than that of the value, or was drawn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distance: Option<Distance>,
    /// The probability that the true value is inside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conformance: Option<String>,
}

/// The uncertainty of a distance to a limit: errors that value and limit share cancel in it, those of the limit add.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Distance {
    pub standard: String,
    pub k: String,
    pub expanded: String,
    pub unit: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub freedom: Option<String>,
    /// What drawing errors gave, where the decision rests on that. Above zero the value is inside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drawn: Option<DrawnErrors>,
}

/// An uncertainty of measurement. Numbers are decimal text.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Uncertainty {
    /// Combined standard uncertainty.
    pub standard: String,
    /// Coverage factor, for a probability of 95.45 %.
    pub k: String,
    /// Expanded uncertainty.
    pub expanded: String,
    /// Unit of these, and of the contributions.
    pub unit: String,
    /// Effective degrees of freedom, truncated; nothing where they are infinite.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub freedom: Option<String>,
    /// Rounded for reading.
    pub shown: String,
    pub budget: Vec<BudgetLine>,
    /// What drawing errors at random gave, where first order may not be enough.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drawn: Option<DrawnErrors>,
}

/// A line of a budget.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct BudgetLine {
    pub source: String,
    /// Standard uncertainty of the source.
    pub standard: Option<String>,
    /// Unit of that.
    pub unit: Option<String>,
    /// Unit of the value per unit of the source.
    pub sensitivity: Option<String>,
    pub contribution: String,
    /// Of the variance, as a ratio.
    pub share: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub freedom: Option<String>,
}

/// Errors drawn at random (JCGM 101:2008).
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct DrawnErrors {
    pub trials: u64,
    pub seed: u64,
    pub standard: String,
    /// Ends of the interval that covers 95.45 %, in `unit`.
    pub low: String,
    pub high: String,
    pub unit: String,
    /// Whether value ± U agrees with it.
    pub agrees: bool,
}

/// A quantity in data.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(
    missing_docs,
    reason = "the fields are named after what they hold; the contract lists them"
)]
pub struct Quantity {
    pub value: String,
    pub unit: String,
    pub ucum: String,
    pub exact: bool,
}

/// A note.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Note {
    pub text: String,
    pub at: String,
}

/// A correction: what stood there before, and why it was changed.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Correction {
    pub reading: usize,
    pub before: String,
    pub before_at: String,
    /// The instrument's line that it was read from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before_heard: Option<Heard>,
    pub after: String,
    pub why: String,
    pub at: String,
}

/// An attached file.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Attachment {
    pub path: String,
    pub name: String,
    pub digest: String,
    pub bytes: u64,
    pub at: String,
}

/// The seal.
#[derive(Clone, Debug, Default, Serialize, Deserialize, PartialEq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Seal {
    /// `sha256:` of the canonical record without its seal.
    pub digest: String,
    pub signatures: Vec<Signature>,
}
