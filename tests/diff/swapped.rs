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

/// Ids that stand in the sentences, one limit changed besides: what is read tells which step is which.
#[test]
fn what_is_read_goes_before_what_it_is_called() {
    let old = recipe("inlet", "outlet", ["100 kPa", "20 kPa"]);
    let new = recipe("outlet", "inlet", ["100 kPa", "25 kPa"]);
    let weights = weights(&difference(&old, &new));
    let told: Vec<&str> = weights.iter().map(String::as_str).collect();
    assert_eq!(
        told,
        [
            "loosened inlet",
            "notation drop",
            "notation outlet",
            "step renamed inlet",
            "step renamed outlet"
        ]
    );
}

#[test]
fn ids_that_moved_on_by_one_are_renames() {
    let old = recipe("k1", "k2", ["100 kPa", "20 kPa"]);
    let drop = "  - id: drop";
    let (head, _) = old.split_once(drop).expect("the last step");
    let (before, second) = head.split_once("  - id: k2").expect("two steps");
    let (start, _) = before.split_once("  - id: k1").expect("the first step");
    let new = format!("{start}  - id: k1{}", second.replace("k2", "k1"));
    assert_eq!(
        weights(&difference(head, &new)),
        ["notation k1", "step removed k1", "step renamed k1"]
    );
    assert_eq!(
        weights(&difference(&new, head)),
        ["notation k2", "step added k1", "step renamed k2"]
    );
}

#[test]
fn sentences_that_are_exchanged_change_what_is_accepted() {
    let old = recipe("high", "low", ["100 kPa", "20 kPa"]);
    let new = old
        .replace("at the inlet", "at the X")
        .replace("at the outlet", "at the inlet")
        .replace("at the X", "at the outlet");
    let weights = weights(&difference(&old, &new));
    assert!(
        weights.contains(&"loosened high".to_owned())
            && weights.contains(&"tightened low".to_owned()),
        "{weights:?}"
    );
}
