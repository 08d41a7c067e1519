//! A criterion for a reader: its limits, the value that was held against them, how far off it was, and a drawing.
//!
//! Never in here: a verdict of its own; what is drawn or reckoned is left out where it can't be told for certain.
//! Changes when limits are told otherwise.

use std::cmp::Ordering;

use crate::quantity::{Quantity as Measured, Unit};
use crate::record::{Criterion, DrawnErrors, Limit, Quantity, Record, Step};

use super::clean::{prose, typed};
use super::document::{Bar, Fact, Mark};
use super::figure;
use super::words::{fixed, said, say};

/// How a record writes the criterion of a confirmation.
const IS_YES: &str = "the answer is yes";

/// A criterion as one fact.
pub(super) fn fact(record: &Record, step: &Step, criterion: &Criterion) -> Fact {
    let told = Told::of(step, criterion);
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
    let written = if told.spelled_out || criterion.shown == "not done" {
        String::new()
    } else {
        say!(
            "as written: {expression}",
            expression = prose(&criterion.shown)
        )
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
pub(super) struct Told {
    /// The limits in words.
    pub limit: Option<String>,
    /// The value in words.
    pub value: String,
    /// How far outside the limits the value lies.
    pub off: Option<String>,
    /// How far inside the nearest limit it lies.
    pub margin: Option<String>,
    bar: Option<Bar>,
    /// Whether the words above already say all that the expression says.
    spelled_out: bool,
}

impl Told {
    pub(super) fn of(step: &Step, criterion: &Criterion) -> Self {
        let limits: Vec<String> = criterion.limits.iter().map(limit).collect();
        let limit = (!limits.is_empty()).then(|| all_of(&limits));
        let is_answer = criterion.that == IS_YES;
        let nothing = Self {
            limit: limit.clone(),
            value: String::new(),
            off: None,
            margin: None,
            bar: None,
            spelled_out: false,
        };
        if is_answer {
            let value = prose(&criterion.shown);
            return Self {
                limit: Some(say!("a yes")),
                value,
                spelled_out: true,
                ..nothing
            };
        }
        let judged = is_judged(&criterion.verdict);
        let met = matches!(criterion.verdict.as_str(), "pass" | "conditional pass");
        let plain = criterion.verdict == "pass";
        let held = criterion.limits.iter().filter(|_| judged);
        let value: Vec<String> = held.filter_map(|l| held_against(step, l)).collect();
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
            off: if met { None } else { off }
                .or(inside)
                .filter(|_| judged && !plain),
            margin: nearest(&criterion.limits).filter(|_| met),
            bar: single.and_then(|(ends, value)| bar(ends, &value, met)),
            ..nothing
        }
    }
}

/// Whether a verdict word tells of a value that was held against a limit.
fn is_judged(verdict: &str) -> bool {
    matches!(
        verdict,
        "pass" | "conditional pass" | "conditional fail" | "fail"
    )
}

/// What was held against a limit, with its uncertainty.
fn held_against(step: &Step, limit: &Limit) -> Option<String> {
    let value = limit.value.as_ref()?;
    let said = match as_typed(step, limit) {
        Some(typed) => format!("{} = {typed}", prose(&limit.of)),
        None => figure::named(&limit.of, &in_unit_of_limit(value, limit)),
    };
    let said = match &limit.uncertainty {
        Some(of) => format!(
            "{said}; {}",
            say!("value ± U: {value}", value = prose(&of.shown))
        ),
        None => said,
    };
    Some(said + &distance(limit))
}

/// What is said of the distance to a limit, where not the U of the value decides.
fn distance(limit: &Limit) -> String {
    let number = |number: &str, unit: &str| figure::with_unit(&figure::short(number, 3), unit);
    match (drawn(limit), &limit.distance) {
        (Some(d), _) => say!(
            "; distance to the limit by drawn errors: {low} to {high}",
            low = number(&d.low, &d.unit),
            high = number(&d.high, &d.unit)
        ),
        (None, Some(d)) => say!(
            "; U of the distance to the limit: {value}",
            value = number(&d.expanded, &d.unit)
        ),
        (None, None) => String::new(),
    }
}

fn drawn(limit: &Limit) -> Option<&DrawnErrors> {
    limit.distance.as_ref()?.drawn.as_ref()
}

/// A time as it was typed, where that has a unit.
fn as_typed(step: &Step, limit: &Limit) -> Option<String> {
    let own = step.path.rsplit('.').next();
    let text = step
        .entry
        .as_str()
        .filter(|t| t.contains(char::is_alphabetic))?;
    (step.verb == "time" && own == Some(limit.of.as_str())).then(|| typed(text))
}

/// A time, which is kept in seconds, in the unit of its limit; any other value as it is.
fn in_unit_of_limit(value: &Quantity, limit: &Limit) -> Quantity {
    let end = limit.low.as_ref().or(limit.high.as_ref());
    let other = end
        .filter(|_| value.unit == "s")
        .and_then(|e| figure::converted(value, &e.unit));
    other.unwrap_or_else(|| value.clone())
}

/// The value of a timed step in the unit of its limit, where it has one.
pub(super) fn timed(step: &Step) -> Option<Quantity> {
    let own = step.path.rsplit('.').next();
    let mut limits = step.criteria.iter().flat_map(|c| &c.limits);
    let limit = limits.find(|l| step.verb == "time" && own == Some(l.of.as_str()))?;
    Some(in_unit_of_limit(limit.value.as_ref()?, limit))
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

/// A computed quantity with `≈` where six digits are not all of it.
fn shown(value: &Measured) -> String {
    figure::quantity(&Quantity {
        value: value.value_text(),
        unit: value.unit().text().to_owned(),
        ucum: String::new(),
        exact: value.is_exact(),
    })
}

/// How far a value lies outside, in words; nothing where it doesn't, or where that can't be reckoned.
fn off(ends: &Limit, value: &Measured) -> Option<String> {
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
            Ordering::Greater => say!("{by} above the limit", by = shown(&by)),
            _ => say!("{by} below the limit", by = shown(&by)),
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
    Some(say!("{by} inside", by = shown(&least)))
}

/// The drawing of one limit and a value; nothing where the ends leave no room.
fn bar(ends: &Limit, value: &Measured, met: bool) -> Option<Bar> {
    let low = ends.low.as_ref().map(figure::measured);
    let high = ends.high.as_ref().map(figure::measured);
    let unit = low
        .clone()
        .flatten()
        .or_else(|| high.clone().flatten())?
        .unit()
        .clone();
    let number = |end: Option<Option<Measured>>| match end {
        None => Some(None),
        Some(end) => Some(Some(end?.convert(&unit).ok()?.value().to_f64())),
    };
    let (low, high) = (number(low)?, number(high)?);
    let at = value.convert(&unit).ok()?.value().to_f64();
    let (least, most) = span(low, high, at)?;
    let percent = |x: f64| ((x - least) / (most - least) * 1000.0).round() / 10.0;
    Some(Bar {
        from: low.map_or(0.0, percent),
        to: high.map_or(100.0, percent),
        has_low: low.is_some(),
        has_high: high.is_some(),
        at: percent(at),
        reach: half(ends, &unit)
            .map(|half| [at - half, at + half].map(|x| percent(x).clamp(0.0, 100.0))),
        met,
    })
}

/// U in this unit.
fn half(ends: &Limit, unit: &Unit) -> Option<f64> {
    let of = ends.uncertainty.as_ref()?;
    let expanded: f64 = of.expanded.parse().ok()?;
    let half = expanded * Unit::parse(&of.unit).ok()?.factor().to_f64() / unit.factor().to_f64();
    half.is_finite().then_some(half)
}

/// The ends of the drawing's scale.
fn span(low: Option<f64>, high: Option<f64>, at: f64) -> Option<(f64, f64)> {
    let (least, most) = match (low, high) {
        (Some(low), Some(high)) if low < high => {
            let room = (high - low) / 2.0;
            (low - room, high + room)
        }
        (None, Some(high)) if high > 0.0 && at >= 0.0 => (0.0, high * 1.4),
        (Some(low), None) if low > 0.0 && at >= 0.0 => (0.0, low * 1.4),
        (None, Some(end)) | (Some(end), None) if at != end => {
            let room = (at - end).abs();
            (end.min(at) - room, end.max(at) + room)
        }
        _ => return None,
    };
    let margin = (most - least) * 0.05;
    let (least, most) = (
        if at < least { at - margin } else { least },
        if at > most - margin {
            at + margin
        } else {
            most
        },
    );
    let sound = least.is_finite() && most.is_finite() && most > least;
    sound.then_some((least, most))
}
