//! Decision rules: a value near its limit, with its uncertainty (ILAC-G8:09/2019; JCGM 106:2012).
//!
//! Never in here: reading limits off an expression (see `judge`). Changes when a decision rule is added.

use crate::maths::decision::{Verdict as Four, banded};
use crate::plan::{Decision, Uncertainty};
use crate::quantity::Exact;

use super::Verdict;

/// How far inside an end of what is allowed a value lies.
#[derive(Clone, Debug)]
pub(super) struct Margin {
    /// The distance to the end, in SI; below zero it is outside.
    pub inside: Exact,
    /// The uncertainty of that distance, if any source of error acts on it.
    pub uncertainty: Option<Uncertainty>,
    /// Whether the end itself is outside.
    pub strict: bool,
}

impl Margin {
    /// The guard band w = U.
    fn guard(&self) -> Exact {
        let guard = self.uncertainty.map_or(0.0, |u| u.expanded_si);
        Exact::from_f64(guard).unwrap_or_default()
    }

    /// Whether the value is inside, its uncertainty left aside.
    pub(super) fn holds(&self) -> bool {
        self.inside > Exact::zero() || (self.inside.is_zero() && !self.strict)
    }
}

/// The verdict of a criterion from the ends that it draws, pairs of low and high together; nothing where the zone of
/// acceptance is empty and the value does not lie outside for sure.
///
/// `guarded` passes what is inside by at least U (w = U); `banded` tells apart (ILAC-G8, 4.2.3, non-binary with a guard
/// band): inside by at least U, inside, outside by at most U, farther outside.
pub(super) fn decide(decision: Decision, pairs: &[Vec<Margin>]) -> Option<Verdict> {
    let mut worst = Verdict::Pass;
    for margins in pairs {
        let verdicts = margins.iter().map(band);
        let band = verdicts.max_by_key(|v| rank(*v)).unwrap_or(Verdict::Pass);
        if is_empty(margins) && band != Verdict::Fail {
            return None;
        }
        if rank(band) > rank(worst) {
            worst = band;
        }
    }
    Some(match (decision, worst) {
        (Decision::Banded, band) => band,
        (_, Verdict::Pass) => Verdict::Pass,
        _ => Verdict::Fail,
    })
}

fn band(margin: &Margin) -> Verdict {
    if margin.strict && margin.inside.is_zero() {
        // On an end that is outside itself: as near to it from the outside as can be.
        return match margin.uncertainty {
            Some(_) => Verdict::ConditionalFail,
            None => Verdict::Fail,
        };
    }
    match banded(&margin.inside, &margin.guard()) {
        Four::Pass => Verdict::Pass,
        Four::ConditionalPass => Verdict::ConditionalPass,
        Four::ConditionalFail => Verdict::ConditionalFail,
        Four::Fail => Verdict::Fail,
    }
}

fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::ConditionalPass => 1,
        Verdict::ConditionalFail => 2,
        Verdict::Fail => 3,
        _ => 0,
    }
}

/// Whether the guard bands of two ends leave nothing between them: 2w > T_U − T_L. Just touching leaves one value.
fn is_empty(margins: &[Margin]) -> bool {
    let [low, high] = margins else {
        return false;
    };
    low.guard() + high.guard() > low.inside.clone() + high.inside.clone()
}
