//! Shops to sit in, and records to look at afterwards.
//!
//! Never in here: typing. Changes when a shop gets a file.

use std::path::Path;

use serde_json::Value;
use stepwell::app::{all_records, lay_out_demo, list_sessions};
use stepwell::host::{HurriedHost, RealHost};
use stepwell::shop::Paths;
use tempfile::TempDir;

/// The recipe with each verb once.
const EVERY_VERB: &str = include_str!("../crash/every_verb.yaml");

/// The demo shop with one more recipe, and a file to attach.
pub fn shop() -> TempDir {
    let folder = TempDir::new().expect("a folder");
    lay_out_demo(&HurriedHost::at_present(), folder.path()).expect("a demo shop");
    write(folder.path(), "recipes/every-verb.yaml", EVERY_VERB);
    write(folder.path(), "printout.txt", "a printout");
    leave_one_gauge(folder.path());
    folder
}

/// With them several instruments of the demo shop measure pressure, and somebody at a terminal is asked which to take.
const LEFT_OUT: [&str; 3] = ["BM-06", "PC-10", "PC-11"];

fn leave_one_gauge(folder: &Path) {
    let text = std::fs::read_to_string(folder.join("instruments.yaml")).expect("instruments");
    let id = |part: &str| part.lines().next().is_some_and(|id| LEFT_OUT.contains(&id));
    let kept: Vec<&str> = text.split("  - id: ").filter(|part| !id(part)).collect();
    write(folder, "instruments.yaml", &kept.join("  - id: "));
}

fn write(folder: &Path, name: &str, text: &str) {
    std::fs::write(folder.join(name), text).expect("a folder with room");
}

/// The same shop, with a decimal comma.
pub fn comma_shop() -> TempDir {
    let folder = shop();
    let file = folder.path().join("shop.yaml");
    let text = std::fs::read_to_string(file).expect("a shop");
    let comma = text.replace("decimal: \".\"", "decimal: \",\"");
    assert_ne!(text, comma);
    write(folder.path(), "shop.yaml", &comma);
    folder
}

/// The same shop, with a second pressure gauge whose name is too long for a line.
pub fn two_gauges() -> TempDir {
    let folder = shop();
    let file = folder.path().join("instruments.yaml");
    let mut text = std::fs::read_to_string(file).expect("instruments");
    text.push_str(
        "  - id: PG-05
    kind: Pressure gauge with a name that fills more than what is left of a line on a screen
    serial: D-0505
    certificate: DEMO-2025-0505
    calibrated: 2025-11-03
    due: 2099-12-31
    measures:
      pressure: {range: [0 psi, 30 psi], accuracy: 1 % + 0.1 psi, limits: rectangular}
",
    );
    write(folder.path(), "instruments.yaml", &text);
    folder
}

/// The one record of a shop.
pub fn record(folder: &Path) -> Value {
    let all = all_records(&RealHost::default(), &Paths::at(folder)).expect("a folder");
    let [path] = &all[..] else {
        panic!("one record was awaited, there are {all:?}");
    };
    let bytes = std::fs::read(path).expect("a record");
    serde_json::from_slice(&bytes).expect("a record")
}

/// A step of a record.
pub fn step<'r>(record: &'r Value, path: &str) -> &'r Value {
    let all = ["setup", "steps"].map(|s| record[s].as_array().expect("steps"));
    let found = all.into_iter().flatten().find(|s| s["path"] == path);
    found.unwrap_or_else(|| panic!("no step {path}"))
}

/// The one session that is open.
pub fn session(folder: &Path) -> String {
    let open = list_sessions(&RealHost::default(), &Paths::at(folder)).expect("a folder");
    let [session] = &open[..] else {
        panic!("one session was awaited, there are {open:?}");
    };
    session.clone()
}

/// The journal of the one session that is open.
pub fn journal(folder: &Path) -> String {
    let path = Paths::at(folder).journal(&session(folder));
    std::fs::read_to_string(path).expect("a journal")
}
