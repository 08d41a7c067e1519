//! What is shipped: recipes and the demo shop check without a finding, and the demo's answers come to what they say.
//!
//! Never in here: expected numbers. Changes when something more is shipped.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value as Json;

use crate::root;

fn stepwell(folder: &Path, arguments: &[&str]) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_stepwell"));
    program
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn clean(paths: &[&str]) {
    let arguments = [&["check", "--deny", "hints", "--format", "json"], paths].concat();
    let output = stepwell(root(), &arguments);
    assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), "[]");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
fn recipes_and_the_demo_shop_have_no_findings() {
    clean(&["recipes", "demo-data/shop"]);
}

/// The records of a shop, as verdicts in the order of their ids.
fn verdicts(shop: &Path) -> Vec<String> {
    let mut records: Vec<PathBuf> = Vec::new();
    for year in std::fs::read_dir(shop.join("records"))
        .expect("records")
        .flatten()
        .filter(|y| y.path().is_dir())
    {
        let files = std::fs::read_dir(year.path())
            .expect("a year's records")
            .flatten();
        records.extend(
            files
                .map(|f| f.path())
                .filter(|p| p.extension().is_some_and(|e| e == "json")),
        );
    }
    records.sort();
    let verdict = |path: &PathBuf| {
        let json: Json =
            serde_json::from_slice(&std::fs::read(path).expect("a record")).expect("JSON");
        json["verdict"].as_str().expect("a verdict").to_owned()
    };
    records.iter().map(verdict).collect()
}

#[test]
fn the_demo_comes_to_its_verdicts() {
    let folder = tempfile::tempdir().expect("a folder");
    let shop = folder.path().join("shop");
    let demo = stepwell(folder.path(), &["demo", "shop"]);
    assert!(
        demo.status.success(),
        "{}",
        String::from_utf8_lossy(&demo.stderr)
    );
    const ANNUAL: &str = "run volumetric-annual --device VP-1001 --by tech-04 --answers";
    const WEIGHED: &str = "run volumetric-weighed --device VP-1003 --by tech-04 --answers";
    let cases = [
        ("pass", 0, "pass", ANNUAL),
        ("retry", 0, "pass", ANNUAL),
        ("corrected", 0, "pass", ANNUAL),
        ("fail", 1, "fail", ANNUAL),
        ("weighed", 0, "pass", WEIGHED),
        ("weighed-near", 0, "pass", WEIGHED),
    ];
    for (answers, exit, _, walk) in cases {
        let file = format!("answers/{answers}.yaml");
        let walk: Vec<&str> = walk.split(' ').chain([file.as_str()]).collect();
        let output = stepwell(&shop, &walk);
        assert_eq!(
            output.status.code(),
            Some(exit),
            "{file}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
    }
    let expected: Vec<&str> = ["pass"]
        .into_iter()
        .chain(cases.iter().map(|c| c.2))
        .collect();
    assert_eq!(verdicts(&shop), expected);
    assert!(stepwell(&shop, &["verify"]).status.success());
}

/// The files of a folder and those below it, by their paths from `top`.
fn files(top: &Path, folder: &Path) -> Vec<String> {
    let mut all = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            all.extend(files(top, &path));
        } else {
            let name = path.strip_prefix(top).expect("it lies below");
            all.push(name.to_string_lossy().into_owned());
        }
    }
    all.sort();
    all
}

#[test]
fn the_program_has_every_shipped_file() {
    for (folder, taken) in [
        ("recipes", stepwell::app::recipes()),
        ("demo-data", stepwell::app::demo_data()),
    ] {
        let folder = root().join(folder);
        let taken: Vec<String> = taken.into_iter().map(|(name, _)| name).collect();
        assert_eq!(taken, files(&folder, &folder), "touch src/app/shipped.rs");
    }
}
