//! Where a record and what its entries give differ, told by the place.
//!
//! Never in here: making the record again (see `verify`). Changes when something may be another text or number and the same.

use serde_json::Value as Json;

use crate::quantity::Exact;

use super::wire::Quantity;
use super::wording::same_numbers;

/// Sentences that are made for reading: a later program may word them otherwise.
const WORDING: [&str; 5] = ["shown", "prompt", "why", "remarks", "ended"];

/// Most differences that are told.
const TOLD: usize = 5;

/// A place in a record, what stands there, and what the entries give.
pub(super) type Difference = (String, Json, Json);

/// Differences as they are found, up to a number.
pub(super) struct Differences {
    /// Whether the record was made by this version of the program, which words everything as it did then.
    same_program: bool,
    found: Vec<Difference>,
}

impl Differences {
    /// Where the record (`a`) and what its entries give (`b`) differ; the seal is left out. Sentences must be the
    /// same; of a record that another version made, their numbers.
    pub fn between(a: &Json, b: &Json, same_program: bool) -> Vec<Difference> {
        let mut all = Self {
            same_program,
            found: Vec::new(),
        };
        all.collect(a, b, "", false);
        all.found
    }

    fn collect(&mut self, a: &Json, b: &Json, pointer: &str, worded: bool) {
        if self.found.len() == TOLD {
            return;
        }
        let are_quantities = |x: &Map, y: &Map| x.contains_key("ucum") && y.contains_key("ucum");
        match (a, b) {
            (Json::Object(x), Json::Object(y)) if !are_quantities(x, y) => {
                self.collect_keys(x, y, pointer);
            }
            (Json::Array(x), Json::Array(y)) if x.len() == y.len() => {
                for (index, (a, b)) in x.iter().zip(y).enumerate() {
                    self.collect(a, b, &format!("{pointer}/{index}"), worded);
                }
            }
            _ if self.are_same(a, b, pointer, worded) => {}
            _ => self.found.push((pointer.to_owned(), a.clone(), b.clone())),
        }
    }

    fn collect_keys(&mut self, x: &Map, y: &Map, pointer: &str) {
        let keys = x.keys().chain(y.keys().filter(|k| !x.contains_key(*k)));
        for key in keys.filter(|k| !is_left_out(pointer, k)) {
            let of = |map: &Map| map.get(key).cloned().unwrap_or(Json::Null);
            let typed = key == "why" && y.get("state").is_some_and(|s| s == "skipped");
            let worded = WORDING.contains(&key.as_str()) && is_of_sentences(pointer) && !typed;
            self.collect(&of(x), &of(y), &format!("{pointer}/{key}"), worded);
        }
    }

    fn are_same(&self, a: &Json, b: &Json, pointer: &str, worded: bool) -> bool {
        match (a, b) {
            (Json::Object(_), Json::Object(_)) => same_quantity(a, b),
            (Json::String(x), Json::String(y)) if worded && !self.same_program => {
                same_numbers(x, y)
            }
            (Json::String(x), Json::String(y)) if is_uncertain(pointer) => {
                x == y || same_double(x, y)
            }
            _ => a == b,
        }
    }
}

/// The seal has checks of its own.
fn is_left_out(pointer: &str, key: &str) -> bool {
    pointer.is_empty() && key == "seal"
}

type Map = serde_json::Map<String, Json>;

/// Whether a key there names what is made for reading, and neither a role nor a reason that was typed.
fn is_of_sentences(pointer: &str) -> bool {
    let of_data = |part: &str| matches!(part, "journal" | "instruments" | "corrections");
    !pointer.split('/').any(of_data)
}

/// The parts of a pointer into a record, places in lists counted from 1.
fn counted(record: &Json, pointer: &str) -> Vec<String> {
    let mut at = Some(record);
    let mut parts = Vec::new();
    for part in pointer.split('/').skip(1) {
        let place: Option<usize> = at
            .filter(|at| at.is_array())
            .and_then(|_| part.parse().ok());
        parts.push(place.map_or_else(|| part.to_owned(), |place| (place + 1).to_string()));
        at = match (at, place) {
            (Some(list), Some(place)) => list.get(place),
            (at, _) => at.and_then(|at| at.get(part)),
        };
    }
    parts
}

/// A difference for a reader: the step by its path, what the record says and what the entries give.
pub(super) fn told(record: &Json, (pointer, says, gives): &Difference) -> String {
    let parts = counted(record, pointer);
    let place = match &parts[..] {
        [list, _, rest @ ..] if matches!(list.as_str(), "setup" | "steps") => {
            let step: Vec<&str> = pointer.split('/').take(3).collect();
            let path = record
                .pointer(&format!("{}/path", step.join("/")))
                .and_then(Json::as_str)
                .unwrap_or("?");
            format!("step `{path}`, {}", rest.join(" "))
        }
        [] => "the record".to_owned(),
        parts => parts.join(" "),
    };
    let short = |json: &Json| {
        let text = match json {
            Json::Object(q) if q.contains_key("ucum") => {
                let part = |key: &str| q.get(key).and_then(Json::as_str).unwrap_or_default();
                format!("{} {}", part("value"), part("unit"))
            }
            Json::String(text) => text.clone(),
            Json::Null => "nothing".to_owned(),
            other => other.to_string(),
        };
        if text.chars().count() > 60 {
            format!("{}…", text.chars().take(60).collect::<String>())
        } else {
            text
        }
    };
    format!(
        "{place}: the record says {}, the entries give {}",
        short(says),
        short(gives)
    )
}

/// Whether a place in a record holds a number of an uncertainty, which is computed in doubles.
fn is_uncertain(pointer: &str) -> bool {
    let within = ["/uncertainty/", "/distance/"];
    within.iter().any(|part| pointer.contains(part)) || pointer.ends_with("/conformance")
}

/// Whether two numbers of an uncertainty are the same, whichever mathematics library was at work.
fn same_double(a: &str, b: &str) -> bool {
    const APART: f64 = 1e-9;
    let both = a.parse::<f64>().ok().zip(b.parse::<f64>().ok());
    both.is_some_and(|(a, b)| (a - b).abs() <= APART * a.abs().max(b.abs()).max(APART))
}

/// How far two inexact values may lie apart, as a ratio: mathematics libraries differ in the last digits.
const INEXACT: f64 = 1e-12;

/// Whether two quantities are the same: exact ones by their number, whatever its trailing zeros.
fn same_quantity(a: &Json, b: &Json) -> bool {
    let read = |json: &Json| serde_json::from_value::<Quantity>(json.clone()).ok();
    let (Some(a), Some(b)) = (read(a), read(b)) else {
        return false;
    };
    if (&a.unit, &a.ucum, a.exact) != (&b.unit, &b.ucum, b.exact) {
        return false;
    }
    if a.value == b.value {
        return true;
    }
    if a.exact {
        let same = Exact::parse(&a.value).ok().zip(Exact::parse(&b.value).ok());
        return same.is_some_and(|(a, b)| a == b);
    }
    let doubles = a.value.parse::<f64>().ok().zip(b.value.parse::<f64>().ok());
    doubles.is_some_and(|(a, b)| (a - b).abs() <= INEXACT * a.abs().max(b.abs()))
}
