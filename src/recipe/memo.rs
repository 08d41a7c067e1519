//! Expressions and sentences that were found sound before, for other recipes that have the same over the same names: those
//! that rest on one base have most of them in common.
//!
//! Never in here: findings; what has any is looked at anew. Changes when what an expression means comes to rest on more than
//! its text, the types of its names, and the values of settings.

use std::sync::{Arc, PoisonError, RwLock};

use foldhash::HashMap;
use regex::{Regex, RegexBuilder};

use crate::plan::{Expression, Type};
use crate::quantity::Quantity;

/// Most texts that are kept.
const MAX_KEPT: usize = 100_000;
/// Largest regular expression, built, in bytes.
const MAX_PATTERN: usize = 1 << 20;
/// Most forms of one text that are kept.
const MAX_FORMS: usize = 8;

/// What a name stood for.
#[derive(Clone, Debug, PartialEq)]
pub struct Stood {
    /// The type of its value.
    pub of: Type,
    /// Where the value comes from, as far as it matters.
    pub by: By,
}

/// Where a value comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum By {
    /// A reading, or what is computed from readings.
    Reading,
    /// A field of the row at hand.
    Row,
    /// A setting, whose value did not matter.
    Setting,
    /// A setting of this value.
    Value(Quantity),
}

/// Something sound, with what its names stood for.
#[derive(Clone, Debug)]
pub struct Sound<T> {
    /// The names' types and origins, in the order of the names.
    pub stood: Vec<Stood>,
    /// The thing.
    pub thing: T,
}

/// By its text, in some forms.
type Kept<T> = RwLock<HashMap<String, Vec<Arc<Sound<T>>>>>;

/// What was found sound.
#[derive(Debug, Default)]
pub struct Memo {
    expressions: Kept<Arc<Expression>>,
    sentences: Kept<Vec<String>>,
    patterns: RwLock<HashMap<String, Regex>>,
}

impl Memo {
    /// The forms in which an expression was found sound.
    pub fn expression(&self, text: &str) -> Vec<Arc<Sound<Arc<Expression>>>> {
        known(&self.expressions, text)
    }

    /// Keeps an expression.
    pub fn keep_expression(&self, text: &str, sound: Sound<Arc<Expression>>) {
        keep(&self.expressions, text, sound);
    }

    /// The regular expression of a text, built once.
    ///
    /// # Errors
    /// Those of the text.
    pub fn pattern(&self, text: &str) -> Result<Regex, regex::Error> {
        let kept = self.patterns.read().unwrap_or_else(PoisonError::into_inner);
        if let Some(pattern) = kept.get(text) {
            return Ok(pattern.clone());
        }
        drop(kept);
        let pattern = RegexBuilder::new(text).size_limit(MAX_PATTERN).build()?;
        let mut kept = self
            .patterns
            .write()
            .unwrap_or_else(PoisonError::into_inner);
        if kept.len() < MAX_KEPT {
            kept.insert(text.to_owned(), pattern.clone());
        }
        Ok(pattern)
    }

    /// The forms in which a sentence was found sound, with its names.
    pub fn sentence(&self, text: &str) -> Vec<Arc<Sound<Vec<String>>>> {
        known(&self.sentences, text)
    }

    /// Keeps the names of a sentence.
    pub fn keep_sentence(&self, text: &str, sound: Sound<Vec<String>>) {
        keep(&self.sentences, text, sound);
    }
}

fn known<T>(kept: &Kept<T>, text: &str) -> Vec<Arc<Sound<T>>> {
    // A thread that fell over left a map that is whole all the same.
    let kept = kept.read().unwrap_or_else(PoisonError::into_inner);
    kept.get(text).cloned().unwrap_or_default()
}

fn keep<T>(kept: &Kept<T>, text: &str, sound: Sound<T>) {
    let mut kept = kept.write().unwrap_or_else(PoisonError::into_inner);
    if kept.len() < MAX_KEPT {
        let forms = kept.entry(text.to_owned()).or_default();
        if forms.len() < MAX_FORMS {
            forms.push(Arc::new(sound));
        }
    }
}
