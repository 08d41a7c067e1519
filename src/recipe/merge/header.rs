//! What stands above the steps: the base's, where the file does not say otherwise; and what fragments bring with them.
//!
//! Never in here: steps. Changes when the header gets a key.

use std::sync::Arc;

use foldhash::HashSet;
use serde_json::{Map, Value};

use crate::quantity::parse_quantity;
use crate::recipe::cursor::At;
use crate::recipe::library::Whole;
use crate::recipe::origin::{Link, Origin};
use crate::recipe::schema::nearest;
use crate::recipe::yaml::escape;
use crate::text::Code;

use super::Merger;

/// The keys of the header in the order in which the whole has them.
const ORDER: [&str; 13] = [
    "format",
    "recipe",
    "revision",
    "fragment",
    "title",
    "category",
    "applies_to",
    "basis",
    "changes",
    "cautions",
    "decision",
    "settings",
    "instruments",
];
/// What the file may have of the base's as it is.
const WHOLE: [&str; 4] = ["title", "category", "applies_to", "decision"];
/// What is the base's with the file's own entries added or put in place of them.
const ADDED: [&str; 3] = ["basis", "settings", "instruments"];

impl Merger<'_> {
    /// Takes from the base what the file does not say itself.
    pub(super) fn take_header(&mut self, base: &Arc<Whole>, link: &Arc<Link>) {
        self.overrides(base);
        let own = std::mem::take(&mut self.root);
        let theirs = |pointer: String| Origin {
            document: Arc::clone(&base.document),
            pointer,
            link: Some(Arc::clone(link)),
            mark: None,
        };
        for key in ORDER {
            let of_base = base.document.root.get(key).filter(|v| !v.is_null());
            let value = match (own.get(key), of_base) {
                (None, Some(value)) if WHOLE.contains(&key) => {
                    self.parts
                        .insert(format!("/{key}"), theirs(format!("/{key}")));
                    Some(value.clone())
                }
                (mine, Some(Value::Object(value))) if ADDED.contains(&key) => {
                    if mine.is_none() {
                        self.parts
                            .insert(format!("/{key}"), theirs(format!("/{key}")));
                    }
                    let mine = mine.and_then(Value::as_object);
                    Some(self.added(key, value, mine, &theirs))
                }
                (mine, Some(Value::Array(value))) if key == "cautions" => {
                    Some(self.all_cautions(value, mine, &theirs))
                }
                (mine, _) => mine.cloned(),
            };
            if let Some(value) = value {
                self.root.insert(key.to_owned(), value);
            }
        }
    }

    fn added(
        &mut self,
        key: &str,
        theirs: &Map<String, Value>,
        mine: Option<&Map<String, Value>>,
        origin: &dyn Fn(String) -> Origin,
    ) -> Value {
        let mut all = theirs.clone();
        // One of another kind was reported; the base's goes on, so that nothing follows from it.
        let other_kind =
            |name: &str| key == "settings" && self.other_kind.iter().any(|n| n == name);
        let mine: Map<String, Value> = mine
            .into_iter()
            .flatten()
            .filter(|(name, _)| !other_kind(name))
            .map(|(name, value)| (name.clone(), value.clone()))
            .collect();
        for name in theirs.keys() {
            if !mine.contains_key(name) {
                let at = format!("/{key}/{}", escape(name));
                self.parts.insert(at.clone(), origin(at));
            }
        }
        all.extend(mine);
        Value::Object(all)
    }

    /// The base's cautions, then the file's own.
    fn all_cautions(
        &mut self,
        theirs: &[Value],
        mine: Option<&Value>,
        origin: &dyn Fn(String) -> Origin,
    ) -> Value {
        let mut all = Vec::new();
        for (index, caution) in theirs.iter().enumerate() {
            let at = format!("/cautions/{}", all.len());
            self.parts.insert(at, origin(format!("/cautions/{index}")));
            all.push(caution.clone());
        }
        let mine = mine.and_then(Value::as_array);
        for (index, caution) in mine.into_iter().flatten().enumerate() {
            if !all.contains(caution) {
                let at = format!("/cautions/{}", all.len());
                let own = Origin {
                    document: Arc::clone(&self.own),
                    pointer: format!("/cautions/{index}"),
                    link: None,
                    mark: None,
                };
                self.parts.insert(at, own);
                all.push(caution.clone());
            }
        }
        Value::Array(all)
    }

    /// Reports settings whose new value is of another kind than the base's.
    fn overrides(&mut self, base: &Whole) {
        let own = Arc::clone(&self.own);
        let Some(settings) = At::root(&own).get("settings") else {
            return;
        };
        for (name, at) in settings.entries() {
            if !self.same_kind(base, name, &at, "base") {
                self.other_kind.push(name.to_owned());
            }
        }
    }

    /// Whether a value for a setting of another recipe is of the same kind there; reports one that is not.
    fn same_kind(&mut self, other: &Whole, name: &str, at: &At<'_>, what: &str) -> bool {
        let theirs = At::root(&other.document)
            .get("settings")
            .and_then(|s| s.get(name))
            .and_then(|v| v.text());
        let (Some(theirs), Some(mine)) = (theirs, at.text()) else {
            return true;
        };
        let (Ok(theirs), Ok(mine)) = (parse_quantity(&theirs), parse_quantity(&mine)) else {
            return true;
        };
        let compared = mine.kind().comparable(theirs.kind());
        if let Err(error) = &compared {
            let message = format!("`{name}` is {theirs} in the {what}: {error}");
            let help = "give it a value of the same kind of quantity, or use another name";
            self.findings
                .push(at.finding(Code::KindMismatch, message, help));
        }
        compared.is_ok()
    }

    /// Takes roles, bases and cautions of a fragment that is used at a place of the file.
    pub(super) fn take_beside(&mut self, fragment: &Arc<Whole>, link: &Arc<Link>, at: &At<'_>) {
        for key in ["basis", "instruments"] {
            let theirs = fragment.document.root.get(key).and_then(Value::as_object);
            for (name, value) in theirs.into_iter().flatten() {
                self.take_name(key, name, value, (fragment, link, at));
            }
        }
        let theirs = fragment.document.root.get("cautions");
        let theirs = theirs.and_then(Value::as_array).into_iter().flatten();
        for (index, caution) in theirs.enumerate() {
            let list = self.list("cautions");
            if !list.contains(caution) {
                let here = format!("/cautions/{}", list.len());
                list.push(caution.clone());
                let there = format!("/cautions/{index}");
                self.parts.insert(here, origin(fragment, link, there));
            }
        }
    }

    fn list(&mut self, key: &str) -> &mut Vec<Value> {
        let entry = self.root.entry(key).or_insert(Value::Array(Vec::new()));
        if !entry.is_array() {
            // A fault of its shape was reported.
            *entry = Value::Array(Vec::new());
        }
        entry.as_array_mut().expect("it was made one")
    }

    fn take_name(
        &mut self,
        key: &str,
        name: &str,
        value: &Value,
        (fragment, link, at): (&Arc<Whole>, &Arc<Link>, &At<'_>),
    ) {
        let at_key = format!("/{key}/{}", escape(name));
        let entry = self.root.entry(key).or_insert(Value::Object(Map::new()));
        let Some(map) = entry.as_object_mut() else {
            return;
        };
        match map.get_mut(name) {
            None => {
                map.insert(name.to_owned(), value.clone());
                self.parts
                    .insert(at_key.clone(), origin(fragment, link, at_key));
            }
            Some(mine) if is_same(mine, value) => {}
            Some(mine) => {
                both(mine, value);
                let what = if key == "basis" {
                    "basis"
                } else {
                    "instrument role"
                };
                let message = format!(
                    "the {what} `{name}` of `{}` is another one than that of the recipe",
                    fragment.name
                );
                let help = format!("rename one of the two in `{key}`, or say the same in both");
                self.findings
                    .push(at.finding(Code::SharedName, message, help));
            }
        }
    }

    /// Roles of the base that no step has any more fall away: nobody is to pick an instrument for nothing.
    pub(super) fn drop_roles(&mut self) {
        let mut named = HashSet::default();
        for list in super::LISTS {
            roles(self.root.get(list), &mut named);
        }
        let parts = &self.parts;
        let inherited = |name: &str| {
            let at = format!("/instruments/{}", escape(name));
            parts.get(&at).is_some_and(|o| o.link.is_some())
        };
        if let Some(Value::Object(all)) = self.root.get_mut("instruments") {
            all.retain(|name, _| named.contains(name) || !inherited(name));
            if all.is_empty() {
                self.root.shift_remove("instruments");
            }
        }
    }

    /// The names of the values that fit the settings of a fragment; reports the others.
    pub(super) fn known_settings(&mut self, fragment: &Whole, settings: &At<'_>) -> Vec<String> {
        let mut fitting = Vec::new();
        let theirs = fragment.document.root.get("settings");
        let theirs = theirs.and_then(Value::as_object);
        for (name, at) in settings.entries() {
            if theirs.is_some_and(|t| t.contains_key(name)) {
                if self.same_kind(fragment, name, &at, "fragment") {
                    fitting.push(name.to_owned());
                }
                continue;
            }
            let names = theirs.into_iter().flatten().map(|(n, _)| n.as_str());
            let help = match nearest(name, names.clone()) {
                Some(near) => format!("the nearest one is `{near}`"),
                None => match names.collect::<Vec<_>>()[..] {
                    [] => "it has no settings".to_owned(),
                    ref all => format!("it has `{}`", all.join("`, `")),
                },
            };
            let message = format!("`{}` has no setting `{name}`", fragment.name);
            self.findings
                .push(at.finding_at_key(Code::UnknownName, message, help));
        }
        fitting
    }
}

/// The origin of a part of a fragment.
pub(super) fn origin(whole: &Whole, link: &Arc<Link>, pointer: String) -> Origin {
    Origin {
        document: Arc::clone(&whole.document),
        pointer,
        link: Some(Arc::clone(link)),
        mark: None,
    }
}

/// Whether two roles or bases mean the same: texts that are equal; roles with the same kinds in any order.
fn is_same(a: &Value, b: &Value) -> bool {
    let (Value::Object(a), Value::Object(b)) = (a, b) else {
        return a == b;
    };
    let measures = |role: &Map<String, Value>| {
        let list = role.get("measures").and_then(Value::as_array);
        let mut kinds: Vec<String> = list.into_iter().flatten().map(Value::to_string).collect();
        kinds.sort();
        kinds
    };
    let kind = |role: &Map<String, Value>| {
        let kind = role.get("kind").and_then(Value::as_str);
        kind.map(|kind| kind.trim().to_lowercase())
    };
    measures(a) == measures(b) && kind(a) == kind(b)
}

/// Lets a role measure what another one of its name does too, so that nothing follows from what was reported.
fn both(mine: &mut Value, theirs: &Value) {
    let theirs = theirs.get("measures").and_then(Value::as_array);
    let mine = mine.get_mut("measures").and_then(Value::as_array_mut);
    if let (Some(mine), Some(theirs)) = (mine, theirs) {
        mine.extend(theirs.iter().cloned());
    }
}

/// The roles that steps name.
fn roles(list: Option<&Value>, named: &mut HashSet<String>) {
    for step in list.and_then(Value::as_array).into_iter().flatten() {
        if let Some(role) = step.get("with").and_then(Value::as_str) {
            named.insert(role.to_owned());
        }
        roles(step.get("steps"), named);
    }
}
