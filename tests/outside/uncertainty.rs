//! `uncertainties` and `GTC` (PyPI) recompute every uncertainty and verdict of records from weighing, by all decision rules.
//!
//! Never in here: the model, which is beside this in Python. Changes when `volumetric-weighed` does.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Rules and answers, and what the records must come to; `weighed-near` has a flow inside its limit by less than U.
const CASES: [(&str, &str, &str); 6] = [
    ("simple", "weighed", "pass"),
    ("guarded", "weighed", "pass"),
    ("banded", "weighed", "pass"),
    ("simple", "weighed-near", "pass"),
    ("guarded", "weighed-near", "fail"),
    ("banded", "weighed-near", "pass with remarks"),
];

/// Writes the shipped recipe with a decision rule of its own into the shop, as a revision that nobody approved.
fn set_rule(shop: &Path, rule: &str) {
    let mut text = include_str!("../../recipes/volumetric-weighed.yaml").to_owned();
    let first = "  - {revision: 1, date: 2026-03-16, why: First issue}\n";
    let second = "  - {revision: 2, date: 2026-03-17, why: Another decision rule}\n";
    for (old, new) in [
        ("\nrevision: 1\n", "\nrevision: 2\n".to_owned()),
        (first, format!("{first}{second}")),
        ("\ncautions:", format!("\ndecision: {rule}\ncautions:")),
    ] {
        assert!(text.contains(old), "{old}");
        text = text.replacen(old, &new, 1);
    }
    std::fs::write(shop.join("recipes/volumetric-weighed.yaml"), text).unwrap();
}

fn walk(shop: &Path, answers: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stepwell"))
        .current_dir(shop)
        .args("run volumetric-weighed --device VP-1003 --by tech-04 --trial".split(' '))
        .arg("--answers")
        .arg(format!("answers/{answers}.yaml"))
        .output()
        .unwrap()
}

#[test]
fn two_packages_find_the_same_uncertainties_and_verdicts() {
    if !super::modules_at_hand(&["uncertainties", "GTC", "scipy"]) {
        return;
    }
    let (_folder, shop) = super::demo();
    let before = super::records(&shop);
    for (rule, answers, _) in CASES {
        set_rule(&shop, rule);
        let walked = walk(&shop, answers);
        let sealed = matches!(walked.status.code(), Some(0 | 1));
        assert!(sealed, "{}", String::from_utf8_lossy(&walked.stderr));
    }
    let mut made: Vec<PathBuf> = super::records(&shop);
    made.retain(|record| !before.contains(record));
    let run = Command::new("python3")
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/uncertainty.py"))
        .args(&made)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&run.stderr);
    assert!(run.status.success(), "{said}");
    let expected: String = CASES
        .map(|(rule, _, verdict)| format!("{rule} {verdict}\n"))
        .concat();
    assert_eq!(String::from_utf8_lossy(&run.stdout), expected);
    eprintln!("{said}");
}
