//! A criterion for a reader: its limits, the value that was held against them, how far off it was, and a drawing.
//!
//! Never in here: a verdict of its own; what is drawn or reckoned is left out where it can't be told for certain.
//! Changes when limits are told otherwise.

use std::cmp::Ordering;

use crate::quantity::Quantity as Measured;
use crate::record::{Criterion, DrawnErrors, Limit, Quantity, Record, Step};

use super::clean::prose;
use super::document::{Bar, Fact, Mark};
use super::went::numbered;
use super::words::{fixed, said, say};
use super::{bar, digits, figure, register};

/// How a record writes the criterion of a confirmation.
const IS_YES: &str = "the answer is yes";

/// A criterion as one fact.
pub(super) fn fact(record: &Record, step: &Step, criterion: &Criterion) -> Fact {
    let told = Told::of(record, step, criterion);
    let mut parts = Vec::new();
    if let Some(limit) = &told.limit {
        parts.push(say!("limit {limit}", limit = limit));
    }
    if !told.value.is_empty() {
        parts.push(told.value.clone());
    }
    if let Some(off) = &told.off {
        parts.push(off.clone());
    }
    let basis = criterion.basis.as_deref().map(|key| basis(record, key));
    let judged = is_judged(&criterion.verdict);
    let written = match told.spelled_out {
        true => String::new(),
        false => say!(
            "as written: {expression}",
            expression = prose(if judged {
                &criterion.shown
            } else {
                &criterion.that
            })
        ),
    };
    // Of a step that was not done the reason stands above.
    let why = match judged || step.state != "done" {
        true => String::new(),
        false => say!("why: {reason}", reason = prose(&criterion.shown)),
    };
    Fact {
        label: say!("Criterion"),
        mark: Some(Mark::of(&criterion.verdict)),
        text: parts.join("; "),
        bar: told.bar,
        ..Fact::default()
    }
    .aside(conformity(criterion))
    .aside(if criterion.within_numerical_error {
        say!("decided through a computed number that lies within its numerical error of the limit")
    } else {
        String::new()
    })
    .aside(say!("severity: {severity}", severity = severity(criterion)))
    .aside(basis.map_or_else(String::new, |b| say!("basis: {basis}", basis = b)))
    .aside(why)
    .aside(written)
}

/// What is required of an answer, where it was given and nothing more needs saying; else the criterion is told as a fact.
pub(super) fn plain_yes(record: &Record, criterion: &Criterion) -> Option<String> {
    if criterion.that != IS_YES || criterion.verdict != "pass" {
        return None;
    }
    let basis = criterion.basis.as_deref().map(|key| basis(record, key));
    let basis = basis.map_or_else(String::new, |b| {
        format!("; {}", say!("basis: {basis}", basis = b))
    });
    let severity = severity(criterion);
    Some(
        say!(
            "a yes is required, severity: {severity}",
            severity = severity
        ) + &basis,
    )
}

/// The step before that a criterion of a `judge` step says again: the same limit on the same value, or its answer.
pub(super) fn before(record: &Record, step: &Step, criterion: &Criterion) -> Option<usize> {
    let mut steps = numbered(record).take_while(|(other, _)| other.path != step.path);
    let is_judge = step.verb == "judge";
    let found = steps.find(|(other, _)| is_judge && says_again((step, criterion), other));
    found.map(|(_, number)| number)
}

/// The `judge` step that says a criterion again.
pub(super) fn again(record: &Record, step: &Step, criterion: &Criterion) -> Option<usize> {
    let later = numbered(record).skip_while(|(other, _)| other.path != step.path);
    let judges = later.skip(1).filter(|(other, _)| other.verb == "judge");
    let mut of = judges.flat_map(|(other, n)| other.criteria.iter().map(move |c| (other, n, c)));
    of.find(|(other, _, c)| are_one((other, c), (step, criterion)))
        .map(|(_, number, _)| number)
}

fn says_again(later: (&Step, &Criterion), other: &Step) -> bool {
    other.criteria.iter().any(|c| are_one(later, (other, c)))
}

/// Whether two criteria are one for a reader, of which the first stands at a `judge` step.
fn are_one((judge, of): (&Step, &Criterion), (step, criterion): (&Step, &Criterion)) -> bool {
    let answer = criterion.that == IS_YES
        && match judge.path.rsplit_once('.') {
            Some((part, _)) => step.path == format!("{part}.{}", of.that),
            None => step.path == of.that,
        };
    let same = of.that != IS_YES && (&of.that, &of.shown) == (&criterion.that, &criterion.shown);
    (same || answer) && of.verdict == criterion.verdict && of.severity == criterion.severity
}

/// The words for the severities.
const _: [&str; 3] = [fixed!("critical"), fixed!("major"), fixed!("minor")];

fn severity(criterion: &Criterion) -> String {
    said(&prose(&criterion.severity), &[])
}

/// The text of a basis; its key where the record has no text for it.
fn basis(record: &Record, key: &str) -> String {
    record
        .basis
        .get(key)
        .map_or_else(|| prose(key), |t| prose(t))
}

/// What can be told of a criterion.
#[derive(Clone)]
pub(super) struct Told {
    /// The limits in words.
    pub limit: Option<String>,
    /// The value in words, with the expression that it is of.
    pub value: String,
    /// The value alone, where something else says what it is.
    pub alone: String,
    /// How far outside the limits the value lies.
    pub off: Option<String>,
    /// How far inside the nearest limit it lies.
    pub margin: Option<String>,
    bar: Option<Bar>,
    /// Whether the words above already say all that the expression says.
    spelled_out: bool,
}

impl Told {
    pub(super) fn of(record: &Record, step: &Step, criterion: &Criterion) -> Self {
        let limits: Vec<String> = both_ends(&criterion.limits).iter().map(limit).collect();
        let limit = (!limits.is_empty()).then(|| all_of(&limits));
        let judged = is_judged(&criterion.verdict);
        let nothing = Self {
            limit: limit.clone(),
            value: String::new(),
            alone: String::new(),
            off: None,
            margin: None,
            bar: None,
            spelled_out: false,
        };
        let in_words = |limit: String, value: String| Self {
            limit: Some(limit),
            alone: value.clone(),
            value,
            spelled_out: true,
            ..nothing.clone()
        };
        if criterion.that == IS_YES {
            let answer = Some(prose(&criterion.shown)).filter(|_| judged);
            return in_words(say!("a yes"), answer.unwrap_or_default());
        }
        if let Some(wanted) = register::limit(record, step, criterion) {
            let compared = match criterion.that.split("&&").count() {
                1 if wanted.is_of_own => figure::value(&step.value),
                _ => written(criterion).1,
            };
            let told = judged && criterion.verdict != "pass";
            let compared = if told { compared } else { String::new() };
            return in_words(wanted.words, compared);
        }
        let met = matches!(criterion.verdict.as_str(), "pass" | "conditional pass");
        let plain = criterion.verdict == "pass";
        let held = criterion.limits.iter().filter(|_| judged);
        let held: Vec<Held> = held.filter_map(Held::of).collect();
        let value: Vec<String> = held.iter().map(Held::named).collect();
        let is_of_one = held.iter().all(|h| h.of == held[0].of);
        let alone = held.iter().map(|h| match is_of_one {
            true => h.value.clone(),
            false => h.named(),
        });
        let mut alone: Vec<String> = alone.collect();
        alone.dedup();
        let single = match &criterion.limits[..] {
            [only] => only
                .value
                .as_ref()
                .and_then(figure::measured)
                .filter(|_| judged)
                .map(|v| (only, v)),
            _ => None,
        };
        let off = criterion
            .limits
            .iter()
            .find_map(|l| off(l, &l.value.as_ref().and_then(figure::measured)?));
        let inside = criterion.limits.iter().any(|l| l.uncertainty.is_some());
        let drawn = criterion.limits.iter().any(|l| drawn(l).is_some());
        let inside = inside.then(|| match drawn {
            true => say!("inside the limit, but by less than the drawn errors"),
            false => say!("inside the limit, but by less than U"),
        });
        Self {
            value: value.join("; "),
            alone: alone.join("; "),
            off: if met { None } else { off }
                .or(inside)
                .filter(|_| judged && !plain),
            margin: nearest(&criterion.limits).filter(|_| met),
            bar: single.and_then(|(ends, value)| bar::bar(ends, &value, met)),
            ..nothing
        }
    }
}

/// A criterion as it was written, and the values that stood in it.
pub(super) fn written(criterion: &Criterion) -> (String, String) {
    let shown = prose(&criterion.shown);
    let that = prose(&criterion.that);
    let inside = shown.strip_prefix(that.as_str()).map(str::trim);
    let inside = inside.and_then(|rest| rest.strip_prefix('[')?.strip_suffix(']'));
    let values = inside.map(str::to_owned);
    (that, values.unwrap_or(shown))
}

/// Whether a verdict word tells of a value that was held against a limit.
fn is_judged(verdict: &str) -> bool {
    matches!(
        verdict,
        "pass" | "conditional pass" | "conditional fail" | "fail"
    )
}

/// What was held against a limit.
struct Held {
    /// What it is, as written.
    of: String,
    /// Its value with its uncertainty.
    value: String,
    /// What is said of the distance to the limit.
    distance: String,
}

impl Held {
    fn of(limit: &Limit) -> Option<Self> {
        let value = limit.value.as_ref()?;
        let uncertainty = limit.uncertainty.as_ref();
        let said = digits::beside(value, uncertainty);
        let with = uncertainty.map(|of| digits::with_expanded(limit, of));
        let with = with.map(|w| format!("; {}", say!("value ± U: {value}", value = w)));
        Some(Self {
            of: prose(&limit.of),
            value: said + &with.unwrap_or_default(),
            distance: distance(limit),
        })
    }

    /// With what it is.
    fn named(&self) -> String {
        let sign = if self.value.starts_with('≈') {
            ""
        } else {
            "= "
        };
        format!("{} {sign}{}{}", self.of, self.value, self.distance)
    }
}

/// What is said of the distance to a limit, where not the U of the value decides.
fn distance(limit: &Limit) -> String {
    let to = |digits, number: &str, unit: &str| figure::in_brief(number, unit, digits);
    match (drawn(limit), &limit.distance) {
        (Some(d), _) => say!(
            "; distance to the limit by drawn errors: {low} to {high}",
            low = to(3, &d.low, &d.unit),
            high = to(3, &d.high, &d.unit)
        ),
        (None, Some(d)) => say!(
            "; U of the distance to the limit: {value}",
            value = to(2, &d.expanded, &d.unit)
        ),
        (None, None) => String::new(),
    }
}

fn drawn(limit: &Limit) -> Option<&DrawnErrors> {
    limit.distance.as_ref()?.drawn.as_ref()
}

/// The probability that what was judged meets its limits, where it is known.
fn conformity(criterion: &Criterion) -> String {
    let limits = criterion.limits.iter();
    let numbers = limits.filter_map(|l| Some((l.conformance.as_ref()?.parse().ok()?, l)));
    let said: Vec<String> = numbers
        .map(|(p, l)| {
            let by = drawn(l).map_or_else(String::new, |_| say!(" by drawn errors"));
            share(p) + &by
        })
        .collect();
    match said.is_empty() {
        true => String::new(),
        false => say!("probability of conformity {share}", share = all_of(&said)),
    }
}

/// A probability to a few digits.
fn share(p: f64) -> String {
    match p {
        p if p > 0.9999 => "> 99.99 %".to_owned(),
        p if p < 0.0001 => "< 0.01 %".to_owned(),
        // Near one it is the distance to it that tells something.
        p if p >= 0.99 => format!("{:.2} %", p * 100.0),
        p => format!("{} %", figure::short(&(p * 100.0).to_string(), 2)),
    }
}

/// Limits, of which two that leave one value of the same thing are one: `at most 4` and `at least 4`.
fn both_ends(limits: &[Limit]) -> Vec<Limit> {
    let mut all: Vec<Limit> = Vec::new();
    for limit in limits {
        let other = all.iter_mut().find(|other| meet(other, limit));
        match other {
            Some(other) => {
                other.low = other.low.take().or_else(|| limit.low.clone());
                other.high = other.high.take().or_else(|| limit.high.clone());
            }
            None => all.push(limit.clone()),
        }
    }
    all
}

/// Whether the upper end of one limit is the lower end of the other.
fn meet(one: &Limit, other: &Limit) -> bool {
    let ends = match (&one.low, &one.high, &other.low, &other.high) {
        (Some(low), None, None, Some(high)) | (None, Some(high), Some(low), None) => (low, high),
        _ => return false,
    };
    let alike = figure::measured(ends.0).zip(figure::measured(ends.1));
    one.of == other.of
        && !one.strict
        && !other.strict
        && alike.is_some_and(|(low, high)| matches!(low.compare(&high), Ok(Ordering::Equal)))
}

/// A limit in words.
pub(super) fn limit(of: &Limit) -> String {
    let low = of.low.as_ref().map(figure::quantity);
    let high = of.high.as_ref().map(figure::quantity);
    match (low, high, of.strict) {
        (Some(low), Some(high), _) if low == high => say!("exactly {value}", value = low),
        (Some(low), Some(high), false) => say!("{low} to {high}", low = low, high = high),
        (Some(low), Some(high), true) => {
            say!("above {low} and below {high}", low = low, high = high)
        }
        (Some(low), None, false) => say!("at least {value}", value = low),
        (Some(low), None, true) => say!("above {value}", value = low),
        (None, Some(high), false) => say!("at most {value}", value = high),
        (None, Some(high), true) => say!("below {value}", value = high),
        (None, None, _) => say!("none"),
    }
}

fn all_of(parts: &[String]) -> String {
    parts.join(&say!(" and "))
}

/// How far a value lies outside, in words; nothing where it doesn't, or where that can't be reckoned.
fn off(ends: &Limit, value: &Measured) -> Option<String> {
    let told = |by: &Measured| digits::near(by, ends.uncertainty.as_ref());
    let beyond = |end: &Option<Quantity>, wanted: Ordering| {
        let end = figure::measured(end.as_ref()?)?;
        let value = value.convert(end.unit()).ok()?;
        let order = value.compare(&end).ok()?;
        if order == Ordering::Equal {
            return Some(say!("on the limit, which is not allowed"));
        }
        let (more, less) = if wanted == Ordering::Greater {
            (&value, &end)
        } else {
            (&end, &value)
        };
        let by = more.sub(less).ok()??;
        (order == wanted).then(|| match wanted {
            Ordering::Greater => say!("{by} above the limit", by = told(&by)),
            _ => say!("{by} below the limit", by = told(&by)),
        })
    };
    beyond(&ends.high, Ordering::Greater).or_else(|| beyond(&ends.low, Ordering::Less))
}

/// How far the only value lies inside the nearer end of its limits.
fn nearest(limits: &[Limit]) -> Option<String> {
    let [only] = limits else { return None };
    let value = figure::measured(only.value.as_ref()?)?;
    let room = |end: &Option<Quantity>, above: bool| {
        let end = figure::measured(end.as_ref()?)?;
        let value = value.convert(end.unit()).ok()?;
        match above {
            true => end.sub(&value).ok()?,
            false => value.sub(&end).ok()?,
        }
    };
    let ends = [room(&only.high, true), room(&only.low, false)];
    let least = ends
        .into_iter()
        .flatten()
        .reduce(|a, b| match a.compare(&b) {
            Ok(Ordering::Greater) => b,
            _ => a,
        })?;
    let told = digits::near(&least, only.uncertainty.as_ref());
    Some(say!("{by} inside", by = told))
}
