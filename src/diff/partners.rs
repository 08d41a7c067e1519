//! Which items of two plans are the same, and which of their criteria: what stored readings are carried over by.
//!
//! Never in here: readings. Changes when something else is carried over.

use super::compare::Comparison;
use super::judged::matched;
use super::revision::Revision;

/// The items of the newer plan with their partners of the older one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Partners {
    /// For each item of the newer plan the item of the older one.
    pub items: Vec<Option<usize>>,
    /// For each criterion of each item of the newer plan those of the partner that it stands for.
    pub criteria: Vec<Vec<Vec<usize>>>,
}

/// Finds the partners, as `compare` does.
#[must_use]
pub fn partners(old: &Revision, new: &Revision) -> Partners {
    let (old_tree, new_tree) = (old.tree(), new.tree());
    let mut comparison = Comparison::of(&old_tree, &new_tree);
    let items = &new.plan().items;
    let mut partners = Partners {
        items: vec![None; items.len()],
        criteria: items
            .iter()
            .map(|item| vec![Vec::new(); item.criteria.len()])
            .collect(),
    };
    for (at, step) in new_tree.steps.iter().enumerate() {
        let Some(was) = comparison.pairing.old_of[at].filter(|_| step.is_leaf()) else {
            continue;
        };
        let places = comparison.places(was, at);
        let together = places.first().map(|place| matched(&mut comparison, place));
        for place in &places {
            partners.items[place.new] = Some(place.old);
            for unit in together.iter().flatten() {
                for criterion in &unit.new {
                    partners.criteria[place.new][*criterion].clone_from(&unit.old);
                }
            }
        }
    }
    partners
}
