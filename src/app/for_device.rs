//! The recipes of a shop that are for a device.
//!
//! Never in here: what is due (see `due`), running one. Changes when recipes say otherwise whom they are for.

use std::cmp::Reverse;

use crate::host::Host;
use crate::journal::Device;
use crate::record::misfit;
use crate::shop::Paths;

use super::AppError;
use super::shelf::read_recipe;

/// A recipe that is for a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ForDevice {
    /// The recipe's id.
    pub recipe: String,
    /// Its title.
    pub title: String,
    /// Whether it is for the device's model alone.
    pub of_model: bool,
}

/// The recipes in the shop's folder that are for a device: those of its model first, then by their ids. What can't be read
/// is none of them; `check` tells why.
///
/// # Errors
/// Those of the system.
pub fn recipes_for(
    host: &dyn Host,
    paths: &Paths,
    device: &Device,
) -> Result<Vec<ForDevice>, AppError> {
    let folder = paths.recipes();
    let files = host.list(&folder).map_err(|e| AppError::at(&folder, &e))?;
    let mut found = Vec::new();
    for file in files
        .iter()
        .filter(|f| f.extension().is_some_and(|e| e == "yaml"))
    {
        let Ok(reading) = read_recipe(host, file) else {
            continue;
        };
        if let Some(plan) = reading.plan
            && !plan.fragment
            && misfit(&plan, device).is_none()
        {
            found.push(ForDevice {
                of_model: plan.applies_to.is_some_and(|a| a.models.len() == 1),
                recipe: plan.recipe,
                title: plan.title,
            });
        }
    }
    found.sort_by_key(|f| (Reverse(f.of_model), f.recipe.clone()));
    Ok(found)
}
