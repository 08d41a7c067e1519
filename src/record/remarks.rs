//! What a reader of a record should know besides the verdict.
//!
//! Never in here: verdicts. Changes when something else is worth a remark.

use crate::engine::{Bench, Event, ItemState, Judged, State, Status, Verdict, stands_apart};
use crate::journal::Head;
use crate::plan::{CriterionSeverity, Decision, Item, Plan, Value};
use crate::quantity::{shortened, with_unit};
use crate::trust::is_before;

use super::fitting::misfit;
use super::wire::{DrawnErrors, Step, Uncertainty};

/// What a reader should know besides the verdict; `steps` are those of the record, setup first.
pub(super) fn remarks(plan: &Plan, state: &State, bench: &Bench, steps: &[&Step]) -> Vec<String> {
    let mut all = Vec::new();
    for ((item, went), step) in plan.items.iter().zip(&state.items).zip(steps) {
        let mut of_item = Vec::new();
        of_criteria(item, went, bench.decision, &mut of_item);
        of_distances(step, bench.decision, &mut of_item);
        let apart = went.value().and_then(|v| stands_apart(item, v, bench));
        of_item.extend(apart.map(|a| a.words()));
        of_entries(went, &mut of_item);
        of_log(went, &mut of_item);
        of_status(&went.status, &mut of_item);
        let limits = || step.criteria.iter().flat_map(|c| &c.limits);
        let decides = limits().any(|l| l.distance.as_ref().is_some_and(|d| d.drawn.is_some()));
        if bench.decision != Decision::Simple && !decides {
            of_drawing(step, &mut of_item);
        }
        let path = &item.path;
        all.extend(of_item.into_iter().map(|text| format!("`{path}`: {text}")));
    }
    all.extend(of_watch(plan, state));
    all
}

/// Which times the computer's own clock took: none of the instruments did, whatever role the recipe has for it.
fn of_watch(plan: &Plan, state: &State) -> Option<String> {
    let is_timed = |went: &ItemState| went.readings.iter().any(|r| r.timer.is_some());
    let timed = plan.items.iter().zip(&state.items);
    let timed = timed.filter(|(_, went)| is_timed(went));
    let paths: Vec<String> = timed.map(|(item, _)| format!("`{}`", item.path)).collect();
    let told = "timed by the computer, not with an instrument";
    (!paths.is_empty()).then(|| format!("{told}: {}", paths.join(", ")))
}

/// That the recipe is for other devices, where the session was begun all the same.
pub(super) fn of_device(head: &Head, plan: &Plan) -> Option<String> {
    let why = misfit(plan, &head.device).filter(|_| head.other_device)?;
    Some(format!("run on a device that the recipe is not for: {why}"))
}

/// What is odd in how the session went: somebody else went on, the clock was set back.
pub(super) fn of_events(head: &Head, events: &[Event]) -> Vec<String> {
    let mut all = Vec::new();
    let mut before = head.started.as_str();
    for event in events {
        let at = event.at();
        if is_before(at, before) {
            all.push(format!("the clock was set back from {before} to {at}"));
        }
        if let Event::Resume { by: Some(by), .. } = event {
            all.push(format!("`{by}` went on with it at {at}"));
        }
        if let Event::Resume {
            withdrawn: Some(withdrawn),
            ..
        } = event
        {
            all.push(format!("it was gone on with at {at}: {withdrawn}"));
        }
        before = at;
    }
    all
}

fn of_criteria(item: &Item, went: &ItemState, decision: Decision, into: &mut Vec<String>) {
    for (criterion, judged) in item.criteria.iter().zip(went.criteria()) {
        let shown = &judged.shown;
        match judged.verdict {
            Verdict::Fail if criterion.severity == CriterionSeverity::Minor => {
                into.push(format!("a minor criterion failed: {shown}"));
            }
            Verdict::ConditionalPass => into.push(format!(
                "inside the limit by less than its expanded uncertainty: {shown}"
            )),
            Verdict::ConditionalFail => into.push(format!(
                "outside the limit by no more than its expanded uncertainty: {shown}"
            )),
            Verdict::NotJudged if went.status == Status::Done => {
                into.push(format!("a criterion could not be judged: {shown}"));
            }
            _ => {}
        }
        if judged.close {
            into.push(format!(
                "decided through an inexact number that lies within its numerical error of the limit: {shown}"
            ));
        }
        if decision != Decision::Simple && rests_on_unknown(judged) {
            into.push(
                "no uncertainty is known for what was judged: the value itself was held against the limit"
                    .to_owned(),
            );
        }
    }
}

/// What rests on errors that were drawn for distances to limits.
fn of_distances(step: &Step, decision: Decision, into: &mut Vec<String>) {
    let what = match decision {
        Decision::Simple => "the probability of conformity",
        _ => "the decision",
    };
    let limits = step.criteria.iter().flat_map(|c| &c.limits);
    let drawn = limits.filter_map(|l| l.distance.as_ref()?.drawn.as_ref());
    into.extend(drawn.map(|d| rests_on_drawn(what, d)));
}

fn rests_on_drawn(what: &str, drawn: &DrawnErrors) -> String {
    format!(
        "{what} rests on errors drawn at random, since the formula for U is not exact enough here: in 95.45 % of the draws the value lies from {} to {} the limit",
        side_of(drawn, &drawn.low),
        side_of(drawn, &drawn.high),
    )
}

/// A distance to a limit in words: what is below zero is outside.
fn side_of(drawn: &DrawnErrors, number: &str) -> String {
    match number.strip_prefix('-') {
        Some(beyond) => format!("{} outside", end_of(drawn, beyond)),
        None => format!("{} inside", end_of(drawn, number)),
    }
}

fn end_of(drawn: &DrawnErrors, number: &str) -> String {
    with_unit(&shortened(number, 4), &drawn.unit)
}

/// Whether readings were held against a limit though nothing is known of their errors.
fn rests_on_unknown(judged: &Judged) -> bool {
    let judged_at_all = !matches!(judged.verdict, Verdict::NotApplicable | Verdict::NotJudged);
    let unknown = |l: &crate::engine::Limit| {
        let bare = l.value.as_ref().is_none_or(|v| v.unit().text() == "1");
        l.uncertainty.is_none() && !l.is_acted_upon && !bare
    };
    judged_at_all && judged.limits.iter().any(unknown)
}

fn of_entries(went: &ItemState, into: &mut Vec<String>) {
    if went.attempts.len() > 1 {
        let attempts = went.attempts.len();
        into.push(format!("{attempts} attempts, the last one decides"));
    }
    if !went.corrections.is_empty() {
        let entries = counted(went.corrections.len(), "entry", "entries");
        into.push(format!("{entries} corrected"));
    }
    let outside = went.readings.iter().filter(|r| r.confirmed).count();
    if outside > 0 {
        let entries = counted(outside, "entry", "entries");
        into.push(format!("{entries} outside the plausible range, confirmed"));
    }
}

/// What is odd in a log, for the person whose log it is.
fn of_log(went: &ItemState, into: &mut Vec<String>) {
    if let Some(Value::Trace(logged)) = went.value() {
        let odd = logged.trace.observations.iter();
        into.extend(odd.map(|o| format!("the log `{}`: {}", logged.name, o.message)));
    }
}

fn of_status(status: &Status, into: &mut Vec<String>) {
    match status {
        // One that may be passed over without a word was.
        Status::Skipped(why) if why.is_empty() => {}
        Status::Skipped(why) => into.push(format!("skipped: {why}")),
        Status::Undone(why) => into.push(format!("not done: {why}")),
        Status::Done | Status::Pending | Status::NotApplicable(_) => {}
    }
}

/// Where drawing errors at random came to another interval than value ± U.
fn of_drawing(step: &Step, into: &mut Vec<String>) {
    let of_value = serde_json::from_value::<Uncertainty>(step.uncertainty.clone()).ok();
    let of_limits = step.criteria.iter().flat_map(|c| &c.limits);
    let of_limits = of_limits.filter_map(|l| l.uncertainty.clone());
    let drawn = of_value
        .into_iter()
        .chain(of_limits)
        .filter_map(|u| u.drawn);
    for drawn in drawn.filter(|d| !d.agrees) {
        let text = format!(
            "the formula for U is not exact enough here: of results drawn at random, 95.45 % lie from {} to {}",
            end_of(&drawn, &drawn.low),
            end_of(&drawn, &drawn.high),
        );
        if !into.contains(&text) {
            into.push(text);
        }
    }
}

fn counted(n: usize, one: &str, many: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {many}")
    }
}
