//! Other programs read what we write. A program that is missing is said loudly and passed over, but not in CI.

mod browser;
#[path = "../render/made.rs"]
#[allow(
    dead_code,
    reason = "records of the tests of renderings; not all are used here"
)]
mod by_hand;
mod contract;
mod digest;
mod driven;
mod exports;
mod git;
mod kinds;
mod language_server;
#[path = "../trust/made.rs"]
#[allow(
    dead_code,
    reason = "the shop of the tests of trust; not all of it is used here"
)]
mod made;
mod openssh;
mod pages;
mod reviewed;
mod schemas;
mod uncertainty;

use std::path::{Path, PathBuf};
use std::process::Command;

/// Whether a program can be run; in CI one that can't is a fault.
fn at_hand(program: &str) -> bool {
    at_hand_by(program, "--version")
}

/// Whether a program can be run that tells its version otherwise.
fn at_hand_by(program: &str, flag: &str) -> bool {
    // Some end with another code than 0 when they tell their version.
    let found = Command::new(program).arg(flag).output().is_ok();
    if !found {
        assert!(
            std::env::var_os("CI").is_none(),
            "`{program}` must be installed in CI"
        );
        eprintln!("SKIPPED: `{program}` is not installed");
    }
    found
}

/// Whether Python has these modules; in CI one that it lacks is a fault.
fn modules_at_hand(modules: &[&str]) -> bool {
    if !at_hand("python3") {
        return false;
    }
    let found = Command::new("python3")
        .arg("-c")
        .arg(format!("import {}", modules.join(", ")))
        .output()
        .is_ok_and(|o| o.status.success());
    if !found {
        assert!(
            std::env::var_os("CI").is_none(),
            "Python must have {modules:?} in CI"
        );
        eprintln!("SKIPPED: Python has not all of {modules:?}");
    }
    found
}

/// Lays the demo shop out and walks it; gives the shop's folder.
fn demo() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let shop = folder.path().join("shop");
    let walked = Command::new(env!("CARGO_BIN_EXE_stepwell"))
        .arg("demo")
        .arg(&shop)
        .output()
        .unwrap();
    assert!(
        walked.status.success(),
        "{}",
        String::from_utf8_lossy(&walked.stderr)
    );
    (folder, shop)
}

/// The records of a shop.
fn records(shop: &Path) -> Vec<PathBuf> {
    let years = std::fs::read_dir(shop.join("records")).unwrap();
    let years = years.map(|year| year.unwrap().path());
    let files = years
        .filter(|year| year.is_dir())
        .flat_map(|year| std::fs::read_dir(year).unwrap());
    let mut records: Vec<_> = files.map(|f| f.unwrap().path()).collect();
    records.retain(|f| f.extension().is_some_and(|e| e == "json"));
    records.sort();
    assert!(!records.is_empty());
    records
}
