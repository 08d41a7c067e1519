//! Steps and criteria of which several fit: ids that were exchanged are renames, and nothing else is.
//!
//! Never in here: other renames (see `steps`). Changes when steps are recognised otherwise.

use crate::{difference, weights};

fn recipe(first: &str, second: &str, limits: [&str; 2]) -> String {
    format!(
        "format: 1\nrecipe: pair\nrevision: 1\ntitle: Made up\ncategory: gauge\nbasis: {{practice: made up}}
changes: [{{revision: 1, date: 2026-01-15, why: First issue}}]\ncautions: [Made up.]\nsteps:
  - id: {first}\n    measure: Pressure at the inlet\n    unit: kPa\n    accept: {first} <= \"{}\"\n    basis: practice
  - id: {second}\n    measure: Pressure at the outlet\n    unit: kPa\n    accept: {second} <= \"{}\"\n    basis: practice
  - id: drop\n    compute: {first} - {second}\n    unit: kPa\n    accept: drop <= \"5 kPa\"\n    basis: practice
",
        limits[0], limits[1]
    )
}

#[test]
fn ids_that_are_exchanged_loosen_and_tighten_nothing() {
    let old = recipe("high", "low", ["100 kPa", "20 kPa"]);
    let new = recipe("low", "high", ["100 kPa", "20 kPa"]);
    // The expressions name them otherwise.
    let expected = [
        "notation drop",
        "notation high",
        "notation low",
        "step renamed high",
        "step renamed low",
    ];
    assert_eq!(weights(&difference(&old, &new)), expected);
    assert_eq!(weights(&difference(&new, &old)), expected);
}

#[test]
fn of_two_severities_the_same_one_is_held_against_it() {
    let with = |criteria: &str| {
        recipe("high", "low", ["100 kPa", "20 kPa"]).replace(
            "    accept: high <= \"100 kPa\"\n    basis: practice\n",
            &format!("    accept:\n{criteria}"),
        )
    };
    let one = |limit: u32, severity: &str| {
        format!(
            "      - {{that: high <= \"{limit} kPa\", basis: practice, severity: {severity}}}\n"
        )
    };
    let old = with(&(one(15, "major") + &one(15, "critical")));
    let new = with(&one(19, "critical"));
    assert_eq!(
        weights(&difference(&old, &new)),
        ["criterion removed high", "loosened high"]
    );
}

#[test]
fn limits_that_are_exchanged_do_both() {
    let old = recipe("high", "low", ["100 kPa", "20 kPa"]);
    let new = recipe("high", "low", ["20 kPa", "100 kPa"]);
    assert_eq!(
        weights(&difference(&old, &new)),
        ["loosened low", "tightened high"]
    );
}
