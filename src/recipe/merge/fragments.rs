//! Fragments: the steps of another recipe as a group of their own.
//!
//! Never in here: the header. Changes when a `use` takes other keys.

use std::sync::Arc;

use serde_json::{Map, Value};

use crate::recipe::cursor::At;
use crate::recipe::library::Whole;
use crate::recipe::origin::{Link, Origin};
use crate::recipe::yaml::{MAX_BYTES, escape};
use crate::text::Code;

use super::header::origin;
use super::piece::{Piece, pieces};
use super::{LISTS, Merger};

impl Merger<'_> {
    /// Puts the fragments' steps in place of the steps of the file that use them.
    pub(super) fn expand(&mut self, list: &mut [Piece], around: &str) {
        for piece in list {
            if piece.origin.link.is_some() && piece.steps.is_none() {
                // What comes from elsewhere is whole already.
                continue;
            }
            let path = match around {
                "" => piece.id().to_owned(),
                around => format!("{around}.{}", piece.id()),
            };
            if piece.value.get("use").is_some() && piece.origin.link.is_none() {
                self.use_fragment(piece, &path);
            } else if piece.steps.is_some() || has_use(&piece.value) {
                self.expand(piece.opened(), &path);
            }
        }
    }

    fn use_fragment(&mut self, piece: &mut Piece, path: &str) {
        let own = Arc::clone(&self.own);
        let Some(step) = At::root(&own).at(&piece.origin.pointer) else {
            return;
        };
        let Some(at) = step.get("use") else { return };
        if self.is_faulty(&step) || self.weight > MAX_BYTES {
            return;
        }
        let Some((fragment, link)) = self.rest_on(&at, "uses") else {
            return;
        };
        self.weight = self.weight.saturating_add(fragment.weight);
        if self.weight > MAX_BYTES {
            let message = format!(
                "more than {} MiB with all bases and fragments written out",
                MAX_BYTES / (1024 * 1024)
            );
            let help = "use fewer fragments in one another";
            self.findings
                .push(at.finding(Code::TooLarge, message, help));
            return;
        }
        self.rests_on.push((
            format!("use {} as {path}", fragment.name),
            Arc::clone(&fragment),
        ));
        self.take_beside(&fragment, &link, &at);
        let settings = step.get("settings");
        let fitting = settings
            .map(|settings| self.known_settings(&fragment, &settings))
            .unwrap_or_default();
        as_group(piece, &fragment, &link, &fitting);
    }
}

/// Makes a group of a step that uses a fragment.
fn as_group(piece: &mut Piece, fragment: &Arc<Whole>, link: &Arc<Link>, fitting: &[String]) {
    let Value::Object(keys) = std::mem::take(&mut piece.value) else {
        return;
    };
    let (mut group, mut own) = (Map::new(), Value::Null);
    for (key, value) in keys {
        match key.as_str() {
            "use" => {
                let (heading, origin) = heading(piece, fragment, link, &group);
                group.insert("group".to_owned(), heading);
                piece.elsewhere.push(("group", None, origin));
            }
            "settings" => own = value,
            _ => _ = group.insert(key, value),
        }
    }
    let settings = settings(piece, fragment, link, (&own, fitting));
    group.insert("settings".to_owned(), settings);
    piece.value = Value::Object(group);
    let steps = LISTS.map(|list| pieces(&fragment.document, list, Some(link)));
    piece.steps = Some(steps.into_iter().flatten().collect());
}

/// The heading of the group: the fragment's title.
fn heading(
    piece: &Piece,
    fragment: &Whole,
    link: &Arc<Link>,
    group: &Map<String, Value>,
) -> (Value, Origin) {
    let title = fragment.document.root.get("title").and_then(Value::as_str);
    // A title is shown as it stands, a heading is a sentence.
    match title
        .filter(|title| !title.contains("{{") && !title.contains("{%") && !title.contains("{#"))
    {
        Some(title) => (
            Value::from(title),
            origin(fragment, link, "/title".to_owned()),
        ),
        None => {
            let id = group.get("id").and_then(Value::as_str);
            let words = id.unwrap_or(&fragment.name.id).replace(['_', '-'], " ");
            (Value::from(words), piece.origin.down("/use"))
        }
    }
}

/// The fragment's settings with those values of the step that fit.
fn settings(
    piece: &mut Piece,
    fragment: &Arc<Whole>,
    link: &Arc<Link>,
    (own, fitting): (&Value, &[String]),
) -> Value {
    let theirs = fragment.document.root.get("settings");
    let mut all = theirs
        .and_then(Value::as_object)
        .cloned()
        .unwrap_or_default();
    let whole = origin(fragment, link, "/settings".to_owned());
    piece.elsewhere.push(("settings", None, whole));
    for name in fitting {
        if let (Some(theirs), Some(own)) = (all.get_mut(name), own.get(name)) {
            *theirs = own.clone();
            let name = escape(name).into_owned();
            let here = piece.origin.down(&format!("/settings/{name}"));
            piece.elsewhere.push(("settings", Some(name), here));
        }
    }
    Value::Object(all)
}

fn has_use(step: &Value) -> bool {
    let steps = step.get("steps").and_then(Value::as_array);
    steps.is_some_and(|steps| steps.iter().any(|s| s.get("use").is_some() || has_use(s)))
}
