//! Which verdicts of a record would be others under another revision of its recipe.
//!
//! Never in here: carrying readings over, judging (see the engine). Changes when more is told of a record judged again.

use crate::engine::{Ended, Judged, Limit, Moved, Rejudged, State, Status, bench_under, rejudge};
use crate::plan::{Criterion, Decision, Plan};

use super::again::Again;

/// What a criterion without an expression says.
const ANSWERED: &str = "the answer is yes";
/// The word for a criterion that there was not, or is not any more.
const NONE: &str = "none";
/// The word for a criterion behind the step at which the session would have ended.
const NOT_REACHED: &str = "not reached";

/// The revision under which records are judged again.
#[derive(Clone, Copy, Debug)]
pub struct Under<'a> {
    /// Its procedure.
    pub plan: &'a Plan,
    /// For each of its items that of the record's own procedure.
    pub items: &'a [Option<usize>],
    /// For each criterion of each item those of the other one that it stands for.
    pub criteria: &'a [Vec<Vec<usize>>],
    /// The shop's decision rule, for a revision that states none where the record's own did.
    pub default: Decision,
}

/// A criterion whose verdict would be another one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RejudgedCriterion {
    /// The path of its step in the revision, or in the record where it is no more.
    pub path: String,
    /// What must hold, as written.
    pub that: String,
    /// The verdict as it was; `none` where it was no criterion.
    pub was: &'static str,
    /// The verdict that it would be; `none` where it is no criterion any more.
    pub now: &'static str,
    /// The expression with its values, or why it is not judged.
    pub shown: String,
    /// Each value that is held against a limit with what is allowed.
    pub limits: Vec<String>,
}

/// A reading that the revision asks for and the record does not have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing {
    /// The path of its step in the revision.
    pub path: String,
    /// Why it is not there.
    pub why: &'static str,
}

/// Readings of the record that count for nothing under the revision.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftReading {
    /// The path of their step in the record.
    pub path: String,
    /// How many they are.
    pub readings: usize,
    /// Why.
    pub why: &'static str,
}

/// A record judged again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RejudgedRecord {
    /// The verdict as it was.
    pub was: &'static str,
    /// The verdict that it would be.
    pub now: &'static str,
    /// The step that would have ended the session by its fail, where it went on.
    pub ends_at: Option<String>,
    /// The criteria whose verdicts would be others.
    pub criteria: Vec<RejudgedCriterion>,
    /// What the revision asks for and the record does not have.
    pub lacking: Vec<Missing>,
    /// Steps that would have been asked once more; their last attempts stand.
    pub again: Vec<String>,
    /// Readings that count for nothing any more.
    pub left: Vec<LeftReading>,
}

impl RejudgedCriterion {
    /// Whether all that happens is that the session would have ended before.
    #[must_use]
    pub fn is_only_unreached(&self) -> bool {
        self.now == NOT_REACHED
    }
}

impl RejudgedRecord {
    /// Whether everything is as it was.
    #[must_use]
    pub fn is_unchanged(&self) -> bool {
        self.was == self.now
            && self.criteria.is_empty()
            && self.lacking.is_empty()
            && self.again.is_empty()
            && self.left.is_empty()
    }
}

/// Judges a session again under another revision, by the revision's decision rule where it states one; else by that of the
/// session, or of the shop where the session's was that of its recipe.
#[must_use]
pub fn rejudged(
    session: &Again,
    under: &Under<'_>,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> RejudgedRecord {
    let own = match session.plan.decision {
        Some(_) => under.default,
        None => session.bench.decision,
    };
    let decision = under.plan.decision.unwrap_or(own);
    let moved = Moved {
        plan: &session.plan,
        bench: &session.bench,
        state: &session.state,
        partners: under.items,
    };
    let bench = bench_under(under.plan, &moved, decision, attached);
    let fresh = rejudge(under.plan, &bench, &moved);
    Compared {
        old: (&session.plan, &session.state),
        under,
        fresh: &fresh,
    }
    .told()
}

/// A record beside what it would be.
struct Compared<'a> {
    old: (&'a Plan, &'a State),
    under: &'a Under<'a>,
    fresh: &'a Rejudged,
}

impl Compared<'_> {
    fn told(&self) -> RejudgedRecord {
        let ((old, state), new) = (self.old, self.under.plan);
        let path = |at: usize| new.items[at].path.clone();
        let lacking = self.fresh.lacking.iter().map(|(at, lack)| Missing {
            path: path(*at),
            why: lack.words(),
        });
        let left = self
            .fresh
            .left
            .iter()
            .map(|(at, readings, why)| LeftReading {
                path: old.items[*at].path.clone(),
                readings: *readings,
                why: why.words(),
            });
        RejudgedRecord {
            was: state.verdict(old).word(),
            now: self.fresh.state.verdict(new).word(),
            ends_at: self.ends_at().map(path),
            criteria: self.criteria(),
            lacking: lacking.collect(),
            again: self.fresh.again.iter().map(|at| path(*at)).collect(),
            left: left.collect(),
        }
    }

    /// The item of the revision that would have ended the session by its fail, where it went on.
    fn ends_at(&self) -> Option<usize> {
        let Some(Ended::Failed(at)) = self.fresh.state.ended else {
            return None;
        };
        let old = self.old.1;
        let went_on = |before: usize| {
            old.items[before].status != Status::Pending && old.stopped_at != Some(before)
        };
        self.under.items[at].is_none_or(went_on).then_some(at)
    }

    fn criteria(&self) -> Vec<RejudgedCriterion> {
        let mut all = Vec::new();
        let mut told: Vec<Vec<bool>> = self
            .old
            .0
            .items
            .iter()
            .map(|i| vec![false; i.criteria.len()])
            .collect();
        for (at, item) in self.under.plan.items.iter().enumerate() {
            for n in 0..item.criteria.len() {
                let olds = &self.under.criteria[at][n];
                if let Some(before) = self.under.items[at] {
                    olds.iter().for_each(|old| told[before][*old] = true);
                }
                all.extend(self.criterion(at, n, olds));
            }
        }
        for (at, told) in told.iter().enumerate() {
            let gone = told.iter().enumerate().filter(|(_, told)| !**told);
            all.extend(gone.filter_map(|(n, _)| self.gone(at, n)));
        }
        all
    }

    fn criterion(&self, at: usize, n: usize, olds: &[usize]) -> Option<RejudgedCriterion> {
        let (plan, state) = (self.under.plan, &self.fresh.state);
        let now = verdict(state, at, n);
        let before = self.under.items[at];
        // Of several that it stands for the one that weighs most.
        let was = before.and_then(|before| {
            let words = olds.iter().map(|old| verdict(self.old.1, before, *old));
            words.max_by_key(|word| weight(word))
        });
        // That a criterion is new and holds changes nothing for a record.
        if was.unwrap_or("pass") == now || (was.is_none() && !stands_against(now)) {
            return None;
        }
        let passed_over = matches!(state.ended, Some(Ended::Failed(last)) if last < at)
            && state.items[at].status == Status::Pending;
        let now = if passed_over && now != "not applicable" {
            NOT_REACHED
        } else {
            now
        };
        let judged = state.items[at].criteria().get(n);
        Some(RejudgedCriterion {
            path: plan.items[at].path.clone(),
            that: text(&plan.items[at].criteria[n]),
            was: was.unwrap_or(NONE),
            now,
            shown: judged.map(|j| j.shown.clone()).unwrap_or_default(),
            limits: judged.map(limits).unwrap_or_default(),
        })
    }

    /// A criterion that is no more, where it stood against a pass.
    fn gone(&self, at: usize, n: usize) -> Option<RejudgedCriterion> {
        let (plan, state) = self.old;
        let was = verdict(state, at, n);
        stands_against(was).then(|| RejudgedCriterion {
            path: plan.items[at].path.clone(),
            that: text(&plan.items[at].criteria[n]),
            was,
            now: NONE,
            shown: String::new(),
            limits: Vec::new(),
        })
    }
}

/// The verdict of a criterion of an item; of one without an attempt by where the item stands, as records have it.
fn verdict(state: &State, at: usize, n: usize) -> &'static str {
    let item = &state.items[at];
    match (item.criteria().get(n), &item.status) {
        (Some(judged), _) => judged.verdict.word(),
        (None, Status::NotApplicable(_)) => "not applicable",
        (None, _) => "not judged",
    }
}

fn weight(word: &str) -> u8 {
    match word {
        "fail" => 4,
        "conditional fail" => 3,
        "not judged" => 2,
        "conditional pass" => 1,
        _ => 0,
    }
}

fn stands_against(word: &str) -> bool {
    matches!(word, "fail" | "conditional fail" | "conditional pass")
}

fn text(criterion: &Criterion) -> String {
    let that = criterion.that.as_ref();
    that.map_or_else(|| ANSWERED.to_owned(), |b| b.expression.text.clone())
}

/// Each value that is held against a limit with what is allowed, in words.
fn limits(judged: &Judged) -> Vec<String> {
    let one = |limit: &Limit| {
        let value = limit.value.as_ref()?.shown();
        let [over, under] = if limit.strict {
            ["above", "below"]
        } else {
            ["at least", "at most"]
        };
        let allowed = match (&limit.low, &limit.high) {
            (Some(low), Some(high)) if !limit.strict => {
                format!("{} to {}", low.shown(), high.shown())
            }
            (Some(low), Some(high)) => format!("{over} {}, {under} {}", low.shown(), high.shown()),
            (Some(low), None) => format!("{over} {}", low.shown()),
            (None, Some(high)) => format!("{under} {}", high.shown()),
            (None, None) => return None,
        };
        Some(format!("{} {value}, allowed {allowed}", limit.of))
    };
    judged.limits.iter().filter_map(one).collect()
}
