//! What a reader of a record should know besides the verdict.
//!
//! Never in here: verdicts. Changes when something else is worth a remark.

use crate::engine::{Bench, ItemState, Judged, State, Status, Verdict, stands_apart};
use crate::plan::{CriterionSeverity, Decision, Item, Plan, Value};
use crate::quantity::{shortened, with_unit};

use super::wire::{Step, Uncertainty};

/// What a reader should know besides the verdict; `steps` are those of the record, setup first.
pub(super) fn remarks(plan: &Plan, state: &State, bench: &Bench, steps: &[&Step]) -> Vec<String> {
    let mut all = Vec::new();
    for ((item, went), step) in plan.items.iter().zip(&state.items).zip(steps) {
        let mut of_item = Vec::new();
        of_criteria(item, went, bench.decision, &mut of_item);
        let apart = went.value().and_then(|v| stands_apart(item, v, bench));
        of_item.extend(apart.map(|a| a.words()));
        of_entries(went, &mut of_item);
        of_log(went, &mut of_item);
        of_status(&went.status, &mut of_item);
        if bench.decision != Decision::Simple {
            of_drawing(step, &mut of_item);
        }
        let path = &item.path;
        all.extend(of_item.into_iter().map(|text| format!("`{path}`: {text}")));
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

/// Whether readings were held against a limit though nothing is known of their errors.
fn rests_on_unknown(judged: &Judged) -> bool {
    let judged_at_all = !matches!(judged.verdict, Verdict::NotApplicable | Verdict::NotJudged);
    let unknown = |l: &crate::engine::Limit| {
        let bare = l.value.as_ref().is_none_or(|v| v.unit().text() == "1");
        l.uncertainty.is_none() && !bare
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
        Status::Skipped(why) if why.is_empty() => into.push("skipped: optional".to_owned()),
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
        let end = |number: &str| with_unit(&shortened(number, 4), &drawn.unit);
        let text = format!(
            "first order is not enough for the uncertainty: drawn at random, 95.45 % of the results lie from {} to {}",
            end(&drawn.low),
            end(&drawn.high),
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
