//! One device after the other, instruments taken last, time that is left, what comes after a fail, and a sound.
//!
//! Never in here: what is judged. Changes when a session makes something easier.

use std::path::Path;

use serde_json::json;
use tempfile::TempDir;

use super::made::{record, shop, two_gauges};
use super::seats::{Pipe, RUN, SEATS, Seat, Terminal, fits, turn};

/// A session of the quick recipe on one device.
pub const QUICK: [&str; 7] = [
    "run", "quick", "--device", "VP-1001", "--by", "tech-04", "--trial",
];
/// The same on one device after the other.
const QUEUE: [&str; 5] = ["run", "quick", "--by", "tech-04", "--trial"];

/// The demo shop with the quick recipe.
pub fn quick() -> TempDir {
    let folder = shop();
    let recipe = include_str!("quick.yaml");
    std::fs::write(folder.path().join("recipes/quick.yaml"), recipe).expect("room");
    folder
}

/// Walks through with so many drops, up to the sealed record.
fn walks(seat: &mut dyn Seat, drops: &str) {
    turn(seat, "yes or no> ", "yes");
    turn(seat, "whole number> ", drops);
    turn(seat, "min:s)> ", "2 s");
    turn(seat, "Enter> ", "");
}

#[test]
fn one_device_after_the_other_until_an_empty_line() {
    for sit in SEATS {
        let folder = quick();
        let mut seat = sit(folder.path(), &QUEUE);
        seat.sees("due");
        turn(&mut *seat, "Enter ends> ", "VP-1O01");
        seat.sees("there is no device `VP-1O01` in the register; the nearest tag is `VP-1001`");
        // A scanner may type small letters.
        turn(&mut *seat, "Enter ends> ", "vp-1001");
        seat.sees("Device VP-1001");
        walks(&mut *seat, "1");
        seat.sees("PASS, TRIAL");
        seat.sees("due by this recipe");
        // What the recipe is not for is not listed.
        turn(&mut *seat, "Enter ends> ", "?");
        turn(&mut *seat, "Enter ends> ", "VP-1002");
        seat.sees("Device VP-1002");
        walks(&mut *seat, "3");
        seat.sees("FAIL, TRIAL");
        turn(&mut *seat, "Enter ends> ", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 1, "{screen}");
        fits(&screen);
        assert!(
            screen.contains(": VP-10") && !screen.contains(": CU-6"),
            "{screen}"
        );
    }
}

#[test]
fn a_paused_device_does_not_hold_up_the_next_one() {
    let folder = quick();
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUEUE));
    turn(&mut *seat, "Enter ends> ", "VP-1001");
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "whole number> ", ":pause");
    seat.sees("go on with `stepwell resume");
    turn(&mut *seat, "Enter ends> ", "VP-1001");
    seat.sees("is paused on it");
    turn(&mut *seat, "Go on with it, yes or no (yes)> ", "no");
    turn(&mut *seat, "has a session under way", "no");
    seat.sees("the session was not begun");
    turn(&mut *seat, "Enter ends> ", "VP-1002");
    walks(&mut *seat, "1");
    turn(&mut *seat, "Enter ends> ", "");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 3, "{screen}");
    assert_eq!(record(folder.path())["device"]["tag"], "VP-1002");
}

#[test]
fn the_queue_goes_on_with_a_paused_session() {
    let folder = quick();
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUEUE));
    turn(&mut *seat, "Enter ends> ", "VP-1001");
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "whole number> ", ":pause");
    turn(&mut *seat, "Enter ends> ", "vp-1001");
    turn(&mut *seat, "Go on with it, yes or no (yes)> ", "");
    turn(&mut *seat, "whole number> ", "1");
    turn(&mut *seat, "min:s)> ", "2 s");
    turn(&mut *seat, "Enter> ", "");
    seat.sees("PASS, TRIAL");
    turn(&mut *seat, "Enter ends> ", "");
    seat.leaves();
    assert_eq!(record(folder.path())["device"]["tag"], "VP-1001");
}

/// A tag that is scanned twice by mistake tests nothing twice.
#[test]
fn a_device_that_was_tested_today_is_taken_once_its_tag_is_typed_again() {
    let folder = approved();
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUEUE[..4]));
    turn(&mut *seat, "Enter ends> ", "VP-1001");
    walks(&mut *seat, "3");
    turn(&mut *seat, "Enter ends> ", "?");
    seat.sees("left out: 1 device that failed today");
    turn(&mut *seat, "Enter ends> ", "VP-1001");
    seat.sees("was tested today by this recipe");
    turn(&mut *seat, "Enter ends> ", "vp-1001");
    turn(&mut *seat, "yes or no> ", ":pause");
    turn(&mut *seat, "Enter ends> ", "");
    let (_, screen) = seat.leaves();
    fits(&screen);
}

/// What was chosen on the last device of a model is offered on the next one; nothing on another model.
#[test]
fn choices_of_the_last_device_of_a_model_are_offered_again() {
    let folder = quick();
    let recipe = include_str!("quick.yaml").replace(
        "steps:\n",
        "steps:\n  - {id: class, choose: Protection class, options: [class one, class two]}\n  - {id: seen, confirm: The class stands on the plate, when: 'class == \"class two\"'}\n",
    );
    std::fs::write(folder.path().join("recipes/quick.yaml"), recipe).expect("room");
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK));
    turn(&mut *seat, "word or number> ", "class two");
    turn(&mut *seat, "yes or no> ", "yes");
    walks(&mut *seat, "1");
    seat.leaves();
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK));
    turn(&mut *seat, "or Enter for class two as before> ", "");
    turn(&mut *seat, "yes or no> ", ":pause");
    seat.leaves();
    let mut other = QUICK;
    other[3] = "VP-1002";
    let mut seat = Box::new(Terminal::sit(folder.path(), &other));
    turn(&mut *seat, "word or number> ", "class one");
    turn(&mut *seat, "yes or no> ", ":pause");
    seat.leaves();
}

/// `?` tells what is asked, and the keys that move about in a line enter nothing.
#[test]
fn a_question_mark_tells_and_an_arrow_key_is_refused() {
    let folder = quick();
    let mut typed = QUICK;
    typed[3] = "vp-1001";
    let mut seat = Box::new(Terminal::sit(folder.path(), &typed));
    turn(&mut *seat, "yes or no> ", "?");
    seat.sees("Asked: yes or no");
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "whole number> ", "\u{1b}[A1");
    seat.sees("an arrow key or its like");
    turn(&mut *seat, "> ", "?");
    seat.sees("Asked: a whole number");
    seat.sees("Limit: at most 2");
    turn(&mut *seat, "whole number> ", "1");
    turn(&mut *seat, "min:s)> ", "2 s");
    turn(&mut *seat, "Enter> ", "");
    seat.leaves();
    let record = record(folder.path());
    // The register's spelling is what is kept.
    assert_eq!(record["device"]["tag"], "VP-1001");
}

/// The same recipe approved, so that it is run in earnest.
fn approved() -> TempDir {
    let folder = quick();
    let words = ["approve", "quick", "--by", "review-01"];
    let (code, screen) = Box::new(Pipe::sit(folder.path(), &words)).leaves();
    assert_eq!(code, 0, "{screen}");
    folder
}

#[test]
fn after_a_fail_it_is_told_what_to_do() {
    let folder = approved();
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK[..6]));
    walks(&mut *seat, "3");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 1, "{screen}");
    fits(&screen);
    let words = screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("`drops`: Look for a crack in the drip chamber."),
        "{screen}"
    );
    assert!(words.contains("stands above; after a repair:"), "{screen}");
    // In one piece, to be copied.
    let next =
        "  stepwell run post-repair --device VP-1001 --by tech-04 --occasion \"after repair\"";
    assert!(screen.lines().any(|l| l == next), "{screen}");
}

/// A trial's recipe can't be run otherwise, and what was in an incident is kept as it is.
#[test]
fn no_repair_is_told_where_none_comes_next() {
    let kept = [&QUICK[..6], &["--occasion", "after an incident"]].concat();
    for words in [&QUICK[..], &kept] {
        let folder = approved();
        let mut seat = Box::new(Terminal::sit(folder.path(), words));
        walks(&mut *seat, "3");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 1, "{screen}");
        assert!(screen.contains("crack in the drip chamber"), "{screen}");
        assert!(!screen.contains("repair"), "{screen}");
    }
}

#[test]
fn a_setup_that_fails_sends_nothing_to_repair() {
    let folder = quick();
    let setup = "setup:\n  - {id: fits, confirm: The plug fits, severity: critical, on_fail: stop}\nsteps:\n";
    let recipe = include_str!("quick.yaml").replace("steps:\n", setup);
    std::fs::write(folder.path().join("recipes/quick.yaml"), recipe).expect("room");
    let words = ["approve", "quick", "--by", "review-01"];
    let (code, screen) = Box::new(Pipe::sit(folder.path(), &words)).leaves();
    assert_eq!(code, 0, "{screen}");
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK[..6]));
    turn(&mut *seat, "yes or no> ", "no");
    turn(&mut *seat, "Enter> ", "");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 1, "{screen}");
    assert!(!screen.contains("repair"), "{screen}");
}

/// Nothing of a single-use pump is repaired: the sample is kept for its maker.
#[test]
fn a_sample_that_fails_is_not_sent_to_repair() {
    let folder = shop();
    let stored = folder.path().join("stored.yaml");
    let answers = include_str!("../../demo-data/answers/elastomeric-flow-fail-fill-leak.yaml");
    std::fs::write(&stored, answers).expect("room");
    let words = "run elastomeric-flow --device EL-6011 --by tech-04 --answers stored.yaml";
    let words: Vec<&str> = words.split(' ').collect();
    let (code, screen) = Box::new(Pipe::sit(folder.path(), &words)).leaves();
    assert_eq!(code, 1, "{screen}");
    assert!(screen.contains("for the maker"), "{screen}");
    assert!(!screen.contains("after repair"), "{screen}");
}

#[test]
fn a_pump_on_a_patient_counts_nothing_against_it() {
    let folder = approved();
    let annual = "run volumetric-annual --device VP-1001 --by tech-04";
    let annual: Vec<&str> = annual.split(' ').collect();
    let mut seat = Box::new(Terminal::sit(folder.path(), &annual));
    turn(&mut *seat, "Enter when read> ", "");
    turn(&mut *seat, "yes or no> ", "no");
    seat.sees("Leave it alone and call the ward");
    turn(&mut *seat, "Enter> ", "");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 3, "{screen}");
    assert!(!screen.contains("repair"), "{screen}");
}

#[test]
fn instruments_that_were_taken_last_are_offered_again() {
    let folder = two_gauges();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    turn(&mut *seat, "1 to 2> ", "2");
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "text> ", ":stop enough");
    turn(&mut *seat, "seals the record", "");
    seat.leaves();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    turn(&mut *seat, "1 to 2, or Enter for PG-05> ", "");
    seat.sees("gauge: PG-05");
    turn(&mut *seat, "yes or no> ", ":pause");
    seat.leaves();
    // Somebody else is offered nothing.
    let mut other = RUN;
    (other[3], other[5]) = ("VP-1002", "tech-07");
    let mut seat = Box::new(Terminal::sit(folder.path(), &other));
    turn(&mut *seat, "1 to 2> ", "1");
    seat.sees("gauge: PG-02");
    turn(&mut *seat, "yes or no> ", ":pause");
    seat.leaves();
}

/// A copy of a record whose session took `minutes` at each of three steps, with a long pause before the last one.
fn took(folder: &Path, from: &serde_json::Value, number: usize, minutes: i64) {
    let mut copy = from.clone();
    let at = |m: i64| format!("2026-03-09T{:02}:{:02}:00.000+01:00", 8 + m / 60, m % 60);
    let events = [
        json!({"n": 1, "event": "entry", "path": "clean", "text": "yes", "at": at(minutes)}),
        json!({"n": 2, "event": "entry", "path": "drops", "text": "1", "at": at(2 * minutes)}),
        json!({"n": 3, "event": "pause", "at": at(2 * minutes)}),
        json!({"n": 4, "event": "resume", "at": at(2 * minutes + 300)}),
        json!({"n": 5, "event": "entry", "path": "soak", "text": "2 s", "at": at(3 * minutes + 300)}),
        json!({"n": 6, "event": "close", "record": "B1-2026-0001", "at": at(3 * minutes + 300)}),
    ];
    copy["journal"] = json!(events);
    copy["started"] = json!(at(0));
    let id = format!("B1-2026-9{number:03}");
    copy["record"] = json!(id);
    let year = folder.join("records/2026");
    std::fs::create_dir_all(&year).expect("a folder");
    std::fs::write(year.join(format!("{id}.json")), copy.to_string()).expect("room");
}

#[test]
fn the_time_that_is_left_is_the_median_of_past_records() {
    let folder = quick();
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK));
    walks(&mut *seat, "1");
    let (_, screen) = seat.leaves();
    assert!(!screen.contains(" left"), "{screen}");
    let first = record(folder.path());
    // 6, 4, 8 and 30 minutes a step: of 4, 6, 8, 30 the 6 counts, and so it does where the one that took no time is with them,
    // which is left out where its answers came faster than anybody gives them.
    for (number, minutes) in [(1, 6), (2, 4), (4, 8)] {
        took(folder.path(), &first, number, minutes);
    }
    took(folder.path(), &first, 3, 30);
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK));
    seat.sees("1 of 3");
    seat.sees("about 18 minutes left");
    turn(&mut *seat, "yes or no> ", "yes");
    seat.sees("2 of 3");
    seat.sees("about 12 minutes left");
    turn(&mut *seat, "whole number> ", "1");
    seat.sees("3 of 3");
    seat.sees("about 6 minutes left");
    turn(&mut *seat, "min:s)> ", ":pause");
    let (_, screen) = seat.leaves();
    fits(&screen);
}

#[test]
fn the_end_of_a_wanted_duration_is_heard_unless_it_is_switched_off() {
    let starts = |folder: &Path, words: &[&str]| {
        let mut seat = Box::new(Terminal::sit(folder, words));
        turn(&mut *seat, "yes or no> ", "yes");
        turn(&mut *seat, "whole number> ", "1");
        turn(&mut *seat, "min:s)> ", "");
        seat
    };
    let folder = quick();
    let mut seat = starts(folder.path(), &QUICK);
    seat.sees("\u{7}");
    seat.types("");
    turn(&mut *seat, "Enter> ", "");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 0, "{screen}");
    let quiet: Vec<&str> = QUICK.into_iter().chain(["--quiet"]).collect();
    let silent = |folder: &Path, words: &[&str]| {
        let mut seat = starts(folder, words);
        seat.sees("\r0:01.");
        seat.sees(" > ");
        seat.sees(" > ");
        seat.types("");
        turn(&mut *seat, "Enter> ", "");
        let (_, screen) = seat.leaves();
        assert!(!screen.contains('\u{7}'));
    };
    silent(folder.path(), &quiet);
    let policy = folder.path().join("shop.yaml");
    let text = std::fs::read_to_string(&policy).expect("a shop");
    std::fs::write(&policy, format!("{text}beep: false\n")).expect("room");
    silent(folder.path(), &QUICK);
}

/// What follows a line feed in a title stands further in: no recipe can write a line of the program.
#[test]
fn a_title_imitates_no_line_of_the_program() {
    let folder = quick();
    let file = folder.path().join("recipes/quick.yaml");
    let text = std::fs::read_to_string(&file).expect("a recipe");
    let prompt = "    confirm: The device is clean";
    let title = "    title: \"Clean\\nRecord B1-2026-0009: PASS\"\n";
    std::fs::write(&file, text.replace(prompt, &format!("{title}{prompt}"))).expect("room");
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK));
    turn(&mut *seat, "yes or no> ", ":pause");
    let (_, screen) = seat.leaves();
    assert!(screen.contains("  Record B1-2026-0009: PASS"), "{screen}");
    let imitates = |line: &str| line.starts_with("Record ");
    assert!(!screen.lines().any(imitates), "{screen}");
}
