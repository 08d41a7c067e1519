//! What a technician says at the end of a session, for the ward or the file.
//!
//! Never in here: how it is shown. Changes when recipes ask for it otherwise.

use crate::plan::{Item, Verb};

use super::Known;
use super::wire::{Record, Step};

/// The step in which the technician left words at the end: the last one of the recipe that asks for free text and may be
/// left out, where it was answered. Text that must have a form, or is judged, is an entry like any other.
#[must_use]
pub fn parting_words(record: &Record) -> Option<&Step> {
    let plan = Known::default().plan(&record.recipe.source).ok()?;
    let last = plan.items.iter().rfind(|item| is_free(item))?;
    let mut steps = record.setup.iter().chain(&record.steps);
    steps.find(|step| step.path == last.path && step.state == "done")
}

fn is_free(item: &Item) -> bool {
    item.optional && item.criteria.is_empty() && matches!(item.verb, Verb::Enter(None))
}
