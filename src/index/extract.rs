//! What the index keeps of a record.
//!
//! Never in here: tables. Changes when the index tells more, together with its version.

use serde_json::Value as Json;

use crate::host::milliseconds_between;
use crate::quantity::{Exact, Quantity as Measured, Unit, parse_quantity};
use crate::record::{
    Criterion, Limit, Quantity, Record, RestingOf, Step, Uncertainty, is_of_category,
};

/// The moment from which times are counted.
const EPOCH: &str = "1970-01-01T00:00:00Z";

/// A record as far as the index keeps it.
pub(super) struct Extract {
    pub record: Box<Record>,
    /// When it began, in milliseconds since 1970.
    pub at_ms: i64,
    /// Whether its recipe is for its device.
    pub fits: bool,
    /// The roles with their places, in the order of the record.
    pub roles: Vec<(usize, String)>,
    pub values: Vec<ValueRow>,
    pub held: Vec<HeldRow>,
}

/// The value of a step; of repeats their mean. Nothing of a reading that has no number, as a log.
pub(super) struct ValueRow {
    pub path: String,
    pub title: String,
    pub repeats: usize,
    pub value: Option<(String, String)>,
    pub uncertainty: Option<(String, String)>,
    pub read_from: Option<usize>,
    pub rests: u64,
}

/// A value that was held against a limit; the ends are in the unit of the value.
pub(super) struct HeldRow {
    pub path: String,
    pub title: String,
    pub of: String,
    pub value: Option<String>,
    pub unit: String,
    pub low: Option<String>,
    pub high: Option<String>,
    pub uncertainty: Option<(String, String)>,
    pub verdict: String,
    pub severity: String,
    pub rests: u64,
}

/// Milliseconds since 1970; zero for what is no time.
pub(super) fn at_ms(time: &str) -> i64 {
    milliseconds_between(EPOCH, time).unwrap_or(0)
}

/// Takes a record's text apart.
///
/// # Errors
/// Text that is no record.
pub(super) fn extract(bytes: &[u8], resting: &RestingOf) -> Result<Extract, String> {
    let mut record: Box<Record> =
        serde_json::from_slice(bytes).map_err(|e| format!("not a record: {e}"))?;
    let rests = resting.source(&record.recipe.source);
    // Only what follows is kept.
    record.journal = Vec::new();
    record.recipe.source = String::new();
    let place = |role: &String| rests.roles.iter().position(|r| r == role);
    let named = record.instruments.keys().enumerate();
    let roles = named.map(|(n, role)| (place(role).unwrap_or(n), role.clone()));
    let roles = roles.collect();
    let (mut values, mut held) = (Vec::new(), Vec::new());
    for step in record.setup.iter().chain(&record.steps) {
        values.extend(value_row(step, &rests));
        for (n, criterion) in step.criteria.iter().enumerate() {
            let resting = rests.criterion(&step.path, n);
            let rows = criterion.limits.iter();
            held.extend(rows.map(|limit| held_row(step, criterion, limit, resting)));
        }
    }
    Ok(Extract {
        at_ms: at_ms(&record.started),
        fits: !record.other_device
            && is_of_category(&record.recipe.category, &record.device.category),
        roles,
        values,
        held,
        record,
    })
}

fn title(step: &Step) -> String {
    step.title.clone().unwrap_or_default()
}

fn value_row(step: &Step, resting: &crate::record::Resting) -> Option<ValueRow> {
    let (number, repeats) = number(&step.value);
    let read_from = resting.read_from(&step.path);
    // A log has no number, but results rest on it all the same.
    let has_reading = !step.value.is_null() && read_from.is_some();
    if number.is_none() && !has_reading {
        return None;
    }
    let single: Option<Uncertainty> = serde_json::from_value(step.uncertainty.clone()).ok();
    Some(ValueRow {
        path: step.path.clone(),
        title: title(step),
        repeats,
        value: number,
        uncertainty: single.map(|u| (u.standard, u.expanded)),
        read_from,
        rests: resting.value(&step.path),
    })
}

/// The number of a value with its unit, and of how many readings it is the mean.
fn number(value: &Json) -> (Option<(String, String)>, usize) {
    let one = |json: &Json| serde_json::from_value::<Quantity>(json.clone()).ok();
    match value {
        Json::Object(_) => (one(value).map(|q| (q.value, q.unit)), 1),
        Json::Array(items) => {
            let all: Option<Vec<Quantity>> = items.iter().map(one).collect();
            (all.and_then(|all| mean(&all)), items.len())
        }
        _ => (None, 1),
    }
}

/// The mean of quantities of one unit, as decimal text.
fn mean(all: &[Quantity]) -> Option<(String, String)> {
    let unit = &all.first()?.unit;
    let mut sum = Exact::zero();
    for q in all {
        let same = q.unit == *unit;
        sum = sum + same.then(|| Exact::parse(&q.value).ok()).flatten()?;
    }
    let count = Exact::from(i64::try_from(all.len()).ok()?);
    Some((sum.checked_div(&count)?.to_text(), unit.clone()))
}

fn held_row(step: &Step, criterion: &Criterion, limit: &Limit, rests: u64) -> HeldRow {
    let ends = [&limit.low, &limit.high];
    let known = limit.value.as_ref().or(ends.into_iter().flatten().next());
    let unit = known.map_or("1", |q| q.unit.as_str()).to_owned();
    let end = |end: &Option<Quantity>| end.as_ref().and_then(|q| in_unit(q, &unit));
    HeldRow {
        path: step.path.clone(),
        title: title(step),
        of: limit.of.clone(),
        value: limit.value.as_ref().map(|q| q.value.clone()),
        low: end(&limit.low),
        high: end(&limit.high),
        uncertainty: limit
            .uncertainty
            .as_ref()
            .map(|u| (u.standard.clone(), u.expanded.clone())),
        verdict: criterion.verdict.clone(),
        severity: criterion.severity.clone(),
        rests,
        unit,
    }
}

/// The number of a stored quantity in a unit, as decimal text.
fn in_unit(q: &Quantity, unit: &str) -> Option<String> {
    if q.unit == unit {
        return Some(q.value.clone());
    }
    converted(&q.value, &q.unit, &Unit::parse(unit).ok()?).map(|q| q.value_text())
}

/// A number of one unit, as decimal text, in another; nothing where their kinds differ.
#[must_use]
pub fn converted(value: &str, from: &str, to: &Unit) -> Option<Measured> {
    let text = match from {
        "1" | "" => value.to_owned(),
        unit => format!("{value} {unit}"),
    };
    parse_quantity(&text).ok()?.untyped().convert(to).ok()
}
