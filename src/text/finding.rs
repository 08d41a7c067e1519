//! A finding: what is wrong, where, why, and how to mend it.
//!
//! Never in here: how findings are printed. Changes when a finding says more.

use super::{Code, Source, Span};

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The recipe can't be run.
    Error,
    /// It can, but something is likely to be meant otherwise.
    Warning,
    /// Something that an author may want to know.
    Hint,
}

impl Severity {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
            Self::Hint => "hint",
        }
    }
}

/// One finding.
#[derive(Clone, Debug)]
pub struct Finding {
    /// Its code, by which `explain` tells more.
    pub code: Code,
    /// What is wrong.
    pub message: String,
    /// How to mend it.
    pub help: String,
    /// The text that it is in.
    pub source: Source,
    /// Where in the text.
    pub span: Span,
    /// JSON pointer to the value concerned.
    pub path: String,
    /// How it was come to from the file that was read, where it stands in a base or fragment: outermost first.
    pub chain: Vec<String>,
}

impl Finding {
    /// The severity that goes with the code.
    #[must_use]
    pub fn severity(&self) -> Severity {
        self.code.severity()
    }
}
