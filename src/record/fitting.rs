//! Whether a recipe is for a device, by the device's category and by the makers and models that the recipe names.
//!
//! Never in here: what follows from it (see `start`, `due`). Changes when recipes say otherwise whom they are for.

use crate::journal::Device;
use crate::plan::Plan;

/// Why a recipe is not for a device. A device whose register has no category is of any.
#[must_use]
pub fn misfit(plan: &Plan, device: &Device) -> Option<String> {
    let Device {
        tag,
        maker,
        model,
        category,
        ..
    } = device;
    let recipe = &plan.recipe;
    if !is_of_category(&plan.category, category) {
        return Some(format!(
            "`{tag}` is of category {category}; the recipe `{recipe}` is for category {}",
            plan.category
        ));
    }
    let applies = plan.applies_to.as_ref()?;
    let by_maker = applies.maker.as_ref().is_none_or(|m| m == maker);
    if by_maker && (applies.models.is_empty() || applies.models.contains(model)) {
        return None;
    }
    let wanted = [
        applies.maker.clone().unwrap_or_default(),
        applies.models.join(", "),
    ]
    .join(" ");
    Some(format!(
        "`{tag}` is {maker} {model}; the recipe `{recipe}` is for {}",
        wanted.trim()
    ))
}

/// Whether a recipe's category is that of a device; a fragment has none.
#[must_use]
pub fn is_of_category(recipe: &str, device: &str) -> bool {
    recipe.is_empty() || device.is_empty() || recipe.eq_ignore_ascii_case(device)
}
