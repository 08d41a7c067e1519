//! What a session knows of its bench: the decimal sign, the decision rule, the device, and the instruments in their roles.
//!
//! Never in here: entries. Changes when a bench has something new to say.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::Arc;

use crate::maths::Linear;
use crate::plan::{
    Capability, Cause, Decision, Device, Item, LoggedBy, Shape, Source, Sources, Spread, Value,
    Verb, display_standard_si, standard_deviation,
};
use crate::quantity::{DecimalSign, Quantity, Unit};
use crate::trace::Trace;

use super::Reading;

/// What a session knows of its bench.
#[derive(Clone, Debug)]
pub struct Bench {
    /// The decimal sign that is typed.
    pub decimal: DecimalSign,
    /// How values near a limit are decided upon.
    pub decision: Decision,
    /// The device, as the register had it.
    pub device: Device,
    /// For every role, the instrument that fills it.
    pub instruments: Arc<HashMap<String, Fitted>>,
    /// What was read of loggers' files, by the path of the step and the digest of the file.
    pub logs: HashMap<(String, String), Arc<Trace>>,
}

/// An instrument that fills a role.
#[derive(Clone, Debug, Default)]
pub struct Fitted {
    /// Its id.
    pub id: String,
    /// What it measures.
    pub capabilities: Vec<Capability>,
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            decimal: DecimalSign::default(),
            decision: Decision::Simple,
            device: Device::default(),
            instruments: Arc::default(),
            logs: HashMap::new(),
        }
    }
}

impl Bench {
    /// What the instrument of an item says of the kind of quantity that is read there.
    #[must_use]
    pub fn capabilities<'a>(&'a self, item: &'a Item) -> Vec<&'a Capability> {
        let (Some((fitted, _)), Some(unit)) = (self.fitted(item), item.verb.unit()) else {
            return Vec::new();
        };
        let same = |c: &&Capability| c.dimension == unit.kind().dimension;
        fitted.capabilities.iter().filter(same).collect()
    }

    /// The ranges in which the instrument of an item can show a reading in a unit.
    pub(super) fn ranges(&self, item: &Item, unit: &Unit) -> Vec<(Quantity, Quantity)> {
        let fitted = self.fitted(item).into_iter();
        fitted
            .flat_map(|(fitted, _)| &fitted.capabilities)
            .filter(|c| c.dimension == unit.kind().dimension)
            .filter_map(|c| c.range.clone())
            .collect()
    }

    /// The instrument that logs for an item.
    pub(super) fn logger(&self, item: &Item) -> Option<LoggedBy> {
        let (fitted, role) = self.fitted(item)?;
        Some(LoggedBy {
            role: role.to_owned(),
            id: fitted.id.clone(),
            capabilities: fitted.capabilities.clone(),
        })
    }

    fn fitted<'a>(&'a self, item: &'a Item) -> Option<(&'a Fitted, &'a str)> {
        let role = item.verb.role()?;
        self.instruments.get(role).map(|fitted| (fitted, role))
    }

    /// The readings of one attempt with the errors that act on them; `first` counts the item's earlier readings. Where the
    /// computer's own clock took a time, no instrument's error is known to act.
    pub(super) fn spread(
        &self,
        (index, item): (usize, &Item),
        (attempt, first): (usize, usize),
        (values, chunk): (&[Value], &[Reading]),
        sources: &RefCell<Sources>,
    ) -> Spread {
        let by_computer = |n: usize| chunk.get(n).is_some_and(|r| r.timer.is_some());
        let mut readings: Vec<Spread> = values.iter().map(Spread::known).collect();
        for (n, (reading, value)) in readings.iter_mut().zip(values).enumerate() {
            if by_computer(n) {
                continue;
            }
            if let (Spread::Number(number), Value::Quantity(quantity)) = (reading, value) {
                let place = (index, first + n);
                self.add_instrument(item, place, quantity, number, &mut sources.borrow_mut());
            }
        }
        if matches!(item.verb, Verb::Measure { .. } | Verb::Time { .. }) && values.len() > 1 {
            add_scatter((index, item), attempt, values, &mut readings, sources);
        }
        match (item.verb.entries(), readings.len()) {
            (1, 1) => readings.swap_remove(0),
            _ => Spread::List(readings),
        }
    }

    /// The errors of the instrument: its calibration, one for all its readings of a kind, and its display.
    fn add_instrument(
        &self,
        item: &Item,
        (index, reading): (usize, usize),
        quantity: &Quantity,
        number: &mut Linear,
        sources: &mut Sources,
    ) {
        let capability = self.capabilities(item).first().copied();
        let (id, role) = self
            .fitted(item)
            .map(|(fitted, role)| (fitted.id.as_str(), role))
            .unwrap_or_default();
        let unit = quantity.unit().of_difference();
        let kind = quantity.kind().dimension.name();
        let source = |label: String, standard_si: f64, shape: Shape| Source {
            label,
            standard_si,
            unit: unit.clone(),
            freedom: f64::INFINITY,
            shape,
        };
        if let Some(accuracy) = capability.and_then(|c| c.accuracy.as_ref()) {
            let label = format!("{id}: accuracy of {kind} ({})", accuracy.text());
            let error = accuracy.at(quantity.si().to_f64(), quantity.unit());
            // By the instrument, not the role: it is one calibration in whatever roles.
            let of = if id.is_empty() { role } else { id };
            let source = source(label, error.standard_si(), accuracy.shape());
            *number = sources.calibrate(std::mem::take(number), (of, &kind), error, &source);
        }
        let own = match &item.verb {
            Verb::Measure { resolution, .. } => resolution.as_ref(),
            _ => None,
        };
        if let Some(step) = own.or(capability.and_then(|c| c.resolution.as_ref())) {
            let label = match id {
                "" => format!("display in steps of {step}"),
                id => format!("{id}: display in steps of {step}"),
            };
            let u = display_standard_si(step);
            let display = source(label, u, Shape::Rectangular);
            let display = sources.number(Cause::Display(index, reading), display, None);
            *number = std::mem::take(number).with(display, u);
        }
    }
}

/// The scatter of repeats: every reading has one of its own, with the standard deviation of them all and n − 1 degrees of
/// freedom, so that a mean has s/√n (JCGM 100:2008, 4.2.3).
fn add_scatter(
    (index, item): (usize, &Item),
    attempt: usize,
    values: &[Value],
    readings: &mut [Spread],
    sources: &RefCell<Sources>,
) {
    let quantities: Vec<Quantity> = values
        .iter()
        .filter_map(|v| v.as_quantity().cloned())
        .collect();
    let Ok(scatter) = standard_deviation(&quantities) else {
        return;
    };
    let (scatter_si, unit) = (scatter.si().to_f64(), scatter.unit());
    if scatter_si == 0.0 {
        return;
    }
    let mut series = None;
    for (n, reading) in readings.iter_mut().enumerate() {
        let Spread::Number(number) = reading else {
            continue;
        };
        let source = Source {
            label: format!(
                "scatter of {} readings at `{}`",
                quantities.len(),
                item.path
            ),
            standard_si: scatter_si,
            unit: unit.clone(),
            freedom: quantities.len() as f64 - 1.0,
            shape: Shape::Normal,
        };
        let cause = Cause::Repeats(index, attempt, n);
        let source = sources.borrow_mut().number(cause, source, series);
        series = series.or(Some(source));
        *number = std::mem::take(number).with(source, scatter_si);
    }
}
