//! Dependencies: pinned where the licence asks for it, from one registry, each with its reason.
//!
//! Never in here: versions. Changes when the rules for dependencies do.

use crate::{read, table};

/// The names in a section of Cargo.toml.
fn dependencies(section: &str) -> Vec<String> {
    let text = read("Cargo.toml");
    let lines = text
        .lines()
        .skip_while(|l| l.trim() != format!("[{section}]"))
        .skip(1);
    let entries = lines
        .take_while(|l| !l.starts_with('['))
        .filter_map(|l| l.split_once('='));
    entries
        .map(|(name, _)| name.trim().to_owned())
        .filter(|n| !n.starts_with('#'))
        .collect()
}

#[test]
fn every_dependency_has_its_reason() {
    let reasons = table(&read("DEVELOPERS.md"), "crate");
    let named: Vec<&str> = reasons
        .iter()
        .flat_map(|row| row[0].split([',', ' ']))
        .filter(|n| !n.is_empty())
        .collect();
    let all = [
        dependencies("dependencies"),
        dependencies("dev-dependencies"),
    ]
    .concat();
    assert!(all.len() > 10, "the dependencies were not found");
    for name in all {
        assert!(
            named.contains(&name.as_str()),
            "DEVELOPERS.md gives no reason for `{name}`"
        );
    }
}

/// Later versions of evalexpr have a licence that the project does not take.
#[test]
fn evalexpr_stays_at_11() {
    assert!(
        read("Cargo.toml")
            .lines()
            .any(|l| l.starts_with("evalexpr = \"=11."))
    );
    let lock = read("Cargo.lock");
    let (_, after) = lock
        .split_once("name = \"evalexpr\"\n")
        .expect("evalexpr is locked");
    assert!(after.starts_with("version = \"11."));
    assert_eq!(lock.matches("name = \"evalexpr\"").count(), 1);
}

#[test]
fn all_crates_come_from_the_one_registry() {
    let lock = read("Cargo.lock");
    let sources: Vec<&str> = lock
        .lines()
        .filter(|l| l.starts_with("source = "))
        .collect();
    let one = sources.first().expect("crates with a source");
    assert!(one.starts_with("source = \"registry+"));
    assert!(sources.len() > 50 && sources.iter().all(|s| s == one));
}
