//! A recipe whose names and kinds have been checked, still as a tree.
//!
//! Never in here: YAML, rows laid out. Changes when a step can carry something new.

use std::sync::Arc;

use indexmap::IndexMap;

use crate::plan::{CriterionSeverity, Expression, OnFail, Value};
use crate::quantity::{Quantity, Unit};
use crate::trace::Mapping;

use super::scope::{Id, Source};

/// An expression with where its names read from.
#[derive(Clone, Debug)]
pub struct Read {
    pub expression: Arc<Expression>,
    pub sources: Vec<Source>,
}

/// A sentence with where its names read from.
#[derive(Clone, Debug, Default)]
pub struct Sentence {
    pub template: String,
    pub names: Vec<(String, Source)>,
}

#[derive(Clone, Debug)]
pub struct Criterion {
    pub that: Option<Read>,
    pub basis: Option<String>,
    pub severity: CriterionSeverity,
}

#[derive(Clone, Debug)]
pub enum Leaf {
    Tell,
    Confirm,
    Choose(Vec<String>),
    Enter(Option<regex::Regex>),
    Count(Reading),
    Measure {
        unit: Unit,
        resolution: Option<Quantity>,
        reading: Reading,
    },
    Time(Reading),
    Compute {
        expression: Read,
        unit: Option<Unit>,
    },
    Judge,
    Trace {
        mapping: Mapping,
        with: Option<String>,
    },
}

/// What readings have in common.
#[derive(Clone, Debug, Default)]
pub struct Reading {
    pub with: Option<String>,
    pub repeat: u32,
    pub range: Option<(Quantity, Quantity)>,
}

#[derive(Clone, Debug)]
#[allow(clippy::large_enum_variant, reason = "most steps are leaves")]
pub enum Body {
    Leaf {
        verb: Leaf,
        criteria: Vec<Criterion>,
        on_fail: OnFail,
        optional: bool,
    },
    Group(Vec<Step>),
    Each {
        rows: Vec<IndexMap<String, Value>>,
        steps: Vec<Step>,
    },
}

#[derive(Clone, Debug)]
pub struct Step {
    pub name: Id,
    /// Where it stands: a JSON pointer.
    pub place: Arc<str>,
    pub id: String,
    pub title: Option<String>,
    pub sentence: Sentence,
    pub why: Option<String>,
    pub caution: Option<String>,
    pub help: Option<String>,
    pub picture: Option<String>,
    pub when: Option<Read>,
    pub after_stop: bool,
    pub body: Body,
}
