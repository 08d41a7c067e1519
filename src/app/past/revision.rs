//! The volumetric recipe before its limit was narrowed, which the shop begins with.
//!
//! Never in here: when the limit is changed (see `schedule`). Changes when the recipe gets a new revision.

use std::path::Path;

use crate::host::Host;
use crate::shop::Paths;

use super::super::AppError;
use super::super::demo::demo_text;

/// The recipe that has two revisions in the shop's past.
pub(super) const RECIPE: &str = "volumetric-annual";

/// What revision 3 says, and what revision 2 said instead.
const CHANGES: [(&str, &str); 3] = [
    ("revision: 3\n", "revision: 2\n"),
    (
        "  - {revision: 3, date: 2026-03-02, why: Occlusion limit narrowed after the maker's bulletin}\n",
        "",
    ),
    ("  occlusion_max: 15 psi\n", "  occlusion_max: 20 psi\n"),
];

/// Puts revision 2 where revision 3 is.
pub(super) fn put_former(host: &dyn Host, folder: &Path) -> Result<(), AppError> {
    let mut text = demo_text(&file()).to_owned();
    for (new, former) in CHANGES {
        if text.matches(new).count() != 1 {
            return Err(AppError::new(format!(
                "the recipe `{RECIPE}` has `{}` not once: src/app/past/revision.rs is behind it",
                new.trim()
            )));
        }
        text = text.replacen(new, former, 1);
    }
    put(host, folder, &text)
}

/// Puts revision 3 in its place.
pub(super) fn put_new(host: &dyn Host, folder: &Path) -> Result<(), AppError> {
    put(host, folder, demo_text(&file()))
}

fn file() -> String {
    format!("recipes/{RECIPE}.yaml")
}

fn put(host: &dyn Host, folder: &Path, text: &str) -> Result<(), AppError> {
    let path = Paths::at(folder).file(&file());
    host.write(&path, text.as_bytes())
        .map_err(|e| AppError::at(&path, &e))
}

/// Whether a recipe can be approved only once revision 3 is there.
pub(super) fn rests_on_new(recipe: &str) -> bool {
    demo_text(&format!("recipes/{recipe}.yaml")).contains(&format!("extends: {RECIPE}@"))
}
