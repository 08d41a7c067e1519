//! What was read while records are verified: many records rest on one recipe and on the same instruments.
//!
//! Never in here: what is done with it. Changes when something else is worth keeping.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use indexmap::IndexMap;

use crate::engine::{Bench, Fitted};
use crate::journal::{Head, Instrument};
use crate::plan::Plan;
use crate::text::Source;

/// Most recipes that are kept; a shop has some hundred revisions.
const MAX_RECIPES: usize = 256;

/// Most sets of instruments that are kept; they are looked through one by one.
const MAX_SETS: usize = 32;

/// Instruments as registers had them, and what the engine has to know of them.
type Set = (IndexMap<String, Instrument>, Arc<HashMap<String, Fitted>>);

/// Recipes by their text, and sets of instruments.
#[derive(Debug, Default)]
pub struct Known {
    recipes: Mutex<HashMap<String, Arc<Plan>>>,
    sets: Mutex<Vec<Set>>,
}

impl Known {
    /// The procedure of a recipe's text.
    ///
    /// # Errors
    /// A text with errors.
    pub fn plan(&self, source: &str) -> Result<Arc<Plan>, String> {
        if let Some(plan) = lock(&self.recipes).get(source) {
            return Ok(Arc::clone(plan));
        }
        let reading = crate::recipe::read(Source::new("recipe in the record", source));
        let plan = Arc::new(reading.plan.ok_or("the embedded recipe has errors")?);
        let mut recipes = lock(&self.recipes);
        if recipes.len() == MAX_RECIPES {
            recipes.clear();
        }
        recipes.insert(source.to_owned(), Arc::clone(&plan));
        Ok(plan)
    }

    /// The bench of a session.
    pub(super) fn bench(&self, head: &Head) -> Bench {
        let of_head = |(instruments, _): &&Set| *instruments == head.instruments;
        let known = lock(&self.sets)
            .iter()
            .find(of_head)
            .map(|(_, f)| Arc::clone(f));
        if let Some(fitted) = known {
            return head.bench_with(fitted);
        }
        let fitted = Arc::new(head.fitted());
        let mut sets = lock(&self.sets);
        if sets.len() == MAX_SETS {
            sets.clear();
        }
        sets.push((head.instruments.clone(), Arc::clone(&fitted)));
        head.bench_with(fitted)
    }
}

/// A thread that fell over left what is kept whole all the same.
fn lock<T>(kept: &Mutex<T>) -> MutexGuard<'_, T> {
    kept.lock().unwrap_or_else(PoisonError::into_inner)
}
