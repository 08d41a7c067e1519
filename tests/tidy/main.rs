//! The house in order: imports, headers, sizes, pages, dependencies, README commands, shipped recipes.
//!
//! Never in here: what the program computes. Changes when the house gets a rule that a test can hold.

mod files;
mod manifest;
mod readme;
mod rooms;
mod shipped;

use std::path::{Path, PathBuf};

/// The project's folder.
fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A file of the project as text.
fn read(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// All files below a folder that end so, as paths from the project's folder.
fn files(folder: &str, ending: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut folders = vec![root().join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).expect("a readable folder") {
            let path: PathBuf = entry.expect("a readable entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.to_string_lossy().ends_with(ending) {
                let inside = path
                    .strip_prefix(root())
                    .expect("below the project's folder");
                found.push(inside.to_string_lossy().into_owned());
            }
        }
    }
    found.sort();
    found
}

/// The cells of the rows of a Markdown table, below the heading row that begins with `first`.
fn table(text: &str, first: &str) -> Vec<Vec<String>> {
    let head = format!("| {first} |");
    let rows = text.lines().skip_while(|l| !l.starts_with(&head)).skip(2);
    let cells = |row: &str| {
        row.trim_matches('|')
            .split('|')
            .map(|c| c.trim().to_owned())
            .collect()
    };
    rows.take_while(|l| l.starts_with('|')).map(cells).collect()
}
