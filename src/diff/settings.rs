//! Settings: those of the whole, and those of groups, which stand in their place inside.
//!
//! Never in here: what a changed setting does to a criterion. Changes when a setting is told otherwise.

use std::collections::BTreeSet;

use crate::plan::{Bound, Plan, Verb};
use crate::quantity::{Quantity, parse_quantity};

use super::change::{Change, Weight};
use super::keys::text;
use super::revision::{Revision, STEPS, Tree};

/// Most steps that are named as those which rest on a setting.
const MAX_NAMED: usize = 6;

/// Whether two quantities are the same; what a bare number means beside a percentage is told at the criteria.
pub fn same(a: &Quantity, b: &Quantity) -> bool {
    a.kind() == b.kind() && a == b
}

/// What differs in the settings of the whole.
pub fn changes(old: &Plan, new: &Plan, changes: &mut Vec<Change>) {
    let gone: Vec<&String> = old
        .settings
        .keys()
        .filter(|k| !new.settings.contains_key(*k))
        .collect();
    let mut come: Vec<&String> = new
        .settings
        .keys()
        .filter(|k| !old.settings.contains_key(*k))
        .collect();
    let path = |key: &str| format!("settings.{key}");
    for (key, before) in &old.settings {
        let Some(now) = new.settings.get(key) else {
            continue;
        };
        if same(before, now) {
            if before.shown() != now.shown() {
                let why = "the same quantity, written otherwise";
                changes.push(Change::new(
                    path(key),
                    Weight::Notation,
                    before.shown(),
                    now.shown(),
                    why,
                ));
            }
        } else {
            let change = Change::new(
                path(key),
                Weight::Setting,
                before.shown(),
                now.shown(),
                named_by(new, key),
            );
            changes.push(change);
        }
    }
    for key in gone {
        let before = &old.settings[key];
        // Under another name where exactly that is new, and what named the one names the other.
        let renamed = come
            .iter()
            .position(|k| same(before, &new.settings[*k]) && naming(old, key) == naming(new, k));
        match renamed {
            Some(at) => {
                let now = come.remove(at);
                let why = "the setting has another name";
                changes.push(Change::new(path(now), Weight::Notation, key, now, why));
            }
            None => changes.push(Change::new(
                path(key),
                Weight::Setting,
                before.shown(),
                "",
                format!("the setting is no more; {}", named_by(old, key)),
            )),
        }
    }
    for key in come {
        changes.push(Change::new(
            path(key),
            Weight::Setting,
            "",
            new.settings[key].shown(),
            format!("the setting is new; {}", named_by(new, key)),
        ));
    }
}

/// The steps whose expressions name something, without their rows.
fn naming(plan: &Plan, name: &str) -> BTreeSet<String> {
    let names = |bound: &Bound| bound.expression.names.iter().any(|n| n == name);
    let found = plan.items.iter().filter(|item| {
        let computes = matches!(&item.verb, Verb::Compute { expression, .. } if names(expression));
        let judges = item
            .criteria
            .iter()
            .filter_map(|c| c.that.as_ref())
            .any(names);
        let says = item.prompt_slots.iter().any(|(n, _)| n == name);
        computes || judges || says || item.conditions.iter().any(names)
    });
    found.map(|item| without_rows(&item.path)).collect()
}

fn without_rows(path: &str) -> String {
    let is_row = |part: &&str| part.parse::<usize>().is_ok();
    let parts: Vec<&str> = path.split('.').filter(|p| !is_row(p)).collect();
    parts.join(".")
}

fn named_by(plan: &Plan, name: &str) -> String {
    let all: Vec<String> = naming(plan, name).into_iter().collect();
    match all.len() {
        0 => "no step names it".to_owned(),
        n if n > MAX_NAMED => format!(
            "{} and {} more steps name it",
            all[..MAX_NAMED].join(", "),
            n - MAX_NAMED
        ),
        1 => format!("{} names it", all[0]),
        _ => format!("{} name it", all.join(", ")),
    }
}

/// A number that lost or got its `%` is another setting where a criterion that names it accepts something else: beside a
/// bare number the one is a ratio of it and the other a difference.
pub fn judge_bare(head: &mut [Change], steps: &[Change], (old, new): (&Revision, &Revision)) {
    let limits = |c: &&Change| {
        matches!(
            c.weight,
            Weight::Loosened | Weight::Tightened | Weight::Shifted | Weight::Undecided
        )
    };
    let changed: BTreeSet<String> = steps
        .iter()
        .filter(limits)
        .map(|c| without_rows(&c.path))
        .collect();
    let is_bare = |plan: &Plan, key: &str| plan.settings.get(key).map(|q| q.unit().text() == "1");
    for change in head.iter_mut().filter(|c| c.weight == Weight::Notation) {
        let Some(key) = change.path.strip_prefix("settings.") else {
            continue;
        };
        if is_bare(&old.plan, key) != is_bare(&new.plan, key)
            && !naming(&new.plan, key).is_disjoint(&changed)
        {
            change.weight = Weight::Setting;
            change.why = format!(
                "beside a bare number it says something else; {}",
                named_by(&new.plan, key)
            );
        }
    }
}

/// What differs in the settings of a matched group.
pub fn of_group(
    (old_tree, was): (&Tree<'_>, usize),
    (new_tree, at): (&Tree<'_>, usize),
    changes: &mut Vec<Change>,
) {
    let own = |tree: &Tree<'_>, step: usize| -> BTreeSet<String> {
        let map = tree.steps[step].get("settings").and_then(|s| s.as_object());
        map.into_iter().flat_map(|m| m.keys().cloned()).collect()
    };
    let keys: BTreeSet<String> = own(old_tree, was)
        .union(&own(new_tree, at))
        .cloned()
        .collect();
    for key in keys {
        let (before, now) = (in_force(old_tree, was, &key), in_force(new_tree, at, &key));
        let own_text = |tree: &Tree<'_>, step: usize| {
            text(tree.steps[step].get("settings").and_then(|s| s.get(&key)))
        };
        if own_text(old_tree, was) == own_text(new_tree, at) {
            continue;
        }
        let (weight, why) = match (parse_quantity(&before), parse_quantity(&now)) {
            (Ok(a), Ok(b)) if same(&a, &b) => (Weight::Notation, "the same holds inside"),
            _ => (
                Weight::Setting,
                "inside the group another value holds; what rests on it is told at the steps",
            ),
        };
        let path = format!("{}.settings.{key}", new_tree.steps[at].path);
        changes.push(Change::new(path, weight, before, now, why));
    }
}

/// A setting as it holds inside a group: its own, that of a group around it, or that of the whole.
fn in_force(tree: &Tree<'_>, step: usize, key: &str) -> String {
    let mut at = step;
    while at > STEPS {
        if let Some(own) = tree.steps[at].get("settings").and_then(|s| s.get(key)) {
            return text(Some(own));
        }
        at = tree.steps[at].parent;
    }
    let whole = tree.of.plan.settings.get(key);
    whole.map_or_else(String::new, Quantity::shown)
}
