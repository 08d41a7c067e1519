//! A demo shop with a balance and the recipes of these tests.
//!
//! Never in here: checks. Changes when the tests need another thing in the shop.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use stepwell::app::lay_out_demo;
use stepwell::host::HurriedHost;
use tempfile::TempDir;

const BALANCE: &str = "  - id: BA-77
    kind: Balance
    serial: D-7704
    certificate: DEMO-2025-7704
    calibrated: 2025-11-03
    due: 2099-12-31
    upkeep: {}
    measures:
      mass: {range: [0 g, 300 g], accuracy: 0.001 % + 0.0005 g, k: 2, resolution: 0.0001 g}
";

/// The shop.
pub fn shop() -> TempDir {
    let folder = TempDir::new().expect("a folder");
    lay_out_demo(&HurriedHost::at_present(), folder.path()).expect("a demo shop");
    let register = folder.path().join("instruments.yaml");
    let text = std::fs::read_to_string(&register).expect("instruments");
    // Of what measures pressure only the gauge PG-02 is left, beside the barometer.
    let calibrator = |part: &&str| part.starts_with("PC-1");
    let kept: Vec<&str> = text
        .split("  - id: ")
        .filter(|part| !calibrator(part))
        .collect();
    let mut text = kept.join("  - id: ");
    text.push_str(BALANCE);
    std::fs::write(register, text).expect("room");
    for recipe in ["flow-log", "tight-limits"] {
        let name = format!("{recipe}.yaml");
        let from = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("tests/shop")
            .join(&name);
        std::fs::copy(from, folder.path().join("recipes").join(name)).expect("room");
    }
    folder
}

/// Runs the program in the shop.
pub fn stepwell(shop: &Path, words: &[&str]) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_stepwell"));
    program.current_dir(shop).args(words);
    program.output().expect("the program runs")
}

/// What a run of the log recipe with this file said; `--with` fills the role with the balance of these tests.
pub fn run_log(shop: &Path, file: &str) -> Output {
    let answers = format!("answers:\n  log: {file}\n");
    std::fs::write(shop.join("log-answers.yaml"), answers).expect("room");
    stepwell(
        shop,
        &[
            "run",
            "flow-log",
            "--device",
            "VP-1001",
            "--by",
            "tech-04",
            "--trial",
            "--with",
            "balance=BA-77",
            "--answers",
            "log-answers.yaml",
        ],
    )
}

/// The records of the shop.
pub fn records(shop: &Path) -> Vec<PathBuf> {
    let years = std::fs::read_dir(shop.join("records"))
        .into_iter()
        .flatten();
    let years = years.map(|y| y.expect("a year").path());
    let files = years
        .filter(|y| y.is_dir())
        .flat_map(|y| std::fs::read_dir(y).expect("files"));
    let mut all: Vec<PathBuf> = files.map(|f| f.expect("a file").path()).collect();
    all.retain(|f| f.extension().is_some_and(|e| e == "json"));
    all.sort();
    all
}

/// A step of a record.
pub fn step<'r>(record: &'r Value, path: &str) -> &'r Value {
    let steps = record["steps"].as_array().expect("steps");
    steps.iter().find(|s| s["path"] == path).expect("the step")
}

/// The number of a quantity in data.
pub fn number(quantity: &Value) -> f64 {
    let text = quantity["value"].as_str().expect("decimal text");
    text.parse().expect("a number")
}
