//! Attempts and corrections of a step, each as a fact.
//!
//! Never in here: what they come to. Changes when an attempt or a correction tells something new.

use serde_json::Value as Json;

use crate::record::{Attempt, Correction, Heard, Quantity, Record, Step};

use super::clean::{prose, typed};
use super::document::{Fact, Mark};
use super::figure::{as_quantity, entry, short, value, with_unit};
use super::judged;
use super::went::clock;
use super::words::say;

/// An attempt of several.
pub(super) fn attempt(
    record: &Record,
    step: &Step,
    attempt: &Attempt,
    (n, of): (usize, usize),
) -> Fact {
    let at = attempt.at.as_deref().map(|at| clock(record, at));
    let last = if n == of {
        say!("this one decides")
    } else {
        String::new()
    };
    let value = value(&attempt.value);
    Fact {
        mark: attempt.verdict.as_deref().map(Mark::of),
        ..Fact::new(
            say!("Attempt {n} of {all}", n = n, all = of),
            entry(&attempt.entry),
        )
    }
    .literal()
    .aside(if value.is_empty() || n == of {
        String::new()
    } else {
        say!("value {value}", value = value)
    })
    .aside(if n == of {
        String::new()
    } else {
        held_then(step, attempt)
    })
    .aside(read_from(attempt))
    .aside(at.unwrap_or_default())
    .aside(last)
}

/// What of an earlier attempt was held against which limit: the reading itself, or the mean of several.
fn held_then(step: &Step, attempt: &Attempt) -> String {
    let own = step.path.rsplit('.').next().unwrap_or_default();
    let mut limits = step.criteria.iter().flat_map(|c| &c.limits);
    let of_mean = format!("mean({own})");
    let Some(limit) = limits.find(|l| l.of == own || l.of == of_mean) else {
        return String::new();
    };
    let limit_said = say!("limit {limit}", limit = judged::limit(limit));
    match mean(&attempt.value).filter(|_| limit.of == of_mean) {
        Some(mean) => format!("{}; {limit_said}", say!("mean ≈ {value}", value = mean)),
        None => limit_said,
    }
}

/// The mean of quantities of one unit, to four significant digits.
fn mean(of: &Json) -> Option<String> {
    let all: Vec<Quantity> = of
        .as_array()?
        .iter()
        .map(as_quantity)
        .collect::<Option<_>>()?;
    let unit = all.first()?.unit.clone();
    let alike = all.iter().filter(|q| q.unit == unit);
    let numbers: Vec<f64> = alike.filter_map(|q| q.value.parse().ok()).collect();
    let mean = numbers.iter().sum::<f64>() / all.len() as f64;
    let whole = numbers.len() == all.len() && mean.is_finite();
    whole.then(|| with_unit(&short(&format!("{mean:.12}"), 4), &unit))
}

/// The instruments' lines that an attempt was read from; empty where it was typed.
pub(super) fn read_from(attempt: &Attempt) -> String {
    let told = |n: usize, heard: &Heard| match attempt.heard.len() {
        1 => from(heard),
        _ => say!("reading {n}: {heard}", n = n + 1, heard = from(heard)),
    };
    let all = attempt.heard.iter().enumerate();
    let read = all.filter_map(|(n, heard)| Some(told(n, heard.as_ref()?)));
    let timed = attempt.timed.iter().enumerate().filter(|(_, t)| **t);
    let timed = timed.map(|(n, _)| match attempt.timed.len() {
        1 => say!("timed by the computer"),
        _ => say!("reading {n}: timed by the computer", n = n + 1),
    });
    let all: Vec<String> = read.chain(timed).collect();
    all.join("; ")
}

fn from(heard: &Heard) -> String {
    say!(
        "read from {instrument}: “{line}”",
        instrument = heard.instrument,
        line = typed(&heard.line)
    )
}

/// A correction: what stood there before, and why it was changed.
pub(super) fn corrected(record: &Record, step: &Step, of: &Correction) -> Fact {
    let before = typed(&of.before);
    let after = typed(&of.after);
    let text = say!(
        "first entered “{before}” ({before_at}), corrected to “{after}” ({at})",
        before = before,
        before_at = clock(record, &of.before_at),
        after = after,
        at = clock(record, &of.at)
    );
    let heard = of.before_heard.as_ref().map_or(String::new(), from);
    Fact::new(which(step, of.reading), text)
        .aside(heard)
        .aside(say!("why: {reason}", reason = prose(&of.why)))
}

/// Which entry was corrected: attempt and reading, where there are several. `reading` counts from 1 over all attempts.
fn which(step: &Step, reading: usize) -> String {
    let first = step.attempts.first().map(|a| &a.entry);
    let readings = first.and_then(Json::as_array).map_or(1, |r| r.len().max(1));
    let before = reading.saturating_sub(1);
    let attempt = say!("attempt {n}", n = before / readings + 1);
    let within = say!("reading {n}", n = before % readings + 1);
    let of = |which: String| say!("Correction of {which}", which = which);
    match (step.attempts.len(), readings) {
        (0, _) => of(say!("reading {n}", n = reading)),
        (1, 1) => say!("Correction"),
        (1, _) => of(within),
        (_, 1) => of(attempt),
        _ => of(format!("{attempt}, {within}")),
    }
}
