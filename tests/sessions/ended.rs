//! How a session ends before its time: stopped, interrupted, hung up, or asked for twice; and how it is begun.
//!
//! Never in here: what is entered. Changes when a session can end otherwise.

use super::comfort::{QUICK, quick};
use super::made::{journal, record, session, shop, two_gauges};
use super::seats::{Pipe, RUN, SEATS, Seat, Terminal, fits, turn};

#[test]
fn a_stop_needs_a_reason_and_leaves_a_record() {
    for sit in SEATS {
        let folder = shop();
        let mut seat = sit(folder.path(), &RUN);
        turn(&mut *seat, "yes or no> ", ":stop");
        turn(&mut *seat, "say why: `:stop WHY`", ":skip no time");
        turn(&mut *seat, "the setup must hold", ":stop the wrong key");
        turn(&mut *seat, "Enter removes the session", ":back");
        turn(&mut *seat, "The device is clean", "yes");
        turn(&mut *seat, "text> ", ":stop the pump leaks");
        turn(&mut *seat, "seals the record", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 3, "{screen}");
        fits(&screen);
        let record = record(folder.path());
        assert_eq!(record["verdict"], "incomplete");
        assert_eq!(record["ended"], "stopped: the pump leaks");
    }
}

#[test]
fn a_stop_once_all_is_done_keeps_the_record_from_being_a_pass() {
    for sit in SEATS {
        let folder = quick();
        let mut seat = sit(folder.path(), &QUICK);
        turn(&mut *seat, "yes or no> ", "yes");
        turn(&mut *seat, "whole number> ", "1");
        turn(&mut *seat, "min:s)> ", "2 s");
        turn(&mut *seat, "Verdict: pass.", ":stop the wrong device");
        turn(&mut *seat, "Verdict: incomplete.", ":back");
        turn(&mut *seat, "Verdict: pass.", ":stop the wrong device");
        turn(&mut *seat, "Verdict: incomplete.", ":stop twice");
        turn(&mut *seat, "`:back` takes that back", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 3, "{screen}");
        fits(&screen);
        let record = record(folder.path());
        assert_eq!(record["verdict"], "incomplete");
        assert_eq!(record["ended"], "stopped: the wrong device");
    }
}

/// From the first prompt to the pressure, with what passes.
fn to_the_pressure(seat: &mut dyn Seat) {
    for line in ["yes", "EW-100231", "", "5.05", "5.02", "721 s", "1441 s"] {
        turn(seat, "> ", line);
    }
    turn(seat, "word or number> ", "fixed");
    seat.sees("psi> ");
}

#[test]
fn a_stop_at_an_optional_last_step_is_no_pass() {
    for sit in SEATS {
        let folder = shop();
        let mut seat = sit(folder.path(), &RUN);
        to_the_pressure(&mut *seat);
        seat.types("11.4");
        turn(&mut *seat, "whole number> ", "0");
        turn(&mut *seat, "text> ", ":stop wrong device");
        turn(&mut *seat, "Verdict: incomplete.", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 3, "{screen}");
        fits(&screen);
        assert_eq!(record(folder.path())["verdict"], "incomplete");
    }
}

#[test]
fn a_critical_failure_ends_the_session() {
    for sit in SEATS {
        let folder = shop();
        let file = folder.path().join("recipes/every-verb.yaml");
        let text = std::fs::read_to_string(&file).expect("a recipe");
        let stop = "        on_fail: stop\n";
        let help = "        help: Let the pressure down first.\n";
        let told = text.replace(stop, &format!("{stop}{help}"));
        assert_ne!(text, told);
        std::fs::write(&file, told).expect("room");
        let mut seat = sit(folder.path(), &RUN);
        to_the_pressure(&mut *seat);
        seat.types("17");
        seat.sees("`pressure.highest` failed");
        turn(&mut *seat, "Let the pressure down first.", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 1, "{screen}");
        fits(&screen);
    }
}

#[test]
fn behind_a_fail_that_stops_what_is_asked_after_a_stop_is_asked() {
    for sit in SEATS {
        let folder = shop();
        let file = folder.path().join("recipes/every-verb.yaml");
        let text = std::fs::read_to_string(&file).expect("a recipe");
        let last = "    enter: Remark for the file\n    optional: true\n";
        let stop = "        on_fail: stop\n";
        let asked = text
            .replace(last, &format!("{last}    after_stop: true\n"))
            .replace(stop, &format!("{stop}        help: Let it down.\n"));
        assert_ne!(text, asked);
        std::fs::write(&file, asked).expect("room");
        let mut seat = sit(folder.path(), &RUN);
        to_the_pressure(&mut *seat);
        seat.types("17");
        seat.sees("`pressure.highest` failed: the session ends, but for 1 step");
        seat.sees("Let it down.");
        // A correction takes the stop back, and all is asked again; another fail stops it again.
        turn(&mut *seat, "text> ", ":fix pressure.highest");
        turn(&mut *seat, "right entry> ", "11.4");
        turn(&mut *seat, "why> ", "misread");
        turn(&mut *seat, "whole number> ", ":fix pressure.highest");
        turn(&mut *seat, "right entry> ", "18");
        turn(&mut *seat, "why> ", "it was right");
        seat.sees("the session ends, but for 1 step");
        turn(&mut *seat, "text> ", "kept under lock");
        turn(&mut *seat, "Verdict: fail.", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 1, "{screen}");
        fits(&screen);
        let record = record(folder.path());
        assert_eq!(record["ended"], "ended at `pressure.highest`, which failed");
        let steps = record["steps"].as_array().expect("steps");
        let state = |path: &str| {
            let step = steps.iter().find(|s| s["path"] == path);
            step.map(|s| s["state"].clone()).expect("the step")
        };
        assert_eq!(
            [state("pressure.drops"), state("agree"), state("remark")],
            ["not done", "not done", "done"]
        );
        let rendered = std::process::Command::new(env!("CARGO_BIN_EXE_stepwell"))
            .args(["render", "B1-2026-0001", "--to", "md"])
            .current_dir(folder.path())
            .output()
            .expect("the program runs");
        let page = String::from_utf8_lossy(&rendered.stdout);
        assert!(
            page.contains("which are asked after a stop too, were asked"),
            "{page}"
        );
    }
}

/// Keeps one entry and is asked for the next.
fn begun(seat: &mut dyn Seat) {
    turn(seat, "yes or no> ", "yes");
    seat.sees("text> ");
}

fn is_kept(code: i32, screen: &str, folder: &std::path::Path) {
    assert_eq!(code, 3, "{screen}");
    let resume = format!("stepwell resume {}", session(folder));
    assert!(screen.contains(&resume), "{screen}");
    assert!(journal(folder).contains("\"path\":\"clean\",\"text\":\"yes\""));
    fits(screen);
}

#[test]
fn control_c_says_how_to_go_on() {
    let folder = shop();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    begun(&mut *seat);
    seat.control('c');
    let (code, screen) = seat.leaves();
    is_kept(code, &screen, folder.path());
}

#[test]
fn control_c_leaves_no_session_in_which_nothing_was_entered() {
    let folder = shop();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    seat.sees("yes or no> ");
    seat.control('c');
    let (code, screen) = seat.leaves();
    assert_eq!(code, 3, "{screen}");
    assert!(screen.contains("nothing was entered"), "{screen}");
    let left = std::fs::read_dir(folder.path().join("sessions")).expect("sessions");
    assert_eq!(left.count(), 0);
}

#[test]
fn a_session_is_named_by_its_device_or_taken_with_enter() {
    let folder = quick();
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK));
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "whole number> ", ":pause");
    seat.leaves();
    let mut seat = Box::new(Terminal::sit(folder.path(), &["resume"]));
    turn(&mut *seat, "goes on with it", "");
    turn(&mut *seat, "whole number> ", ":pause");
    seat.leaves();
    let mut seat = Box::new(Terminal::sit(folder.path(), &["resume", "vp-1001"]));
    turn(&mut *seat, "whole number> ", "1");
    turn(&mut *seat, "min:s)> ", "2 s");
    turn(&mut *seat, "Enter> ", "");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 0, "{screen}");
}

#[test]
fn who_sits_at_a_terminal_is_asked_whether_to_run_a_recipe_on_another_device() {
    let folder = quick();
    let pump = "run volumetric-annual --device CU-6001 --by tech-04";
    let pump: Vec<&str> = pump.split(' ').collect();
    let mut seat = Box::new(Terminal::sit(folder.path(), &pump));
    turn(&mut *seat, "is of category gauge", "");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 2, "{screen}");
    fits(&screen);
    let mut seat = Box::new(Terminal::sit(folder.path(), &pump));
    turn(&mut *seat, "is of category gauge", "yes");
    turn(&mut *seat, "Enter when read> ", "");
    turn(&mut *seat, "yes or no> ", ":stop wrong device");
    turn(&mut *seat, "removes the session", "");
    seat.leaves();
    // A trial proves nothing about a device: it says which it was, and nobody is asked.
    let mut other = QUICK;
    other[3] = "CU-6001";
    let mut seat = Box::new(Terminal::sit(folder.path(), &other));
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "whole number> ", "1");
    turn(&mut *seat, "min:s)> ", "2 s");
    turn(&mut *seat, "Enter> ", "");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 0, "{screen}");
    assert_eq!(record(folder.path())["other_device"], true);
}

#[test]
fn control_c_while_the_watch_runs_keeps_the_watch() {
    let folder = shop();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    for line in ["yes", "EW-100231", "", "5.05", "5.02", ""] {
        turn(&mut *seat, "> ", line);
    }
    seat.sees("Enter stops it");
    seat.control('c');
    let (code, screen) = seat.leaves();
    is_kept(code, &screen, folder.path());
    assert!(journal(folder.path()).contains("\"event\":\"timer_started\""));
}

#[test]
fn the_end_of_the_input_is_a_pause() {
    let folder = shop();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    begun(&mut *seat);
    seat.control('d');
    let (code, screen) = seat.leaves();
    assert!(screen.contains("the input has ended"), "{screen}");
    is_kept(code, &screen, folder.path());
    let folder = shop();
    let mut seat = Box::new(Pipe::sit(folder.path(), &RUN));
    begun(&mut *seat);
    let (code, screen) = seat.leaves();
    assert!(screen.contains("the input has ended"), "{screen}");
    is_kept(code, &screen, folder.path());
}

#[test]
fn a_session_is_open_in_one_window_only() {
    let folder = shop();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    begun(&mut *seat);
    let name = session(folder.path());
    let second = Box::new(Terminal::sit(folder.path(), &["resume", &name]));
    let (code, screen) = second.leaves();
    assert_eq!(code, 2, "{screen}");
    assert!(screen.contains("is open in another window"), "{screen}");
    fits(&screen);
    seat.types("EW-100231");
    turn(&mut *seat, "Enter when done> ", ":pause");
    let (code, screen) = seat.leaves();
    is_kept(code, &screen, folder.path());
}

#[test]
fn who_sits_at_a_terminal_picks_among_suitable_instruments() {
    for (typed, taken) in [("2", "PG-05"), ("PG-02", "PG-02")] {
        let folder = two_gauges();
        let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
        seat.sees("Instrument for `gauge` (pressure):");
        turn(&mut *seat, "1 to 2> ", "3");
        turn(&mut *seat, "the number or the id of one of these", typed);
        turn(&mut *seat, "yes or no> ", "yes");
        turn(&mut *seat, "text> ", ":stop enough");
        turn(&mut *seat, "seals the record", "");
        let (_, screen) = seat.leaves();
        fits(&screen);
        assert_eq!(record(folder.path())["instruments"]["gauge"]["id"], taken);
    }
}

#[test]
fn without_a_terminal_the_first_suitable_instrument_is_taken_and_named() {
    let folder = two_gauges();
    let mut seat = Box::new(Pipe::sit(folder.path(), &RUN));
    seat.sees("gauge PG-02");
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "text> ", ":stop enough");
    turn(&mut *seat, "seals the record", "");
    let (_, screen) = seat.leaves();
    fits(&screen);
    assert_eq!(record(folder.path())["instruments"]["gauge"]["id"], "PG-02");
}

#[test]
fn an_end_of_input_before_an_instrument_is_picked_begins_nothing() {
    let folder = two_gauges();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    seat.sees("1 to 2> ");
    seat.control('d');
    let (code, screen) = seat.leaves();
    assert_eq!(code, 2, "{screen}");
    assert!(screen.contains("the session was not begun"), "{screen}");
}
