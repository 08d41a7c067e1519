//! A passphrase is asked for at the end of a session, never shown, and may be mistyped.
//!
//! Never in here: what is signed. Changes when somebody is asked otherwise.

use super::made::{record, session, shop};
use super::seats::{Seat, Terminal, fits, turn};

/// A recipe of two entries.
const SHORT: &str = "format: 1
recipe: short
revision: 1
title: Short check
category: volumetric
basis: {practice: \"common practice, no source; the maker's manual governs\"}
changes: [{revision: 1, date: 2026-01-15, why: First issue}]
cautions: [Never test a pump that is connected to a patient.]
steps:
  - id: clean
    confirm: The pump is clean
    basis: practice
  - id: drops
    count: Drops that fall in a minute
    accept: drops <= 2
    basis: practice
";

#[test]
fn a_passphrase_is_asked_for_when_the_record_is_sealed() {
    let folder = shop();
    std::fs::write(folder.path().join("recipes/short.yaml"), SHORT).expect("room");
    let key = ["people", "key", "tech-04", "--key", "key"];
    let mut seat = Box::new(Terminal::sit(folder.path(), &key));
    for (sees, types) in [
        ("Passphrase for the key of tech-04: ", "wet gloves"),
        ("The same again: ", "dry gloves"),
        ("Passphrase for the key of tech-04: ", "wet gloves"),
        ("The same again: ", "wet gloves"),
    ] {
        seat.sees(sees);
        seat.types(types);
    }
    let (code, screen) = seat.leaves();
    assert!(code == 0 && screen.contains("not the same"), "{screen}");
    assert!(!screen.contains("gloves"), "{screen}");

    let words = "run short --device VP-1001 --by tech-04 --trial --key key";
    let words: Vec<&str> = words.split(' ').collect();
    let mut seat = Box::new(Terminal::sit(folder.path(), &words));
    turn(&mut *seat, "The pump is clean", "yes");
    turn(&mut *seat, "Drops that fall", "0");
    turn(&mut *seat, "Enter> ", "");
    for _ in 0..3 {
        seat.sees("Passphrase of tech-04: ");
        seat.types("dry gloves");
        seat.sees("the passphrase does not open the key");
    }
    let (code, screen) = seat.leaves();
    assert_eq!(code, 2, "{screen}");
    // Nothing is closed yet: the verdict is shown again, and an entry can still be corrected.
    let name = session(folder.path());
    let mut seat = Box::new(Terminal::sit(
        folder.path(),
        &["resume", &name, "--key", "key"],
    ));
    turn(&mut *seat, "Verdict: pass", ":fix drops");
    turn(&mut *seat, "the right entry> ", "1");
    turn(&mut *seat, "why> ", "one came late");
    turn(&mut *seat, "Enter> ", "");
    seat.sees("Passphrase of tech-04: ");
    seat.types("dry gloves");
    seat.sees("the passphrase does not open the key");
    seat.sees("Passphrase of tech-04: ");
    seat.types("wet gloves");
    seat.sees("signed by tech-04");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 0, "{screen}");
    assert!(!screen.contains("gloves"), "{screen}");
    fits(&screen);
    assert_eq!(
        record(folder.path())["seal"]["signatures"][0]["by"],
        "tech-04"
    );
}
