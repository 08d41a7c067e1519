//! What stands above the steps: whose recipe it is, sources of limits, cautions, instrument roles.
//!
//! Never in here: steps, settings. Changes when the header can say something new.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use crate::plan::{Decision, Plan};

use super::change::{Change, Lean, Weight};
use super::keys::text;
use super::revision::Revision;
use super::sentences::{SAME_CAUTION, cautions};
use super::settings;
use super::wording::{changed_words, likeness};

/// What differs above the steps.
pub fn changes(old: &Revision, new: &Revision) -> Vec<Change> {
    let mut changes = Vec::new();
    let (a, b) = (&old.plan, &new.plan);
    identity(old, new, &mut changes);
    history(a, b, &mut changes);
    if a.title != b.title {
        let why = format!("the title: {}", changed_words(&a.title, &b.title));
        changes.push(Change::new(
            "title",
            Weight::Wording,
            &a.title,
            &b.title,
            why,
        ));
    }
    sources(a, b, &mut changes);
    of_the_whole(&a.cautions, &b.cautions, &mut changes);
    changes.extend(decision(old.rules(), new.rules()));
    settings::changes(a, b, &mut changes);
    roles(a, b, &mut changes);
    changes
}

fn identity(old: &Revision, new: &Revision, changes: &mut Vec<Change>) {
    let told = [
        ("recipe", "it is another recipe"),
        ("revision", "the number of the revision"),
        ("category", "it is for another kind of device"),
        ("applies_to", "it is for other makers or models"),
        ("extends", "it is derived from another revision"),
    ];
    for (key, why) in told {
        let (before, now) = (old.get(key), new.get(key));
        if before != now {
            let (weight, why) = match (before.map(without_order), now.map(without_order)) {
                (Some(a), Some(b)) if a == b => (Weight::Notation, "the same in another order"),
                _ => (Weight::Identity, why),
            };
            changes.push(Change::new(key, weight, text(before), text(now), why));
        }
    }
}

/// A value in which lists are sorted.
fn without_order(value: &Value) -> Value {
    match value {
        Value::Array(list) => {
            let mut list: Vec<Value> = list.iter().map(without_order).collect();
            list.sort_by_key(Value::to_string);
            Value::Array(list)
        }
        Value::Object(map) => {
            let all = map.iter().map(|(key, v)| (key.clone(), without_order(v)));
            let sorted: BTreeMap<String, Value> = all.collect();
            sorted.into_iter().collect()
        }
        other => other.clone(),
    }
}

/// What the recipe says of its earlier revisions; another recipe has a history of its own.
fn history(old: &Plan, new: &Plan, changes: &mut Vec<Change>) {
    if old.recipe != new.recipe {
        return;
    }
    let said = |c: &crate::plan::Change| {
        let by =
            c.by.as_ref()
                .map_or_else(String::new, |by| format!(" ({by})"));
        format!("{}: {}{by}", c.date, c.why)
    };
    let entries = |plan: &Plan| -> Vec<(u32, String)> {
        plan.changes.iter().map(|c| (c.revision, said(c))).collect()
    };
    let (before, now) = (entries(old), entries(new));
    let path = |revision: u32| format!("changes.{revision}");
    for (revision, entry) in before.iter().filter(|e| !now.contains(e)) {
        let other = now
            .iter()
            .find(|(r, e)| r == revision && !before.contains(&(*r, e.clone())));
        let (is, why) = match other {
            Some((_, e)) => (
                e.as_str(),
                "the history of an earlier revision was rewritten",
            ),
            None => ("", "an entry of the history is no more"),
        };
        changes.push(Change::new(
            path(*revision),
            Weight::Identity,
            entry,
            is,
            why,
        ));
    }
    for (revision, entry) in now.iter().filter(|e| !before.contains(e)) {
        if before
            .iter()
            .any(|(r, e)| r == revision && !now.contains(&(*r, e.clone())))
        {
            continue;
        }
        changes.push(Change::new(
            path(*revision),
            Weight::Identity,
            "",
            entry,
            "an entry of the history is new",
        ));
    }
}

/// Sources of limits by their keys; those that no criterion cites are told too.
fn sources(old: &Plan, new: &Plan, changes: &mut Vec<Change>) {
    for (key, before) in &old.basis {
        let path = format!("basis.{key}");
        match new.basis.get(key) {
            Some(now) if now == before => {}
            Some(now) => changes.push(Change::new(
                path,
                Weight::Identity,
                before,
                now,
                "limits that cite it rest on another source",
            )),
            None => {
                let kept = new
                    .basis
                    .iter()
                    .any(|(k, v)| v == before && !old.basis.contains_key(k));
                let (weight, why) = match kept {
                    true => (Weight::Notation, "the source stands under another key"),
                    false => (Weight::Identity, "a source is no more"),
                };
                changes.push(Change::new(path, weight, before, "", why));
            }
        }
    }
    for (key, now) in new
        .basis
        .iter()
        .filter(|(key, _)| !old.basis.contains_key(*key))
    {
        if old
            .basis
            .iter()
            .any(|(k, v)| v == now && !new.basis.contains_key(k))
        {
            continue;
        }
        changes.push(Change::new(
            format!("basis.{key}"),
            Weight::Identity,
            "",
            now,
            "a source is new",
        ));
    }
}

fn of_the_whole(old: &[String], new: &[String], changes: &mut Vec<Change>) {
    let gone: Vec<&String> = old.iter().filter(|c| !new.contains(c)).collect();
    let mut come: Vec<&String> = new.iter().filter(|c| !old.contains(c)).collect();
    for before in gone {
        let best = come
            .iter()
            .enumerate()
            .map(|(n, now)| (likeness(before, now), std::cmp::Reverse(n)))
            .max();
        match best.filter(|(alike, _)| *alike >= SAME_CAUTION) {
            Some((_, std::cmp::Reverse(n))) => {
                changes.extend(cautions("cautions", before, come.remove(n)))
            }
            None => changes.extend(cautions("cautions", before, "")),
        }
    }
    changes.extend(
        come.into_iter()
            .flat_map(|now| cautions("cautions", "", now)),
    );
}

/// The rule that a revision is judged by, and the one that it states.
type Rules = [Option<Decision>; 2];

/// The decision rule: `guarded` lets pass least, `simple` and `banded` the same but for what is said of it.
fn decision(old: Rules, new: Rules) -> Option<Change> {
    let ([old, own_old], [new, own_new]) = (old, new);
    if own_old == own_new && old == new {
        return None;
    }
    let word = |d: Option<Decision>| d.map_or("", Decision::word);
    let (was, is) = (word(own_old), word(own_new));
    let change = |weight: Weight, why: &str| {
        Change::new("decision", weight, was, is, why).about("decision guard guarded simple banded")
    };
    Some(match (old, new) {
        _ if old == new => change(Weight::Notation, "the rule that the shop goes by anyway"),
        (None, _) | (_, None) => change(
            Weight::Undecided,
            "without it the shop's own rule holds, which is not known here",
        ),
        (_, Some(Decision::Guarded)) => change(
            Weight::Tightened,
            "a value must lie inside its limits by its uncertainty",
        ),
        (Some(Decision::Guarded), _) => change(
            Weight::Loosened,
            "a value need not lie inside its limits by its uncertainty any more",
        ),
        (_, Some(Decision::Banded)) => change(
            Weight::Flow,
            "a value near its limit passes or fails conditionally",
        )
        .leaning(Lean::Tighter),
        _ => change(
            Weight::Flow,
            "a value near its limit is not told apart any more",
        )
        .leaning(Lean::Looser),
    })
}

fn roles(old: &Plan, new: &Plan, changes: &mut Vec<Change>) {
    let said = |plan: &Plan, key: &str| {
        plan.roles.get(key).map(|role| {
            let kind = role
                .kind
                .as_ref()
                .map_or_else(String::new, |k| format!("{k}: "));
            format!("{kind}{}", role.measures.join(", "))
        })
    };
    let keys: BTreeSet<&String> = old.roles.keys().chain(new.roles.keys()).collect();
    for key in keys {
        let (before, now) = (said(old, key), said(new, key));
        if before == now {
            continue;
        }
        let sorted = |plan: &Plan| {
            plan.roles.get(key).map(|role| {
                let mut measures = role.measures.clone();
                measures.sort();
                (role.kind.clone(), measures)
            })
        };
        if sorted(old) == sorted(new) {
            let why = "the same in another order";
            let path = format!("instruments.{key}");
            let shown = |text: Option<String>| text.unwrap_or_default();
            let change = Change::new(path, Weight::Notation, shown(before), shown(now), why);
            changes.push(change);
            continue;
        }
        let why = match (&before, &now) {
            (None, _) => "an instrument role is new",
            (_, None) => "an instrument role is no more",
            _ => "another instrument can fill the role",
        };
        changes.push(Change::new(
            format!("instruments.{key}"),
            Weight::Instrument,
            before.unwrap_or_default(),
            now.unwrap_or_default(),
            why,
        ));
    }
}
