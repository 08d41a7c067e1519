//! Why a device is tested: the occasions that a shop knows.
//!
//! Never in here: what a record needs on one (see `folder`). Changes when an occasion becomes usual.

use strsim::osa_distance;

use super::folder::Shop;

/// The occasion where none is named.
pub const USUAL_OCCASION: &str = "scheduled check";

/// The occasion on which a device is tested before it is used first.
const ACCEPTANCE: &str = "acceptance";
/// The occasion on which a device is tested after a repair.
pub const AFTER_REPAIR: &str = "after repair";
/// The occasion on which a device is kept and looked at as it is.
pub const AFTER_INCIDENT: &str = "after an incident";

/// The recipe for what was repaired, where the shop has one.
pub const POST_REPAIR: &str = "post-repair";
/// The recipe for what was in an incident, where the shop has one; those of single categories say which behind it, as in
/// `incident-check-syringe`.
const INCIDENT_CHECK: &str = "incident-check";

/// The occasions that every shop knows.
const OCCASIONS: [&str; 5] = [
    ACCEPTANCE,
    USUAL_OCCASION,
    AFTER_REPAIR,
    AFTER_INCIDENT,
    "end of loan",
];

/// The occasion of a recipe that is for one alone.
#[must_use]
pub fn occasion_of(recipe: &str) -> Option<&'static str> {
    if recipe == POST_REPAIR {
        return Some(AFTER_REPAIR);
    }
    let category = recipe.strip_prefix(INCIDENT_CHECK)?;
    (category.is_empty() || category.starts_with('-')).then_some(AFTER_INCIDENT)
}

/// Whether a device was looked at to be kept as it is.
#[must_use]
pub fn is_after_incident(occasion: &str) -> bool {
    is_same(occasion, AFTER_INCIDENT)
}

/// Whether a pass on an occasion renews a device's check.
#[must_use]
pub fn is_check(occasion: &str) -> bool {
    is_same(occasion, USUAL_OCCASION) || is_same(occasion, ACCEPTANCE)
}

/// Whether two texts name the same occasion: case and outer blanks make no difference.
pub(super) fn is_same(one: &str, other: &str) -> bool {
    folded(one) == folded(other)
}

fn folded(text: &str) -> String {
    text.trim().to_lowercase()
}

impl Shop {
    /// The occasion that is meant, as the shop writes it.
    ///
    /// # Errors
    /// One that it does not know, with those that it does, the nearest first: what `require` asks for on an occasion is not
    /// to be passed by with another spelling.
    pub fn occasion(&self, given: &str) -> Result<String, String> {
        let required = self.require.iter().filter_map(|r| r.occasion.as_deref());
        let own = self.occasions.iter().map(String::as_str).chain(required);
        let mut known: Vec<&str> = Vec::new();
        for occasion in own.chain(OCCASIONS).map(str::trim) {
            if !known.iter().any(|k| is_same(k, occasion)) {
                known.push(occasion);
            }
        }
        if let Some(meant) = known.iter().find(|k| is_same(k, given)) {
            return Ok((*meant).to_owned());
        }
        known.sort_by_key(|k| osa_distance(&folded(k), &folded(given)));
        let known: Vec<String> = known.iter().map(|k| format!("`{k}`")).collect();
        Err(format!(
            "this shop does not know the occasion `{given}`; it knows {}; others are named in shop.yaml (`occasions`)",
            known.join(", ")
        ))
    }
}
