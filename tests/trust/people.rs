//! Four eyes over all that a recipe is made of, and who completes what somebody left behind.
//!
//! Never in here: keys and signatures (see `signing`). Changes when more than two people share a deed.

use super::made::{SHORT, Shop};

const FRAGMENT: &str = "format: 1
recipe: views
revision: 1
fragment: true
title: Looks
basis: {practice: \"common practice, no source; the maker's manual governs\"}
changes: [{revision: 1, date: 2026-01-15, why: First issue, by: author-03}]
steps:
  - {id: case, confirm: The case is whole, basis: practice}
";
const BASE: &str = "format: 1
recipe: made
revision: 1
title: Made of others
category: volumetric
changes: [{revision: 1, date: 2026-01-15, why: First issue, by: author-02}]
extends: short@1
steps:
  - {after: clean, insert: [{id: views, use: views@1}]}
";

/// A shop whose recipe `made` rests on a base by author-02 and a fragment by author-03; all of them may approve.
fn shop() -> Shop {
    let shop = Shop::new();
    let people = "people:
  - {id: author-03, name: Author 03, roles: [author, reviewer]}
  - {id: author-04, name: Author 04, roles: [author, reviewer]}
";
    shop.edit("people.yaml", "people:\n", people);
    shop.edit(
        "people.yaml",
        "id: author-02, name: Author 02, roles: [author]",
        "id: author-02, name: Author 02, roles: [author, reviewer]",
    );
    shop.write("recipes/views.yaml", FRAGMENT);
    shop.write("recipes/made.yaml", BASE);
    shop
}

#[test]
fn who_wrote_a_part_does_not_approve_the_whole() {
    let shop = shop();
    shop.edit("recipes/made.yaml", "by: author-02", "by: author-04");
    let base = shop.says("approve made --by author-02");
    assert!(
        base.code == 2
            && base
                .text
                .contains("`author-02` wrote `short@1`, which `made` rests on"),
        "{}",
        base.text
    );
    let fragment = shop.says("approve made --by author-03");
    assert!(
        fragment.code == 2 && fragment.text.contains("`author-03` wrote `views@1`"),
        "{}",
        fragment.text
    );
    let other = shop.says("approve made --by review-01");
    assert!(
        other.code == 0 && !other.text.contains("remark"),
        "{}",
        other.text
    );
}

#[test]
fn parts_that_do_not_say_who_wrote_them_are_told() {
    let shop = shop();
    shop.edit("recipes/views.yaml", ", by: author-03", "");
    shop.edit("recipes/made.yaml", ", by: author-02", "");
    let said = shop.says("approve made --by review-01");
    assert_eq!(said.code, 0, "{}", said.text);
    for part in ["made@1", "views@1"] {
        let remark = format!("remark: `{part}` does not say who wrote it");
        assert!(said.text.contains(&remark), "{}", said.text);
    }
    assert!(!said.text.contains("remark: `short@1`"), "{}", said.text);
}

#[test]
fn a_reviewer_is_told_what_no_reading_can_fail() {
    let shop = Shop::new();
    let never = SHORT.replace("in a minute\n", "in a minute\n    range: [0, 2]\n");
    shop.write("recipes/short.yaml", &never);
    let checked = shop.says("check recipes/short.yaml");
    let said = shop.says("approve short --by review-01");
    assert_eq!(said.code, 0, "{}", said.text);
    for text in [checked.text, said.text] {
        assert!(text.contains("warning[never-fails]"), "{text}");
    }
}

#[test]
fn what_was_closed_by_somebody_who_left_is_sealed_by_another() {
    let shop = Shop::approved();
    let (session, today) = shop.closed();
    // Another record meanwhile does not take its number.
    let beside = shop.says("run short --device VP-1002 --by tech-07 --answers answers.yaml");
    assert!(
        beside.text.contains("Record B1-2026-0002"),
        "{}",
        beside.text
    );
    let words = format!("resume {session} --by tech-07 --answers answers.yaml");
    let here = shop.says(&words);
    assert!(
        here.code == 2 && here.text.contains("can't take it over"),
        "{}",
        here.text
    );
    let person = "{id: tech-04, name: Technician 04, roles: [technician]";
    shop.edit("people.yaml", person, &format!("{person}, left: {today}"));
    let alone = shop.says(&format!("resume {session} --answers answers.yaml"));
    assert!(
        alone.code == 2 && alone.text.contains("--by PERSON"),
        "{}",
        alone.text
    );
    let other = shop.says(&words);
    assert!(
        other.code == 0 && other.text.contains("Record B1-2026-0001: PASS"),
        "{}",
        other.text
    );
    let records = shop.records();
    let record = std::fs::read_to_string(&records[0]).expect("a record");
    assert!(record.contains("`tech-07` went on with it"), "{record}");
    let verified = shop.says("verify");
    assert_eq!(verified.code, 0, "{}", verified.text);
    // Both had a hand in it: neither is the other pair of eyes.
    shop.edit(
        "people.yaml",
        "Technician 07, roles: [technician, author]",
        "Technician 07, roles: [technician, author, reviewer]",
    );
    assert_eq!(shop.says("countersign B1-2026-0001 --by tech-07").code, 2);
}

#[test]
fn a_withdrawal_during_a_pause_is_told_and_stands_in_the_record() {
    let shop = Shop::approved();
    shop.write("none.yaml", "confirm: all\n");
    let begun = shop.says("run short --device VP-1001 --by tech-04 --answers none.yaml");
    assert_eq!(begun.code, 3, "{}", begun.text);
    let session = shop.session();
    let withdrawn = shop.says("withdraw short@1 --by review-01 --why the_limit_is_wrong");
    assert_eq!(withdrawn.code, 0, "{}", withdrawn.text);
    let said = shop.says(&format!("resume {session} --answers answers.yaml"));
    assert!(
        said.code == 0 && said.text.contains("by review-01: the limit is wrong"),
        "{}",
        said.text
    );
    let remarks = shop.record()["remarks"].to_string();
    assert!(
        remarks.contains("`short` revision 1 was withdrawn on"),
        "{remarks}"
    );
    assert_eq!(shop.says("verify").code, 0);
}
