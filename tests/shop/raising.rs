//! `raise`: what rests on an older revision rests on the newest one, down the whole chain, and nothing else is changed.
//!
//! Never in here: the way from a bulletin to the shelf (see `bulletin`). Changes when recipes are raised by another rule.

use std::path::Path;

use super::made::{shop, stepwell};

const FRAGMENT: &str = "format: 1
fragment: true
recipe: let-out
revision: 1
title: Let the pressure out
basis: {practice: made up}
changes: [{revision: 1, date: 2026-01-15, why: First issue, by: tech-07}]
settings: {rest: 5 kPa}
steps:
  - id: rest_pressure
    measure: Pressure after the release
    unit: kPa
    accept: rest_pressure <= rest
    basis: practice
";

const BASE: &str = "format: 1
recipe: gauge-base
revision: 2 # of the base
title: Gauge, made up
category: gauge
basis: {practice: made up}
changes:
  # oldest first
  - {revision: 1, date: 2025-01-15, why: Draft, by: tech-07}
  - revision: 2
    date: 2026-01-15
    why: First issue
    by: tech-07
  # the end of the history
cautions: [Made up.]
steps:
  - id: level
    measure: Level
    unit: kPa
    accept: level <= \"5 kPa\"
    basis: practice
  - id: out
    use: let-out@1 # pinned
";

const DERIVED: &str = "format: 1
recipe: gauge-derived
revision: 1
title: Gauge, derived
extends: 'gauge-base@2'
changes: [{revision: 1, date: 2026-02-15, why: First issue, by: author-02}]
";

fn lay_out(derived: &str) -> tempfile::TempDir {
    let shop = shop();
    for (name, text) in [
        ("let-out", FRAGMENT),
        ("gauge-base", BASE),
        ("gauge-derived", derived),
    ] {
        write(shop.path(), name, text);
    }
    shop
}

fn write(shop: &Path, name: &str, text: &str) {
    std::fs::write(shop.join(format!("recipes/{name}.yaml")), text).expect("room");
}

fn text_of(shop: &Path, name: &str) -> String {
    std::fs::read_to_string(shop.join(format!("recipes/{name}.yaml"))).expect("a recipe")
}

fn says(shop: &Path, words: &str) -> (Option<i32>, String) {
    let out = stepwell(shop, &words.split(' ').collect::<Vec<_>>());
    let text = [out.stdout, out.stderr].concat();
    (
        out.status.code(),
        String::from_utf8_lossy(&text).into_owned(),
    )
}

fn newer_fragment() -> String {
    FRAGMENT
        .replace("revision: 1\n", "revision: 2\n")
        .replace(
            "[{revision: 1",
            "[{revision: 2, date: 2026-03-15, why: Less is left, by: tech-07}, {revision: 1",
        )
        .replace("rest: 5 kPa", "rest: 4 kPa")
}

#[test]
fn a_fragment_is_followed_down_the_chain() {
    let shop = lay_out(DERIVED);
    let here = shop.path();
    let approved = says(here, "approve gauge-base gauge-derived --by review-01");
    assert_eq!(approved.0, Some(0), "{}", approved.1);
    write(here, "let-out", &newer_fragment());
    let (code, told) = says(here, "raise let-out --by author-02 --check");
    assert_eq!(code, Some(0), "{told}");
    assert_eq!(
        text_of(here, "gauge-base"),
        BASE,
        "`--check` writes nothing"
    );
    let (code, told) = says(here, "raise let-out --by author-02");
    assert_eq!(code, Some(0), "{told}");
    assert!(
        told.contains("gauge-base@2 to 3, on let-out@2: 1 tightened"),
        "{told}"
    );
    assert!(
        told.contains("gauge-derived@1 to 2, on gauge-base@3: 1 tightened"),
        "{told}"
    );
    let entry = |revision: u32, on: &str| {
        format!(
            "{{revision: {revision}, date: DAY, by: author-02, why: \"Rests on {on}: Less is left\"}}"
        )
    };
    let without_day = |text: &str, revision: u32| {
        let begin = format!("{{revision: {revision}, date: ");
        let day = text.split(&begin).nth(1).and_then(|t| t.get(..10));
        text.replacen(day.expect("an entry"), "DAY", 1)
    };
    let base = BASE
        .replace("revision: 2 # of", "revision: 3 # of")
        .replace("let-out@1", "let-out@2")
        .replace(
            "    by: tech-07\n  # the end",
            &format!(
                "    by: tech-07\n  - {}\n  # the end",
                entry(3, "let-out@2")
            ),
        );
    assert_eq!(without_day(&text_of(here, "gauge-base"), 3), base);
    let derived = DERIVED
        .replace("revision: 1\n", "revision: 2\n")
        .replace("gauge-base@2", "gauge-base@3")
        .replace(
            "[{revision: 1",
            &format!(
                "[{}, {{revision: 1",
                entry(2, "gauge-base@3, and so on let-out@2")
            ),
        );
    assert_eq!(without_day(&text_of(here, "gauge-derived"), 2), derived);
    let (_, told) = says(here, "check");
    assert!(!told.contains("there is a revision"), "{told}");
}

#[test]
fn a_revision_that_was_never_approved_is_changed_as_it_stands_by_its_author_alone() {
    let shop = lay_out(DERIVED);
    let here = shop.path();
    write(here, "let-out", &newer_fragment());
    // The older text of the fragment is gone: what rested on it had errors, and has none now.
    let (code, told) = says(here, "raise let-out --by tech-07");
    assert_eq!(code, Some(0), "{told}");
    let base = BASE.replace("let-out@1", "let-out@2").replace(
        "    why: First issue\n",
        "    why: \"First issue; Rests on let-out@2: Less is left\"\n",
    );
    assert_eq!(text_of(here, "gauge-base"), base);
    let derived = text_of(here, "gauge-derived");
    assert!(
        derived.contains("revision: 2\n")
            && derived.contains("by: tech-07, why: \"Rests on gauge-base@2, and so on let-out@2"),
        "{derived}"
    );
    // Twice is as good as once.
    let (code, told) = says(here, "raise let-out --by tech-07");
    assert!(
        code == Some(0) && told.contains("no recipe rests on"),
        "{told}"
    );
}

#[test]
fn lists_with_comments_and_other_ends_of_lines_keep_them() {
    let history = "changes: [
  {revision: 1, date: 2026-02-15, why: 'First, {made} up', by: author-02}, # one
  {revision: 2, date: 2026-03-15, why: Second, by: author-02} # two
]
";
    let head = DERIVED.split("changes").next().expect("a head");
    let derived = format!("{head}{history}")
        .replace("revision: 1\ntitle", "revision: 2\ntitle")
        .replace('\n', "\r\n");
    let shop = lay_out(&derived);
    let here = shop.path();
    let approved = says(here, "approve gauge-base gauge-derived --by review-01");
    assert_eq!(approved.0, Some(0), "{}", approved.1);
    write(here, "let-out", &newer_fragment());
    let (code, told) = says(here, "raise let-out --by author-02");
    assert_eq!(code, Some(0), "{told}");
    let text = text_of(here, "gauge-derived");
    assert!(
        text.contains("why: Second, by: author-02}, {revision: 3") && text.contains("} # two\r\n]"),
        "{text}"
    );
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
}

#[test]
fn what_cant_be_changed_without_risk_is_left() {
    let derived = DERIVED
        .replace("revision: 1\n", "revision: &first 1\n")
        .replace("[{revision: 1", "[{revision: *first");
    let shop = lay_out(&derived);
    let here = shop.path();
    let approved = says(here, "approve gauge-base gauge-derived --by review-01");
    assert_eq!(approved.0, Some(0), "{}", approved.1);
    write(here, "let-out", &newer_fragment());
    let (code, told) = says(here, "raise let-out --by author-02");
    assert!(code == Some(1) && told.contains("without risk"), "{told}");
    assert_eq!(text_of(here, "gauge-derived"), derived);
}

#[test]
fn what_was_withdrawn_is_not_followed() {
    let shop = lay_out(DERIVED);
    let here = shop.path();
    for words in [
        "approve gauge-base gauge-derived --by review-01",
        "withdraw gauge-base@2 --by review-01 --why wrong",
    ] {
        let (code, told) = says(here, words);
        assert_eq!(code, Some(0), "{told}");
    }
    let (code, told) = says(here, "raise gauge-base --by author-02");
    assert!(
        code == Some(2) && told.contains("was withdrawn on") && told.contains(": wrong"),
        "{told}"
    );
    // Who approves it again is told.
    let (code, told) = says(here, "approve gauge-base --by review-01");
    assert!(
        code == Some(0) && told.contains("remark: `gauge-base@2` was withdrawn on"),
        "{told}"
    );
}

#[test]
fn what_would_have_errors_is_left_as_it_is() {
    let edit = "steps:\n  - replace: level\n    by: {id: level, measure: Level, unit: kPa, accept: 'level <= \"4 kPa\"', basis: practice}\n";
    let derived = format!("{DERIVED}{edit}");
    let shop = lay_out(&derived);
    let here = shop.path();
    let approved = says(here, "approve gauge-base gauge-derived --by review-01");
    assert_eq!(approved.0, Some(0), "{}", approved.1);
    let renamed = BASE
        .replace("revision: 2 # of", "revision: 3 # of")
        .replace(
            "  # the end",
            "  - {revision: 3, date: 2026-03-15, why: Another name, by: tech-07}\n  # the end",
        )
        .replace("id: level", "id: height")
        .replace("accept: level", "accept: height");
    write(here, "gauge-base", &renamed);
    let (code, told) = says(here, "raise gauge-base --by author-02");
    assert_eq!(code, Some(1), "{told}");
    assert!(
        told.contains("gauge-derived@1: not raised") && told.contains("`level`"),
        "{told}"
    );
    assert_eq!(text_of(here, "gauge-derived"), derived);
    let (code, told) = says(here, "raise nothing --by author-02");
    assert!(
        code == Some(2) && told.contains("there is no recipe `nothing`"),
        "{told}"
    );
    let (code, told) = says(here, "raise gauge-base --by nobody");
    assert!(
        code == Some(2) && told.contains("`nobody` is not in people.yaml"),
        "{told}"
    );
}
