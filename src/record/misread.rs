//! Which verdicts of a record could have been others, had an instrument been off.
//!
//! The record's session is run again, then judged with the instrument's readings shifted: by the whole error both ways, by
//! halves of it, and between all places where a value passes a limit or its guard band on the way, so that a window that
//! the shift passes through is not missed. Never in here: judging (see the engine). Changes when a verdict is added.

use crate::engine::{
    Bench, Judged, Limit, Misread, Misreading, RecordVerdict, State, Verdict, misread,
};
use crate::plan::Plan;
use crate::quantity::Exact;

use super::again::{Again, again};
use super::plans::Plans;
use super::wire::Record;

/// Shares of the error that are judged in any case, in halves.
const HALVES: [i64; 4] = [-2, -1, 1, 2];
/// Most places between, in each direction.
const MOST_BETWEEN: usize = 40;
/// Shares are told to a millionth of the error.
const MILLION: i64 = 1_000_000;

/// What became of a verdict.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It is the same.
    Unchanged,
    /// A pass would have been a fail.
    WouldHaveFailed,
    /// A fail would have been a pass.
    WouldHavePassed,
    /// The session would have ended before it.
    NotReached,
    /// Something else, in words.
    Otherwise(String),
}

impl Outcome {
    /// In words.
    #[must_use]
    pub fn words(&self) -> &str {
        match self {
            Self::Unchanged => "unchanged",
            Self::WouldHaveFailed => "would have failed",
            Self::WouldHavePassed => "would have passed",
            Self::NotReached => "would not have been reached",
            Self::Otherwise(words) => words,
        }
    }
}

/// What became of a verdict with readings that should have been higher, and lower.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubted {
    /// True values above the readings, up to the whole error.
    pub above: Outcome,
    /// True values below the readings, up to the whole error.
    pub below: Outcome,
}

impl Doubted {
    /// Whether all that happens is that the session would have ended before.
    #[must_use]
    pub fn is_only_unreached(&self) -> bool {
        let spared = |o: &Outcome| matches!(o, Outcome::Unchanged | Outcome::NotReached);
        self.is_changed() && spared(&self.above) && spared(&self.below)
    }

    /// Whether the verdict could have been another one.
    #[must_use]
    pub fn is_changed(&self) -> bool {
        self.above != Outcome::Unchanged || self.below != Outcome::Unchanged
    }
}

/// A criterion with what became of its verdict.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JudgedOff {
    /// The path of its step.
    pub path: String,
    /// What must hold, as written.
    pub that: String,
    /// The verdict as it was.
    pub verdict: &'static str,
    /// What became of it.
    pub doubted: Doubted,
}

/// A record whose instrument was off.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MisreadRecord {
    /// The verdict as it was.
    pub verdict: &'static str,
    /// What became of it.
    pub doubted: Doubted,
    /// The criteria whose verdicts could have been others.
    pub criteria: Vec<JudgedOff>,
    /// Steps that would have been asked, or asked again, above and below.
    pub asked: [Vec<String>; 2],
}

impl MisreadRecord {
    /// Whether any verdict could have been another one.
    #[must_use]
    pub fn is_changed(&self) -> bool {
        self.doubted.is_changed() || !self.criteria.is_empty()
    }
}

/// Judges a record again as if all readings of an instrument had been off by up to an error in the same direction.
///
/// # Errors
/// Why the record can't be judged again: it does not verify, or a log that it rests on is not at hand.
pub fn with_error(
    record: &Record,
    instrument: &str,
    error: &Misreading,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    plans: &Plans,
) -> Result<MisreadRecord, String> {
    let plan = plans.of(&record.recipe.source)?;
    let Again {
        plan, head, state, ..
    } = again(record, plan, attached)?;
    let bench = head.bench();
    let verdict = state.verdict(&plan);
    if verdict.word() != record.verdict {
        return Err("its entries don't give its verdict: see `stepwell verify`".to_owned());
    }
    let session = Session {
        plan: &plan,
        bench: &bench,
        state: &state,
        instrument,
        error,
    };
    let (above, below) = session.judged();
    Ok(session.told(verdict, &above, &below))
}

/// The session at its end, with the error that is supposed.
struct Session<'a> {
    plan: &'a Plan,
    bench: &'a Bench,
    state: &'a State,
    instrument: &'a str,
    error: &'a Misreading,
}

impl Session<'_> {
    fn at(&self, millionths: i64) -> Misread {
        let share = Exact::from(millionths)
            .checked_div(&Exact::from(MILLION))
            .unwrap_or_default();
        let how = (self.error, &share);
        misread(self.plan, self.bench, self.state, self.instrument, how)
    }

    /// The session judged at shares of the error, above and below.
    fn judged(&self) -> (Vec<Misread>, Vec<Misread>) {
        let mut at: Vec<(i64, Misread)> = HALVES
            .iter()
            .map(|h| (h * MILLION / 2, self.at(h * MILLION / 2)))
            .collect();
        let mut states: Vec<(i64, &State)> = at.iter().map(|(s, m)| (*s, &m.state)).collect();
        states.insert(HALVES.len() / 2, (0, self.state));
        for share in between(&states) {
            at.push((share, self.at(share)));
        }
        let (below, above): (Vec<_>, Vec<_>) = at.into_iter().partition(|(share, _)| *share < 0);
        let only = |side: Vec<(i64, Misread)>| side.into_iter().map(|(_, m)| m).collect();
        (only(above), only(below))
    }

    fn told(&self, verdict: RecordVerdict, above: &[Misread], below: &[Misread]) -> MisreadRecord {
        let of_record = |side: &[Misread]| {
            let all = side.iter().map(|m| self.record(verdict, m));
            worst(all)
        };
        let mut criteria = Vec::new();
        for (index, item) in self.plan.items.iter().enumerate() {
            for (n, was) in self.state.items[index].criteria().iter().enumerate() {
                let side = |side: &[Misread]| {
                    worst(side.iter().map(|m| self.criterion((index, n), was, m)))
                };
                let doubted = Doubted {
                    above: side(above),
                    below: side(below),
                };
                if doubted.is_changed() {
                    let that = item.criteria.get(n).and_then(|c| c.that.as_ref());
                    criteria.push(JudgedOff {
                        path: item.path.clone(),
                        that: that.map_or_else(String::new, |b| b.expression.text.clone()),
                        verdict: was.verdict.word(),
                        doubted,
                    });
                }
            }
        }
        MisreadRecord {
            verdict: verdict.word(),
            doubted: Doubted {
                above: of_record(above),
                below: of_record(below),
            },
            criteria,
            asked: [self.asked(above), self.asked(below)],
        }
    }

    fn record(&self, was: RecordVerdict, then: &Misread) -> Outcome {
        let is = then.state.verdict(self.plan);
        let holds = |v| matches!(v, RecordVerdict::Pass | RecordVerdict::PassWithRemarks);
        if is == was {
            return Outcome::Unchanged;
        }
        if is == RecordVerdict::Fail {
            return Outcome::WouldHaveFailed;
        }
        if was == RecordVerdict::Fail && holds(is) {
            return Outcome::WouldHavePassed;
        }
        let more = if then.assumed.is_empty() {
            ""
        } else {
            ", until what else would have been asked is known"
        };
        Outcome::Otherwise(format!("would have been: {}{more}", is.word()))
    }

    fn criterion(&self, (index, n): (usize, usize), was: &Judged, then: &Misread) -> Outcome {
        let Some(is) = then.state.items[index].criteria().get(n) else {
            return if then.state.cursor < index {
                Outcome::NotReached
            } else {
                Outcome::Otherwise("would not have been judged".to_owned())
            };
        };
        if is.verdict == was.verdict {
            return Outcome::Unchanged;
        }
        let holds = |v: Verdict| matches!(v, Verdict::Pass | Verdict::ConditionalPass);
        match (was.verdict, is.verdict) {
            (was, Verdict::Fail) if !was.is_fail() => Outcome::WouldHaveFailed,
            (was, Verdict::Pass) if !holds(was) => Outcome::WouldHavePassed,
            (_, is) => Outcome::Otherwise(format!("would have been: {}", is.word())),
        }
    }

    fn asked(&self, side: &[Misread]) -> Vec<String> {
        let mut items: Vec<usize> = side.iter().flat_map(|m| m.assumed.clone()).collect();
        items.sort_unstable();
        items.dedup();
        let path = |i: usize| self.plan.items[i].path.clone();
        items.into_iter().map(path).collect()
    }
}

/// The outcome that weighs most: a fail that passed for a pass, then a pass that passed for a fail, then anything else.
fn worst(outcomes: impl Iterator<Item = Outcome>) -> Outcome {
    let rank = |o: &Outcome| match o {
        Outcome::WouldHaveFailed => 0,
        Outcome::WouldHavePassed => 1,
        Outcome::Otherwise(_) => 2,
        Outcome::NotReached => 3,
        Outcome::Unchanged => 4,
    };
    outcomes.min_by_key(rank).unwrap_or(Outcome::Unchanged)
}

/// Shares in the middle between the places at which a value passes an end of what is allowed, or that end's guard band, as
/// far as straight lines between the shares that were judged tell them.
fn between(at: &[(i64, &State)]) -> Vec<i64> {
    let mut all = Vec::new();
    for pair in at.windows(2) {
        let [(from, before), (to, after)] = pair else {
            continue;
        };
        let mut passed = vec![*from as f64, *to as f64];
        for (a, b) in paired(before, after) {
            for (x, y) in distances(a).into_iter().zip(distances(b)) {
                if (x < 0.0) != (y < 0.0) && (x - y).is_normal() {
                    passed.push(*from as f64 + (to - from) as f64 * x / (x - y));
                }
            }
        }
        passed.sort_by(f64::total_cmp);
        let middle = passed
            .windows(2)
            .map(|p| ((p[0] + p[1]) / 2.0).round() as i64);
        let mut inside: Vec<i64> = middle.filter(|m| m > from && m < to).collect();
        inside.dedup();
        // Without a place that is passed there is nothing to be missed between.
        if passed.len() > 2 {
            all.extend(inside.into_iter().take(MOST_BETWEEN));
        }
    }
    all
}

/// The limits that two states of a session draw at the same places.
fn paired<'s>(a: &'s State, b: &'s State) -> impl Iterator<Item = (&'s Limit, &'s Limit)> {
    let items = a.items.iter().zip(&b.items);
    let criteria = items.flat_map(|(a, b)| a.criteria().iter().zip(b.criteria()));
    criteria.flat_map(|(a, b)| a.limits.iter().zip(&b.limits))
}

/// How far a value lies inside the ends of a limit and of their guard bands, in SI.
fn distances(limit: &Limit) -> Vec<f64> {
    let Some(value) = &limit.value else {
        return Vec::new();
    };
    let si = |q: &crate::quantity::Quantity| q.si().to_exact();
    let u = limit.distance.uncertainty.or(limit.uncertainty);
    let band = u.map_or(0.0, |u| u.expanded_si);
    let low = limit.low.as_ref().map(|l| (si(value) - si(l)).to_f64());
    let high = limit.high.as_ref().map(|h| (si(h) - si(value)).to_f64());
    let ends = low.into_iter().chain(high);
    ends.flat_map(|d| [d, d - band, d + band]).collect()
}
