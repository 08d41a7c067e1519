//! What is said of values near a limit, and how entries are told apart.
//!
//! Never in here: how a verdict is found. Changes when a session says more of an uncertainty.

use tempfile::TempDir;

use super::made::{record, shop, step};
use super::seats::{SEATS, Seat, fits, turn};

/// The arguments of a session of the recipe with values near a limit.
const RUN: [&str; 7] = [
    "run", "near", "--device", "VP-1001", "--by", "tech-04", "--trial",
];

fn near() -> TempDir {
    let folder = shop();
    let recipe = include_str!("near.yaml");
    std::fs::write(folder.path().join("recipes/near.yaml"), recipe).expect("room");
    folder
}

/// Up to the second reading of the second attempt: the first attempt fails by less than its uncertainty.
fn to_the_second_attempt(seat: &mut dyn Seat) {
    seat.sees("Decision rule: banded.");
    turn(seat, "The device is clean", "yes");
    seat.sees("Which syringe is fitted?");
    seat.sees("20");
    turn(seat, "one of these> ", "2");
    turn(seat, "choose one of: 5, 10, 20", "10");
    turn(seat, "mL> ", "5.26");
    turn(seat, "mL> ", "5.27");
    turn(seat, "mL> ", "5.26");
    seat.sees("CONDITIONAL FAIL: mean(delivered) ");
    seat.sees(" 5.26333 mL, with its uncertainty (5.263 ");
    seat.sees("outside the limit by no more than its uncertainty: it counts as a fail");
    turn(seat, "attempt 2", "5.22");
    turn(seat, "reading 2 of 3", "5.23");
    turn(seat, "reading 3 of 3", "5.24");
    seat.sees("conditional pass: mean(delivered) = 5.23 mL, with its uncertainty (5.230 ");
    seat.sees("nearer to it than its uncertainty: a person decides");
}

#[test]
fn values_near_a_limit_are_told_with_their_uncertainty() {
    for sit in SEATS {
        let folder = near();
        let mut seat = sit(folder.path(), &RUN);
        to_the_second_attempt(&mut *seat);
        // What can't be told yet stands as it was written, beside what can.
        seat.sees("Limit: below 6.23 mL and within(");
        turn(&mut *seat, "mL> ", ":where");
        seat.sees("Uncertainty of mean(delivered) at first.delivered: (5.230 ");
        seat.sees("accuracy of volume");
        turn(
            &mut *seat,
            "display in steps of 0.01 mL, 3 readings",
            ":fix delivered",
        );
        seat.sees("Delivered volume (first.delivered)");
        seat.sees("1 5.26 (attempt 1, reading 1)");
        seat.sees("5 5.23 (attempt 2, reading 2)");
        turn(&mut *seat, "which entry, 1 to 6> ", "5");
        turn(&mut *seat, "attempt 2, reading 2 is `5.23`", "5.2299");
        turn(&mut *seat, "why> ", "misread");
        seat.sees("5.22 mL; 5.2299 mL; 5.24 mL conditional pass:");
        seat.sees(" 5.22997 mL");
        turn(&mut *seat, "mL> ", "5.30");
        turn(&mut *seat, "min:s)> ", "1 h");
        turn(&mut *seat, "min:s)> ", "1:00:00");
        seat.sees("mean(soaked) = 60 min (limit: at least 60 min)");
        turn(&mut *seat, "Enter> ", ":fix delivered");
        seat.sees("type the path: first.delivered,");
        turn(&mut *seat, "Enter> ", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        assert!(screen.contains("mean(delivered) ≈ 5.26333 mL"), "{screen}");
        fits(&screen);
        let record = record(folder.path());
        let criterion = &step(&record, "first.delivered")["criteria"][0];
        assert_eq!(criterion["verdict"], "conditional pass");
        let shown = criterion["shown"].as_str().expect("a text");
        assert!(
            shown.contains("[delivered = (5.22 mL; 5.2299 mL; 5.24 mL); nominal = 5 mL;"),
            "{shown}"
        );
        assert_eq!(record["verdict"], "pass with remarks");
    }
}
