//! A session judged again as if an instrument had been off: what its verdicts would have been.
//!
//! Never in here: how large the error was, which verdicts changed (see the record room). Changes when an instrument can be
//! off in another way.

use std::sync::Arc;

use crate::plan::{Logged, Plan, Value};
use crate::quantity::{Dimension, Exact, Kind, Number, Quantity, Scale, Unit, parse_quantity};
use crate::trace::Trace;

use super::step::derive;
use super::{Bench, Ended, Note, State};

/// Most terms that an error is the sum of.
const MAX_TERMS: usize = 4;

/// By how much an instrument was off: a part of its readings, a fixed part for kinds of quantity, or both.
#[derive(Clone, Debug, PartialEq)]
pub struct Misreading {
    text: String,
    relative: Exact,
    fixed_si: Vec<(Dimension, Exact)>,
}

impl Misreading {
    /// Reads `2 %`, `0.1 mL` or `2 % + 0.1 mL`. A fixed part acts on readings of its kind alone. Of readings that are
    /// ratios themselves, as humidity in %, percent are a fixed part; of counts they are a part of the count.
    ///
    /// # Errors
    /// What is wrong, and how to write it.
    pub fn parse(text: &str) -> Result<Self, String> {
        let terms: Vec<&str> = text.split('+').map(str::trim).collect();
        if terms.len() > MAX_TERMS {
            return Err(format!("`{text}` has more than {MAX_TERMS} terms"));
        }
        let mut error = Self {
            text: text.trim().to_owned(),
            relative: Exact::zero(),
            fixed_si: Vec::new(),
        };
        for term in terms {
            error.add(term)?;
        }
        let nothing = error.fixed_si.iter().all(|(_, f)| f.is_zero());
        if error.relative.is_zero() && nothing {
            return Err(format!("`{text}` is no error"));
        }
        Ok(error)
    }

    fn add(&mut self, term: &str) -> Result<(), String> {
        let quantity = parse_quantity(term).map_err(|e| {
            format!("{e}; write a part of the reading, a fixed part, or both: `2 % + 0.1 mL`")
        })?;
        if quantity.unit().text() == "1" {
            return Err(format!(
                "`{term}` has no unit; say `{term} %` for a part of the reading, or `{term}` with the unit of a fixed part"
            ));
        }
        let (kind, si) = (quantity.kind(), quantity.si().to_exact());
        if si.is_negative() {
            return Err(format!(
                "`{term}` is below zero; the sign makes no difference, both directions are judged: leave it out"
            ));
        }
        if kind.scale == Scale::Point {
            return Err(format!(
                "`{term}` is a temperature, not a difference of two; write it in `delta_degC` or `K`"
            ));
        }
        if kind == Kind::RATIO {
            self.relative = self.relative.clone() + si;
        } else {
            self.fixed_si.push((kind.dimension, si));
        }
        Ok(())
    }

    /// As it was written.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The kinds of quantity that a fixed part is of.
    pub fn fixed_kinds(&self) -> impl Iterator<Item = Dimension> + '_ {
        self.fixed_si.iter().map(|(dimension, _)| *dimension)
    }

    /// The size of the error of a reading in SI, where it is shown in a unit; never below zero.
    #[must_use]
    pub fn size_si(&self, si: &Exact, unit: &Unit) -> Exact {
        let kind = unit.kind();
        let shown = (si.clone() - unit.offset().clone()).abs();
        let is_ratio = kind == Kind::RATIO && unit.text() != "1";
        let part = if is_ratio {
            self.relative.clone()
        } else {
            self.relative.clone() * shown
        };
        let fixed = self.fixed_si.iter().filter(|(d, _)| *d == kind.dimension);
        fixed.fold(part, |sum, (_, si)| sum + si.clone())
    }

    fn shifted(&self, value: &Value, share: &Exact) -> Value {
        match value {
            Value::Quantity(q) => Value::Quantity(self.quantity(q, share)),
            Value::List(items) => {
                Value::List(items.iter().map(|v| self.shifted(v, share)).collect())
            }
            Value::Trace(logged) => Value::Trace(Arc::new(Logged {
                trace: Arc::new(self.trace(&logged.trace, share)),
                ..Logged::clone(logged)
            })),
            other => other.clone(),
        }
    }

    fn quantity(&self, q: &Quantity, share: &Exact) -> Quantity {
        let error = self.size_si(&q.si().to_exact(), q.unit()) * share.clone();
        let si = q.si().add(&Number::from(error));
        si.map_or_else(|| q.clone(), |si| Quantity::from_si(si, q.unit().clone()))
    }

    /// A log whose readings are off, in doubles as they are kept.
    fn trace(&self, trace: &Trace, share: &Exact) -> Trace {
        let mut trace = trace.clone();
        for column in &mut trace.columns {
            let unit = column.unit.clone();
            let off = |si: f64| {
                let exact = Exact::from_f64(si)?;
                let error = self.size_si(&exact, &unit) * share.clone();
                Some((exact + error).to_f64())
            };
            for value in &mut column.values {
                *value = off(*value).unwrap_or(*value);
            }
        }
        trace
    }
}

/// A session judged again with other readings.
#[derive(Clone, Debug)]
pub struct Misread {
    /// The state that follows.
    pub state: State,
    /// Steps that would have been asked, or asked again, where nobody knows what would have been entered.
    pub assumed: Vec<usize>,
}

/// The items whose readings were taken with an instrument, in whatever roles.
pub fn read_with<'a>(
    plan: &'a Plan,
    bench: &'a Bench,
    instrument: &'a str,
) -> impl Iterator<Item = usize> + 'a {
    let with = move |role: &str| {
        bench
            .instruments
            .get(role)
            .is_some_and(|f| f.id == instrument)
    };
    let items = plan.items.iter().enumerate();
    items.filter_map(move |(n, item)| item.verb.role().is_some_and(with).then_some(n))
}

/// Judges a session again with all readings of an instrument off by `share` of an error (1: the whole error upwards, −1:
/// downwards), each time by the session's own plan and decision rule. The last attempt at a step is the one that counts, as
/// it was when it was entered; a step that would have been asked again, or for the first time, is passed over and named.
#[must_use]
pub fn misread(
    plan: &Plan,
    bench: &Bench,
    state: &State,
    instrument: &str,
    (error, share): (&Misreading, &Exact),
) -> Misread {
    let mut state = state.clone();
    for index in read_with(plan, bench, instrument) {
        let readings = state.items[index].readings.iter_mut();
        // What the computer's own clock took, no instrument was read for.
        for reading in readings.filter(|r| r.timer.is_none()) {
            reading.value = error.shifted(&reading.value, share);
        }
    }
    // A session that somebody stopped goes no farther than it went.
    let stopped = match &state.ended {
        Some(Ended::Stopped(_)) => Some((state.cursor, state.ended.clone())),
        _ => None,
    };
    let end = stopped
        .as_ref()
        .map_or(plan.items.len(), |(cursor, _)| *cursor);
    let mut assumed = Vec::new();
    derive(plan, bench, &mut state);
    while state.ended.is_none() && state.cursor < end {
        let item = state.cursor;
        if state.items[item].skipped.is_some() {
            break;
        }
        state.items[item].skipped = Some(Note {
            text: "not known what would have been entered".to_owned(),
            at: String::new(),
        });
        assumed.push(item);
        derive(plan, bench, &mut state);
    }
    if let Some((_, ended)) = stopped
        && !matches!(state.ended, Some(Ended::Failed(_)))
    {
        state.ended = ended;
    }
    Misread { state, assumed }
}
