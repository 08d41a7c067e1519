//! Which steps of the two revisions are the same: by id within their scope, then by what they say, wherever they stand.
//!
//! Never in here: what changed in them. Changes when steps are recognised otherwise.

use std::collections::{HashMap, HashSet, VecDeque};

use serde_json::Value;

use crate::quantity::Unit;

use super::revision::{SETUP, STEPS, Step, Tree};
use super::wording::likeness;

/// How alike two sentences are, of 100, for steps that share their id or their scope.
const ALIKE: usize = 60;
/// How alike for steps that stand in another scope but have the same id.
const ALIKE_ELSEWHERE: usize = 50;
/// Most steps without a partner in a scope whose sentences are compared each with each.
const MAX_COMPARED: usize = 200;

/// Steps of one revision with their partners of the other.
#[derive(Debug)]
pub struct Pairing {
    /// By step of the old revision.
    pub new_of: Vec<Option<usize>>,
    /// By step of the new revision.
    pub old_of: Vec<Option<usize>>,
    /// The steps of the new revision that stand elsewhere now.
    pub moved: HashSet<usize>,
}

struct Matching<'a, 'r> {
    old: &'a Tree<'r>,
    new: &'a Tree<'r>,
    pairing: Pairing,
}

/// Finds the partners.
pub fn pair(old: &Tree<'_>, new: &Tree<'_>) -> Pairing {
    let pairing = Pairing {
        new_of: vec![None; old.steps.len()],
        old_of: vec![None; new.steps.len()],
        moved: HashSet::new(),
    };
    let mut matching = Matching { old, new, pairing };
    matching.take(SETUP, SETUP);
    matching.take(STEPS, STEPS);
    // A group that got another name keeps what is inside of it.
    matching.alike_in_scope(&|step| !step.is_leaf());
    matching.elsewhere_by_id();
    matching.elsewhere_by_content();
    matching.alike_in_scope(&|_| true);
    let mut pairing = matching.pairing;
    pairing.moved = moved(old, new, &pairing);
    pairing
}

impl Matching<'_, '_> {
    /// Makes two steps partners, and then those inside them that have the same id or say the same.
    fn take(&mut self, old: usize, new: usize) {
        self.pairing.new_of[old] = Some(new);
        self.pairing.old_of[new] = Some(old);
        let free = |at: &usize, of: &[Option<usize>]| of[*at].is_none();
        let olds: Vec<usize> = self.old.steps[old]
            .inner
            .iter()
            .filter(|s| free(s, &self.pairing.new_of))
            .copied()
            .collect();
        let news: Vec<usize> = self.new.steps[new]
            .inner
            .iter()
            .filter(|s| free(s, &self.pairing.old_of))
            .copied()
            .collect();
        let by_id: HashMap<&str, usize> =
            news.iter().map(|s| (self.new.steps[*s].id, *s)).collect();
        for (at, to) in self.under_other_ids(&olds, &news, &by_id) {
            self.take(at, to);
        }
        for at in &olds {
            if let Some(to) = by_id.get(self.old.steps[*at].id)
                && self.is_free(*at, *to)
                && self.fits(*at, *to)
            {
                self.take(*at, *to);
            }
        }
        self.same_content(&olds, &news);
    }

    /// The steps of a scope whose sentence stands under another id now, while their own id, or that one, stands at another
    /// sentence: ids that were exchanged, or moved on by one. What is read goes before what it is called.
    fn under_other_ids(
        &self,
        olds: &[usize],
        news: &[usize],
        by_id: &HashMap<&str, usize>,
    ) -> Vec<(usize, usize)> {
        let ids: HashMap<&str, usize> = olds.iter().map(|s| (self.old.steps[*s].id, *s)).collect();
        let says = |step: &Step<'_>| {
            !matches!(step.verb, "compute" | "each") && !step.sentence().is_empty()
        };
        let stays = |old: usize, new: usize| {
            self.old.steps[old].sentence() == self.new.steps[new].sentence()
        };
        let here = |at: &usize| by_id.get(self.old.steps[*at].id).copied();
        let there = |to: &usize| ids.get(self.new.steps[*to].id).copied();
        let mut was: HashMap<_, Vec<usize>> = HashMap::new();
        for at in olds
            .iter()
            .filter(|at| here(at).is_none_or(|to| !stays(**at, to)))
        {
            let step = &self.old.steps[*at];
            if says(step) {
                was.entry((step.verb, step.sentence()))
                    .or_default()
                    .push(*at);
            }
        }
        let mut is: HashMap<_, Vec<usize>> = HashMap::new();
        for to in news
            .iter()
            .filter(|to| there(to).is_none_or(|at| !stays(at, **to)))
        {
            let step = &self.new.steps[*to];
            if says(step) {
                is.entry((step.verb, step.sentence()))
                    .or_default()
                    .push(*to);
            }
        }
        let mut pairs: Vec<(usize, usize)> = Vec::new();
        for (said, at) in &was {
            if let ([at], Some([to])) = (&at[..], is.get(said).map(Vec::as_slice))
                && (here(at).is_some() || there(to).is_some())
                && self.fits(*at, *to)
            {
                pairs.push((*at, *to));
            }
        }
        pairs.sort_unstable();
        pairs
    }

    /// Whether two steps do the same sort of thing in the same rows.
    fn fits(&self, old: usize, new: usize) -> bool {
        let (a, b) = (&self.old.steps[old], &self.new.steps[new]);
        a.verb == b.verb && same_kind(a, b) && self.in_same_rows(a, b)
    }

    fn in_same_rows(&self, a: &Step<'_>, b: &Step<'_>) -> bool {
        let partners = a.rows_around.iter().map(|each| self.pairing.new_of[*each]);
        partners.eq(b.rows_around.iter().map(|each| Some(*each)))
    }

    fn same_content(&mut self, olds: &[usize], news: &[usize]) {
        let mut by_content: HashMap<String, VecDeque<usize>> = HashMap::new();
        let left: Vec<usize> = olds
            .iter()
            .filter(|s| self.pairing.new_of[**s].is_none())
            .copied()
            .collect();
        if left.is_empty() {
            return;
        }
        for at in news.iter().filter(|s| self.pairing.old_of[**s].is_none()) {
            by_content
                .entry(content(&self.new.steps[*at]))
                .or_default()
                .push_back(*at);
        }
        for at in left {
            let same = by_content.get_mut(&content(&self.old.steps[at]));
            let to = same.and_then(VecDeque::pop_front);
            if let Some(to) =
                to.filter(|to| self.pairing.old_of[*to].is_none() && self.fits(at, *to))
            {
                self.take(at, to);
            }
        }
    }

    fn free_olds(&self) -> Vec<usize> {
        (STEPS + 1..self.old.steps.len())
            .filter(|s| self.pairing.new_of[*s].is_none())
            .collect()
    }

    fn free_news(&self) -> Vec<usize> {
        (STEPS + 1..self.new.steps.len())
            .filter(|s| self.pairing.old_of[*s].is_none())
            .collect()
    }

    /// Steps that kept their id and went into another scope.
    fn elsewhere_by_id(&mut self) {
        let mut by_id: HashMap<&str, Vec<usize>> = HashMap::new();
        for at in self.free_news() {
            by_id.entry(self.new.steps[at].id).or_default().push(at);
        }
        for at in self.free_olds() {
            let there = by_id
                .get(self.old.steps[at].id)
                .map(Vec::as_slice)
                .unwrap_or_default();
            let best = there
                .iter()
                .filter(|to| self.is_free(at, **to) && self.fits(at, **to))
                .take(MAX_COMPARED)
                .map(|to| (self.likeness(at, *to), *to))
                .filter(|(alike, _)| *alike >= ALIKE_ELSEWHERE)
                .max_by_key(|(alike, to)| (*alike, std::cmp::Reverse(*to)));
            if let Some((_, to)) = best {
                self.take(at, to);
            }
        }
    }

    fn is_free(&self, old: usize, new: usize) -> bool {
        self.pairing.new_of[old].is_none() && self.pairing.old_of[new].is_none()
    }

    fn elsewhere_by_content(&mut self) {
        let (olds, news) = (self.free_olds(), self.free_news());
        self.same_content(&olds, &news);
    }

    /// Steps that got another id, and perhaps other settings, but say much the same.
    fn alike_in_scope(&mut self, counts: &dyn Fn(&Step<'_>) -> bool) {
        for at in 0..self.old.steps.len() {
            let Some(to) = self.pairing.new_of[at] else {
                continue;
            };
            let olds: Vec<usize> = self.old.steps[at]
                .inner
                .iter()
                .filter(|s| self.pairing.new_of[**s].is_none() && counts(&self.old.steps[**s]))
                .copied()
                .collect();
            let news: Vec<usize> = self.new.steps[to]
                .inner
                .iter()
                .filter(|s| self.pairing.old_of[**s].is_none())
                .copied()
                .collect();
            let (olds, news) = self.same_sentence(olds, news);
            if olds.len() > MAX_COMPARED || news.len() > MAX_COMPARED {
                continue;
            }
            for old in olds {
                let best = news
                    .iter()
                    .filter(|new| self.is_free(old, **new) && self.fits(old, **new))
                    .map(|new| (self.likeness(old, *new), *new))
                    .filter(|(alike, _)| *alike >= ALIKE)
                    .max_by_key(|(alike, new)| (*alike, std::cmp::Reverse(*new)));
                if let Some((_, new)) = best {
                    self.take(old, new);
                }
            }
        }
    }

    /// Makes steps partners that say the same, be they never so many, where one of each says it; gives those that are left.
    fn same_sentence(&mut self, olds: Vec<usize>, news: Vec<usize>) -> (Vec<usize>, Vec<usize>) {
        let mut says: HashMap<_, (Vec<usize>, Vec<usize>)> = HashMap::new();
        for at in &olds {
            let step = &self.old.steps[*at];
            says.entry((step.verb, step.sentence()))
                .or_default()
                .0
                .push(*at);
        }
        for to in &news {
            let step = &self.new.steps[*to];
            says.entry((step.verb, step.sentence()))
                .or_default()
                .1
                .push(*to);
        }
        let mut pairs: Vec<(usize, usize)> = (says.into_values())
            .filter_map(|(old, new)| match (&old[..], &new[..]) {
                ([at], [to]) if self.old.steps[*at].is_leaf() => Some((*at, *to)),
                _ => None,
            })
            .collect();
        pairs.sort_unstable();
        for (at, to) in pairs {
            if self.is_free(at, to) && self.fits(at, to) {
                self.take(at, to);
            }
        }
        let free = |at: &usize, of: &[Option<usize>]| of[*at].is_none();
        (
            olds.into_iter()
                .filter(|s| free(s, &self.pairing.new_of))
                .collect(),
            news.into_iter()
                .filter(|s| free(s, &self.pairing.old_of))
                .collect(),
        )
    }

    /// How alike two steps are by what they say; groups by the ids of the steps inside.
    fn likeness(&self, old: usize, new: usize) -> usize {
        let (a, b) = (&self.old.steps[old], &self.new.steps[new]);
        if a.is_leaf() {
            return likeness(&a.sentence(), &b.sentence());
        }
        let ids = |tree: &Tree<'_>, of: &Step<'_>| {
            let ids: Vec<&str> = of.inner.iter().map(|s| tree.steps[*s].id).collect();
            ids.join(" ")
        };
        likeness(&ids(self.old, a), &ids(self.new, b))
    }
}

/// Whether two steps that measure do so in units of one kind.
fn same_kind(a: &Step<'_>, b: &Step<'_>) -> bool {
    if a.verb != "measure" || a.get("unit") == b.get("unit") {
        return true;
    }
    let kind = |of: &Step<'_>| Some(Unit::parse(&of.text("unit")?).ok()?.kind());
    match (kind(a), kind(b)) {
        (Some(a), Some(b)) => a.comparable(b).is_ok(),
        _ => false,
    }
}

/// All that a step says, its own id left out.
fn content(step: &Step<'_>) -> String {
    let Value::Object(keys) = step.value else {
        return String::new();
    };
    let mut keys: Vec<(&String, &Value)> = keys.iter().filter(|(key, _)| *key != "id").collect();
    keys.sort_by_key(|(key, _)| *key);
    let text: Vec<String> = keys
        .iter()
        .map(|(key, value)| format!("{key}: {value}"))
        .collect();
    without_word(&text.join("\n"), step.id)
}

/// A text in which a word that stands alone is left out.
fn without_word(text: &str, word: &str) -> String {
    let part = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '.';
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(word).filter(|_| !word.is_empty()) {
        let (before, after) = (&rest[..at], &rest[at + word.len()..]);
        let alone = !before.ends_with(part) && !after.starts_with(|c: char| part(c) && c != '.');
        out.push_str(before);
        out.push_str(if alone { "·" } else { word });
        rest = after;
    }
    out.push_str(rest);
    out
}

/// The steps that stand elsewhere now: in another scope, or before steps that they stood behind. Of a scope as few as possible.
fn moved(old: &Tree<'_>, new: &Tree<'_>, pairing: &Pairing) -> HashSet<usize> {
    let mut moved = HashSet::new();
    for (at, step) in new.steps.iter().enumerate() {
        let Some(was) = pairing.old_of[at] else {
            moved.extend(step.inner.iter().filter(|s| pairing.old_of[**s].is_some()));
            continue;
        };
        let mut stayed = Vec::new();
        for inner in &step.inner {
            match pairing.old_of[*inner] {
                Some(before) if old.steps[before].parent == was => stayed.push((*inner, before)),
                Some(_) => drop(moved.insert(*inner)),
                None => {}
            }
        }
        let befores: Vec<usize> = stayed.iter().map(|(_, before)| *before).collect();
        let in_order = longest_rise(&befores);
        moved.extend(
            stayed
                .iter()
                .enumerate()
                .filter(|(n, _)| !in_order[*n])
                .map(|(_, (s, _))| *s),
        );
    }
    moved
}

/// Marks a longest part of a list that rises.
pub fn longest_rise(list: &[usize]) -> Vec<bool> {
    // Patience sorting: the last numbers of the best runs of each length, with where they came from.
    let mut ends: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = vec![None; list.len()];
    for (at, value) in list.iter().enumerate() {
        let place = ends.partition_point(|end| list[*end] < *value);
        before[at] = place.checked_sub(1).map(|p| ends[p]);
        if place == ends.len() {
            ends.push(at);
        } else {
            ends[place] = at;
        }
    }
    let mut marks = vec![false; list.len()];
    let mut at = ends.last().copied();
    while let Some(here) = at {
        marks[here] = true;
        at = before[here];
    }
    marks
}
