//! Which verdicts of a record could have been others, had an instrument been off.
//!
//! The record's session is run again, then judged with the instrument's readings shifted: by the whole error both ways, by
//! quarters of it, and between all places where a value passes a limit or its guard band on the way, so that a window that
//! the shift passes through is not missed. These places are exact where a value depends on the error by straight lines with
//! at most one bend in a quarter, as sums, ratios to a known number, `abs`, `min` and `max` do. Never in here: judging (see the engine). Changes when a verdict is added.

use crate::engine::{
    Bench, Judged, Limit, Misread, Misreading, RecordVerdict, State, Status, Verdict, misread,
};
use crate::plan::Plan;
use crate::quantity::Exact;

use super::again::{Again, again};
use super::known::Known;
use super::wire::Record;

/// Quarters of the error by which the readings are shifted in any case; the outermost only tell how values run.
const QUARTERS: std::ops::RangeInclusive<i64> = -5..=5;
/// A quarter in millionths of the error.
const QUARTER: i64 = MILLION / 4;
/// Most shares that are judged between two quarters.
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
    known: &Known,
) -> Result<MisreadRecord, String> {
    let plan = known.plan(&record.recipe.source)?;
    let Again {
        plan, bench, state, ..
    } = again(record, plan, known, attached)?;
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
        let quarters = QUARTERS.filter(|q| *q != 0);
        let mut at: Vec<(i64, Misread)> = quarters
            .map(|q| (q * QUARTER, self.at(q * QUARTER)))
            .collect();
        let mut states: Vec<&State> = at.iter().map(|(_, m)| &m.state).collect();
        states.insert(states.len() / 2, self.state);
        let between = between(&states);
        at.retain(|(share, _)| share.abs() <= MILLION);
        for share in between {
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
            return if then.state.items[index].status == Status::Pending {
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
/// the states at quarters of the error tell them.
fn between(at: &[&State]) -> Vec<i64> {
    let mut all = Vec::new();
    for (n, four) in at.windows(4).enumerate() {
        let from = (QUARTERS.start() + 1 + n as i64) * QUARTER;
        let mut passed = places(four);
        // Where nothing is passed there is nothing to be missed between.
        if passed.is_empty() {
            continue;
        }
        passed.extend([0.0, 1.0]);
        passed.sort_by(f64::total_cmp);
        let middle = passed.windows(2).map(|p| (p[0] + p[1]) / 2.0);
        let mut shares: Vec<i64> = middle
            .map(|t| from + (t * QUARTER as f64).round() as i64)
            .filter(|share| *share != 0)
            .collect();
        shares.dedup();
        shares.truncate(MOST_BETWEEN);
        all.extend(shares);
    }
    all
}

/// The places, from 0 to 1, between the middle two of four states at which a value passes an end or its guard band.
fn places(four: &[&State]) -> Vec<f64> {
    let [a, b, c, d] = four else {
        return Vec::new();
    };
    let mut all = Vec::new();
    for (item, went) in b.items.iter().enumerate() {
        for (criterion, judged) in went.criteria().iter().enumerate() {
            for n in 0..judged.limits.len() {
                let at = |state| ends(state, (item, criterion, n));
                all.extend(passed([at(a), at(b), at(c), at(d)]));
            }
        }
    }
    all
}

/// The places at which one of a limit's distances passes zero between the second and the third state; the others tell of a
/// bend, where the limit is drawn in them too.
fn passed([a, b, c, d]: [Vec<f64>; 4]) -> Vec<f64> {
    let mut all = Vec::new();
    for (n, (from, to)) in b.iter().zip(&c).enumerate() {
        let mut nodes = vec![(0.0, *from)];
        if let (Some(before), Some(after)) = (a.get(n), d.get(n)) {
            nodes.extend(bend([*before, *from, *to, *after]));
        }
        nodes.push((1.0, *to));
        all.extend(nodes.windows(2).filter_map(|p| passes(p[0], p[1])));
    }
    all
}

/// Where a line that is straight before the second and after the third of four values bends between them, and its value
/// there.
fn bend([a, b, c, d]: [f64; 4]) -> Option<(f64, f64)> {
    let (before, after) = (b - a, d - c);
    let at = (c - after - b) / (before - after);
    (at > 0.0 && at < 1.0).then_some((at, b + before * at))
}

/// Where a straight line between two places passes zero.
fn passes((from, x): (f64, f64), (to, y): (f64, f64)) -> Option<f64> {
    let differs = (x < 0.0) != (y < 0.0);
    differs.then(|| from + (to - from) * x / (x - y))
}

/// The distances of a limit in a state; none where it is not drawn there.
fn ends(state: &State, (item, criterion, n): (usize, usize, usize)) -> Vec<f64> {
    let judged = state.items[item].criteria().get(criterion);
    let limit = judged.and_then(|j| j.limits.get(n));
    limit.map(distances).unwrap_or_default()
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
