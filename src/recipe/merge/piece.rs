//! A step on its way from the file that it stands in to its place in the whole.
//!
//! Never in here: which steps go where. Changes when steps hold steps otherwise.

use std::sync::Arc;

use foldhash::HashMap;
use serde_json::Value;

use crate::recipe::origin::{Link, Origin};
use crate::recipe::yaml::Document;

/// A step.
pub struct Piece {
    /// Its keys; without `steps` where those have been taken out.
    pub value: Value,
    /// Where it stands.
    pub origin: Origin,
    /// What of it stands elsewhere, by pointers below it.
    pub elsewhere: Vec<(&'static str, Option<String>, Origin)>,
    /// The steps inside it, where they have been taken out.
    pub steps: Option<Vec<Self>>,
}

impl Piece {
    /// A step as it stands.
    pub fn new(value: Value, origin: Origin) -> Self {
        Self {
            value,
            origin,
            elsewhere: Vec::new(),
            steps: None,
        }
    }

    /// Its id.
    pub fn id(&self) -> &str {
        id_of(&self.value)
    }

    /// The steps inside it, taken out so that they can be changed.
    pub fn opened(&mut self) -> &mut Vec<Self> {
        let (value, origin) = (&mut self.value, &self.origin);
        self.steps.get_or_insert_with(|| {
            let list = value.as_object_mut().and_then(|m| m.shift_remove("steps"));
            let Some(Value::Array(items)) = list else {
                return Vec::new();
            };
            let piece = |(i, item)| Self::new(item, origin.down(&format!("/steps/{i}")));
            items.into_iter().enumerate().map(piece).collect()
        })
    }

    /// Lays the step down at its place.
    fn lay(self, pointer: String, parts: &mut HashMap<String, Origin>) -> Value {
        for (key, below, origin) in self.elsewhere {
            let mut there = [&*pointer, "/", key].concat();
            if let Some(below) = below {
                there.push('/');
                there.push_str(&below);
            }
            parts.insert(there, origin);
        }
        let mut value = self.value;
        if let (Some(steps), Some(map)) = (self.steps, value.as_object_mut()) {
            let laid = lay(steps, &format!("{pointer}/steps"), parts);
            map.insert("steps".to_owned(), laid);
        }
        parts.insert(pointer, self.origin);
        value
    }
}

/// Lays steps down in a list.
pub fn lay(pieces: Vec<Piece>, list: &str, parts: &mut HashMap<String, Origin>) -> Value {
    let one = |(i, piece): (usize, Piece)| piece.lay(format!("{list}/{i}"), parts);
    Value::Array(pieces.into_iter().enumerate().map(one).collect())
}

/// The steps of a document's list.
pub fn pieces(document: &Arc<Document>, list: &str, link: Option<&Arc<Link>>) -> Vec<Piece> {
    let items = document.root.get(list).and_then(Value::as_array);
    let piece = |(i, value): (usize, &Value)| {
        let origin = Origin {
            document: Arc::clone(document),
            pointer: format!("/{list}/{i}"),
            link: link.cloned(),
            mark: None,
        };
        Piece::new(value.clone(), origin)
    };
    items.into_iter().flatten().enumerate().map(piece).collect()
}

/// The id of a step.
pub fn id_of(step: &Value) -> &str {
    step.get("id").and_then(Value::as_str).unwrap_or_default()
}
