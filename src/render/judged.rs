//! A criterion for a reader: its limits, the value that was held against them, how far off it was, and a drawing.
//!
//! Never in here: a verdict of its own; what is drawn or reckoned is left out where it can't be told for certain.
//! Changes when limits are told otherwise.

use std::cmp::Ordering;

use serde_json::Value as Json;

use crate::quantity::{Exact, Quantity as Measured};
use crate::record::{Criterion, Limit, Quantity, Record, Step};

use super::clean::prose;
use super::document::{Bar, Fact, Mark};
use super::figure;

/// How a record writes the criterion of a confirmation.
const IS_YES: &str = "the answer is yes";

/// A criterion as one fact.
pub(super) fn fact(record: &Record, step: &Step, criterion: &Criterion) -> Fact {
    let told = Told::of(step, criterion);
    let mut parts = Vec::new();
    if let Some(limit) = &told.limit {
        parts.push(format!("limit {limit}"));
    }
    if !told.value.is_empty() {
        parts.push(told.value.clone());
    }
    if let Some(off) = &told.off {
        parts.push(off.clone());
    }
    let basis = criterion.basis.as_deref().map(|key| basis(record, key));
    let written = if told.spelled_out {
        String::new()
    } else {
        format!("as written: {}", prose(&criterion.shown))
    };
    Fact {
        label: "Criterion".to_owned(),
        mark: Some(Mark::of(&criterion.verdict)),
        text: parts.join("; "),
        bar: told.bar,
        ..Fact::default()
    }
    .aside(format!("severity: {}", prose(&criterion.severity)))
    .aside(basis.map_or_else(String::new, |b| format!("basis: {b}")))
    .aside(written)
}

/// What is required of an answer, where it was given and nothing more needs saying; else the criterion is told as a fact.
pub(super) fn plain_yes(record: &Record, criterion: &Criterion) -> Option<String> {
    if criterion.that != IS_YES || criterion.verdict != "pass" {
        return None;
    }
    let basis = criterion.basis.as_deref().map(|key| basis(record, key));
    let basis = basis.map_or_else(String::new, |b| format!("; basis: {b}"));
    let severity = prose(&criterion.severity);
    Some(format!("a yes is required, severity: {severity}{basis}"))
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
    bar: Option<Bar>,
    /// Whether the words above already say all that the expression says.
    spelled_out: bool,
}

impl Told {
    pub(super) fn of(step: &Step, criterion: &Criterion) -> Self {
        let limits: Vec<String> = criterion.limits.iter().map(limit).collect();
        let limit = (!limits.is_empty()).then(|| limits.join(" and "));
        let is_answer = criterion.that == IS_YES;
        let nothing = Self {
            limit: limit.clone(),
            value: String::new(),
            off: None,
            bar: None,
            spelled_out: false,
        };
        if is_answer {
            let value = prose(&criterion.shown);
            return Self {
                limit: Some("a yes".to_owned()),
                value,
                spelled_out: true,
                ..nothing
            };
        }
        let judged = matches!(criterion.verdict.as_str(), "pass" | "fail");
        let found = judged.then(|| subject(step, &criterion.that)).flatten();
        let ([ends], Some((name, value))) = (&criterion.limits[..], found) else {
            return nothing;
        };
        let met = criterion.verdict == "pass";
        Self {
            value: format!("{name} {}", shown(&value)),
            off: (!met).then(|| off(ends, &value)).flatten(),
            bar: bar(ends, &value, met),
            ..nothing
        }
    }
}

/// A limit in words.
fn limit(of: &Limit) -> String {
    let shown = figure::quantity;
    match (&of.low, &of.high) {
        (Some(low), Some(high)) if low == high => format!("exactly {}", shown(low)),
        (Some(low), Some(high)) => format!("{} to {}", shown(low), shown(high)),
        (Some(low), None) => format!("at least {}", shown(low)),
        (None, Some(high)) => format!("at most {}", shown(high)),
        (None, None) => "none".to_owned(),
    }
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

/// The value that a criterion holds against its limits, with a word for it: the step's own, or the mean and the like of its
/// readings. Nothing where the criterion holds anything else against them.
fn subject(step: &Step, that: &str) -> Option<(&'static str, Measured)> {
    let that = that.trim();
    if that.contains("&&") || that.contains("||") || that.starts_with('!') {
        return None;
    }
    let call = ["within(", "between("]
        .iter()
        .find_map(|f| that.strip_prefix(f));
    if let Some(inside) = call.and_then(|rest| rest.strip_suffix(')')) {
        return own(step, top_level(inside, ',')?.0);
    }
    for operator in ["<=", ">=", "==", "<", ">"] {
        if let Some((left, right)) = that.split_once(operator) {
            return match (own(step, left), own(step, right)) {
                (Some(found), None) | (None, Some(found)) => Some(found),
                _ => None,
            };
        }
    }
    None
}

/// The text before and after the first `sign` that stands in no brackets.
fn top_level(text: &str, sign: char) -> Option<(&str, &str)> {
    let mut depth = 0i32;
    for (i, c) in text.char_indices() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            c if c == sign && depth == 0 => return Some((&text[..i], &text[i + c.len_utf8()..])),
            _ => {}
        }
    }
    None
}

fn own(step: &Step, text: &str) -> Option<(&'static str, Measured)> {
    let text = text.trim();
    let is_own = |name: &str| name == step.path || Some(name) == step.path.rsplit('.').next();
    if is_own(text) {
        return one(&step.value).map(|v| ("value", v));
    }
    let (function, rest) = text.split_once('(')?;
    let name = rest.strip_suffix(')')?.trim();
    if !is_own(name) {
        return None;
    }
    let Json::Array(items) = &step.value else {
        return None;
    };
    let values: Vec<Measured> = items.iter().map(one).collect::<Option<_>>()?;
    reduced(function.trim(), &values)
}

/// The quantity of a stored value, only where the record holds it exactly enough to reckon with.
fn one(value: &Json) -> Option<Measured> {
    figure::as_quantity(value)
        .as_ref()
        .and_then(figure::measured)
}

fn reduced(function: &str, values: &[Measured]) -> Option<(&'static str, Measured)> {
    let by = |wanted: Ordering| {
        values.iter().skip(1).try_fold(values.first()?, |best, v| {
            let better = v.compare(best).ok()? == wanted;
            Some(if better { v } else { best })
        })
    };
    match function {
        "mean" => mean(values).map(|v| ("mean", v)),
        "min" => Some(("smallest", by(Ordering::Less)?.clone())),
        "max" => Some(("largest", by(Ordering::Greater)?.clone())),
        "first" => Some(("first", values.first()?.clone())),
        "last" => Some(("last", values.last()?.clone())),
        _ => None,
    }
}

fn mean(values: &[Measured]) -> Option<Measured> {
    let (first, rest) = values.split_first()?;
    let sum = rest
        .iter()
        .try_fold(first.clone(), |sum, v| sum.add(v).ok()?)?;
    let count = Measured::from(Exact::parse(&values.len().to_string()).ok()?);
    sum.div(&count).ok()?
}

/// How far a value lies outside, in words; nothing where it doesn't, or where that can't be reckoned.
fn off(ends: &Limit, value: &Measured) -> Option<String> {
    let beyond = |end: &Option<Quantity>, wanted: Ordering, word: &str| {
        let end = figure::measured(end.as_ref()?)?;
        let value = value.convert(end.unit()).ok()?;
        let order = value.compare(&end).ok()?;
        if order == Ordering::Equal {
            return Some("on the limit, which is not allowed".to_owned());
        }
        let (more, less) = if wanted == Ordering::Greater {
            (&value, &end)
        } else {
            (&end, &value)
        };
        let by = more.sub(less).ok()??;
        (order == wanted).then(|| format!("{} {word} the limit", shown(&by)))
    };
    beyond(&ends.high, Ordering::Greater, "above")
        .or_else(|| beyond(&ends.low, Ordering::Less, "below"))
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
        met,
    })
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
