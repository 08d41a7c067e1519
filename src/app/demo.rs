//! `demo`: an invented shop, laid out from the program itself.
//!
//! Never in here: the walk. Changes when the demo shop does.

use std::path::Path;

use crate::host::Host;

use super::AppError;
use super::approve::approve;
use super::init::{IGNORED, RECIPES, write_all};
use super::open::open_shop;

/// The device that the demo tests.
pub const DEMO_DEVICE: &str = "VP-1001";
/// Who tests it.
pub const DEMO_PERSON: &str = "tech-04";
/// Who approved the recipes.
pub const DEMO_REVIEWER: &str = "review-01";
/// The recipe.
pub const DEMO_RECIPE: &str = "volumetric-annual";

const SHOP: [(&str, &str); 5] = [
    (
        "people.yaml",
        include_str!("../../demo-data/shop/people.yaml"),
    ),
    (
        "devices.csv",
        include_str!("../../demo-data/shop/devices.csv"),
    ),
    (
        "instruments.yaml",
        include_str!("../../demo-data/shop/instruments.yaml"),
    ),
    (
        "upkeep-B1.jsonl",
        include_str!("../../demo-data/shop/upkeep-B1.jsonl"),
    ),
    (
        "spreadsheets/inventory.csv",
        include_str!("../../demo-data/spreadsheets/inventory.csv"),
    ),
];
const SHOP_ITSELF: &str = include_str!("../../demo-data/shop/shop.yaml");
const ANSWERS: [(&str, &str); 6] = [
    (
        "pass.yaml",
        include_str!("../../demo-data/answers/pass.yaml"),
    ),
    (
        "fail.yaml",
        include_str!("../../demo-data/answers/fail.yaml"),
    ),
    (
        "retry.yaml",
        include_str!("../../demo-data/answers/retry.yaml"),
    ),
    (
        "corrected.yaml",
        include_str!("../../demo-data/answers/corrected.yaml"),
    ),
    (
        "weighed.yaml",
        include_str!("../../demo-data/answers/weighed.yaml"),
    ),
    (
        "weighed-near.yaml",
        include_str!("../../demo-data/answers/weighed-near.yaml"),
    ),
];

/// The readings that the demo walks with.
#[must_use]
pub fn demo_answers() -> &'static str {
    ANSWERS[0].1
}

/// Lays the demo shop out; one that is there already is used again.
///
/// # Errors
/// A folder that holds something else, and those of the system.
pub fn lay_out_demo(host: &dyn Host, folder: &Path) -> Result<(), AppError> {
    let shop = folder.join("shop.yaml");
    let present = host.read(&shop, 1 << 20).ok();
    let ours = present
        .as_ref()
        .is_some_and(|text| text == SHOP_ITSELF.as_bytes());
    let entries = host.list(folder).map_err(|e| AppError::at(folder, &e))?;
    if present.is_some() && !ours {
        return Err(AppError::new(format!(
            "{}: this folder is a shop of its own; name another folder: `stepwell demo DIR`",
            folder.display()
        )));
    }
    let unknown = entries.iter().find(|e| {
        let name = e
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default();
        ![
            "people.yaml",
            "devices.csv",
            "instruments.yaml",
            "upkeep-B1.jsonl",
            "spreadsheets",
            "recipes",
            "answers",
        ]
        .contains(&name.as_str())
    });
    if present.is_none()
        && let Some(other) = unknown
    {
        return Err(AppError::new(format!(
            "{}: the folder is not empty ({}); name another folder: `stepwell demo DIR`",
            folder.display(),
            other.display()
        )));
    }
    let own = SHOP
        .iter()
        .chain([&IGNORED])
        .map(|(name, text)| ((*name).to_owned(), *text));
    let recipes = RECIPES
        .iter()
        .map(|(name, text)| (format!("recipes/{name}"), *text));
    let answers = ANSWERS
        .iter()
        .map(|(name, text)| (format!("answers/{name}"), *text));
    let files: Vec<(String, &str)> = own
        .chain(recipes)
        .chain(answers)
        .chain([("shop.yaml".to_owned(), SHOP_ITSELF)])
        .collect();
    write_all(host, folder, &files)?;
    approve_all(host, folder)
}

/// The demo's reviewer approves the shipped recipes; once.
fn approve_all(host: &dyn Host, folder: &Path) -> Result<(), AppError> {
    let open = open_shop(host, folder)?;
    for (file, _) in RECIPES {
        let recipe = file.trim_end_matches(".yaml");
        approve(host, &open, recipe, DEMO_REVIEWER, &mut |_| Ok(None))?;
    }
    Ok(())
}
