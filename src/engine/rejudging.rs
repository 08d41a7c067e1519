//! A session judged again under another revision of its recipe: its entries at the steps that are the same there.
//!
//! What was entered is carried over as it was read then, corrections and skips with it: a bare number is of the unit that
//! was asked for, a choice is the word that was chosen. Then everything is derived by the other plan. A step that would ask
//! for something that is not there is passed over and named. Never in here: which steps are the same (see `diff`), which
//! verdicts changed (see the record room). Changes when more than readings can be carried over.

use std::collections::HashMap;
use std::sync::Arc;

use crate::plan::{Decision, Item, Logged, Plan, Then, Value, Verb};
use crate::trace;

use super::step::{advance, derive};
use super::{Bench, Ended, Fitted, ItemState, Note, Reading, State, Status, is_plausible};

/// A session at its end, and which of its items are those of the other plan.
#[derive(Clone, Copy, Debug)]
pub struct Moved<'a> {
    /// The plan that it was run by.
    pub plan: &'a Plan,
    /// Its bench.
    pub bench: &'a Bench,
    /// What it came to.
    pub state: &'a State,
    /// For each item of the other plan the item of the session's.
    pub partners: &'a [Option<usize>],
}

/// Why a reading that is asked for is not there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lack {
    /// The recipe had no such step.
    NoStep,
    /// The step did not apply, or could not be done.
    NotAsked,
    /// The session had ended before.
    NotReached,
    /// The step was passed over, as it might be then.
    Skipped,
    /// What was entered can't be entered any more.
    Refused,
    /// There are fewer repeats than are asked for.
    Fewer,
}

impl Lack {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NoStep => "there was no such step",
            Self::NotAsked => "the step did not apply then",
            Self::NotReached => "the session had ended before",
            Self::Skipped => "it was passed over, as it might be then",
            Self::Refused => "what was entered is not taken any more",
            Self::Fewer => "there are fewer repeats",
        }
    }
}

/// Why a reading counts for nothing any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leftover {
    /// The step is no more.
    NoStep,
    /// The step would not have applied.
    NotApplicable,
    /// What was entered can't be entered any more.
    Refused,
    /// There are more repeats than are asked for.
    Repeats,
    /// The step may not be tried as often any more.
    Attempts,
}

impl Leftover {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NoStep => "the step is no more",
            Self::NotApplicable => "the step would not have applied",
            Self::Refused => "it is not taken any more",
            Self::Repeats => "fewer repeats are asked for",
            Self::Attempts => "it may not be tried as often any more",
        }
    }
}

/// A session judged again.
#[derive(Clone, Debug)]
pub struct Rejudged {
    /// The state that follows.
    pub state: State,
    /// Items of the other plan whose readings are not there.
    pub lacking: Vec<(usize, Lack)>,
    /// Items of the other plan that would have been asked once more; the last attempt stands.
    pub again: Vec<usize>,
    /// Items of the session with the number of readings that count for nothing any more.
    pub left: Vec<(usize, usize, Leftover)>,
}

/// The bench of a session as another plan sees it: a role is filled by the instrument that the readings of its steps were
/// taken with, or else by that of the same name. Logs are read again where other columns are wanted.
#[must_use]
pub fn bench_under(
    plan: &Plan,
    session: &Moved<'_>,
    decision: Decision,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> Bench {
    Bench {
        decimal: session.bench.decimal,
        device: session.bench.device.clone(),
        decision,
        instruments: session.instruments(plan),
        logs: session.logs(plan, attached),
    }
}

/// Judges a session again by another plan at a bench of its own.
#[must_use]
pub fn rejudge(plan: &Plan, bench: &Bench, session: &Moved<'_>) -> Rejudged {
    let mut carrying = Carrying {
        plan,
        bench,
        session,
        refused: vec![false; plan.items.len()],
        left: Vec::new(),
    };
    let items = (0..plan.items.len()).map(|at| carrying.item(at)).collect();
    let mut state = State {
        items,
        device: bench.device.clone(),
        ..State::default()
    };
    derive(plan, bench, &mut state);
    let (mut lacking, mut again) = (Vec::new(), Vec::new());
    let farthest = carrying.farthest();
    while state.ended.is_none() && state.cursor < plan.items.len() {
        let at = state.cursor;
        if carrying.stopped_at(at, farthest) {
            state.ended.clone_from(&session.state.ended);
            break;
        }
        if matches!(plan.items[at].verb, Verb::Tell) {
            // Nothing is read there: that a sentence is new casts no doubt on what was.
            state.items[at].readings.push(acknowledged());
        } else {
            match carrying.lack(at) {
                Some(lack) => lacking.push((at, lack)),
                None => again.push(at),
            }
            state.items[at].skipped = Some(Note {
                text: "not known what would have been entered".to_owned(),
                at: String::new(),
            });
        }
        advance(plan, bench, &mut state);
    }
    let stopped = matches!(session.state.ended, Some(Ended::Stopped(_)));
    if stopped && state.ended == Some(Ended::Complete) {
        // It was not to stand as a check by any revision.
        state.ended.clone_from(&session.state.ended);
    }
    lacking.extend(carrying.skipped(&state));
    lacking.sort_by_key(|(at, _)| *at);
    let left = carrying.left(&state);
    Rejudged {
        state,
        lacking,
        again,
        left,
    }
}

fn acknowledged() -> Reading {
    Reading {
        text: String::new(),
        value: Value::Truth(true),
        at: String::new(),
        confirmed: false,
        timer: None,
        heard: None,
    }
}

impl Moved<'_> {
    fn instruments(&self, plan: &Plan) -> Arc<HashMap<String, Fitted>> {
        let mut was: HashMap<&str, &str> = HashMap::new();
        for (item, partner) in plan.items.iter().zip(self.partners) {
            let before = partner.and_then(|at| self.plan.items[at].verb.role());
            if let (Some(role), Some(before)) = (item.verb.role(), before) {
                was.entry(role).or_insert(before);
            }
        }
        let known = &self.bench.instruments;
        if was.iter().all(|(role, before)| role == before) {
            return Arc::clone(known);
        }
        let fitted = plan.roles.keys().filter_map(|role| {
            let before = was.get(role.as_str()).copied().unwrap_or(role);
            Some((role.clone(), known.get(before)?.clone()))
        });
        Arc::new(fitted.collect())
    }

    fn logs(
        &self,
        plan: &Plan,
        attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    ) -> HashMap<(String, String), Arc<trace::Trace>> {
        let mut logs = HashMap::new();
        for (item, partner) in plan.items.iter().zip(self.partners) {
            let (Verb::Trace { mapping, .. }, Some(at)) = (&item.verb, *partner) else {
                continue;
            };
            let before = &self.plan.items[at];
            let same = matches!(&before.verb, Verb::Trace { mapping: m, .. } if m == mapping);
            for file in &self.state.items[at].files {
                let known = (before.path.clone(), file.digest.clone());
                let log = if same {
                    self.bench.logs.get(&known).cloned()
                } else {
                    attached(&file.digest)
                        .and_then(|bytes| trace::read_packed(&bytes, mapping).ok())
                        .map(|packed| Arc::new(packed.unpacked()))
                };
                logs.extend(log.map(|log| ((item.path.clone(), file.digest.clone()), log)));
            }
        }
        logs
    }

    /// Whether a session got as far as one of its items.
    fn reached(&self, at: usize) -> bool {
        self.state.items[at].status != Status::Pending
    }
}

/// Readings on their way to another plan.
struct Carrying<'a> {
    plan: &'a Plan,
    bench: &'a Bench,
    session: &'a Moved<'a>,
    /// By item of the other plan: whether what was entered is not taken there.
    refused: Vec<bool>,
    left: Vec<(usize, usize, Leftover)>,
}

impl<'a> Carrying<'a> {
    /// What an item of the other plan gets.
    fn item(&mut self, at: usize) -> ItemState {
        let Some(before) = self.session.partners[at] else {
            return ItemState::default();
        };
        let was = &self.session.state.items[before];
        let kept = self.attempts(at, before);
        let readings: Option<Vec<Reading>> = kept.iter().map(|r| self.reading(at, r)).collect();
        self.refused[at] = readings.is_none();
        if readings.is_none() {
            self.left.push((before, kept.len(), Leftover::Refused));
        }
        ItemState {
            skipped: was.skipped.clone().filter(|_| readings.is_some()),
            readings: readings.unwrap_or_default(),
            files: was.files.clone(),
            ..ItemState::default()
        }
    }

    /// The readings of the attempts that count. The last attempt decides, as it did; those beyond what may be tried now are
    /// left where more was allowed before.
    fn attempts(&mut self, at: usize, before: usize) -> Vec<&'a Reading> {
        let session = self.session;
        let (old, new) = (&session.plan.items[before], &self.plan.items[at]);
        let readings = &session.state.items[before].readings;
        let (had, asked) = (old.verb.entries().max(1), new.verb.entries().max(1));
        let mut attempts: Vec<&[Reading]> = readings.chunks(had).collect();
        let most = allowed(new);
        if allowed(old) > most && attempts.len() > most {
            let over: usize = attempts[most..].iter().map(|a| a.len()).sum();
            self.left.push((before, over, Leftover::Attempts));
            attempts.truncate(most);
        }
        if had != asked {
            // Of another number of repeats the last whole attempt alone, which has to do.
            let whole = attempts.iter().rposition(|a| a.len() == had);
            let last = whole.or(attempts.len().checked_sub(1));
            attempts = last.map(|n| attempts[n]).into_iter().collect();
            for attempt in &mut attempts {
                if attempt.len() > asked {
                    let over = attempt.len() - asked;
                    self.left.push((before, over, Leftover::Repeats));
                    *attempt = &attempt[..asked];
                }
            }
        }
        attempts.into_iter().flatten().collect()
    }

    /// A reading as the other plan takes it.
    fn reading(&self, at: usize, reading: &Reading) -> Option<Reading> {
        let item = &self.plan.items[at];
        let value = match (&item.verb, &reading.value) {
            (Verb::Measure { unit, .. }, Value::Quantity(q)) => {
                Value::Quantity(q.convert(unit).ok()?)
            }
            (Verb::Choose(options), Value::Text(chosen)) => {
                let lower = chosen.to_lowercase();
                let same = options.iter().find(|o| o.to_lowercase() == lower);
                Value::Text(same?.clone())
            }
            (Verb::Enter(Some(pattern)), Value::Text(text)) if !pattern.is_match(text) => {
                return None;
            }
            (Verb::Trace { .. }, Value::Trace(logged)) => {
                let key = (item.path.clone(), logged.digest.clone());
                Value::Trace(Arc::new(Logged {
                    step: item.path.clone(),
                    trace: Arc::clone(self.bench.logs.get(&key)?),
                    by: self.bench.logger(item),
                    ..Logged::clone(logged)
                }))
            }
            (_, value) => value.clone(),
        };
        Some(Reading {
            confirmed: !is_plausible(item, &value),
            value,
            ..reading.clone()
        })
    }

    /// The last item of the other plan that the session had come to.
    fn farthest(&self) -> Option<usize> {
        let reached = |at: &Option<usize>| at.is_some_and(|at| self.session.reached(at));
        self.session.partners.iter().rposition(reached)
    }

    /// Whether a session that somebody stopped goes no farther than this item.
    fn stopped_at(&self, at: usize, farthest: Option<usize>) -> bool {
        let unreached = self.session.partners[at].is_some_and(|old| !self.session.reached(old));
        let stopped = matches!(self.session.state.ended, Some(Ended::Stopped(_)));
        stopped && unreached && farthest.is_none_or(|last| last < at)
    }

    /// Why an item's reading is not there; nothing where it is, and would have been asked for once more.
    fn lack(&self, at: usize) -> Option<Lack> {
        let Some(before) = self.session.partners[at] else {
            return Some(Lack::NoStep);
        };
        if self.refused[at] {
            return Some(Lack::Refused);
        }
        let was = &self.session.state.items[before];
        let asked = self.plan.items[at].verb.entries();
        let given = was.readings.len();
        match &was.status {
            Status::NotApplicable(_) | Status::Undone(_) if given == 0 => Some(Lack::NotAsked),
            Status::Pending if given == 0 => Some(Lack::NotReached),
            _ if asked > self.session.plan.items[before].verb.entries() => Some(Lack::Fewer),
            Status::Pending => Some(Lack::NotReached),
            _ => None,
        }
    }

    /// Steps that were passed over as optional ones, and are not optional any more.
    fn skipped(&self, state: &State) -> Vec<(usize, Lack)> {
        let Moved {
            plan, state: was, ..
        } = self.session;
        let carried = |at: &usize| {
            self.session.partners[*at]
                .is_some_and(|old| plan.items[old].optional && was.items[old].skipped.is_some())
        };
        (0..state.items.len())
            .filter(|at| matches!(state.items[*at].status, Status::Skipped(_)))
            .filter(|at| !self.plan.items[*at].optional && carried(at))
            .map(|at| (at, Lack::Skipped))
            .collect()
    }

    /// What counts for nothing any more, in the order of the session's steps.
    fn left(mut self, state: &State) -> Vec<(usize, usize, Leftover)> {
        let mut taken = vec![None; self.session.plan.items.len()];
        for (at, partner) in self.session.partners.iter().enumerate() {
            if let Some(before) = partner {
                taken[*before] = Some(at);
            }
        }
        for (before, was) in self.session.state.items.iter().enumerate() {
            let is_read = !matches!(self.session.plan.items[before].verb, Verb::Tell);
            if was.readings.is_empty() || !is_read || !self.session.reached(before) {
                continue;
            }
            let is_applicable = |s: &Status| !matches!(s, Status::NotApplicable(_));
            let why = match taken[before].map(|at| &state.items[at]) {
                None => Leftover::NoStep,
                Some(now) if now.readings.is_empty() || is_applicable(&now.status) => continue,
                Some(_) if is_applicable(&was.status) => Leftover::NotApplicable,
                Some(_) => continue,
            };
            self.left.push((before, was.readings.len(), why));
        }
        self.left.sort_by_key(|(before, ..)| *before);
        self.left
    }
}

/// How often a step may be tried.
fn allowed(item: &Item) -> usize {
    match item.on_fail.then {
        Then::AskAgain => usize::MAX,
        _ => (item.on_fail.retries as usize).saturating_add(1),
    }
}
