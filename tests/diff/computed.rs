//! Pairs in which something changed that a limit rests on: a computed value, a setting without a unit, a setting of a group,
//! the number of readings; limits that are nearly alike; a recipe beside its base. What is accepted was worked out by hand.
//!
//! Never in here: limits that changed themselves (see `limits`). Changes when such a change is told otherwise.

use stepwell::diff::{Lean, Weight};

use crate::{BASE, difference, edited, weights};

/// What is said of the base and an edit, which the other way about must be as many changes.
fn said(old: &str, new: &str) -> Vec<String> {
    let there = weights(&difference(old, new));
    assert_eq!(there.len(), weights(&difference(new, old)).len());
    there
}

/// The run has to collect 9.5 mL to 10.5 mL; against 11 mL, 10.45 mL to 11.55 mL.
#[test]
fn a_number_in_a_computation_is_told_by_what_rests_on_it() {
    let nominal = edited(&[("\"10 mL\")", "\"11 mL\")")]);
    assert_eq!(said(BASE, &nominal), ["shifted error_small"]);
    let density = BASE.replace("density: 0.998 g/mL", "density: 0.9 g/mL");
    assert_eq!(
        said(BASE, &density),
        ["setting settings.density", "shifted error_small"]
    );
}

/// The size of a size is that size.
#[test]
fn a_computation_that_lets_the_same_pass_is_notation() {
    let size = edited(&[(
        "compute: deviation(collected, \"10 mL\")",
        "compute: abs(deviation(collected, \"10 mL\"))",
    )]);
    assert_eq!(said(BASE, &size), ["notation error"]);
}

/// Of three options, what is not one of two is the third.
#[test]
fn a_choice_in_a_computation_is_one_of_its_options() {
    let factor = |condition: &str| {
        edited(&[
            (
                "  - id: alarm_time",
                &format!(
                    "  - {{id: doubled, compute: 'if({condition}, 2 * collected, collected)'}}\n  - id: alarm_time"
                ),
            ),
            (
                "accept: alarm_time < \"2 min\"",
                "accept: 'alarm_time < \"2 min\" && doubled <= \"1 mL\"'",
            ),
        ])
    };
    let torn = factor("cord == \"torn\"");
    let rest = factor("cord != \"whole\" && cord != \"worn\"");
    let said = said(&torn, &rest);
    let lean = |w: &String| w.starts_with("loosened") || w.starts_with("tightened");
    assert!(!said.iter().any(lean), "{said:?}");
}

/// The cord is whole, worn or torn: who leaves the first part out accepts less, and `x && (x || y)` is `x`.
#[test]
fn a_choice_that_only_one_side_speaks_of_is_one_of_its_options_too() {
    let judged = |text: &str| {
        edited(&[(
            "accept: alarm_time < \"2 min\"",
            &format!("accept: '{text}'"),
        )])
    };
    let late = judged("alarm_time < \"2 min\"");
    let either = judged("cord == \"torn\" || alarm_time < \"2 min\"");
    assert_eq!(said(&either, &late), ["tightened alarm_time"]);
    assert_eq!(said(&late, &either), ["loosened alarm_time"]);
    let denied =
        judged("!(!(cord == \"torn\" || alarm_time < \"2 min\") || !(alarm_time < \"2 min\"))");
    assert_eq!(said(&late, &denied), ["notation alarm_time"]);
}

/// 100 within 5 % is 95 to 105; within 0.05 it is 100.
#[test]
fn a_tolerance_of_a_bare_number_that_lost_its_sign_is_another_setting() {
    let ratio = edited(&[
        ("  head: 20 in", "  head: 20 in\n  ratio: 5 %"),
        (
            "accept: bubbles <= 3",
            "accept: within(bubbles, 100, ratio)",
        ),
    ]);
    let bare = ratio.replace("ratio: 5 %", "ratio: 0.05");
    assert_eq!(
        said(&ratio, &bare),
        [
            "setting settings.ratio",
            "tightened occlusion.release.bubbles"
        ]
    );
}

#[test]
fn a_setting_of_a_group_is_told_beside_what_rests_on_it() {
    let group = edited(&[
        (
            "        group: After the release\n",
            "        group: After the release\n        settings: {few: 3}\n",
        ),
        ("accept: bubbles <= 3", "accept: bubbles <= few"),
    ]);
    assert_eq!(
        said(&group, &group.replace("few: 3", "few: 4")),
        [
            "loosened occlusion.release.bubbles",
            "setting occlusion.release.settings.few"
        ]
    );
}

/// The greatest of five is no smaller than that of three of them: nobody can tell what that does to a limit.
#[test]
fn another_number_of_readings_changes_a_greatest_and_a_sum() {
    for call in ["max(delivered)", "min(delivered)", "sum(delivered)"] {
        let old = edited(&[(
            "within(mean(delivered), point.volume, tolerance)",
            &format!("{call} <= 9 * point.volume"),
        )]);
        let new = old.replace("repeat: 3", "repeat: 5");
        assert_eq!(
            said(&old, &new),
            ["flow accuracy.delivered", "undecided accuracy.delivered"],
            "{call}"
        );
    }
}

#[test]
fn limits_that_are_nearly_alike_are_shown_with_the_digits_that_part_them() {
    let new = BASE.replace("bolus <= \"0.5 mL\"", "bolus <= \"0.500000001 mL\"");
    let said = difference(BASE, &new);
    assert_eq!(
        said.changes[0].why,
        "accepts 0.500000001 mL or less, before 0.5 mL or less; a fail is major"
    );
}

/// A recipe that rests on another has a history of its own.
#[test]
fn the_history_of_another_recipe_is_not_rewritten() {
    let other = edited(&[
        ("recipe: pair", "recipe: other"),
        (
            "date: 2026-01-15, why: First issue",
            "date: 2026-03-01, why: For model VP-2",
        ),
    ]);
    assert_eq!(said(BASE, &other), ["identity recipe"]);
}

fn under(condition: &str, factor: u32, accept: &str) -> String {
    format!(
        "format: 1\nrecipe: pair\nrevision: 1\ntitle: Made up\ncategory: gauge\nbasis: {{practice: made up}}
changes: [{{revision: 1, date: 2026-01-15, why: First issue}}]\ncautions: [Made up.]\nsteps:
  - id: x\n    measure: Volume\n    unit: mL\n    record_only: true
  - id: v\n    compute: x * {factor}\n    unit: mL
  - id: s\n    choose: State\n    options: [a, b]\n    record_only: true
  - id: m\n    measure: Mass\n    unit: g\n    when: {condition}\n    accept: '{accept}'\n    basis: practice
"
    )
}

/// A condition through a computed value is told by what that is made of.
#[test]
fn conditions_are_told_through_computed_values() {
    let limit = "m <= \"5 g\"";
    let old = under("v > \"4 mL\"", 2, limit);
    let said = difference(&old, &under("v > \"4 mL\"", 1, limit));
    let flow = said
        .changes
        .iter()
        .find(|c| c.path == "m")
        .expect("a change");
    assert_eq!((flow.weight, flow.lean), (Weight::Flow, Lean::Looser));
    let same = difference(&old, &under("v > \"2 mL\"", 1, limit));
    let own = same
        .changes
        .iter()
        .find(|c| c.path == "m")
        .expect("a change");
    assert_eq!(own.weight, Weight::Notation);
}

/// What went from a criterion into the condition of its step lets the same pass.
#[test]
fn a_condition_out_of_a_criterion_is_flow() {
    let old = under("x > \"0 mL\"", 1, "m <= \"5 g\" || s != \"a\"");
    let new = under("x > \"0 mL\" && s == \"a\"", 1, "m <= \"5 g\"");
    for (a, b) in [(&old, &new), (&new, &old)] {
        let said = weights(&difference(a, b));
        assert_eq!(said, ["flow m", "notation m"]);
    }
}
