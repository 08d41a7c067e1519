//! Sources of error, and what they come to in a value: JCGM 100:2008 (GUM).
//!
//! Never in here: expressions (see `propagate`), limits. Changes when a source can carry something new.

use std::collections::{HashMap, HashSet};

use crate::maths::budget::{Component, combine};
use crate::maths::coverage::{USUAL_PROBABILITY, coverage_factor, truncated};
use crate::maths::{EffectiveFreedom, Linear, Scalar};
use crate::quantity::Unit;

use super::{ReadingError, Value};

/// What makes a source the same one each time it acts.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Cause {
    /// The calibration of this instrument, for a kind of quantity: one error for all its readings, in whatever roles.
    Instrument(String, String),
    /// What the calibration of this instrument adds for readings below zero (see [`super::Accuracy::at`]).
    BelowZero(String, String),
    /// The display at one reading of an item.
    Display(usize, usize),
    /// The display at one reading of a log: path of the step, column of the file, row.
    Logged(String, usize, usize),
    /// The scatter of the repeats: item, attempt, reading.
    Repeats(usize, usize, usize),
    /// An uncertainty that the recipe states: item, and which one in its expressions.
    Stated(usize, usize),
}

/// How errors are spread, for drawing them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Evenly between two bounds.
    Rectangular,
    /// Normally; with few degrees of freedom as Student's t.
    Normal,
}

/// A source of error.
#[derive(Clone, Debug)]
pub struct Source {
    /// What it is, for a reader.
    pub label: String,
    /// Its standard uncertainty in SI units, at the first reading that it acted on: what sensitivities refer to.
    pub standard_si: f64,
    /// The unit that it is shown in.
    pub unit: Unit,
    /// Degrees of freedom; infinite where the uncertainty is taken as known.
    pub freedom: f64,
    /// How it is spread.
    pub shape: Shape,
}

/// All sources of a session, in the order in which they first acted.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    list: Vec<(Source, u32)>,
    by_cause: HashMap<Cause, u32>,
    scatter: HashSet<u32>,
    varying: HashSet<u32>,
    displays: HashSet<u32>,
}

impl Sources {
    /// The number of a source; `series` is the source whose estimate it shares, if it does.
    pub fn number(&mut self, cause: Cause, source: Source, series: Option<u32>) -> u32 {
        let next = u32::try_from(self.list.len()).unwrap_or(u32::MAX);
        let scatters = matches!(cause, Cause::Repeats(..));
        let displays = matches!(cause, Cause::Display(..) | Cause::Logged(..));
        let number = *self.by_cause.entry(cause).or_insert(next);
        let series = series.unwrap_or(number);
        if scatters {
            self.scatter.insert(number);
        }
        if displays {
            self.displays.insert(number);
        }
        if number == next {
            self.list.push((source, series));
        } else if let Some(known) = self.list.get_mut(number as usize) {
            *known = (source, series);
        }
        number
    }

    /// The number of a source that acts on several readings, whose size it keeps from the first of them.
    pub fn common(&mut self, cause: Cause, source: Source) -> u32 {
        let Some(known) = self.known(&cause) else {
            return self.number(cause, source, None);
        };
        let first = self.source(known).map(|s| s.standard_si);
        if first != Some(source.standard_si) {
            self.varying.insert(known);
        }
        known
    }

    /// Whether a source acts with different sizes on different readings, so that none of them is its own.
    #[must_use]
    pub fn is_varying(&self, number: u32) -> bool {
        self.varying.contains(&number)
    }

    /// Whether any source does.
    #[must_use]
    pub fn has_varying(&self) -> bool {
        !self.varying.is_empty()
    }

    /// Whether a source is the display at one reading.
    #[must_use]
    pub fn is_display(&self, number: u32) -> bool {
        self.displays.contains(&number)
    }

    /// Adds what the calibration of an instrument does to a reading; `source` is it as far as it is the same for both of
    /// its errors.
    pub fn calibrate(
        &mut self,
        number: Linear,
        (id, kind): (&str, &str),
        error: ReadingError,
        source: &Source,
    ) -> Linear {
        let below = format!("{}, below zero", source.label);
        let (id, kind) = (id.to_owned(), kind.to_owned());
        let parts = [
            (
                Cause::Instrument(id.clone(), kind.clone()),
                error.shared_si,
                source.label.clone(),
            ),
            (Cause::BelowZero(id, kind), error.below_zero_si, below),
        ];
        let mut number = number;
        for (cause, signed_si, label) in parts {
            if signed_si == 0.0 {
                continue;
            }
            let standard_si = signed_si.abs();
            let source = Source {
                label,
                standard_si,
                ..source.clone()
            };
            number = number.with(self.common(cause, source), signed_si);
        }
        number
    }

    /// The number of a source that has acted already.
    #[must_use]
    pub fn known(&self, cause: &Cause) -> Option<u32> {
        self.by_cause.get(cause).copied()
    }

    /// The source of this number.
    #[must_use]
    pub fn source(&self, number: u32) -> Option<&Source> {
        self.list.get(number as usize).map(|(source, _)| source)
    }

    /// The source whose estimate the source of this number shares; itself where it has one of its own.
    #[must_use]
    pub fn series(&self, number: u32) -> u32 {
        self.list.get(number as usize).map_or(number, |(_, s)| *s)
    }

    /// Whether these numbers are the repeats of one series, all of them: each has a scatter of its own, from one estimate.
    #[must_use]
    pub fn are_repeats(&self, list: &[Linear]) -> bool {
        let mut series = None;
        let one = |number: &Linear| {
            let parts = number.parts.iter().map(|(source, _)| *source);
            let scatters: Vec<u32> = parts.filter(|s| self.scatter.contains(s)).collect();
            match scatters[..] {
                [source] => *series.get_or_insert(self.series(source)) == self.series(source),
                _ => false,
            }
        };
        let all = list.iter().all(one);
        let freedom = series.and_then(|s| self.source(s)).map(|s| s.freedom);
        all && freedom.is_some_and(|freedom| freedom + 1.0 == list.len() as f64)
    }

    /// For each number of a list the scatter that has shown itself there: where all repeats of its series are in the list,
    /// each with its own scatter alone.
    #[must_use]
    pub fn shown_scatter(&self, list: &[Linear]) -> Vec<Option<u32>> {
        let own = |number: &Linear| {
            let mut scatters = number.parts.iter().filter(|(s, _)| self.is_scatter(*s));
            match (scatters.next(), scatters.next()) {
                (Some((source, _)), None) => Some(*source),
                _ => None,
            }
        };
        let own: Vec<Option<u32>> = list.iter().map(own).collect();
        let mut series: HashMap<u32, HashSet<u32>> = HashMap::new();
        for source in own.iter().flatten() {
            let of = series.entry(self.series(*source)).or_default();
            of.insert(*source);
        }
        let whole = |source: &u32| {
            let count = series.get(&self.series(*source)).map_or(0, HashSet::len);
            let freedom = self.source(*source).map(|s| s.freedom);
            freedom.is_some_and(|freedom| freedom + 1.0 == count as f64)
        };
        own.into_iter().map(|o| o.filter(whole)).collect()
    }

    /// Whether a source is the scatter of repeats.
    #[must_use]
    pub fn is_scatter(&self, number: u32) -> bool {
        self.scatter.contains(&number)
    }

    /// The contributions to a value, those of one series taken together, in the order of the sources.
    #[must_use]
    pub fn contributions(&self, value: &Linear) -> Vec<Contribution> {
        let mut all: Vec<Contribution> = Vec::new();
        let mut at: HashMap<u32, usize> = HashMap::new();
        for (number, part) in &value.parts {
            let series = self.series(*number);
            if let Some(index) = at.get(&series) {
                let sum = &mut all[*index];
                sum.signed_si = sum.signed_si.hypot(*part);
                continue;
            }
            at.insert(series, all.len());
            all.push(Contribution {
                source: series,
                signed_si: *part,
            });
        }
        all
    }

    /// What the sources come to in a value. Nothing where none acts on it.
    #[must_use]
    pub fn uncertainty(&self, value: &Linear) -> Option<Uncertainty> {
        let standard_si = value.standard();
        if standard_si == 0.0 || !standard_si.is_finite() {
            return None;
        }
        let components: Vec<Component> = self
            .contributions(value)
            .iter()
            .map(|c| {
                let source = self.source(c.source);
                let freedom = source.map_or(f64::INFINITY, |s| s.freedom);
                Component::estimated(c.signed_si, 1.0, freedom)
            })
            .collect();
        let freedom = combine(&components, None).ok()?.degrees_of_freedom;
        let k = coverage_factor(USUAL_PROBABILITY, freedom).ok()?;
        Some(Uncertainty {
            standard_si,
            freedom: match freedom {
                EffectiveFreedom::Finite(freedom) => truncated(freedom),
                _ => f64::INFINITY,
            },
            k,
            expanded_si: k * standard_si,
        })
    }
}

/// What one series of sources contributes to a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Contribution {
    /// The first source of the series.
    pub source: u32,
    /// Sensitivity times standard uncertainty, in SI units of the value; several of one series added in squares.
    pub signed_si: f64,
}

/// An uncertainty of measurement, in SI units of the value that it belongs to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uncertainty {
    /// The combined standard uncertainty u_c.
    pub standard_si: f64,
    /// Effective degrees of freedom after Welch and Satterthwaite, truncated (JCGM 100:2008, G.4.1 and G.4.2).
    pub freedom: f64,
    /// The coverage factor, for a probability of 95.45 %; 2 where the degrees of freedom are infinite.
    pub k: f64,
    /// The expanded uncertainty U = k·u_c.
    pub expanded_si: f64,
}

/// A value with its sensitivities: beside every number how it depends on the sources of error.
#[derive(Clone, Debug, PartialEq)]
pub enum Spread<S = Linear> {
    /// A number in SI units.
    Number(S),
    /// Several.
    List(Vec<Self>),
    /// What has no uncertainty of its own: a truth, a text, an empty place.
    Other(Value),
}

impl<S: Scalar> Spread<S> {
    /// A value that is taken as known.
    #[must_use]
    pub fn known(value: &Value) -> Self {
        match value {
            Value::Quantity(q) => Self::Number(S::constant(q.si().to_f64())),
            Value::List(items) => Self::List(items.iter().map(Self::known).collect()),
            other => Self::Other(other.clone()),
        }
    }

    /// The number, if it is one.
    #[must_use]
    pub fn as_number(&self) -> Option<&S> {
        match self {
            Self::Number(number) => Some(number),
            _ => None,
        }
    }

    /// All numbers in it, lists taken apart.
    pub fn numbers(&self) -> Vec<&S> {
        match self {
            Self::Number(number) => vec![number],
            Self::List(items) => items.iter().flat_map(Self::numbers).collect(),
            Self::Other(_) => Vec::new(),
        }
    }
}
