//! `demo`: an invented shop, laid out from the program itself.
//!
//! Never in here: the walk. Changes when the demo shop does.

use std::path::{Path, PathBuf};

use crate::host::Host;

use super::AppError;
use super::approve::approve;
use super::init::{IGNORED, write_all};
use super::open::open_shop;
use super::reviewing::review;
use super::shipped::{demo_data, recipes};

/// The device that the demo tests.
pub const DEMO_DEVICE: &str = "VP-1001";
/// Who tests it.
pub const DEMO_PERSON: &str = "tech-04";
/// Who approved the recipes.
pub const DEMO_REVIEWER: &str = "review-01";
/// The recipe.
pub const DEMO_RECIPE: &str = "volumetric-annual";

/// The readings that the demo walks with.
#[must_use]
pub fn demo_answers() -> &'static str {
    demo_text("answers/pass.yaml")
}

/// Lays the demo shop out; one that is there already is used again.
///
/// # Errors
/// A folder that holds something else, and those of the system.
pub fn lay_out_demo(host: &dyn Host, folder: &Path) -> Result<(), AppError> {
    let files = demo_files();
    let shop = folder.join("shop.yaml");
    let present = host.read(&shop, 1 << 20).ok();
    let itself = demo_text("shop.yaml");
    let ours = present.as_ref().is_some_and(|t| t == itself.as_bytes());
    let entries = host.list(folder).map_err(|e| AppError::at(folder, &e))?;
    if present.is_some() && !ours {
        return Err(AppError::new(format!(
            "{}: this folder is a shop of its own; name another folder: `stepwell demo DIR`",
            folder.display()
        )));
    }
    let known = |entry: &&PathBuf| {
        let first = |name: &str| name.split('/').next().map(|n| folder.join(n));
        files.iter().any(|(n, _)| first(n).as_ref() == Some(entry))
    };
    if present.is_none()
        && let Some(other) = entries.iter().find(|e| !known(e))
    {
        return Err(AppError::new(format!(
            "{}: the folder is not empty ({}); name another folder: `stepwell demo DIR`",
            folder.display(),
            other.display()
        )));
    }
    write_all(host, folder, &files)?;
    approve_all(host, folder, &|_| true)
}

/// The files of the demo shop. `shop.yaml` is last: without it the folder is no shop, and the command can be run again.
pub(super) fn demo_files() -> Vec<(String, &'static str)> {
    let mut files = vec![(IGNORED.0.to_owned(), IGNORED.1)];
    let own = recipes().into_iter();
    files.extend(own.map(|(name, text)| (format!("recipes/{name}"), text)));
    let demo = demo_data().into_iter();
    files.extend(demo.map(|(name, text)| {
        let name = name
            .strip_prefix("shop/")
            .map_or(name.clone(), str::to_owned);
        (name, text)
    }));
    files.sort_by_key(|(name, _)| name == "shop.yaml");
    files
}

/// A file of the demo shop, by its path there.
pub(super) fn demo_text(name: &str) -> &'static str {
    let found = demo_files().into_iter().find(|(n, _)| n == name);
    found.expect("the demo has it").1
}

/// The demo's reviewer approves the shipped recipes, those that are wanted; once.
pub(super) fn approve_all(
    host: &dyn Host,
    folder: &Path,
    wanted: &dyn Fn(&str) -> bool,
) -> Result<(), AppError> {
    let open = open_shop(host, folder)?;
    for (file, _) in demo_files() {
        let recipe = file
            .strip_prefix("recipes/")
            .and_then(|f| f.strip_suffix(".yaml"));
        let Some(recipe) = recipe.filter(|r| wanted(r)) else {
            continue;
        };
        let reviewed = review(host, &open, recipe, DEMO_REVIEWER)?;
        approve(host, &open, reviewed, &mut |_| Ok(None))?;
    }
    Ok(())
}
