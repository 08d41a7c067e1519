//! Pairs of sentences, each judged by hand: what somebody who follows the second does otherwise.
//!
//! Never in here: anything but sentences. Changes when sentences are weighed otherwise.

use crate::{BASE, difference, edited, weights};

const PLACE: &str = "The worn cord has been replaced";

/// How a sentence weighs against another; both ways alike.
fn weighed(old: &str, new: &str) -> String {
    let quoted = |text: &str| format!("\"{text}\"");
    let (a, b) = (
        edited(&[(PLACE, &quoted(old))]),
        edited(&[(PLACE, &quoted(new))]),
    );
    let (there, back) = (weights(&difference(&a, &b)), weights(&difference(&b, &a)));
    assert_eq!(there, back, "{old} / {new}");
    there.join(", ").replace(" cord_replaced", "")
}

fn all(expected: &str, pairs: &[(&str, &str)]) {
    let wrong: Vec<String> = pairs
        .iter()
        .map(|(a, b)| (a, b, weighed(a, b)))
        .filter(|(.., said)| said != expected)
        .map(|(a, b, said)| format!("{a} / {b}: {said}"))
        .collect();
    assert!(wrong.is_empty(), "not {expected}:\n{}", wrong.join("\n"));
}

#[test]
fn denials_and_opposites_turn_a_sentence() {
    all(
        "undecided",
        &[
            ("The pump can run", "The pump can't run"),
            ("The pump can run", "The pump can’t run"),
            ("The pump can run", "The pump cannot run"),
            ("The pump does leak", "The pump doesn't leak"),
            ("The door is locked", "The door is unlocked"),
            ("The alarm is enabled", "The alarm is disabled"),
            ("The air alarm comes", "The air alarm fails to come"),
            ("The pump stops", "The pump starts"),
            ("The clamp is tight", "The clamp is loose"),
            (
                "Pump stopped, gauge set to zero",
                "Pump running, gauge set to zero",
            ),
            ("The pump raises an alarm", "The pump silences an alarm"),
            ("The line holds", "The line leaks"),
            ("Take the highest reading", "Take the lowest reading"),
            (
                "Let it stand where it is warm",
                "Let it stand where it is cold",
            ),
            ("The bag holds distilled water", "The bag holds tap water"),
            ("The bag holds water", "The bag holds saline"),
            ("The line to the patient", "The line to the drain"),
            ("Line must be clamped", "Line may be clamped"),
            (
                "Do not open the door and start",
                "Open the door and do not start",
            ),
            ("Use fluid A", "Use fluid B"),
            ("Connect the red lead", "Connect the black lead"),
            (
                "Pressure at the outlet is steady",
                "Flow at the outlet is steady",
            ),
        ],
    );
}

#[test]
fn numbers_units_and_comparisons_turn_a_sentence() {
    all(
        "undecided",
        &[
            ("Alarm within ten minutes", "Alarm within five minutes"),
            ("At least two drops", "At most two drops"),
            ("Pressure is above the mark", "Pressure is below the mark"),
            ("It shows more than the mark", "It shows less than the mark"),
            ("Value is minimum", "Value is maximum"),
            ("Both lamps light", "Either lamp lights"),
            ("All keys answer", "Some keys answer"),
            ("Set to 5 mL", "Set to 5 L"),
            ("Set to 5 mL", "Set to 5"),
            ("Done once", "Done twice"),
            ("Waited one hour", "Waited one minute"),
            (
                "Line is filled, then the pump is started",
                "Pump is started, then the line is filled",
            ),
            (
                "Filled the line before starting the pump",
                "Started the pump before filling the line",
            ),
        ],
    );
}

#[test]
fn other_words_for_the_same_are_wording() {
    all(
        "wording",
        &[
            ("Housing has no cracks", "No cracks in the housing"),
            ("The pump does not leak", "The pump doesn't leak"),
            ("Set to 10 mL at 25 mL/h", "Set to 25 mL/h and 10 mL"),
            (
                "Checked that the housing is clean",
                "Housing checked for cleanness",
            ),
            ("Alarm sounds loud", "alarm sounds loud."),
            ("All lamps light", "Every lamp lights"),
            ("Volume is shown on the meter", "The meter shows the volume"),
            ("The pump must stop", "The pump stops"),
            ("Waited ten minutes", "Waited 10 min"),
            (
                "The power cord was inspected",
                "The power cord was examined",
            ),
        ],
    );
}

#[test]
fn a_confirmation_that_asks_for_less_is_no_mere_wording() {
    // Common practice, no source: what is confirmed is the criterion.
    all(
        "undecided",
        &[
            (
                "The detector stops the pump and raises the air alarm",
                "The detector raises the air alarm",
            ),
            (
                "The pump is cleaned and decontaminated, and is dry",
                "The pump is cleaned, and is dry",
            ),
            ("The pump stops by itself", "The pump continues by itself"),
        ],
    );
}

#[test]
fn a_quantity_in_another_unit_is_notation() {
    all(
        "notation",
        &[
            ("Waited 2 min", "Waited 120 s"),
            ("Head is {{ head }}", "Head is 20 in"),
            ("Head is {{ head }}", "Head is {{ head | in(\\\"mm\\\") }}"),
        ],
    );
}

#[test]
fn a_sentence_that_shares_no_word_is_another() {
    all("undecided", &[("Alarm sounds", "Lamp lights")]);
}

/// Help and reasons may be reworded freely, in other words altogether, but for what turns them.
#[test]
fn notes_are_turned_as_sentences_are() {
    let help = |text: &str| {
        let new = edited(&[("Begin when the clamp closes.", text)]);
        weights(&difference(BASE, &new))
    };
    for text in [
        "Begin as soon as the clamp is shut.",
        "Start as soon as the clamp has shut.",
    ] {
        assert_eq!(help(text), ["wording alarm_time"], "{text}");
    }
    for text in [
        "Never begin when the clamp closes.",
        "Begin when the clamp opens.",
        "Begin 5 s before the clamp closes.",
    ] {
        assert_eq!(help(text), ["undecided alarm_time"], "{text}");
    }
}

/// The text of the step is the same; what it prints is not.
#[test]
fn a_setting_in_a_sentence_is_told_at_the_step() {
    let told = |value: &str| {
        let text = edited(&[(PLACE, "Head is {{ head }}")]);
        weights(&difference(&text, &text.replace("head: 20 in", value)))
    };
    assert_eq!(
        told("head: 25 in"),
        [
            "setting settings.head",
            "shifted head_height",
            "undecided cord_replaced"
        ]
    );
    assert_eq!(told("head: 508 mm"), ["notation settings.head"]);
}
