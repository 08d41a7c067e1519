//! What can be typed: values that are taken or refused, and the words behind a colon.
//!
//! Never in here: how a session ends early. Changes when a word is added.

use serde_json::{Value, json};
use tempfile::TempDir;

use super::comfort::{QUICK, quick};
use super::made::{comma_shop, record, session, shop, step};
use super::seats::{RUN, SEATS, Seat, Sit, fits, turn};

/// From the first prompt to the first reading.
fn to_the_first_reading(seat: &mut dyn Seat) {
    turn(seat, "The device is clean", "yes");
    turn(seat, "text> ", "EW-100231");
    turn(seat, "Enter when done> ", "");
    seat.sees("reading 1 of 2");
}

/// From the running times to the closing, with what passes.
fn to_the_closing(seat: &mut dyn Seat) {
    turn(seat, "min:s)> ", "721.350 s");
    turn(seat, "min:s)> ", "24:03.5");
    turn(seat, "word or number> ", "1");
    turn(seat, "psi> ", "11.4");
    turn(seat, "whole number> ", "0");
    turn(seat, "text> ", ":skip");
    turn(seat, "seals the record", "");
}

#[test]
fn what_can_not_be_right_is_refused_with_the_reason() {
    for sit in SEATS {
        let folder = shop();
        let mut seat = sit(folder.path(), &RUN);
        turn(&mut *seat, "yes or no> ", "perhaps");
        turn(&mut *seat, "answer `yes` or `no`", "yes");
        turn(&mut *seat, "text> ", "!");
        turn(
            &mut *seat,
            "does not have the expected form (3 to 24 characters of",
            "EW-100231",
        );
        turn(&mut *seat, "Enter when done> ", "later");
        turn(&mut *seat, "press Enter when it is done", "");
        turn(&mut *seat, "reading 1 of 2", "5.05 psi");
        turn(
            &mut *seat,
            "that is a pressure, and a volume is wanted",
            "5.05 mm",
        );
        turn(
            &mut *seat,
            "that is a length, and a volume is wanted",
            "5,05",
        );
        turn(&mut *seat, "enter a number like `5.00`", "much");
        turn(&mut *seat, "enter a number like `5.00`", "");
        turn(&mut *seat, "enter a number like `5.00`", "500");
        turn(&mut *seat, "outside what the instrument can show", "41");
        seat.sees("is outside the plausible range (0 mL to 40 mL)");
        turn(&mut *seat, "yes or no> ", "no");
        turn(&mut *seat, "not taken; enter the value again", "5050 uL");
        turn(&mut *seat, "5050 uL = 5.05 mL", "5.02");
        to_the_closing(&mut *seat);
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        fits(&screen);
        let record = record(folder.path());
        assert_eq!(
            step(&record, "delivered")["entry"],
            json!(["5050 uL", "5.02"])
        );
        assert_eq!(record["verdict"], "pass");
    }
}

#[test]
fn a_value_outside_the_plausible_range_is_taken_when_it_is_confirmed() {
    for sit in SEATS {
        let folder = shop();
        let mut seat = sit(folder.path(), &RUN);
        to_the_first_reading(&mut *seat);
        turn(&mut *seat, "mL> ", "41");
        turn(&mut *seat, "Is it right?", "yes");
        turn(&mut *seat, "reading 2 of 2", "5.00");
        seat.sees("FAIL: mean(delivered) = 23 mL, with its uncertainty (");
        turn(&mut *seat, "attempt 2", "5.05");
        turn(&mut *seat, "reading 2 of 2", "5.02");
        to_the_closing(&mut *seat);
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        fits(&screen);
        let record = record(folder.path());
        let remarks = record["remarks"].to_string();
        assert!(
            remarks.contains("outside the plausible range, confirmed"),
            "{remarks}"
        );
    }
}

#[test]
fn a_shop_with_a_decimal_comma_takes_the_comma_and_refuses_the_point() {
    for sit in SEATS {
        let folder = comma_shop();
        let mut seat = sit(folder.path(), &RUN);
        to_the_first_reading(&mut *seat);
        turn(&mut *seat, "mL> ", "5.05");
        turn(&mut *seat, "enter a number like `5,00`", "5,05");
        turn(&mut *seat, "reading 2 of 2", "5,02 mL");
        turn(&mut *seat, "min:s)> ", "721,350 s");
        turn(&mut *seat, "min:s)> ", "24:03,5");
        turn(&mut *seat, "word or number> ", "1");
        turn(&mut *seat, "psi> ", "11,4");
        turn(&mut *seat, "whole number> ", "0");
        turn(&mut *seat, "text> ", ":skip");
        turn(&mut *seat, "seals the record", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        fits(&screen);
        let record = record(folder.path());
        assert_eq!(
            step(&record, "delivered")["entry"],
            json!(["5,05", "5,02 mL"])
        );
        assert_eq!(step(&record, "delivered")["value"][0]["value"], "5.05");
    }
}

#[test]
fn the_words_behind_a_colon_do_what_they_say() {
    for sit in SEATS {
        let folder = shop();
        let mut seat = sit(folder.path(), &RUN);
        turn(&mut *seat, "yes or no> ", ":fix");
        turn(&mut *seat, "nothing has been entered yet", "yes");
        turn(&mut *seat, "text> ", ":help");
        turn(&mut *seat, ":where        show where", "EW-100231");
        turn(&mut *seat, "Enter when done> ", ":nonsense");
        turn(&mut *seat, "`:nonsense` is not known", "");
        turn(&mut *seat, "mL> ", "5.30");
        turn(&mut *seat, "reading 2 of 2", ":note");
        turn(&mut *seat, "write the note", ":note the bag was changed");
        turn(&mut *seat, "kept", ":file");
        turn(&mut *seat, "path", ":file absent.txt");
        turn(&mut *seat, "there is no such file", ":file printout.txt");
        turn(&mut *seat, "kept", ":where");
        seat.sees("every-verb rev 1 on VP-1001");
        seat.sees("meter: FM-01");
        turn(&mut *seat, "delivered: 5.30", "5.02");
        turn(&mut *seat, "min:s)> ", ":fix deliverd");
        turn(
            &mut *seat,
            "the nearest one is `delivered`",
            ":fix delivered",
        );
        seat.sees("1 5.30");
        turn(&mut *seat, "which entry, 1 to 2> ", "3");
        turn(&mut *seat, "type a number from 1 to 2", "1");
        turn(&mut *seat, "reading 1 is `5.30`", "5.03 psi");
        turn(&mut *seat, "a volume is wanted", "5.03");
        turn(&mut *seat, "why> ", "mistyped");
        turn(&mut *seat, "the first entry stays readable", "721.350 s");
        turn(&mut *seat, "min:s)> ", "24:03.5");
        turn(&mut *seat, "word or number> ", ":skip");
        turn(&mut *seat, "say why", ":skip the cord is not at hand");
        turn(&mut *seat, "psi> ", "11.4");
        turn(&mut *seat, "whole number> ", "0");
        turn(&mut *seat, "text> ", ":skip");
        turn(&mut *seat, "seals the record", ":skip it");
        turn(&mut *seat, "not at the end", ":fix 4");
        turn(&mut *seat, "which entry, 1 to 2> ", "");
        turn(&mut *seat, "seals the record", ":note not too late");
        turn(&mut *seat, "kept, at `pressure.drops`", "");
        let (code, screen) = seat.leaves();
        assert_eq!(
            code, 3,
            "a step that is not optional was skipped:\n{screen}"
        );
        fits(&screen);
        let record = record(folder.path());
        let delivered = step(&record, "delivered");
        assert_eq!(delivered["notes"][0]["text"], "the bag was changed");
        let drops = step(&record, "pressure.drops");
        assert_eq!(drops["notes"][0]["text"], "not too late");
        assert_eq!(delivered["corrections"][0]["before"], "5.30");
        assert_eq!(delivered["corrections"][0]["why"], "mistyped");
        assert_eq!(delivered["entry"], json!(["5.03", "5.02"]));
        assert_eq!(
            step(&record, "pressure.cord")["why"],
            "the cord is not at hand"
        );
        assert_eq!(record["attachments"][0]["name"], "printout.txt");
    }
}

#[test]
fn a_watch_is_started_and_stopped_with_enter() {
    for sit in SEATS {
        watched(&shop(), sit, "24:03.5");
        watched(&comma_shop(), sit, "24:03,5");
    }
}

/// The first time is taken by the watch; at the second one it is started, and the time typed all the same.
fn watched(folder: &TempDir, sit: Sit, typed: &str) {
    let mut seat = sit(folder.path(), &RUN);
    to_the_first_reading(&mut *seat);
    turn(&mut *seat, "mL> ", "5");
    turn(&mut *seat, "mL> ", "5");
    turn(&mut *seat, "min:s)> ", "");
    seat.sees("Enter stops it");
    seat.stops_the_watch();
    turn(&mut *seat, "min:s)> ", "");
    seat.sees("Enter stops it");
    // Help is given while the watch runs on.
    seat.types("?");
    seat.sees("this list, and what is asked at this step");
    seat.sees("Enter stops it");
    seat.types(typed);
    turn(&mut *seat, "word or number> ", ":stop enough");
    turn(&mut *seat, "seals the record", "");
    let (_, screen) = seat.leaves();
    fits(&screen);
    let record = record(folder.path());
    let seconds = step(&record, "rates.1.run_time")["value"]["value"].clone();
    let seconds: f64 = seconds
        .as_str()
        .and_then(|s| s.parse().ok())
        .expect("a number");
    let least = if screen.contains(" > ") { 0.1 } else { 0.0 };
    assert!(seconds >= least, "{seconds}:\n{screen}");
    assert_eq!(step(&record, "rates.2.run_time")["entry"], typed);
    let attempt = &step(&record, "rates.1.run_time")["attempts"][0];
    assert_eq!(attempt["timed"], json!([true]));
    assert!(
        step(&record, "rates.2.run_time")["attempts"][0]["timed"].is_null(),
        "{record}"
    );
    assert!(
        record["remarks"]
            .to_string()
            .contains("timed by the computer")
    );
    let timer = &entry(&record, "rates.1.run_time")["timer"];
    assert!(timer.is_object() && timer["started"].as_str() <= timer["stopped"].as_str());
    assert!(entry(&record, "rates.2.run_time")["timer"].is_null());
}

/// The journal's entry for a step.
fn entry<'r>(record: &'r Value, path: &str) -> &'r Value {
    let lines = record["journal"].as_array().expect("lines");
    let mut entries = lines.iter().filter(|l| l["event"] == "entry");
    entries.find(|l| l["path"] == path).expect("an entry")
}

#[test]
fn a_paused_session_goes_on_where_it_stood() {
    for sit in SEATS {
        let folder = shop();
        let mut seat = sit(folder.path(), &RUN);
        to_the_first_reading(&mut *seat);
        turn(&mut *seat, "mL> ", "5.05");
        turn(&mut *seat, "reading 2 of 2", ":pause");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 3);
        fits(&screen);
        let name = session(folder.path());
        assert!(
            screen.contains(&format!("stepwell resume {name}")),
            "{screen}"
        );
        let mut seat = sit(folder.path(), &["resume", &name]);
        turn(&mut *seat, "reading 2 of 2", "5.02");
        to_the_closing(&mut *seat);
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        fits(&screen);
        assert_eq!(
            step(&record(folder.path()), "delivered")["entry"],
            json!(["5.05", "5.02"])
        );
    }
}

#[test]
fn a_time_of_two_parts_is_asked_about_where_hours_are_wanted() {
    for sit in SEATS {
        let folder = quick();
        let path = folder.path().join("recipes/quick.yaml");
        let recipe = std::fs::read_to_string(&path).expect("a recipe");
        std::fs::write(&path, recipe.replace("\"1 s\"", "\"4 h\"")).expect("room");
        let mut seat = sit(folder.path(), &QUICK);
        turn(&mut *seat, "yes or no> ", "yes");
        turn(&mut *seat, "whole number> ", "0");
        turn(&mut *seat, "min:s)> ", "4:10");
        seat.sees("`4:10` is read as 4 min 10 s; write `4:10:00` for hours");
        turn(&mut *seat, "yes or no> ", "no");
        turn(&mut *seat, "not taken; enter the value again", "4:10:00");
        turn(&mut *seat, "Enter> ", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        assert_eq!(step(&record(folder.path()), "soak")["entry"], "4:10:00");
    }
}

#[test]
fn a_bare_number_is_asked_about_where_minutes_or_hours_are_wanted() {
    for (limit, typed, asked, meant) in [
        (
            "4 h",
            "4",
            "`4` is read as 4 s; write `4 h` for hours",
            "4.5 h",
        ),
        (
            "5 min",
            "6",
            "`6` is read as 6 s; write `6 min` for minutes",
            "372",
        ),
    ] {
        for sit in SEATS {
            let folder = quick();
            let path = folder.path().join("recipes/quick.yaml");
            let recipe = std::fs::read_to_string(&path).expect("a recipe");
            let recipe = recipe.replace("\"1 s\"", &format!("\"{limit}\""));
            std::fs::write(&path, recipe).expect("room");
            let mut seat = sit(folder.path(), &QUICK);
            turn(&mut *seat, "yes or no> ", "yes");
            turn(&mut *seat, "whole number> ", "0");
            turn(&mut *seat, "min:s)> ", typed);
            seat.sees(asked);
            turn(&mut *seat, "yes or no> ", "no");
            turn(&mut *seat, "not taken; enter the value again", meant);
            turn(&mut *seat, "Enter> ", "");
            let (code, screen) = seat.leaves();
            assert_eq!(code, 0, "{screen}");
            assert_eq!(step(&record(folder.path()), "soak")["entry"], meant);
        }
    }
}

#[test]
fn a_time_of_three_parts_outside_of_its_range_is_spelled_out() {
    for sit in SEATS {
        let folder = quick();
        let path = folder.path().join("recipes/quick.yaml");
        let recipe = std::fs::read_to_string(&path).expect("a recipe");
        let time = "    time: From filling to emptying\n";
        assert!(recipe.contains(time));
        let ranged = format!("{time}    range: [1 s, 50 min]\n");
        std::fs::write(&path, recipe.replace(time, &ranged)).expect("room");
        let mut seat = sit(folder.path(), &QUICK);
        turn(&mut *seat, "yes or no> ", "yes");
        turn(&mut *seat, "whole number> ", "0");
        turn(&mut *seat, "min:s)> ", "9:36:00");
        seat.sees("9:36:00 (9 h 36 min 00 s) is outside the plausible range");
        turn(&mut *seat, "yes or no> ", "no");
        turn(&mut *seat, "not taken; enter the value again", "9:36");
        turn(&mut *seat, "Enter> ", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        assert_eq!(step(&record(folder.path()), "soak")["entry"], "9:36");
    }
}

#[test]
fn the_option_that_a_number_or_a_letter_stands_for_is_told() {
    for (typed, told) in [
        ("1", Some("taken as fixed")),
        ("f", Some("taken as fixed")),
        ("fixed", None),
    ] {
        for sit in SEATS {
            let folder = shop();
            let mut seat = sit(folder.path(), &RUN);
            to_the_first_reading(&mut *seat);
            turn(&mut *seat, "mL> ", "5.05");
            turn(&mut *seat, "mL> ", "5.02");
            turn(&mut *seat, "min:s)> ", "721.350 s");
            turn(&mut *seat, "min:s)> ", "24:03.5");
            turn(&mut *seat, "word or number> ", typed);
            if let Some(told) = told {
                seat.sees(told);
            }
            turn(&mut *seat, "psi> ", ":where");
            seat.sees("pressure.cord: fixed");
            turn(&mut *seat, "psi> ", ":pause");
            let (code, screen) = seat.leaves();
            assert_eq!(code, 3, "{screen}");
            assert_eq!(
                screen.contains("taken as fixed"),
                told.is_some(),
                "{screen}"
            );
        }
    }
}
