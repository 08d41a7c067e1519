//! Which rows of an `each` are the same in both revisions: all fields alike first, then most fields.
//!
//! Never in here: what follows from a changed field. Changes when rows are recognised otherwise.

use std::collections::{BTreeSet, HashMap};

use serde_json::{Map, Value};

use crate::quantity::parse_quantity;

/// Most rows that are looked through for the one that shares most with another.
const MAX_COMPARED: usize = 64;

/// A row as written.
pub type Row = Map<String, Value>;

/// The rows of both revisions, which count from 0.
#[derive(Clone, Debug, Default)]
pub struct Rows {
    /// Partners: old and new, by the new order.
    pub pairs: Vec<(usize, usize)>,
    /// Rows that are no more.
    pub removed: Vec<usize>,
    /// Rows that are new.
    pub added: Vec<usize>,
}

/// What a field says, its spelling left aside.
pub fn meaning(value: &Value) -> String {
    let text = match value {
        Value::String(text) => text.clone(),
        other => other.to_string(),
    };
    match parse_quantity(&text) {
        // Whether a tolerance is a ratio rests on whether a number is bare.
        Ok(q) => format!(
            "{:?} {} {}",
            q.kind(),
            q.unit().text() == "1",
            q.si().to_exact()
        ),
        Err(_) => format!("text {text}"),
    }
}

/// What a row holds; the field that was given another name by its old one.
fn key(row: &Row, renamed: Option<(&str, &str)>) -> Vec<(String, String)> {
    let named = |name: &String| match renamed {
        Some((old, new)) if new == name => old.to_owned(),
        _ => name.clone(),
    };
    let mut key: Vec<(String, String)> = row.iter().map(|(k, v)| (named(k), meaning(v))).collect();
    key.sort();
    key
}

/// The field that was given another name: the only one that is no more, and the only one that is new.
fn renamed<'r>(old: &[&'r Row], new: &[&'r Row]) -> Option<(&'r str, &'r str)> {
    let only = |of: &[&'r Row], other: &[&'r Row]| {
        let names = |rows: &[&'r Row]| -> BTreeSet<&'r str> {
            rows.iter()
                .flat_map(|row| row.keys().map(String::as_str))
                .collect()
        };
        let others = names(other);
        let mut alone = names(of).into_iter().filter(|name| !others.contains(name));
        alone.next().filter(|_| alone.next().is_none())
    };
    Some((only(old, new)?, only(new, old)?))
}

/// Finds the partners.
pub fn pair(old: &[&Row], new: &[&Row]) -> Rows {
    let renamed = renamed(old, new);
    let (olds, news): (Vec<_>, Vec<_>) = (
        old.iter().map(|r| key(r, None)).collect(),
        new.iter().map(|r| key(r, renamed)).collect(),
    );
    let mut new_of: Vec<Option<usize>> = vec![None; olds.len()];
    let mut taken = vec![false; news.len()];
    let mut by_key: HashMap<&[(String, String)], Vec<usize>> = HashMap::new();
    for (at, key) in news.iter().enumerate().rev() {
        by_key.entry(key).or_default().push(at);
    }
    for (at, key) in olds.iter().enumerate() {
        if let Some(to) = by_key.get_mut(&key[..]).and_then(Vec::pop) {
            new_of[at] = Some(to);
            taken[to] = true;
        }
    }
    let first = |row: &Row, renamed| {
        let field = row.iter().next()?;
        let one = [field].into_iter().map(|(k, v)| (k.clone(), v.clone()));
        key(&one.collect(), renamed).pop()
    };
    let named_alike = |at: usize, to: usize| first(old[at], None) == first(new[to], renamed);
    most_alike(&olds, &news, &named_alike, &mut new_of, &mut taken);
    let partner = |(at, to): (usize, &Option<usize>)| Some((at, (*to)?));
    let mut pairs: Vec<(usize, usize)> = new_of.iter().enumerate().filter_map(partner).collect();
    pairs.sort_by_key(|(_, to)| *to);
    Rows {
        pairs,
        removed: (0..olds.len()).filter(|at| new_of[*at].is_none()).collect(),
        added: (0..news.len()).filter(|at| !taken[*at]).collect(),
    }
}

/// Pairs rows that share their first field, which names them, or more than half of all: those that share most first, the
/// nearest place second.
fn most_alike(
    olds: &[Vec<(String, String)>],
    news: &[Vec<(String, String)>],
    named_alike: &dyn Fn(usize, usize) -> bool,
    new_of: &mut [Option<usize>],
    taken: &mut [bool],
) {
    let mut by_field: HashMap<&(String, String), Vec<usize>> = HashMap::new();
    for (at, fields) in news.iter().enumerate().filter(|(at, _)| !taken[*at]) {
        fields
            .iter()
            .for_each(|f| by_field.entry(f).or_default().push(at));
    }
    let mut found: Vec<(std::cmp::Reverse<usize>, usize, usize, usize)> = Vec::new();
    for (at, fields) in olds
        .iter()
        .enumerate()
        .filter(|(at, _)| new_of[*at].is_none())
    {
        let mut shared: HashMap<usize, usize> = HashMap::new();
        for there in fields.iter().filter_map(|f| by_field.get(f)) {
            // Where very many share a field those at the nearest places count.
            let near = there.partition_point(|to| *to < at);
            let from = near.saturating_sub(MAX_COMPARED / 2);
            for to in there.iter().skip(from).take(MAX_COMPARED) {
                *shared.entry(*to).or_default() += 1;
            }
        }
        let enough = |(to, n): &(usize, usize)| {
            2 * n > fields.len().max(news[*to].len()) || named_alike(at, *to)
        };
        found.extend(
            shared
                .into_iter()
                .filter(enough)
                .map(|(to, n)| (std::cmp::Reverse(n), at.abs_diff(to), at, to)),
        );
    }
    found.sort();
    for (_, _, at, to) in found {
        if new_of[at].is_none() && !taken[to] {
            new_of[at] = Some(to);
            taken[to] = true;
        }
    }
}
