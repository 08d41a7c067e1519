//! A logged series in a session: the trace, the file it came from, and the instrument that logged it.
//!
//! Never in here: figures (see `flow`). Changes when a series carries something new.

use std::sync::Arc;

use crate::maths::Linear;
use crate::trace::{Column, Trace};

use super::{Capability, Cause, Shape, Source, Sources, display_standard_si};

/// A logged series.
#[derive(Clone, Debug)]
pub struct Logged {
    /// The path of the step that it belongs to.
    pub step: String,
    /// The file's name.
    pub name: String,
    /// The file's digest.
    pub digest: String,
    /// What was read.
    pub trace: Arc<Trace>,
    /// The instrument that logged it, if one is named.
    pub by: Option<LoggedBy>,
}

/// The instrument of a logged series.
#[derive(Clone, Debug)]
pub struct LoggedBy {
    /// Its role.
    pub role: String,
    /// Its id.
    pub id: String,
    /// What it measures.
    pub capabilities: Vec<Capability>,
}

/// One is like another if it is of the same file, read for the same step.
impl PartialEq for Logged {
    fn eq(&self, other: &Self) -> bool {
        (&self.step, &self.digest) == (&other.step, &other.digest)
    }
}

impl Logged {
    /// A reading of a column with the errors of the instrument that act on it: its calibration, and its display.
    #[must_use]
    pub fn reading(&self, column: &Column, row: usize, sources: &mut Sources) -> Linear {
        let value = column.values[row];
        let mut number = Linear {
            value,
            parts: Vec::new(),
        };
        let dimension = column.unit.kind().dimension;
        let capability = self.by.as_ref().and_then(|by| {
            let same = by.capabilities.iter().find(|c| c.dimension == dimension);
            same.map(|capability| (by, capability))
        });
        let Some((by, capability)) = capability else {
            return number;
        };
        let source = |label: String, standard_si: f64, shape: Shape| Source {
            label,
            standard_si,
            unit: column.unit.of_difference(),
            freedom: f64::INFINITY,
            shape,
        };
        if let Some(accuracy) = &capability.accuracy {
            let kind = dimension.name();
            let label = format!("{}: accuracy of {kind} ({})", by.id, accuracy.text());
            let error = accuracy.at(value, &column.unit);
            let source = source(label, error.standard_si(), accuracy.shape());
            number = sources.calibrate(number, (&by.id, &kind), error, &source);
        }
        if let Some(step) = &capability.resolution {
            let standard = display_standard_si(step);
            let label = format!("{}: display in steps of {step}, in the log", by.id);
            let cause = Cause::Logged(self.step.clone(), column.number, row);
            let source = sources.number(cause, source(label, standard, Shape::Rectangular), None);
            number = number.with(source, standard);
        }
        number
    }

    /// In words: rows, times, and the span of each column.
    #[must_use]
    pub fn summary(&self) -> String {
        let times = &self.trace.times;
        let (first, last) = (
            times.first().copied().unwrap_or_default(),
            times.last().copied().unwrap_or_default(),
        );
        let mut text = format!("{}: {} rows, {first} s to {last} s", self.name, times.len());
        for column in &self.trace.columns {
            let ends = |pick: fn(f64, f64) -> f64, from: f64| {
                let si = column.values.iter().copied().fold(from, pick);
                let shown = (si - column.unit.offset().to_f64()) / column.unit.factor().to_f64();
                crate::quantity::Exact::from_f64(shown)
                    .unwrap_or_default()
                    .to_significant(6)
            };
            text.push_str(&format!(
                "; {} {} to {} {}",
                column.name,
                ends(f64::min, f64::INFINITY),
                ends(f64::max, f64::NEG_INFINITY),
                column.unit
            ));
        }
        text
    }
}
