//! `countersign` without records: those that wait for a reviewer's signature.
//!
//! Never in here: signing. Changes when other records wait.

use crate::host::Host;
use crate::index::{Chosen, Stored};
use crate::shop::{Deed, RecordAct};

use super::AppError;
use super::amendments::{Overruled, overruled};
use super::approve::permitted;
use super::open::OpenShop;
use super::proof::Proof;
use super::trace::open_index;

/// A record that waits.
#[derive(Clone, Debug)]
pub struct Waiting {
    /// What the index knows of it.
    pub stored: Stored,
    /// Id of its recipe.
    pub recipe: String,
    /// Who made it.
    pub by: String,
}

/// The records that no reviewer has signed, the oldest first: no trials, and none that was declared void. Where `by` is
/// named, those that this person may sign, which their own are not.
///
/// # Errors
/// Those of the system; somebody who may not countersign; a shop in which nobody may.
pub fn waiting(
    host: &dyn Host,
    open: &OpenShop,
    by: Option<&str>,
) -> Result<Vec<Waiting>, AppError> {
    if let Some(by) = by {
        permitted(host, open, by, Deed::Countersign)?;
    }
    if open.shop.allowed(Deed::Countersign).is_empty() {
        return Err(AppError::new(
            "in this shop nobody may countersign a record (`may` in shop.yaml)",
        ));
    }
    let proof = Proof::read(host, &open.paths)?;
    let overruled = overruled(host, &open.paths)?;
    let is_done = |record: &str| {
        let signed = |act: &RecordAct| matches!(act, RecordAct::Countersign { .. });
        proof.about(record).any(|line| signed(&line.act))
            || matches!(overruled.get(record), Some(Overruled::Void(_)))
    };
    let mut all = Vec::new();
    let index = open_index(host, &open.paths)?;
    index.each_stored(Chosen::default(), &mut |stored, recipe, made_by| {
        if Some(made_by.as_str()) != by && !is_done(&stored.record) {
            all.push(Waiting {
                stored,
                recipe,
                by: made_by,
            });
        }
    })?;
    Ok(all)
}
