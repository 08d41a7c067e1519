//! A shop with a base, forty recipes that derive from it and six fragments that all of them use.
//!
//! Never in here: a bound that fails. Changes when recipes come to rest on others otherwise.

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

use tempfile::TempDir;

const BASE: &str = include_str!("../../recipes/volumetric-annual.yaml");
const FRAGMENT: &str = include_str!("../property/fragment.yaml");
const DERIVED: usize = 40;
const FRAGMENTS: usize = 6;
/// Steps of a fragment beside those that it has.
const STEPS: usize = 8;
/// Runs of which the fastest counts.
const RUNS: usize = 20;

/// Lays the shop's recipes out; gives the folder and one of the derived ones.
pub fn lay_out() -> (TempDir, PathBuf) {
    let folder = TempDir::new().expect("a folder");
    let put = |name: String, text: String| {
        let path = folder.path().join(format!("{name}.yaml"));
        std::fs::write(&path, text).expect("room");
        path
    };
    put("volumetric-annual".to_owned(), BASE.to_owned());
    for number in 0..FRAGMENTS {
        let name = format!("safety-{number}");
        put(name.clone(), fragment(&name));
    }
    let paths: Vec<PathBuf> = (0..DERIVED)
        .map(|number| put(format!("derived-{number}"), derived(number)))
        .collect();
    (folder, paths[DERIVED / 2].clone())
}

fn fragment(name: &str) -> String {
    let mut text = FRAGMENT.replace("recipe: electrical-safety", &format!("recipe: {name}"));
    for n in 0..STEPS {
        let _ = write!(
            text,
            "  - id: leakage_{n}
    measure: Resistance {n}, at most {{{{ earth_max }}}}
    unit: ohm
    with: safety
    accept: within(leakage_{n}, earth_max, tolerance)
    basis: earth
"
        );
    }
    text
}

fn derived(number: usize) -> String {
    let mut text = format!(
        "format: 1
recipe: derived-{number}
revision: 1
extends: volumetric-annual@3
changes: [{{revision: 1, date: 2026-04-01, why: First issue}}]
settings: {{tolerance: 3.{number:02} %}}
steps:
  - {{remove: alarms.near_end, why: not on this model}}
  - {{after: accuracy, insert: [{{id: rest, tell: Let the pump rest}}]}}
  - before: closing
    insert:
"
    );
    for fragment in 0..FRAGMENTS {
        let _ = writeln!(
            text,
            "      - {{id: safety_{fragment}, use: safety-{fragment}@2, settings: {{earth_max: 0.{} ohm}}}}",
            number + 10
        );
    }
    text
}

/// The fastest check of a path by the program itself, its start included.
fn fastest_s(path: &Path) -> f64 {
    let run = || {
        let start = Instant::now();
        let status = Command::new(env!("CARGO_BIN_EXE_stepwell"))
            .arg("check")
            .arg(path)
            .stdout(Stdio::null())
            .status()
            .expect("the program runs");
        assert!(status.success(), "the recipes have no errors");
        start.elapsed().as_secs_f64()
    };
    (0..RUNS).map(|_| run()).fold(f64::INFINITY, f64::min)
}

/// Prints how many times as long all take as one.
pub fn print_ratio() {
    let (folder, one) = lay_out();
    let (one_s, all_s) = (fastest_s(&one), fastest_s(folder.path()));
    println!(
        "check of one derived recipe {:.1} ms, of {DERIVED} with their base and {FRAGMENTS} fragments {:.1} ms: {:.2} times",
        one_s * 1e3,
        all_s * 1e3,
        all_s / one_s
    );
}
