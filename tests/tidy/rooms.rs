//! Which room uses which: what the table in DEVELOPERS.md allows.
//!
//! Never in here: the table. Changes when rooms are divided otherwise.

use std::collections::{BTreeMap, BTreeSet};

use crate::{files, read, table};

/// What each room may use.
fn allowed() -> BTreeMap<String, BTreeSet<String>> {
    let rows = table(&read("DEVELOPERS.md"), "room");
    let row = |cells: Vec<String>| {
        let others = cells[2]
            .split(',')
            .map(|r| r.trim().to_owned())
            .filter(|r| r != "–");
        (cells[0].trim_matches('`').to_owned(), others.collect())
    };
    rows.into_iter().map(row).collect()
}

/// The rooms that a file uses: the words behind `crate::`, those in braces too.
fn used(text: &str) -> BTreeSet<String> {
    let word = |t: &str| {
        t.trim()
            .chars()
            .take_while(|c| c.is_ascii_lowercase() || *c == '_')
            .collect()
    };
    let mut rooms = BTreeSet::new();
    for after in text.split("crate::").skip(1) {
        match after.strip_prefix('{') {
            Some(list) => {
                let inside = list.split('}').next().unwrap_or_default();
                rooms.extend(inside.split(',').map(word));
            }
            None => _ = rooms.insert(word(after)),
        }
    }
    rooms
}

#[test]
fn rooms_use_what_the_table_allows() {
    let allowed = allowed();
    assert!(allowed.len() > 10, "the table of rooms was not found");
    for file in files("src", ".rs") {
        let Some(room) = file
            .strip_prefix("src/")
            .and_then(|f| f.split_once('/'))
            .map(|(r, _)| r)
        else {
            continue;
        };
        let may = allowed
            .get(room)
            .unwrap_or_else(|| panic!("the table has no room `{room}`"));
        for other in used(&read(&file)) {
            let known = allowed.contains_key(&other);
            assert!(
                !known || other == room || may.contains(&other),
                "{file}: `{room}` may not use `{other}`"
            );
        }
    }
}

#[test]
fn the_tour_names_every_room() {
    let tour = read("src/lib.rs");
    for room in allowed().keys() {
        assert!(
            tour.contains(&format!("pub mod {room};")),
            "src/lib.rs does not name `{room}`"
        );
    }
}
