//! One step of the fold: an event onto a state, and all that follows from it.
//!
//! What was put in is kept apart from what is derived, so that a correction only has to derive again.
//! Never in here: reading text (see `entry`), judging (see `judge`). Changes when a session can do something new.

use crate::plan::{
    Behind, CriterionSeverity, EvaluationError, Item, Plan, Section, Spread, Then, Value, Verb,
    behind, evaluate, propagate,
};

use super::judge::judge;
use super::values::Values;
use super::{
    Attempt, Bench, Correction, Ended, Event, File, Heard, Judged, Note, Reading, RecordVerdict,
    Refusal, State, Status, Verdict, is_plausible, read_entry,
};

/// Most attempts at a setup step.
const MAX_SETUP_ATTEMPTS: usize = 100;
/// Most notes and files at one step.
const MAX_NOTES: usize = 1_000;

/// The state before anything has happened, with what needs nobody already worked out.
#[must_use]
pub fn begin(plan: &Plan, bench: &Bench) -> State {
    let mut state = State {
        items: vec![Default::default(); plan.items.len()],
        device: bench.device.clone(),
        ..State::default()
    };
    advance(plan, bench, &mut state);
    state
}

/// Applies an event.
///
/// # Errors
/// An event that does not fit: the state is as it was.
pub fn apply(plan: &Plan, bench: &Bench, state: &mut State, event: &Event) -> Result<(), Refusal> {
    // Where who closed it can't seal it any more, somebody else goes on, and closes it again.
    let taken_over = matches!(event, Event::Resume { by: Some(_), .. });
    if state.closed.is_some() && !taken_over {
        return Err(Refusal("the session is closed".to_owned()));
    }
    match event {
        Event::Entry {
            path,
            text,
            confirmed,
            timer,
            heard,
            at,
        } => {
            let index = asked(plan, state, path)?;
            if let Some(heard) = heard {
                is_of(heard, &plan.items[index], bench)?;
            }
            let files = &state.items[index].files;
            let reading = read(plan, bench, (index, files), text, *confirmed, at)?;
            let item = &mut state.items[index];
            item.readings.push(Reading {
                timer: timer.clone(),
                heard: heard.clone(),
                ..reading
            });
            item.timer = None;
            advance(plan, bench, state);
        }
        Event::TimerStarted { path, at } => {
            let index = asked(plan, state, path)?;
            state.items[index].timer = Some(at.clone());
        }
        Event::Fix {
            path,
            reading,
            text,
            confirmed,
            why,
            at,
        } => {
            fix(
                plan,
                bench,
                state,
                (path, *reading),
                (text, *confirmed),
                (why, at),
            )?;
            derive(plan, bench, state);
        }
        Event::Skip { path, why, at } => {
            readable(why)?;
            let index = asked(plan, state, path)?;
            if why.trim().is_empty() && !plan.items[index].optional {
                return Err(Refusal(
                    "say why: `:skip WHY`; only an optional step is skipped without a reason"
                        .to_owned(),
                ));
            }
            let untried = state.items[index].attempts.is_empty();
            if plan.items[index].section == Section::Setup && !plan.items[index].optional && untried
            {
                let text = "the setup must hold before the first step; `:stop WHY` ends the session, `:pause` keeps it for later";
                return Err(Refusal(text.to_owned()));
            }
            state.items[index].skipped = Some(Note {
                text: why.trim().to_owned(),
                at: at.clone(),
            });
            advance(plan, bench, state);
        }
        Event::Reopen { path, at } => {
            reopen(plan, state, path.as_deref(), at)?;
            derive(plan, bench, state);
        }
        Event::Note { path, text, at } => {
            readable(text)?;
            let notes = &mut state.items[find(plan, path)?].notes;
            if notes.len() >= MAX_NOTES {
                return Err(Refusal(format!("a step takes at most {MAX_NOTES} notes")));
            }
            notes.push(Note {
                text: text.clone(),
                at: at.clone(),
            });
        }
        Event::File {
            path,
            name,
            digest,
            bytes,
            at,
        } => {
            let files = &mut state.items[find(plan, path)?].files;
            if files.len() >= MAX_NOTES {
                return Err(Refusal(format!("a step takes at most {MAX_NOTES} files")));
            }
            files.push(File {
                name: name.clone(),
                digest: digest.clone(),
                bytes: *bytes,
                at: at.clone(),
            });
        }
        Event::Stop { why, .. } => {
            readable(why)?;
            if why.trim().is_empty() {
                return Err(Refusal("say why: `:stop WHY`".to_owned()));
            }
            state.ended = Some(Ended::Stopped(why.trim().to_owned()));
        }
        Event::Resume { .. } => state.closed = None,
        Event::Pause { .. } => {}
        Event::Close { record, .. } => {
            if state.ended.is_none() {
                return Err(Refusal(
                    "the session has steps that are not done".to_owned(),
                ));
            }
            state.closed = Some(record.clone());
        }
    }
    Ok(())
}

fn find(plan: &Plan, path: &str) -> Result<usize, Refusal> {
    let found = plan.items.iter().position(|i| i.path == path);
    found.ok_or_else(|| Refusal(format!("there is no step `{path}`")))
}

/// The item that is asked for, if the path names it.
fn asked(plan: &Plan, state: &State, path: &str) -> Result<usize, Refusal> {
    match plan.items.get(state.cursor) {
        Some(item) if state.ended.is_none() && item.path == path => Ok(state.cursor),
        _ => Err(Refusal(format!(
            "the step `{path}` is not the one that is asked for"
        ))),
    }
}

fn read(
    plan: &Plan,
    bench: &Bench,
    (index, files): (usize, &[File]),
    text: &str,
    confirmed: bool,
    at: &str,
) -> Result<Reading, Refusal> {
    let item = &plan.items[index];
    let value = read_entry(item, text, files, bench)?;
    let plausible = is_plausible(item, &value);
    if !plausible && !confirmed {
        return Err(Refusal(format!(
            "{value} is outside the plausible range and was not confirmed"
        )));
    }
    Ok(Reading {
        text: text.trim().to_owned(),
        value,
        at: at.to_owned(),
        confirmed: !plausible,
        timer: None,
        heard: None,
    })
}

/// That a line was printed by the instrument that the step is read from.
fn is_of(heard: &Heard, item: &Item, bench: &Bench) -> Result<(), Refusal> {
    let fills = item.verb.role().and_then(|r| bench.instruments.get(r));
    match fills {
        Some(fitted) if fitted.id == heard.instrument => Ok(()),
        _ => Err(Refusal(format!(
            "`{}` is not read from `{}`",
            item.path, heard.instrument
        ))),
    }
}

fn fix(
    plan: &Plan,
    bench: &Bench,
    state: &mut State,
    (path, number): (&str, usize),
    (text, confirmed): (&str, bool),
    (why, at): (&str, &str),
) -> Result<(), Refusal> {
    if matches!(state.ended, Some(Ended::Stopped(_))) {
        return Err(Refusal("the session was stopped".to_owned()));
    }
    if why.trim().is_empty() {
        return Err(Refusal("say why the entry is corrected".to_owned()));
    }
    readable(why)?;
    let index = find(plan, path)?;
    let slot = number
        .checked_sub(1)
        .filter(|n| *n < state.items[index].readings.len());
    let Some(slot) = slot else {
        return Err(Refusal(format!(
            "`{path}` has no entry {number} to correct"
        )));
    };
    let files = &state.items[index].files;
    let reading = read(plan, bench, (index, files), text, confirmed, at)?;
    let item = &mut state.items[index];
    let before = std::mem::replace(&mut item.readings[slot], reading);
    item.corrections.push(Correction {
        reading: number,
        before,
        why: why.trim().to_owned(),
        at: at.to_owned(),
    });
    Ok(())
}

/// Words that stand in the record can be read: an arrow key leaves a character that can't.
fn readable(words: &str) -> Result<(), Refusal> {
    match words.chars().any(char::is_control) {
        true => Err(Refusal(
            "there is a control character in it, as an arrow key leaves one; type it again"
                .to_owned(),
        )),
        false => Ok(()),
    }
}

/// Takes back a skip, which stays readable as a note, or the stop of the session.
fn reopen(plan: &Plan, state: &mut State, path: Option<&str>, at: &str) -> Result<(), Refusal> {
    let Some(path) = path else {
        return match state.ended.take() {
            Some(Ended::Stopped(_)) => Ok(()),
            other => {
                state.ended = other;
                Err(Refusal(
                    "the session was not stopped; `:fix STEP` corrects an earlier entry".to_owned(),
                ))
            }
        };
    };
    if matches!(state.ended, Some(Ended::Stopped(_))) {
        return Err(Refusal("the session was stopped".to_owned()));
    }
    let item = &mut state.items[find(plan, path)?];
    let skip = item
        .skipped
        .take()
        .ok_or_else(|| Refusal(format!("`{path}` was not skipped")))?;
    let text = format!("was skipped ({}), then taken up again", skip.text);
    item.notes.push(Note {
        text,
        at: at.to_owned(),
    });
    Ok(())
}

/// Derives everything again from what was put in.
pub(super) fn derive(plan: &Plan, bench: &Bench, state: &mut State) {
    for item in &mut state.items {
        item.status = Status::Pending;
        item.attempts.clear();
    }
    state.cursor = 0;
    state.stopped_at = None;
    state.ended = None;
    state.sources.take();
    advance(plan, bench, state);
}

/// Goes on until something has to be asked, or the end. Behind a fail that stops, only what is asked after a stop is left.
pub(super) fn advance(plan: &Plan, bench: &Bench, state: &mut State) {
    while state.ended.is_none() {
        if state.cursor == plan.items.len() {
            state.ended = Some(Ended::Complete);
            return;
        }
        if !settle(plan, bench, state, state.cursor) {
            return;
        }
        if state.stopped_at.is_none() && ends_session(plan, state, state.cursor) {
            state.stopped_at = Some(state.cursor);
        }
        let behind = state.cursor + 1;
        let Some(stopped) = state.stopped_at else {
            state.cursor = behind;
            continue;
        };
        let mut left = plan.items.iter().skip(behind);
        match left.position(|item| item.after_stop) {
            Some(n) => state.cursor = behind + n,
            None => state.ended = Some(Ended::Failed(stopped)),
        }
    }
}

/// Works an item out as far as it goes; false if it needs an entry.
fn settle(plan: &Plan, bench: &Bench, state: &mut State, index: usize) -> bool {
    let item = &plan.items[index];
    let (status, attempts) = outcome(plan, bench, state, index);
    let waiting = status == Status::Pending;
    // A setup step that is asked again without end would never let the session go.
    let given_up = item.section == Section::Setup && attempts.len() >= MAX_SETUP_ATTEMPTS;
    let slot = &mut state.items[index];
    slot.attempts = attempts;
    slot.status = if waiting && given_up {
        Status::Done
    } else {
        status
    };
    !waiting || given_up
}

fn outcome(plan: &Plan, bench: &Bench, state: &State, index: usize) -> (Status, Vec<Attempt>) {
    let item = &plan.items[index];
    let of = |bound| Values {
        bound,
        plan,
        state,
        index,
        own: None,
    };
    for bound in &item.conditions {
        match evaluate(&bound.expression, &of(bound)) {
            Ok(Value::Truth(true)) => {}
            Ok(_) => {
                let shown = crate::plan::show_with_values(&bound.expression, &of(bound));
                return (Status::NotApplicable(shown), Vec::new());
            }
            Err(error) => return (without(&error), Vec::new()),
        }
    }
    let here = Here {
        plan,
        bench,
        state,
        index,
    };
    match &item.verb {
        Verb::Compute { expression, unit } => {
            let value = evaluate(&expression.expression, &of(expression))
                .and_then(|v| shown_in(v, unit.as_ref()));
            match value {
                Ok(value) => {
                    let spread = propagate(&expression.expression.root, &of(expression)).ok();
                    (Status::Done, vec![here.attempt(Some(value), spread)])
                }
                Err(error) => (without(&error), Vec::new()),
            }
        }
        Verb::Judge => (Status::Done, vec![here.attempt(None, None)]),
        verb => {
            let (status, attempts) = here.entered(verb.entries());
            match &state.items[index].skipped {
                // Passing over a step that has been tried means that it is not tried again.
                Some(_) if !attempts.is_empty() => (Status::Done, attempts),
                Some(skip) => (Status::Skipped(skip.text.clone()), attempts),
                None => (status, attempts),
            }
        }
    }
}

/// The state of a step that rests on something missing.
fn without(error: &EvaluationError) -> Status {
    if error.is_inapplicable() {
        Status::NotApplicable(error.to_string())
    } else {
        Status::Undone(error.to_string())
    }
}

fn shown_in(value: Value, unit: Option<&crate::quantity::Unit>) -> Result<Value, EvaluationError> {
    match (value, unit) {
        (Value::Quantity(q), Some(unit)) => Ok(Value::Quantity(q.convert(unit)?)),
        (Value::List(items), Some(unit)) => items
            .into_iter()
            .map(|i| shown_in(i, Some(unit)))
            .collect::<Result<_, _>>()
            .map(Value::List),
        (value, _) => Ok(value),
    }
}

/// The item that is worked out.
struct Here<'a> {
    plan: &'a Plan,
    bench: &'a Bench,
    state: &'a State,
    index: usize,
}

impl Here<'_> {
    fn attempt(&self, value: Option<Value>, spread: Option<Spread>) -> Attempt {
        let own = value.as_ref().map(|v| (v, spread.as_ref()));
        let scope_of = |bound| Values {
            bound,
            plan: self.plan,
            state: self.state,
            index: self.index,
            own,
        };
        let item = &self.plan.items[self.index];
        let behind = match &item.verb {
            Verb::Compute { expression, .. } => {
                let scope = scope_of(expression);
                behind(&expression.expression.root, &Values { own: None, ..scope })
            }
            _ => Behind::reading(spread.as_ref()),
        };
        let criteria = &item.criteria;
        let criteria = judge(criteria, value.as_ref(), &scope_of, self.bench.decision);
        Attempt {
            criteria,
            behind,
            value,
            spread,
        }
    }

    /// The attempts at a step that asks for entries.
    fn entered(&self, entries: usize) -> (Status, Vec<Attempt>) {
        let item = &self.plan.items[self.index];
        let readings = &self.state.items[self.index].readings;
        let per_attempt = entries.max(1);
        let mut attempts = Vec::new();
        for (number, chunk) in readings.chunks(per_attempt).enumerate() {
            if chunk.len() < entries {
                return (Status::Pending, attempts);
            }
            let mut values: Vec<Value> = chunk.iter().map(|r| r.value.clone()).collect();
            let spread = self.bench.spread(
                (self.index, item),
                (number, number * per_attempt),
                (&values, chunk),
                &self.state.sources,
            );
            let value = match (entries, values.len()) {
                (1, 1) => values.pop(),
                _ => Some(Value::List(values)),
            };
            attempts.push(self.attempt(value, Some(spread)));
        }
        let again = attempts.last().is_none_or(|last| {
            match (
                worst_fail(self.plan, self.index, &last.criteria),
                item.on_fail.then,
            ) {
                (None, _) => false,
                (Some(_), _) if attempts.len() <= item.on_fail.retries as usize => true,
                (Some(severity), Then::AskAgain) => severity > CriterionSeverity::Minor,
                _ => false,
            }
        });
        (if again { Status::Pending } else { Status::Done }, attempts)
    }
}

fn worst_fail(plan: &Plan, index: usize, judged: &[Judged]) -> Option<CriterionSeverity> {
    let criteria = plan.items[index].criteria.iter().zip(judged);
    criteria
        .filter(|(_, j)| j.verdict.is_fail())
        .map(|(c, _)| c.severity)
        .max()
}

fn ends_session(plan: &Plan, state: &State, index: usize) -> bool {
    match (
        worst_fail(plan, index, state.items[index].criteria()),
        plan.items[index].on_fail.then,
    ) {
        (None, _) | (_, Then::Continue) => false,
        (Some(severity), Then::StopIfCritical) => severity == CriterionSeverity::Critical,
        (Some(severity), Then::AskAgain) => severity > CriterionSeverity::Minor,
        (Some(_), Then::Stop) => true,
    }
}

impl State {
    /// The verdict of the record that would be made of it now.
    #[must_use]
    pub fn verdict(&self, plan: &Plan) -> RecordVerdict {
        // What somebody stopped is not to stand as a pass, whatever was still to be asked.
        let mut verdict = match matches!(self.ended, Some(Ended::Stopped(_))) {
            true => RecordVerdict::Incomplete,
            false => RecordVerdict::Pass,
        };
        for (index, (item, state)) in plan.items.iter().zip(&self.items).enumerate() {
            match worst_fail(plan, index, state.criteria()) {
                Some(CriterionSeverity::Major | CriterionSeverity::Critical) => {
                    return RecordVerdict::Fail;
                }
                Some(CriterionSeverity::Minor) if verdict == RecordVerdict::Pass => {
                    verdict = RecordVerdict::PassWithRemarks
                }
                _ => {}
            }
            let conditional = |j: &Judged| j.verdict == Verdict::ConditionalPass;
            if verdict == RecordVerdict::Pass && state.criteria().iter().any(conditional) {
                verdict = RecordVerdict::PassWithRemarks;
            }
            let done = match &state.status {
                Status::Done => state
                    .criteria()
                    .iter()
                    .all(|j| j.verdict != Verdict::NotJudged),
                Status::NotApplicable(_) => true,
                Status::Skipped(_) | Status::Pending | Status::Undone(_) => item.optional,
            };
            if !done {
                verdict = RecordVerdict::Incomplete;
            }
        }
        verdict
    }
}
