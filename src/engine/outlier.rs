//! A hint at a reading that stands apart from the other repeats. Nothing is ever left out by it.
//!
//! Never in here: the test itself (see `maths::outlier`). Changes when repeats are looked at otherwise.

use crate::maths::outlier::{Side, grubbs};
use crate::plan::{Item, Value};
use crate::quantity::Exact;

use super::Bench;

/// Fewest repeats that are looked at: of three, two that happen to be alike make the third an outlier.
const FEWEST: usize = 4;
/// Significance of the test, both sides.
const ALPHA: f64 = 0.05;
/// Readings nearer than so many steps of the display are the same to the eye.
const STEPS: i64 = 3;

/// A reading that stands apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Apart {
    /// Which of the repeats, from 1.
    pub reading: usize,
    /// Grubbs' statistic (NIST/SEMATECH e-Handbook 1.3.5.17.1, from memory).
    pub statistic: f64,
    /// What it was compared with.
    pub critical: f64,
}

impl Apart {
    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        format!(
            "reading {} stands apart from the others (Grubbs: {:.2}, above {:.2}); a hint to look again, not a reason to leave it out",
            self.reading, self.statistic, self.critical
        )
    }
}

/// The repeat that stands apart from the others of an attempt, if one does.
#[must_use]
pub fn stands_apart(item: &Item, value: &Value, bench: &Bench) -> Option<Apart> {
    let Value::List(repeats) = value else {
        return None;
    };
    let readings: Vec<Exact> = repeats
        .iter()
        .filter_map(|r| Some(r.as_quantity()?.si().to_exact()))
        .collect();
    if readings.len() < FEWEST || readings.len() != repeats.len() {
        return None;
    }
    let hint = grubbs(&readings, Side::Both, ALPHA).ok()?;
    let nearest = readings
        .iter()
        .enumerate()
        .filter(|(n, _)| *n != hint.index)
        .map(|(_, r)| (r.clone() - readings[hint.index].clone()).abs())
        .min()?;
    let seen = nearest > step(item, &readings, bench) * Exact::from(STEPS);
    (hint.stands_out && seen).then_some(Apart {
        reading: hint.index + 1,
        statistic: hint.statistic,
        critical: hint.critical,
    })
}

/// The step of the display in SI; where it is not known, the smallest difference that the readings have.
fn step(item: &Item, readings: &[Exact], bench: &Bench) -> Exact {
    let known = bench
        .capabilities(item)
        .into_iter()
        .find_map(|c| c.resolution.as_ref());
    if let Some(step) = known {
        return step.value().to_exact() * step.unit().factor().clone();
    }
    let mut sorted = readings.to_vec();
    sorted.sort();
    let gaps = sorted.windows(2).map(|w| w[1].clone() - w[0].clone());
    gaps.filter(|g| !g.is_zero()).min().unwrap_or_default()
}
