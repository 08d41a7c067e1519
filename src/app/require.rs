//! What the shop's policy wants in a record before it is sealed.
//!
//! Never in here: who may do what (see `shop::policy`). Changes when a requirement is added.

use crate::engine::{Ended, State, Status};
use crate::plan::Plan;
use crate::shop::{Requirement, Shop};

/// The endings of files that are taken for pictures.
const PICTURES: [&str; 5] = ["png", "jpg", "jpeg", "heic", "webp"];

/// What is still missing, a sentence each. A session that was stopped lacks what it lacks.
#[must_use]
pub fn missing(shop: &Shop, occasion: &str, plan: &Plan, state: &State) -> Vec<String> {
    if matches!(state.ended, Some(Ended::Stopped(_))) {
        return Vec::new();
    }
    let required = shop.required(occasion);
    required.flat_map(|r| lacking(r, plan, state)).collect()
}

fn lacking(required: &Requirement, plan: &Plan, state: &State) -> Vec<String> {
    let files = || state.items.iter().flat_map(|i| &i.files);
    let pictures = files().filter(|f| is_picture(&f.name)).count();
    let notes: usize = state.items.iter().map(|i| i.notes.len()).sum();
    let mut all = Vec::new();
    let mut count = |wanted: u32, there: usize, what: &str, how: &str| {
        if (wanted as usize) > there {
            let many = if wanted == 1 { "" } else { "s" };
            all.push(format!(
                "this shop asks for {wanted} {what}{many}; so far there are {there}: {how}"
            ));
        }
    };
    let file = "`:file PATH` attaches one";
    count(required.photographs, pictures, "photograph", file);
    count(required.files, files().count(), "attached file", file);
    count(required.notes, notes, "note", "`:note TEXT` writes one");
    let skipped = plan.items.iter().zip(&state.items).filter(|(item, went)| {
        matches!(went.status, Status::Skipped(_) | Status::Undone(_))
            && required.entries.contains(&item.path)
    });
    all.extend(skipped.map(|(item, _)| {
        format!(
            "this shop asks for `{0}`, which was skipped: `:fix {0}` takes it up again",
            item.path
        )
    }));
    all
}

fn is_picture(name: &str) -> bool {
    let ending = name.rsplit_once('.').map(|(_, e)| e.to_lowercase());
    ending.is_some_and(|e| PICTURES.contains(&e.as_str()))
}
