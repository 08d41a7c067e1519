//! Decision rules: a value near its limit, with its uncertainty (ILAC-G8:09/2019; JCGM 106:2012).
//!
//! Never in here: reading limits off an expression (see `judge`). Changes when a decision rule is added.

use crate::maths::decision::{ON_EDGE, reaches};
use crate::plan::{Decision, Trials, Uncertainty};
use crate::quantity::Exact;

use super::Verdict;

/// Which end of what is allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Low,
    High,
}

/// How far inside an end of what is allowed a value lies.
#[derive(Clone, Debug)]
pub(super) struct Margin {
    /// What is held against the end, as written.
    pub of: String,
    /// The end.
    pub side: Side,
    /// The distance to the end, in SI; below zero it is outside.
    pub inside: Exact,
    /// What must lie between.
    pub guard: Guard,
    /// The size of the numbers whose difference the distance is.
    pub magnitude: f64,
    /// Whether the end itself is outside.
    pub strict: bool,
}

/// The guard bands on both sides of an end, in SI.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Guard {
    /// How far inside a value must lie to be inside for sure.
    inside: f64,
    /// How far outside, to be outside for sure.
    outside: f64,
    /// Whether any error acts on the distance.
    uncertain: bool,
}

impl Guard {
    /// w = U on both sides; nothing without an uncertainty.
    pub fn first_order(uncertainty: Option<&Uncertainty>) -> Self {
        let expanded = uncertainty.map_or(0.0, |u| u.expanded_si);
        Self {
            inside: expanded,
            outside: expanded,
            uncertain: uncertainty.is_some(),
        }
    }

    /// From the distances that were drawn: how far the interval that leaves 2.275 % of them on each side reaches below the
    /// distance itself, and above it. A value is inside by the guard where the lower end of that interval is not below zero.
    pub fn drawn(inside: &Exact, drawn: &Trials) -> Self {
        let at = inside.to_f64();
        Self {
            inside: at - drawn.low_si,
            outside: drawn.high_si - at,
            uncertain: true,
        }
    }
}

impl Margin {
    /// Whether the value is inside, its uncertainty left aside.
    pub(super) fn holds(&self) -> bool {
        self.inside > Exact::zero() || (self.inside.is_zero() && !self.strict)
    }

    /// The verdict of this end alone (ILAC-G8, 4.2.3, non-binary with a guard band).
    fn band(&self) -> Verdict {
        let by_guard = |distance: &Exact, guard| reaches(distance, guard, self.magnitude);
        if self.holds() {
            return match by_guard(&self.inside, self.guard.inside) {
                true => Verdict::Pass,
                false => Verdict::ConditionalPass,
            };
        }
        // On an end that is outside itself: as near to it from the outside as can be.
        let on_end = self.inside.is_zero() && self.guard.uncertain;
        let not_for_sure = by_guard(&self.inside, -self.guard.outside);
        match on_end || (self.guard.uncertain && not_for_sure) {
            true => Verdict::ConditionalFail,
            false => Verdict::Fail,
        }
    }

    /// Whether the guard bands of this end and the other leave nothing between them: 2w > T_U − T_L. Just touching leaves one
    /// value.
    fn leaves_nothing_to(&self, other: &Self) -> bool {
        let ends_of_one = self.of == other.of && self.side != other.side;
        let width = self.inside.clone() + other.inside.clone();
        let guards = self.guard.inside + other.guard.inside;
        ends_of_one && !reaches(&width, guards, self.magnitude.max(other.magnitude))
    }
}

/// Whether a distance in doubles counts as inside; on the end does, unless that is outside itself.
pub(super) fn is_inside(distance: f64, magnitude: f64, strict: bool) -> bool {
    let rounding = ON_EDGE * magnitude;
    if strict {
        distance > rounding
    } else {
        distance >= -rounding
    }
}

/// The verdict of a criterion from the ends that it draws, and those that the other criteria of its step draw; nothing where
/// the ends for one value leave no zone of acceptance and the value does not lie outside for sure.
///
/// `guarded` passes what is inside by at least U (w = U); `banded` tells apart (ILAC-G8, 4.2.3, non-binary with a guard
/// band): inside by at least U, inside, outside by at most U, farther outside.
pub(super) fn decide(decision: Decision, own: &[Margin], others: &[&Margin]) -> Option<Verdict> {
    let bands = own.iter().map(Margin::band);
    let worst = bands.max_by_key(|v| rank(*v)).unwrap_or(Verdict::Pass);
    let empties = |margin: &Margin| {
        let mut ends = own.iter().chain(others.iter().copied());
        ends.any(|end| margin.leaves_nothing_to(end) && end.band() != Verdict::Fail)
    };
    if worst != Verdict::Fail && own.iter().any(empties) {
        return None;
    }
    Some(match (decision, worst) {
        (Decision::Banded, band) => band,
        (_, Verdict::Pass) => Verdict::Pass,
        _ => Verdict::Fail,
    })
}

fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::ConditionalPass => 1,
        Verdict::ConditionalFail => 2,
        Verdict::Fail => 3,
        _ => 0,
    }
}
