//! The files that come with the program: recipes, and the demo shop.
//!
//! Never in here: laying them out. Changes when something of another kind is shipped; touch this file when a shipped file is new, so
//! that it is taken in.

use include_dir::{Dir, include_dir};

static RECIPES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/recipes");
static DEMO: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/demo-data");

/// The shipped recipes and fragments by the names of their files, in order.
#[must_use]
pub fn recipes() -> Vec<(String, &'static str)> {
    texts(&RECIPES)
}

/// The demo's files by their paths, in order.
#[must_use]
pub fn demo_data() -> Vec<(String, &'static str)> {
    texts(&DEMO)
}

fn texts(folder: &'static Dir<'static>) -> Vec<(String, &'static str)> {
    let mut all = Vec::new();
    for file in folder.files() {
        let name = file.path().to_string_lossy().replace('\\', "/");
        let text = file.contents_utf8().expect("shipped files are text");
        all.push((name, text));
    }
    all.extend(folder.dirs().flat_map(texts));
    all.sort();
    all
}
