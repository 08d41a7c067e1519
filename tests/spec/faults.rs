//! Recipes with one planted fault, with two, and with none: the findings are exactly those of the document.
//!
//! `STEPWELL_UPDATE=1` writes what is found into the documents, to be read as an author would before it is kept.
//! Never in here: recipes. Changes when the line of a finding does.

use std::fs;
use std::path::{Path, PathBuf};

use crate::document::{blocks, findings, line};

fn documents(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/spec")
        .join(folder);
    let entries = fs::read_dir(folder).expect("the folder of documents");
    let mut files: Vec<_> = entries
        .map(|e| e.expect("a readable folder").path())
        .collect();
    files.sort();
    files
}

/// The documents of a folder whose findings are not those that they state.
fn differing(folder: &str) -> Vec<String> {
    let update = std::env::var_os("STEPWELL_UPDATE").is_some();
    let mut differing = Vec::new();
    for path in documents(folder) {
        let text = fs::read_to_string(&path).expect("a readable document");
        let (recipes, stated) = (blocks(&text, "yaml"), blocks(&text, "findings"));
        let ([recipe], [stated]) = (&recipes[..], &stated[..]) else {
            panic!("{}: one recipe and one block of findings", path.display());
        };
        let found: String = findings(&text, recipe)
            .iter()
            .map(|f| line(f) + "\n")
            .collect();
        if found == *stated {
            continue;
        }
        if update {
            let head = text.split("```findings\n").next().unwrap_or_default();
            fs::write(&path, format!("{head}```findings\n{found}```\n"))
                .expect("a writable document");
        } else {
            differing.push(format!(
                "{}\nstated:\n{stated}found:\n{found}",
                path.display()
            ));
        }
    }
    differing
}

#[test]
fn a_planted_fault_is_found_where_it_is() {
    let differing = differing("faults");
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}

#[test]
fn every_planted_fault_gives_one_finding() {
    for path in documents("faults") {
        let text = fs::read_to_string(&path).expect("a readable document");
        let lines: usize = blocks(&text, "findings")
            .iter()
            .map(|b| b.lines().count())
            .sum();
        assert_eq!(lines, 1, "{}", path.display());
    }
}

#[test]
fn one_of_two_faults_does_not_hide_the_other() {
    let differing = differing("pairs");
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}

#[test]
fn a_clean_recipe_gives_no_findings() {
    let differing = differing("clean");
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}
