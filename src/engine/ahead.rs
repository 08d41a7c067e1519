//! Limits that are known before a run: what steps will hold readings against.
//!
//! Never in here: instruments. Changes when more can be told ahead.

use crate::maths::decision::ON_EDGE;
use crate::plan::{Plan, Scope};
use crate::quantity::{Quantity, Unit};

use super::affine::{Affine, affine};
use super::limits::{Limit, drawn};
use super::values::Values;
use super::{Bench, State, begin};

/// The limits that the criteria of a step come to for one reading: its own or an earlier one, as it stands or in a linear
/// function, or a mean, a minimum or a maximum of its repeats.
#[derive(Clone, Debug)]
pub struct Ahead {
    /// The step of the reading, as an index of the plan's items.
    pub item: usize,
    /// The step of the criteria.
    pub step: usize,
    /// The first criterion that draws one of them.
    pub criterion: usize,
    /// The lowest reading.
    pub low: Option<Quantity>,
    /// The highest reading.
    pub high: Option<Quantity>,
    /// The size of what the reading's function may come to, in SI of the reading: what counts where there is one limit.
    alone_si: f64,
}

impl Ahead {
    /// How far the limits let a reading stray, in SI: half the width between them; with one limit, the size of what it
    /// allows: of `deviation(x, n) <= 5 %` 5 % of n, of `x <= 20 mL` 20 mL.
    #[must_use]
    pub fn leeway_si(&self) -> Option<f64> {
        let exact = |q: &Quantity| q.si().to_exact();
        let leeway = match (&self.low, &self.high) {
            // Exactly, since little may be left of two large limits.
            (Some(low), Some(high)) => (exact(high) - exact(low)).to_f64() / 2.0,
            (Some(_), None) | (None, Some(_)) => self.alone_si,
            (None, None) => return None,
        };
        (leeway > 0.0).then_some(leeway)
    }

    /// The limit that lies farthest from zero, where instruments err most.
    #[must_use]
    pub fn farthest(&self) -> Option<&Quantity> {
        let ends = [self.low.as_ref(), self.high.as_ref()];
        ends.into_iter()
            .flatten()
            .max_by(|a, b| size(a).total_cmp(&size(b)))
    }

    fn take(&mut self, limit: Limit, straight: &Affine, unit: &Unit) {
        let slope = straight.reading().map_or(1.0, |(_, s)| s.to_f64());
        let ends = [limit.low.as_ref(), limit.high.as_ref()];
        for end in ends.into_iter().flatten() {
            self.alone_si = self.alone_si.min(size(end) / slope.abs());
        }
        let reading = |end: Option<Quantity>| match end {
            Some(end) if !straight.is_bare() => {
                let si = straight.reading_at(&end.si().to_exact())?;
                Some(Quantity::from_si(si.into(), unit.clone()))
            }
            end => end,
        };
        let (mut low, mut high) = (reading(limit.low), reading(limit.high));
        if slope < 0.0 {
            std::mem::swap(&mut low, &mut high);
        }
        self.low = tighter(self.low.take(), low, true);
        self.high = tighter(self.high.take(), high, false);
    }
}

/// The size of what an instrument shows, in SI.
fn size(q: &Quantity) -> f64 {
    (q.si().to_f64() - q.unit().offset().to_f64()).abs()
}

/// Whether a ratio of doubles is at least the one that is wanted; exactly that is enough, whatever rounding makes of it.
#[must_use]
pub fn is_reached(ratio: f64, wanted: f64) -> bool {
    ratio >= wanted * (1.0 - ON_EDGE)
}

/// The limits that steps hold readings of instruments against, as far as they are known before a run.
#[must_use]
pub fn limits_ahead(plan: &Plan) -> Vec<Ahead> {
    let state = begin(plan, &Bench::default());
    let all = 0..plan.items.len();
    all.flat_map(|index| of_item(plan, &state, index)).collect()
}

fn of_item(plan: &Plan, state: &State, index: usize) -> Vec<Ahead> {
    let mut all: Vec<Ahead> = Vec::new();
    for (n, criterion) in plan.items[index].criteria.iter().enumerate() {
        let Some(bound) = &criterion.that else {
            continue;
        };
        let scope = Values {
            bound,
            plan,
            state,
            index,
            own: None,
        };
        let expression = &bound.expression;
        for found in drawn(&expression.root, &expression.names, &scope as &dyn Scope) {
            let Some(straight) = affine(found.node, bound, (plan, state), index) else {
                continue;
            };
            let Some((item, _)) = straight.reading() else {
                continue;
            };
            let Some(unit) = plan.items[item].verb.unit() else {
                continue;
            };
            let known = all.iter().position(|a| a.item == item);
            let at = known.unwrap_or(all.len());
            if known.is_none() {
                all.push(Ahead {
                    item,
                    step: index,
                    criterion: n,
                    low: None,
                    high: None,
                    alone_si: f64::INFINITY,
                });
            }
            all[at].take(found.limit, &straight, &unit);
        }
    }
    all
}

fn tighter(a: Option<Quantity>, b: Option<Quantity>, low: bool) -> Option<Quantity> {
    match (a, b) {
        (Some(a), Some(b)) => {
            let b_is_larger = b.compare(&a).is_ok_and(std::cmp::Ordering::is_gt);
            Some(if b_is_larger == low { b } else { a })
        }
        (a, b) => a.or(b),
    }
}
