//! Many records of a shop: made by real sessions, then verified, beside `sha256sum` over the same files.
//!
//! `cargo bench --bench records -- 100000 FOLDER` keeps the shop in FOLDER; without a number there are 2,000 in a
//! folder that goes away. Figures are ratios of one run.
//!
//! Never in here: asserted times. Changes when another command works on many records.

mod shop;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Records that are made where no number is given.
const USUAL: usize = 2_000;

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|w| w != "--bench")
        .collect();
    let count = words.first().and_then(|w| w.parse().ok()).unwrap_or(USUAL);
    let away = tempfile::tempdir().expect("a folder");
    let folder = words.get(1).map_or(away.path(), Path::new);
    if !folder.join("shop.yaml").exists() {
        let took = timed(|| shop::make(folder, count));
        println!("{count} records were made in {} s", took.as_secs());
    }
    let sums = timed(|| {
        run(
            Command::new("sh")
                .arg("-c")
                .arg("find records -name '*.json' -print0 | xargs -0 sha256sum"),
            folder,
        )
    });
    println!("sha256sum                {:8.2} s", sums.as_secs_f64());
    let newer = away.path().join("newer.yaml");
    let recipe = include_str!("made-up.yaml").replace("tolerance: 5 %", "tolerance: 2 %");
    std::fs::write(&newer, recipe).expect("room");
    let newer = newer.to_string_lossy();
    for words in [
        &["verify"][..],
        &["diff", "made-up@1", &newer, "--replay"],
        &["due", "--within", "30"],
        &["trace", "FM-01"],
        &[
            "trend",
            "--device",
            "D-00001",
            "--value",
            "accuracy.2.delivered",
        ],
    ] {
        for time in ["first", "again"] {
            let took = timed(|| {
                run(
                    Command::new(env!("CARGO_BIN_EXE_stepwell")).args(words),
                    folder,
                )
            });
            let ratio = took.as_secs_f64() / sums.as_secs_f64();
            println!(
                "{:18} {time} {:8.2} s, {ratio:.2} times sha256sum",
                words[0],
                took.as_secs_f64()
            );
        }
    }
}

fn timed(work: impl FnOnce()) -> Duration {
    let begun = Instant::now();
    work();
    begun.elapsed()
}

/// Runs a program in the shop's folder; what it says is not of interest.
fn run(command: &mut Command, folder: &Path) {
    let command = command
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    command.status().expect("the program runs");
}
