//! What was read of a text, kept: recipes and records have few units and quantities, often.
//!
//! Never in here: reading. Changes when what is kept is found otherwise.

use std::collections::BTreeMap;
use std::sync::{PoisonError, RwLock};

/// What was read, by its text.
pub struct Known<T> {
    kept: RwLock<BTreeMap<String, T>>,
    most: usize,
}

impl<T: Clone> Known<T> {
    /// Keeps nothing yet, and never more than `most`.
    pub const fn of(most: usize) -> Self {
        Self {
            kept: RwLock::new(BTreeMap::new()),
            most,
        }
    }

    /// What is known of a text, or what is read now.
    ///
    /// # Errors
    /// Those of reading; they are not kept.
    pub fn read<E>(&self, text: &str, read: impl FnOnce() -> Result<T, E>) -> Result<T, E> {
        // A thread that fell over left a map that is whole all the same.
        let kept = self.kept.read().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = kept.get(text) {
            return Ok(known.clone());
        }
        drop(kept);
        let found = read()?;
        let mut kept = self.kept.write().unwrap_or_else(PoisonError::into_inner);
        if kept.len() < self.most {
            kept.insert(text.to_owned(), found.clone());
        }
        Ok(found)
    }
}
