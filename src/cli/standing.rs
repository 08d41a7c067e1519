//! How a session stands, in lines: what speaks against a pass, and how each step stands.
//!
//! Never in here: questions. Changes when more is told of a step.

use crate::engine::{ItemState, State, Status, Verdict};
use crate::plan::{Item, Plan};

use super::show::{self, verdict};

/// What stands against a plain pass so far, a line each: fails, conditional passes, what was skipped or could not be done.
pub fn problems(plan: &Plan, state: &State) -> Vec<String> {
    let mut lines = Vec::new();
    for (item, went) in plan.items.iter().zip(&state.items) {
        let name = item
            .title
            .as_deref()
            .map_or_else(|| item.path.clone(), |t| format!("{t} ({})", item.path));
        for (criterion, judged) in item.criteria.iter().zip(went.criteria()) {
            let open = judged.verdict == Verdict::NotJudged;
            if judged.verdict.is_fail() || open || judged.verdict == Verdict::ConditionalPass {
                lines.push(format!(
                    "{name}, {}: {}",
                    criterion.severity.word(),
                    verdict(judged)
                ));
            }
        }
        match &went.status {
            Status::Skipped(why) if !item.optional => lines.push(format!("{name}: skipped, {why}")),
            Status::Undone(why) => lines.push(format!("{name}: not done, {why}")),
            _ => {}
        }
    }
    lines
}

/// How each step stands, a line each: state, value and verdicts. What differs after a correction was changed by it.
pub fn standing(plan: &Plan, state: &State) -> Vec<String> {
    let line = |(item, went): (&Item, &ItemState)| {
        let name = item.title.as_deref().unwrap_or(&item.path);
        if went.status == Status::Pending && item.verb.entries() > 0 {
            // Of an attempt that is not whole nothing follows yet.
            return match went.attempts.len() {
                0 => format!("{name}: to be asked"),
                n => format!("{name}: to be asked, attempt {}", n + 1),
            };
        }
        let value = went.value();
        let value = value
            .map(|v| format!(" {}", show::value(v)))
            .unwrap_or_default();
        let verdicts: Vec<String> = went.criteria().iter().map(verdict).collect();
        let said = match &went.status {
            Status::NotApplicable(why) => format!(" not applicable, {why}"),
            Status::Undone(why) => format!(" not done, {why}"),
            Status::Skipped(_) => " skipped".to_owned(),
            Status::Pending | Status::Done => String::new(),
        };
        format!("{name}:{value}{said} {}", verdicts.join("; "))
            .trim_end()
            .to_owned()
    };
    plan.items.iter().zip(&state.items).map(line).collect()
}
