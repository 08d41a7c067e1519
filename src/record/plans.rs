//! Recipes that were read while records are verified: many records rest on one of them.
//!
//! Never in here: what is done with them. Changes when another memory is wanted.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::plan::Plan;
use crate::text::Source;

/// Most recipes that are kept; a shop has some hundred revisions.
const MAX_KEPT: usize = 256;

/// Recipes by their text.
#[derive(Debug, Default)]
pub struct Plans {
    kept: Mutex<HashMap<String, Arc<Plan>>>,
}

impl Plans {
    /// The procedure of a recipe's text.
    ///
    /// # Errors
    /// A text with errors.
    pub fn of(&self, source: &str) -> Result<Arc<Plan>, String> {
        let known = |kept: &HashMap<String, Arc<Plan>>| kept.get(source).cloned();
        // A thread that fell over left a map that is whole all the same.
        if let Some(plan) = known(&self.kept.lock().unwrap_or_else(PoisonError::into_inner)) {
            return Ok(plan);
        }
        let reading = crate::recipe::read(Source::new("recipe in the record", source));
        let plan = Arc::new(reading.plan.ok_or("the embedded recipe has errors")?);
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.len() == MAX_KEPT {
            kept.clear();
        }
        kept.insert(source.to_owned(), Arc::clone(&plan));
        Ok(plan)
    }
}
