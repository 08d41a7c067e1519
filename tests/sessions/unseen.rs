//! What is typed before it is asked for, and what does not fit on the screen: nothing is decided unseen.
//!
//! Never in here: what is judged. Changes when a terminal is read or filled otherwise.

use super::comfort::{QUICK, quick};
use super::made::{journal, record, shop};
use super::seats::{Pipe, RUN, Seat, Terminal, fits, fits_in, turn};

#[test]
fn what_was_typed_before_the_question_answers_nothing() {
    let folder = shop();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    // Pasted: three lines at once.
    turn(&mut *seat, "yes or no> ", "yes\nEW-100231\n");
    seat.sees("more was typed than was asked; it was left out");
    turn(&mut *seat, "text> ", "EW-100232");
    // An Enter that was hit twice: the second one is no reading, and nothing is said of it.
    turn(&mut *seat, "Enter when done> ", "\n");
    turn(&mut *seat, "mL> ", ":pause");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 3, "{screen}");
    fits(&screen);
    assert!(!screen.contains("enter a number like"), "{screen}");
    assert!(journal(folder.path()).contains("EW-100232"), "{screen}");
}

#[test]
fn nothing_is_sealed_by_an_enter_before_its_question() {
    let folder = quick();
    let mut seat = Box::new(Terminal::sit(folder.path(), &QUICK));
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "whole number> ", "1");
    turn(&mut *seat, "min:s)> ", "2 s\n");
    turn(&mut *seat, "Enter> ", ":stop wrong device");
    turn(&mut *seat, "Verdict: incomplete.", "");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 3, "{screen}");
    assert_eq!(record(folder.path())["verdict"], "incomplete");
}

#[test]
fn a_long_beginning_is_read_before_the_first_question() {
    let folder = shop();
    let low = (10, 80);
    let mut seat = Box::new(Terminal::sit_before(low, folder.path(), &RUN));
    seat.sees("Caution: Never test a device");
    turn(&mut *seat, "Enter when read> ", "");
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "text> ", "EW-100231");
    turn(&mut *seat, "Enter when done> ", "");
    seat.sees("with FM-01");
    for line in ["5.05", "5.02", "12"] {
        seat.sees("> ");
        seat.types(line);
    }
    seat.sees("taken as 12 s");
    turn(&mut *seat, "min:s)> ", "24:03.5");
    // More than the screen holds is shown in parts.
    turn(&mut *seat, "word or number> ", ":where");
    seat.sees("at step ");
    turn(&mut *seat, "Enter for more> ", "");
    seat.sees("rates.2.run_time: 24:03.5");
    turn(&mut *seat, "word or number> ", ":pause");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 3, "{screen}");
}

#[test]
fn all_cautions_of_an_incident_are_on_the_screen_before_the_first_question() {
    let folder = shop();
    let words = "run incident-check --device VP-1003 --by tech-04";
    let words: Vec<&str> = words.split(' ').collect();
    let mut seat = Box::new(Terminal::sit(folder.path(), &words));
    seat.sees("Caution: Until the log is saved, alter nothing.");
    turn(&mut *seat, "Enter for more> ", "");
    seat.sees("Caution: A blocked line is under pressure.");
    // What stays with the question is what matters most there.
    seat.sees("Caution: Until the log is saved, alter nothing.");
    seat.sees("Number of the incident");
    turn(&mut *seat, "text> ", ":pause");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 3, "{screen}");
    // What keeps a pump from losing its log comes before all that is asked.
    assert!(
        screen.contains("battery may go flat within minutes"),
        "{screen}"
    );
    // Between two places to type at stands no more than the screen holds.
    for page in screen.split("> ").take(3) {
        assert!(page.trim_start().lines().count() <= 24, "{page}");
    }
    assert!(
        !screen.contains("Clean and decontaminate before"),
        "{screen}"
    );
}

#[test]
fn what_does_not_apply_for_one_reason_is_told_in_one_line_and_overdue_upkeep_before_all() {
    let folder = shop();
    let answers = "answers/incident-check-fail-state-photographs.yaml";
    let words = "run incident-check --device VP-1003 --by tech-04 --answers";
    let words: Vec<&str> = words.split(' ').chain([answers]).collect();
    let seat = Box::new(Pipe::sit(folder.path(), &words));
    let (code, screen) = seat.leaves();
    assert_eq!(code, 1, "{screen}");
    let told = screen.matches("not applicable").count();
    assert!((1..12).contains(&told), "{told}: {screen}");
    assert!(screen.contains(" steps): not applicable, "), "{screen}");
    let overdue = screen.find("Upkeep is overdue: FM-01 (cleaning");
    assert!(overdue < screen.find("Caution: "), "{screen}");
}

#[test]
fn lines_are_as_wide_as_the_terminal() {
    let folder = quick();
    let narrow = (40, 60);
    let mut seat = Box::new(Terminal::sit_before(narrow, folder.path(), &QUICK));
    turn(&mut *seat, "yes or no> ", ":help");
    turn(&mut *seat, "yes or no> ", "yes");
    turn(&mut *seat, "whole number> ", "3");
    turn(&mut *seat, "min:s)> ", ":pause");
    let (_, screen) = seat.leaves();
    fits_in(&screen, 60);
    let mut seat = Box::new(Terminal::sit_before(narrow, folder.path(), &["resume"]));
    seat.sees("begun 20");
    seat.sees("step 3 of 3");
    turn(&mut *seat, "goes on with it", "yes");
    turn(&mut *seat, "min:s)> ", ":pause");
    let (_, screen) = seat.leaves();
    fits_in(&screen, 60);
}

#[test]
fn a_better_value_is_taken_where_one_is_asked_whether_it_is_right() {
    let folder = shop();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    for line in ["yes", "EW-100231", ""] {
        turn(&mut *seat, "> ", line);
    }
    turn(&mut *seat, "mL> ", "41");
    turn(&mut *seat, "Is it right?", "5.05 mL");
    turn(&mut *seat, "reading 2 of 2", ":pause");
    seat.leaves();
    let kept = journal(folder.path());
    assert!(kept.contains("\"text\":\"5.05 mL\""), "{kept}");
    assert!(!kept.contains("\"text\":\"41\""), "{kept}");
}

#[test]
fn a_skip_is_taken_up_again_and_what_came_behind_stays() {
    let folder = shop();
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    for line in ["yes", "EW-100231", "", "5.05", "5.02", "721 s", "1441 s"] {
        turn(&mut *seat, "> ", line);
    }
    turn(&mut *seat, "word or number> ", ":skip not at hand");
    seat.sees("the record will be incomplete");
    turn(&mut *seat, "psi> ", "11.4");
    turn(&mut *seat, "whole number> ", ":fix pressure.cord");
    seat.sees("taken up again");
    seat.sees("to be asked");
    seat.sees("what was entered for later steps is kept");
    turn(&mut *seat, "word or number> ", "fixed");
    turn(&mut *seat, "whole number> ", ":pause");
    let (code, screen) = seat.leaves();
    assert_eq!(code, 3, "{screen}");
    fits(&screen);
    assert_eq!(screen.matches("to be asked").count(), 1, "{screen}");
}

#[test]
fn a_pipe_is_not_attached() {
    let folder = shop();
    let pipe = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.is_ok_and(|s| s.success()), "no pipe");
    let mut seat = Box::new(Terminal::sit(folder.path(), &RUN));
    turn(&mut *seat, "yes or no> ", ":file pipe");
    turn(&mut *seat, "is a pipe or a device", ":pause");
    seat.leaves();
}
