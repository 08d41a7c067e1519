//! What is said of a change, in which order, and what a recipe leaves unsaid.
//!
//! Never in here: weights. Changes when changes are told otherwise.

use stepwell::diff::{Lean, Weight, compare};
use stepwell::plan::Decision;

use crate::{BASE, difference, edited, revision, weights};

#[test]
fn what_is_accepted_is_told_with_its_ends() {
    let said = difference(BASE, &edited(&[("tolerance: 5 %", "tolerance: 3 %")]));
    let why = |path: &str| {
        said.changes
            .iter()
            .find(|c| c.path == path)
            .map(|c| c.why.clone())
            .unwrap_or_default()
    };
    assert_eq!(
        why("accuracy.delivered"),
        "accepts 4.85 mL to 5.15 mL, before 4.75 mL to 5.25 mL (in row 1 of 3; the others changed alike); a fail is major"
    );
    assert_eq!(
        why("error_small"),
        "accepts -3 % to 3 %, before -5 % to 5 %; a fail is major"
    );
    assert_eq!(
        why("settings.tolerance"),
        "accuracy.delivered, error_small name it"
    );
}

#[test]
fn intervals_stand_in_the_columns_where_the_texts_are_the_same() {
    let said = difference(BASE, &edited(&[("tolerance: 5 %", "tolerance: 3 %")]));
    let of = |path: &str| said.changes.iter().find(|c| c.path == path);
    let small = of("error_small").expect("a change");
    assert!(
        small.old.ends_with(": -5 % to 5 %") && small.new.ends_with(": -3 % to 3 %"),
        "{small:?}"
    );
}

#[test]
fn a_role_that_is_read_no_more_is_an_easing() {
    let said = difference(
        BASE,
        &edited(&[(
            "        with: meter\n        repeat: 3",
            "        repeat: 3",
        )]),
    );
    let [change, ..] = &said.changes[..] else {
        panic!("{said:?}");
    };
    assert_eq!(
        (change.weight, change.lean),
        (Weight::Instrument, Lean::Looser)
    );
    assert!(change.why.contains("no instrument"), "{}", change.why);
}

#[test]
fn the_rule_of_the_shop_is_the_one_of_a_recipe_without_one() {
    let with = |rule: &str| edited(&[("decision: simple\n", rule)]);
    let in_simple_shop = |old: &str, new: &str| {
        let [a, b] = [old, new].map(|text| revision(text).in_shop(Some(Decision::Simple)));
        let changes = compare(&a, &b).changes;
        let rule = changes.iter().find(|c| c.path == "decision");
        rule.map(|c| c.weight)
    };
    let (none, simple, guarded) = (
        with(""),
        with("decision: simple\n"),
        with("decision: guarded\n"),
    );
    assert_eq!(in_simple_shop(&none, &guarded), Some(Weight::Tightened));
    assert_eq!(in_simple_shop(&guarded, &none), Some(Weight::Loosened));
    assert_eq!(in_simple_shop(&none, &simple), Some(Weight::Notation));
    assert_eq!(in_simple_shop(&none, &none), None);
}

#[test]
fn loosened_limits_and_what_is_no_more_come_first() {
    let text = edited(&[
        ("tolerance: 5 %", "tolerance: 3 %"),
        ("accept: bolus <= \"0.5 mL\"", "accept: bolus <= \"0.7 mL\""),
        ("      - {rate: 125 mL/h, volume: 10 mL}\n", ""),
        ("Height of the fluid surface", "Height of the fluid level"),
        ("on_fail: stop", "on_fail: continue"),
    ]);
    let said = difference(BASE, &text);
    let order: Vec<&str> = said.changes.iter().map(|c| c.weight.word()).collect();
    assert_eq!(
        order,
        [
            "loosened",
            "step removed",
            "flow",
            "tightened",
            "tightened",
            "setting",
            "wording"
        ]
    );
    assert_eq!(
        said.summary(),
        "1 loosened, 1 step removed, 1 flow (eased), 2 tightened, 1 setting, 1 wording"
    );
}

#[test]
fn a_revision_that_was_not_raised_is_told() {
    let said = difference(BASE, &edited(&[("tolerance: 5 %", "tolerance: 3 %")]));
    let told: Vec<&str> = said.warnings.iter().map(|w| w.message.as_str()).collect();
    assert_eq!(
        told,
        ["the revision was not raised: both are 1; a revision stands for one text"]
    );
    let back = difference(
        &edited(&[("revision: 1\ntitle", "revision: 2\ntitle")]),
        BASE,
    );
    assert!(
        back.warnings[0]
            .message
            .starts_with("the revision went down from 2 to 1"),
        "{back:?}"
    );
}

#[test]
fn a_revision_without_an_entry_is_told() {
    let said = difference(
        BASE,
        &edited(&[("revision: 1\ntitle", "revision: 2\ntitle")]),
    );
    assert_eq!(
        said.warnings[0].message,
        "there is no entry for revision 2; say what was changed, and why"
    );
}

fn raised(why: &str, edit: (&str, &str)) -> String {
    let entry =
        format!("  - {{revision: 2, date: 2026-02-15, why: {why}}}\n  - {{revision: 1, date");
    edited(&[
        ("revision: 1\ntitle", "revision: 2\ntitle"),
        ("  - {revision: 1, date", &entry),
        edit,
    ])
}

#[test]
fn an_entry_that_does_not_speak_of_what_was_eased_is_told() {
    let wider = ("accept: bolus <= \"0.5 mL\"", "accept: bolus <= \"0.7 mL\"");
    let said = difference(BASE, &raised("Sentences polished", wider));
    assert_eq!(
        said.warnings[0].message,
        "the entry for revision 2 does not speak of what was loosened: occlusion.release.bolus"
    );
    for why in [
        "Limit of the release widened",
        "Bolus by the maker's bulletin",
        "More volume let go is accepted",
    ] {
        assert_eq!(difference(BASE, &raised(why, wider)).warnings, [], "{why}");
    }
    for why in ["Limit narrowed", "No limit was changed"] {
        assert_eq!(
            difference(BASE, &raised(why, wider)).warnings.len(),
            1,
            "{why}"
        );
    }
    let removed = (
        "          - {that: alarm_pressure >= \"6 psi\", basis: sm, severity: minor}\n",
        "",
    );
    let said = difference(BASE, &raised("Sentences polished", removed));
    assert_eq!(
        said.warnings[0].message,
        "the entry for revision 2 does not speak of a criterion that was removed: occlusion.alarm_pressure"
    );
    assert_eq!(
        difference(BASE, &raised("Lower alarm pressure dropped", removed)).warnings,
        []
    );
}

#[test]
fn a_general_word_speaks_of_one_change_alone() {
    let text = |why: &str| {
        let wider = ("accept: bolus <= \"0.5 mL\"", "accept: bolus <= \"0.7 mL\"");
        raised(why, wider).replace("accept: bubbles <= 3", "accept: bubbles <= 4")
    };
    let warned = |why: &str| difference(BASE, &text(why)).warnings.len();
    assert_eq!(warned("A limit was widened"), 2);
    assert_eq!(warned("Bolus limit widened"), 1);
    assert_eq!(warned("All limits widened"), 0);
    // What is said of one step does not speak of another.
    let narrowed = |why: &str| {
        let text = text(why).replace("accept: bubbles <= 4", "accept: bubbles <= 2");
        difference(BASE, &text).warnings.len()
    };
    assert_eq!(narrowed("A limit was widened"), 0);
    assert_eq!(narrowed("Limit of bubbles widened"), 1);
    assert_eq!(narrowed("Limit of the release not widened"), 1);
}

/// A fail became a pass with remarks: 20 psi was critical, and is minor.
#[test]
fn a_limit_of_one_severity_is_loosened_beside_one_of_another() {
    let both = |critical: &str| {
        edited(&[(
            "          - {that: alarm_pressure <= occlusion_max, basis: sm, severity: critical}\n",
            &format!(
                "          - {{that: alarm_pressure <= \"12 psi\", basis: sm, severity: minor}}\n          - {{that: alarm_pressure <= \"{critical}\", basis: sm, severity: critical}}\n"
            ),
        )])
    };
    let (narrow, wide) = (both("15 psi"), both("25 psi"));
    let said = difference(&narrow, &wide);
    assert_eq!(weights(&said), ["loosened occlusion.alarm_pressure"]);
    assert!(said.changes[0].why.ends_with("; a fail is critical"));
    let back = difference(&wide, &narrow);
    assert_eq!(weights(&back), ["tightened occlusion.alarm_pressure"]);
}

/// The group applied under the condition, and now each step inside of it does.
#[test]
fn a_condition_that_stands_elsewhere_is_notation() {
    let condition = "when: cord == \"torn\"\n";
    let group = "  - id: occlusion\n    group: Occlusion alarm\n";
    let before = |inside: &str, around: &str| {
        // The choice comes before what rests on it.
        let cord = "  - id: cord\n    choose: State of the cord\n    options: [whole, worn, torn]\n    accept: cord != \"torn\"\n    basis: practice\n";
        let text = BASE.replace(cord, "").replace(
            "steps:\n  - id: accuracy",
            &format!("steps:\n{cord}  - id: accuracy"),
        );
        text.replace(group, &format!("{group}{around}"))
            .replace(
                "      - id: alarm_pressure\n",
                &format!("      - id: alarm_pressure\n{inside}"),
            )
            .replace(
                "      - id: release\n",
                &format!("      - id: release\n{inside}"),
            )
    };
    let (around, inside) = (format!("    {condition}"), format!("        {condition}"));
    let (old, new) = (before("", &around), before(&inside, ""));
    for said in [difference(&old, &new), difference(&new, &old)] {
        let all = weights(&said);
        assert!(
            !all.is_empty() && all.iter().all(|w| w.starts_with("notation ")),
            "{all:?}"
        );
    }
}

/// Conditions that double with each level when they are taken apart: without a bound this would not end.
#[test]
fn nested_conditions_do_not_double() {
    let nested = |limit: &str| {
        let mut size = "bolus".to_owned();
        for _ in 0..25 {
            size = format!("abs({size} - \\\"1 mL\\\")");
        }
        let mut choice = "bubbles < 2".to_owned();
        for n in 0..25 {
            choice = format!("if({choice}, bubbles < {n}, bubbles > {n})");
        }
        let criteria =
            format!("[\"{size} <= \\\"{limit}\\\"\", \"({choice}) && bolus <= \\\"{limit}\\\"\"]");
        edited(&[("accept: bubbles <= 3", &format!("accept: {criteria}"))])
    };
    let same = difference(&nested("1 mL"), &nested("1.0 mL"));
    assert!(
        same.changes.iter().all(|c| c.weight.word() == "notation"),
        "{same:?}"
    );
    let other = difference(&nested("1 mL"), &nested("2 mL"));
    assert!(!other.changes.is_empty());
}

/// Values each of which rests twice on the one before, and more of them than calls can be nested.
#[test]
fn long_chains_of_values_are_followed() {
    let chain = |limit: &str| {
        let mut steps = String::from(
            "  - id: serial\n    enter: Serial number on the plate\n  - {id: c0, compute: bolus_again + \"1 mL\"}\n",
        );
        for n in 1..2_000 {
            steps.push_str(&format!(
                "  - {{id: c{n}, compute: 'c{0} + abs(c{0}) * 0.5'}}\n",
                n - 1
            ));
        }
        let end = format!(
            "  - id: end\n    judge: The end\n    accept: 'c1999 <= \"{limit}\" && abs(c1998) >= \"1 mL\"'\n    basis: practice\n"
        );
        let first = "  - {id: bolus_again, measure: Once more, unit: mL, record_only: true}\n";
        let from = BASE.find("  - id: serial").expect("the last step");
        format!("{}{first}{steps}{end}", &BASE[..from])
    };
    let said = difference(&chain("1 mL"), &chain("2 mL"));
    let told: Vec<_> = said
        .changes
        .iter()
        .map(|c| (c.weight.word(), c.path.as_str()))
        .collect();
    assert_eq!(told, [("undecided", "end")]);
}

#[test]
fn a_recipe_differs_in_nothing_from_itself() {
    let said = stepwell::diff::compare(&revision(BASE), &revision(BASE));
    assert_eq!((said.changes, said.warnings), (Vec::new(), Vec::new()));
}
