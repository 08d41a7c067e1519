//! Reports and lists on a real terminal of 80 columns.
//!
//! Never in here: what they tell. Changes when another report is printed.

use std::path::Path;

use tempfile::TempDir;

use crate::seats::{Pipe, SEATS, Seat, fits};

/// The demo shop, with long words where a register may have them.
fn shop() -> TempDir {
    let folder = TempDir::new().expect("a folder");
    stepwell::app::lay_out_demo(&stepwell::host::HurriedHost::at_present(), folder.path())
        .expect("a demo shop");
    let words = "run volumetric-annual --device VP-1001 --by tech-04 --answers answers/fail.yaml";
    piped(folder.path(), words);
    let place = "Intensive care unit, fourth floor, the store behind the second door";
    let add = [
        "devices",
        "add",
        "VP-9001",
        "--serial",
        "EW-900100",
        "--maker",
        "Example Works",
        "--model",
        "VP-1",
        "--category",
        "volumetric",
        "--interval",
        "12 months",
        "--location",
        place,
    ];
    let (code, said) = Box::new(Pipe::sit(folder.path(), &add)).leaves();
    assert_eq!(code, 0, "{said}");
    folder
}

fn piped(shop: &Path, words: &str) -> String {
    let words: Vec<&str> = words.split(' ').collect();
    Box::new(Pipe::sit(shop, &words)).leaves().1
}

fn shown(shop: &Path, words: &str) -> String {
    let words: Vec<&str> = words.split(' ').collect();
    SEATS[0](shop, &words).leaves().1
}

fn words(text: &str) -> Vec<&str> {
    text.split_whitespace().collect()
}

#[test]
fn reports_are_broken_between_words() {
    let folder = shop();
    for asked in [
        "verify --full",
        "due --all",
        "due --within 400 --all",
        "trace FM-01",
        "trend --device VP-1001",
    ] {
        let whole = piped(folder.path(), asked);
        let screen = shown(folder.path(), asked);
        assert_eq!(words(&screen), words(&whole), "{asked}");
        // Paths have no blank: nothing is broken that fits into a line.
        let longest = whole.split_whitespace().map(str::len).max();
        if longest < Some(70) {
            fits(&screen);
        }
    }
}

#[test]
fn lists_are_broken_between_words_and_nothing_is_cut() {
    let folder = shop();
    let screen = shown(folder.path(), "devices list");
    fits(&screen);
    assert!(!screen.contains('…'), "{screen}");
    for word in ["Intensive", "fourth", "behind", "EW-900100", "volumetric"] {
        assert!(words(&screen).contains(&word), "{word}: {screen}");
    }
}
