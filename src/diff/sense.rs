//! Whether two sentences may mean different things to somebody who follows them: by their numbers, their units, and the
//! words that turn a sense. Other words, their order and little words between them are mere wording.
//!
//! Never in here: what that weighs, and the words themselves (see `lexicon`). Changes when sentences are read otherwise.

use std::collections::BTreeMap;

use crate::quantity::{Unit, parse_quantity};

use super::lexicon::{self, Sort};

/// How many content words both sentences must have before sharing none makes the one another sentence.
const ENOUGH: usize = 2;

/// So many words more in the one of two sentences are not made up for by words in their place.
const MANY: usize = 2;

/// What a changed sentence comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sense {
    /// The same words; a quantity is written otherwise.
    Same,
    /// Other words, the same numbers.
    Reworded,
    /// What turns it.
    Turned(String),
    /// It has nothing in common with what it was.
    Another,
}

/// A sentence taken apart.
#[derive(Debug, Default)]
struct Parts {
    /// Numbers with their units, and codes.
    numbers: BTreeMap<String, (usize, String)>,
    /// Numbers without a unit, in their order.
    bare: Vec<String>,
    /// Denials, each with the word that it denies.
    denials: BTreeMap<String, (usize, String)>,
    /// Words that compare, and such.
    turning: BTreeMap<String, (usize, String)>,
    /// All other words but little ones, in their order.
    content: Vec<String>,
    /// Whether it tells an order of steps.
    ordered: bool,
    /// All words, numbers by their value.
    all: Vec<String>,
    /// The numbers as they are written.
    spelled: Vec<String>,
}

/// Two sentences taken apart.
#[derive(Debug)]
pub struct Sentences {
    old: Parts,
    new: Parts,
}

impl Sentences {
    /// Takes both apart.
    pub fn of(old: &str, new: &str) -> Self {
        let (old, new) = (parts(old), parts(new));
        Self { old, new }
    }

    /// What the newer one comes to.
    pub fn sense(&self) -> Sense {
        let (a, b) = (&self.old, &self.new);
        if a.all == b.all && a.spelled != b.spelled {
            return Sense::Same;
        }
        let turned = differs(&a.numbers, &b.numbers)
            .or_else(|| differs(&a.denials, &b.denials))
            .or_else(|| differs(&a.turning, &b.turning))
            .or_else(|| (a.bare != b.bare).then(|| a.bare.join(", ")))
            .or_else(|| opposed(&a.content, &b.content))
            .or_else(|| reordered(a, b));
        let shared = a.content.iter().any(|word| b.content.contains(word));
        match turned {
            Some(word) => Sense::Turned(word),
            None if !shared && a.content.len().min(b.content.len()) >= ENOUGH => Sense::Another,
            None => Sense::Reworded,
        }
    }

    /// How many words one sentence says more than the other, where it has all of the other's, or so many more that few
    /// stand in their place: something that was said is said no more, or is said besides.
    pub fn more_said(&self) -> usize {
        let said = |parts: &Parts| {
            let mut words = parts.content.clone();
            words.retain(|word| lexicon::says_something(word));
            words
        };
        let (a, b) = (said(&self.old), said(&self.new));
        let (gone, come) = (without(&a, &b).len(), without(&b, &a).len());
        let more = gone.abs_diff(come);
        match gone.min(come) == 0 || more >= MANY {
            true => more,
            false => 0,
        }
    }
}

fn differs(
    old: &BTreeMap<String, (usize, String)>,
    new: &BTreeMap<String, (usize, String)>,
) -> Option<String> {
    let other = |than: &BTreeMap<String, (usize, String)>, key: &String, n: usize| {
        than.get(key).is_none_or(|(m, _)| *m != n)
    };
    let find = |a: &BTreeMap<String, (usize, String)>, b: &BTreeMap<String, (usize, String)>| {
        a.iter()
            .find(|(key, (n, _))| other(b, key, *n))
            .map(|(_, (_, shown))| shown.clone())
    };
    find(old, new).or_else(|| find(new, old))
}

/// The words of one sentence that the other lacks.
fn without(a: &[String], b: &[String]) -> Vec<String> {
    let mut rest = b.to_vec();
    let alone = |word: &&String| match rest.iter().position(|w| w == *word) {
        Some(at) => {
            rest.remove(at);
            false
        }
        None => true,
    };
    a.iter().filter(alone).cloned().collect()
}

/// A word that gave way to its opposite.
fn opposed(old: &[String], new: &[String]) -> Option<String> {
    let (gone, come) = (without(old, new), without(new, old));
    gone.iter()
        .flat_map(|a| come.iter().map(move |b| (a, b)))
        .find(|(a, b)| lexicon::are_opposites(a, b))
        .map(|(_, b)| b.clone())
}

/// The same words in another order, where a word such as `before` makes that another thing.
fn reordered(a: &Parts, b: &Parts) -> Option<String> {
    let same = |x: &Parts, y: &Parts| {
        let sorted = |of: &Parts| {
            let mut all = of.content.clone();
            all.sort();
            all
        };
        sorted(x) == sorted(y)
    };
    (a.ordered && b.ordered && same(a, b) && a.content != b.content).then(|| "the order".to_owned())
}

fn parts(text: &str) -> Parts {
    let words = lexicon::words(text);
    let mut parts = Parts::default();
    let mut denying: Vec<String> = Vec::new();
    let mut at = 0;
    while let Some(word) = words.get(at) {
        at += 1;
        let next = words.get(at).map(String::as_str);
        if let Some((key, shown, with_unit)) = number(word, next) {
            at += usize::from(with_unit);
            if !key.starts_with("q ") {
                parts.bare.push(shown.clone());
            }
            parts.all.push(key.clone());
            parts.spelled.push(shown.clone());
            count(&mut parts.numbers, key, shown);
            continue;
        }
        parts.all.push(word.to_lowercase());
        match lexicon::sort(word, parts.all.len() == 1) {
            Sort::Little => {}
            Sort::Order => parts.ordered = true,
            Sort::Code => count(&mut parts.numbers, format!("c {word}"), word.clone()),
            Sort::Denial => denying.push(word.to_lowercase()),
            Sort::Turning(key) => {
                parts.ordered |= lexicon::is_of_order(&key);
                count(&mut parts.turning, key, word.to_lowercase());
            }
            Sort::Content(stem) => {
                for denial in denying.drain(..) {
                    count(&mut parts.denials, stem.clone(), denial);
                }
                parts.content.push(stem);
            }
        }
    }
    for denial in denying {
        count(&mut parts.denials, String::new(), denial);
    }
    parts
}

fn count(map: &mut BTreeMap<String, (usize, String)>, key: String, shown: String) {
    map.entry(key).or_insert((0, shown)).0 += 1;
}

/// A number with the unit that follows it: a key by its value, how it is shown, and whether the unit is a word of its own.
fn number(word: &str, next: Option<&str>) -> Option<(String, String, bool)> {
    let digits = lexicon::number(word)?;
    let unit = next.map(lexicon::unit);
    let unit = unit.filter(|u| !u.is_empty() && Unit::may_be(u));
    let of = |text: &str| parse_quantity(text).ok();
    let key = |q: &crate::quantity::Quantity| format!("q {:?} {}", q.kind(), q.si().to_exact());
    if let Some((unit, q)) = unit.and_then(|u| Some((u, of(&format!("{digits} {u}"))?))) {
        return Some((key(&q), format!("{digits} {unit}"), true));
    }
    let bare = digits
        .chars()
        .all(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '+'));
    match of(&digits) {
        Some(q) if !bare => Some((key(&q), digits, false)),
        Some(q) => Some((format!("n {}", q.si().to_exact()), digits, false)),
        None => Some((format!("n {digits}"), digits, false)),
    }
}
