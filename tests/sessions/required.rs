//! What a shop asks for can be added at the end, before the record is sealed, and after a pause.
//!
//! Never in here: who may do what. Changes when the end of a session asks for something new.

use std::path::Path;

use tempfile::TempDir;

use super::made::{record, session, shop};
use super::seats::{Pipe, SEATS, Seat, Sit, Terminal, fits, turn};

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

/// The first bytes of a PNG file (ISO/IEC 15948, 5.2).
const PNG: &[u8] = b"\x89PNG\r\n\x1a\nrest";

/// A shop that asks for a photograph and a note after an incident.
fn asking() -> TempDir {
    let folder = shop();
    let write =
        |name: &str, bytes: &[u8]| std::fs::write(folder.path().join(name), bytes).expect("room");
    write("recipes/short.yaml", SHORT.as_bytes());
    write("case.png", PNG);
    write("text.jpg", b"no picture at all");
    let policy = std::fs::read_to_string(folder.path().join("shop.yaml")).expect("a shop");
    let require = "require: [{occasion: after an incident, photographs: 1, notes: 1}]\n";
    write("shop.yaml", format!("{policy}{require}").as_bytes());
    folder
}

fn run(sit: Sit, folder: &Path, device: &str) -> Box<dyn Seat> {
    let words = [
        "run", "short", "--by", "tech-04", "--trial", "--device", device,
    ];
    sit(
        folder,
        &[&words[..], &["--occasion", "After an incident"]].concat(),
    )
}

#[test]
fn what_is_asked_for_is_added_at_the_end() {
    for sit in SEATS {
        let folder = asking();
        let mut seat = run(sit, folder.path(), "VP-1001");
        turn(&mut *seat, "yes or no> ", "yes");
        turn(&mut *seat, "whole number> ", "1");
        seat.sees("asks for 1 photograph; so far there are 0");
        turn(
            &mut *seat,
            "asks for 1 note; so far there are 0",
            ":file text.jpg",
        );
        seat.sees("kept, at `drops`");
        seat.sees("so far there are 0");
        turn(
            &mut *seat,
            "`text.jpg` is named as a picture, but is no",
            ":file case.png",
        );
        turn(
            &mut *seat,
            "asks for 1 note",
            ":note it fell from the stand",
        );
        turn(&mut *seat, "Enter seals the record", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        assert!(
            screen.contains(": PASS, TRIAL") && screen.contains("not signed"),
            "{screen}"
        );
        fits(&screen);
        let record = record(folder.path());
        let drops = &record["steps"][1];
        assert_eq!(drops["notes"][0]["text"], "it fell from the stand");
        assert_eq!(record["attachments"].as_array().map(Vec::len), Some(2));
    }
}

#[test]
fn what_is_asked_for_is_added_after_a_pause() {
    let folder = asking();
    let mut seat = run(SEATS[0], folder.path(), "VP-1001");
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "whole number> ", "1");
    turn(&mut *seat, "`:pause` waits> ", ":pause");
    assert_eq!(seat.leaves().0, 3);
    let name = session(folder.path());
    let mut seat = Box::new(Terminal::sit(folder.path(), &["resume", &name]));
    turn(&mut *seat, "`:pause` waits> ", ":file case.png");
    turn(&mut *seat, "`:pause` waits> ", ":note found again");
    turn(&mut *seat, "Enter seals the record", "");
    assert_eq!(seat.leaves().0, 0);
}

#[test]
fn a_session_without_an_entry_leaves_nothing_behind() {
    for sit in SEATS {
        let folder = asking();
        let mut seat = run(sit, folder.path(), "VP-1001");
        turn(&mut *seat, "yes or no> ", ":stop the wrong pump");
        turn(
            &mut *seat,
            "Enter removes the session, and no record is made",
            "",
        );
        let (code, screen) = seat.leaves();
        assert!(
            code == 3 && screen.contains("is removed, without a record"),
            "{screen}"
        );
        fits(&screen);
        let left = std::fs::read_dir(folder.path().join("sessions")).expect("a folder");
        assert_eq!(left.count(), 0);
        assert!(!folder.path().join("records/2026").exists());
    }
}

#[test]
fn a_second_session_on_a_device_is_begun_only_when_asked() {
    let folder = asking();
    let mut first = run(SEATS[0], folder.path(), "VP-1001");
    turn(&mut *first, "yes or no> ", "yes");
    first.sees("whole number> ");
    let name = session(folder.path());
    // Open in another window: there is nothing to resume.
    let mut seat = run(SEATS[0], folder.path(), "VP-1001");
    seat.sees(&format!("{name}, by tech-04, begun "));
    seat.sees("is open in another");
    turn(&mut *seat, "yes or no (no)> ", "");
    let (code, screen) = seat.leaves();
    assert!(code == 2 && !screen.contains("stepwell resume"), "{screen}");
    fits(&screen);
    first.types(":pause");
    assert_eq!(first.leaves().0, 3);
    // Paused: it can be resumed, or another one begun.
    let mut seat = run(SEATS[0], folder.path(), "VP-1001");
    seat.sees(&format!("stepwell resume {name}"));
    turn(&mut *seat, "yes or no (no)> ", "yes");
    turn(&mut *seat, "The pump is clean", ":stop enough");
    turn(&mut *seat, "Enter removes the session", "");
    assert_eq!(seat.leaves().0, 3);
    // Nobody to ask: refused, unless it is said.
    let words = [
        "run", "short", "--device", "VP-1001", "--by", "tech-04", "--trial",
    ];
    let (code, _) = Box::new(Pipe::sit(folder.path(), &words)).leaves();
    assert_eq!(code, 2);
    let mut seat = Pipe::sit(folder.path(), &[&words[..], &["--beside"]].concat());
    turn(&mut seat, "The pump is clean", ":pause");
    assert_eq!(Box::new(seat).leaves().0, 3);
    // Another device is not concerned.
    let mut seat = run(SEATS[1], folder.path(), "VP-1002");
    turn(&mut *seat, "The pump is clean", ":pause");
    assert_eq!(seat.leaves().0, 3);
}
