//! A record that rests on an instrument, as text and as data.
//!
//! Never in here: arguments. Changes when more is told of such a record.

use serde_json::{Value, json};

use crate::app::{Overruled, TraceCount, TracedRecord};
use crate::index::{Near, RestingRecord, Use};
use crate::quantity::{Exact, parse_quantity};
use crate::record::MisreadRecord;

use super::arguments::Form;
use super::commands::print;
use super::fitted::report;
use super::show::plain;

/// Most uses that are told in text; JSON has all.
const MOST_USES: usize = 12;

/// What was asked, for what stands above and below the records.
pub(super) struct Asked<'a> {
    pub instrument: &'a str,
    /// Whether the first day was not asked for.
    pub is_default: bool,
    pub since: Option<&'a str>,
    pub until: Option<&'a str>,
    /// Whether the last day is that of its present calibration, and was not asked for.
    pub ends: bool,
    pub calibrated: Option<&'a str>,
    pub error: Option<&'a str>,
    pub form: Form,
}

impl Asked<'_> {
    /// What stands above the records.
    pub fn head(&self) -> String {
        if self.form == Form::Json {
            let head = json!({
                "instrument": self.instrument, "since": self.since, "until": self.until, "error": self.error,
            });
            let head = head.to_string();
            return format!("{},\"records\":[", head.trim_end_matches('}'));
        }
        let mut text = format!("Records that rest on {}", self.instrument);
        match (self.since, self.is_default, self.calibrated) {
            (Some(since), true, Some(_)) if self.ends => {
                text += &format!(", since {since}: the calibration before");
            }
            (Some(since), true, Some(now)) => {
                text += &format!(", since {since}: its calibration before that of {now}");
            }
            (Some(since), ..) => text += &format!(", since {since}"),
            (None, ..) => {}
        }
        if let Some(until) = self.until {
            text += &format!(", until {until}");
            if self.ends {
                text += ": its present calibration";
            }
        }
        if let Some(error) = self.error {
            text += &format!("; judged again with its readings off by up to {error} both ways");
        }
        format!("{}\n", plain(&text))
    }

    /// Prints a part of it.
    pub fn print(&self, text: &str) {
        match self.form {
            Form::Text => print(&report(text)),
            Form::Json => print(text),
        }
    }

    /// What stands below the records: how many, and the ids of those that are doubted.
    pub fn foot(&self, count: TraceCount, doubted: &[String]) -> String {
        if self.form == Form::Json {
            return format!(
                "\n],\"resting\":{},\"without_reading\":{},\"later\":{},\"doubted\":{}}}\n",
                count.resting, count.without_reading, count.later, count.doubted
            );
        }
        let mut text = match count.resting {
            0 => "No record rests on it.\n".to_owned(),
            1 => "1 record rests on it.\n".to_owned(),
            n => format!("{n} records rest on it.\n"),
        };
        if count.without_reading > 0 {
            let n = count.without_reading;
            text += &format!("Records that name it but hold no reading of it, not shown: {n}.\n");
        }
        if count.later > 0 {
            let n = count.later;
            text += &format!(
                "Records under its present calibration, left out: {n}; `--until` takes them in.\n"
            );
        }
        if self.error.is_some() {
            text += &match count.doubted {
                0 => "No verdict could have been another one.\n".to_owned(),
                n => format!(
                    "Records in which a verdict could have been another one: {n}: {}.\n",
                    doubted.join(", ")
                ),
            };
        }
        text
    }
}

/// Longest number that is shown as it is.
const SHORT: usize = 7;

/// A number with its unit as a person reads it.
pub(super) fn shown(value: &str, unit: &str) -> String {
    let text = match unit {
        "1" | "" => value.to_owned(),
        unit => format!("{value} {unit}"),
    };
    if value.len() <= SHORT {
        return text;
    }
    parse_quantity(&text).map_or(text, |q| q.untyped().shown())
}

/// What a limit allows, in words; empty without one.
pub(super) fn allowed(low: Option<&str>, high: Option<&str>, unit: &str) -> String {
    let end = |end: Option<&str>| end.map(|e| shown(e, unit));
    match (end(low), end(high)) {
        (Some(low), Some(high)) => format!("{low} to {high}"),
        (Some(low), None) => format!("at least {low}"),
        (None, Some(high)) => format!("at most {high}"),
        (None, None) => String::new(),
    }
}

/// A record as text.
pub(super) fn traced_text(of: &TracedRecord) -> String {
    let r = &of.resting;
    let day = r.started.get(..10).unwrap_or_default();
    let trial = if r.trial { ", trial" } else { "" };
    let mut lines = vec![format!(
        "\n{}  {day}  {}  {}@{}  {}{trial}",
        r.record, r.device, r.recipe, r.revision, r.verdict
    )];
    lines.extend(of.overruled.iter().map(|why| format!("  {why}")));
    for role in &r.roles {
        let certificate = match role.certificate.as_str() {
            "" => "no certificate".to_owned(),
            number => format!("certificate {number}"),
        };
        let days = [("calibrated", &role.calibrated), ("due", &role.due)];
        let days = days.map(|(what, day)| match day.as_str() {
            "" => format!("{what} on no known day"),
            day => format!("{what} {day}"),
        });
        lines.push(format!(
            "  as {}: {certificate}, {}",
            role.role,
            days.join(", ")
        ));
    }
    lines.extend(uses(r));
    lines.extend(r.nearest.as_ref().map(near_text));
    match &of.misread {
        None => {}
        Some(Err(why)) => lines.push(format!("  can't be judged again: {why}")),
        Some(Ok(misread)) => lines.extend(misread_text(misread)),
    }
    lines
        .iter()
        .map(|line| format!("{}\n", plain(line)))
        .collect()
}

fn uses(r: &RestingRecord) -> Vec<String> {
    let one = |u: &Use| {
        let value = u
            .value
            .as_ref()
            .map_or("a log".to_owned(), |v| shown(v, &u.unit));
        let mean = if u.repeats > 1 { " (mean)" } else { "" };
        format!("{} {value}{mean}", u.step)
    };
    let line = |word: &str, readings: bool| {
        let all: Vec<&Use> = r.uses.iter().filter(|u| u.is_reading == readings).collect();
        let mut told: Vec<String> = all.iter().take(MOST_USES).map(|u| one(u)).collect();
        if all.len() > MOST_USES {
            told.push(format!("{} more", all.len() - MOST_USES));
        }
        (!all.is_empty()).then(|| format!("  {word}: {}", told.join(", ")))
    };
    let both = [line("read", true), line("computed from it", false)];
    both.into_iter().flatten().collect()
}

/// How far inside, with what that is a share of.
fn near_text(near: &Near) -> String {
    let side = if near.inside.is_negative() {
        "outside"
    } else {
        "inside"
    };
    let by = shown(&near.inside.abs().to_text(), &difference(&near.unit));
    let of = match (&near.low, &near.high) {
        (Some(_), Some(_)) => "half the width",
        _ => "the limit",
    };
    let share = near.share.map_or_else(String::new, |share| {
        let percent = Exact::from_f64(share.abs() * 100.0).unwrap_or_default();
        format!(", {} % of {of}", percent.to_significant(2))
    });
    format!(
        "  nearest to a limit: {} ({}) {}, {by} {side} {}{share}: {}",
        near.step,
        near.of,
        shown(&near.value, &near.unit),
        allowed(near.low.as_deref(), near.high.as_deref(), &near.unit),
        near.verdict
    )
}

/// The unit of a difference of two values.
pub(super) fn difference(unit: &str) -> String {
    let parsed = crate::quantity::Unit::parse(unit);
    parsed.map_or_else(|_| unit.to_owned(), |u| u.of_difference().text().to_owned())
}

fn misread_text(of: &MisreadRecord) -> Vec<String> {
    if !of.is_changed() {
        return vec!["  with that error: unchanged".to_owned()];
    }
    let both = |d: &crate::record::Doubted| {
        format!(
            "{} if too low, {} if too high",
            d.above.words(),
            d.below.words()
        )
    };
    let mut lines = vec![format!("  with that error: {}", both(&of.doubted))];
    let unreached = of.criteria.iter().filter(|c| c.doubted.is_only_unreached());
    let unreached = unreached.count();
    for c in of
        .criteria
        .iter()
        .filter(|c| !c.doubted.is_only_unreached())
    {
        let that = if c.that.is_empty() {
            "the answer is yes"
        } else {
            &c.that
        };
        lines.push(format!(
            "    {}: {that} ({}): {}",
            c.path,
            c.verdict,
            both(&c.doubted)
        ));
    }
    if unreached > 0 {
        lines.push(format!(
            "    criteria that would not have been reached then: {unreached}"
        ));
    }
    for (side, asked) in ["too low", "too high"].into_iter().zip(&of.asked) {
        if !asked.is_empty() {
            lines.push(format!(
                "    if {side}, would have been asked, or asked again: {}",
                some(asked)
            ));
        }
    }
    lines
}

/// The first of many paths.
fn some(paths: &[String]) -> String {
    let told: Vec<&str> = paths.iter().take(MOST_USES).map(String::as_str).collect();
    match paths.len().saturating_sub(MOST_USES) {
        0 => told.join(", "),
        more => format!("{}, {more} more", told.join(", ")),
    }
}

/// A record as data.
pub(super) fn traced_json(of: &TracedRecord) -> Value {
    let r = &of.resting;
    let roles: Vec<Value> = r
        .roles
        .iter()
        .map(|c| json!({"role": c.role, "certificate": c.certificate, "calibrated": c.calibrated, "due": c.due}))
        .collect();
    let uses: Vec<Value> = r
        .uses
        .iter()
        .map(|u| {
            json!({
                "step": u.step, "title": u.title, "value": u.value, "unit": u.unit, "repeats": u.repeats,
                "reading": u.is_reading,
            })
        })
        .collect();
    let nearest = r.nearest.as_ref().map(|n| {
        json!({
            "step": n.step, "of": n.of, "value": n.value, "unit": n.unit, "low": n.low, "high": n.high,
            "inside": n.inside.to_text(), "share": n.share, "verdict": n.verdict,
        })
    });
    let (corrected_by, void_by) = match &of.overruled {
        None => (None, None),
        Some(Overruled::By(record)) => (Some(record), None),
        Some(Overruled::Void(amendment)) => (None, Some(amendment)),
    };
    let mut json = json!({
        "record": r.record, "day": r.started.get(..10), "started": r.started, "device": r.device, "recipe": r.recipe,
        "revision": r.revision, "trial": r.trial, "verdict": r.verdict, "roles": roles, "uses": uses,
        "nearest": nearest, "corrected_by": corrected_by, "void_by": void_by,
    });
    if let (Some(map), Some(misread)) = (json.as_object_mut(), &of.misread) {
        map.insert("with_error".to_owned(), misread_json(misread));
    }
    json
}

fn misread_json(of: &Result<MisreadRecord, String>) -> Value {
    let of = match of {
        Ok(of) => of,
        Err(why) => return json!({"not_known": why}),
    };
    let criteria: Vec<Value> = of
        .criteria
        .iter()
        .map(|c| {
            json!({
                "step": c.path, "that": c.that, "verdict": c.verdict, "too_low": c.doubted.above.words(),
                "too_high": c.doubted.below.words(),
            })
        })
        .collect();
    json!({
        "too_low": of.doubted.above.words(), "too_high": of.doubted.below.words(), "criteria": criteria,
        "asked_too_low": of.asked[0], "asked_too_high": of.asked[1],
    })
}
