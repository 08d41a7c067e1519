//! A record's session, run again from the journal that the record carries.
//!
//! Never in here: comparing what comes out (see `verify`). Changes when a session rests on something new.

use std::sync::Arc;

use crate::engine::{Bench, Event, State};
use crate::journal::{Head, RecipeHead, event_from_json, replay};
use crate::plan::Plan;

use super::known::Known;
use super::wire::Record;

/// A session as it stood at its end.
#[derive(Debug)]
pub struct Again {
    pub(super) plan: Arc<Plan>,
    pub(super) head: Head,
    pub(super) bench: Bench,
    pub(super) events: Vec<Event>,
    pub(super) state: State,
}

impl Again {
    /// The procedure that it was run by.
    #[must_use]
    pub fn plan(&self) -> &Arc<Plan> {
        &self.plan
    }
}

/// Runs a record's session again; `attached` gives the bytes of an attachment by its digest, if they are at hand.
///
/// # Errors
/// A recipe with errors; a journal that can't be read, or does not fit the recipe.
pub(super) fn again(
    record: &Record,
    plan: Arc<Plan>,
    known: &Known,
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> Result<Again, String> {
    let events: Vec<Event> = record
        .journal
        .iter()
        .map(event_from_json)
        .collect::<Result<_, _>>()
        .map_err(|e| format!("the embedded journal can't be read: {e}"))?;
    let head = head(record);
    let mut bench = known.bench(&head);
    let state = replay(&plan, &mut bench, &events, attached)
        .map_err(|e| format!("the embedded journal does not fit the recipe: {e}"))?;
    Ok(Again {
        plan,
        head,
        bench,
        events,
        state,
    })
}

/// The first line of the record's journal.
fn head(record: &Record) -> Head {
    Head {
        journal: 1,
        program: record.program.clone(),
        session: record.session.clone(),
        started: record.started.clone(),
        by: record.by.clone(),
        bench: record.bench.clone(),
        decimal: record.decimal.clone(),
        decision: record.decision.clone(),
        occasion: record.occasion.clone(),
        trial: record.trial,
        other_device: record.other_device,
        device: record.device.clone(),
        recipe: RecipeHead {
            id: record.recipe.id.clone(),
            revision: record.recipe.revision,
            digest: record.recipe.digest.clone(),
            source: record.recipe.source.clone(),
            approval: record.recipe.approval.clone(),
        },
        instruments: record.instruments.clone(),
    }
}
