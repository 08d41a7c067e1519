//! Limits that would have held: of criteria that were not judged, since nothing was entered for them.
//!
//! Never in here: verdicts. Changes when more can be told of what was not judged.

use crate::engine::limits_known;

use super::again::again;
use super::known::Known;
use super::make::limit;
use super::wire::{Criterion, Record, Step};

/// Puts the limits that were known without a reading to the criteria that were not judged. What can't be run again stays as
/// it is. `attached` gives the bytes of an attachment by its digest, if they are at hand.
pub fn foresee(record: &mut Record, attached: &dyn Fn(&str) -> Option<Vec<u8>>) {
    let has_left = |s: &Step| s.criteria.iter().any(is_left);
    if !record.setup.iter().chain(&record.steps).any(has_left) {
        return;
    }
    let known = Known::default();
    let again = known
        .plan(&record.recipe.source)
        .and_then(|plan| again(record, plan, &known, attached));
    let Ok(again) = again else { return };
    let sources = again.state.sources.borrow();
    for step in record.setup.iter_mut().chain(&mut record.steps) {
        let mut items = again.plan.items.iter();
        let Some(index) = items.position(|i| i.path == step.path) else {
            continue;
        };
        let all = limits_known(&again.plan, &again.state, index);
        for (criterion, limits) in step.criteria.iter_mut().zip(all) {
            if is_left(criterion) {
                let told = limits.into_iter().map(|l| limit(l, &sources, None));
                criterion.limits = told.collect();
            }
        }
    }
}

fn is_left(criterion: &Criterion) -> bool {
    criterion.verdict == "not judged" && criterion.limits.is_empty()
}
