//! Approvals: what may be run, who may say so, and that a revision stands for one text.
//!
//! Never in here: signatures. Changes when an approval asks for more.

use super::made::{SHORT, Shop};

#[test]
fn what_nobody_approved_is_run_as_a_trial_only() {
    let shop = Shop::new();
    assert_eq!(shop.says("verify").text, "no records yet\n");
    let refused = shop.run("VP-1001", "tech-04");
    assert_eq!(refused.code, 2);
    assert!(refused.text.contains("not approved"), "{}", refused.text);
    let trial = shop.says("run short --device VP-1001 --by tech-04 --answers answers.yaml --trial");
    assert_eq!(trial.code, 0, "{}", trial.text);
    assert_eq!(shop.record()["trial"], true);
    let id = shop.record()["record"].as_str().expect("an id").to_owned();
    let html = shop.says(&format!("render {id} --to html")).text;
    assert!(html.contains("TRIAL"), "{html}");
}

#[test]
fn an_approved_recipe_is_run_and_the_record_names_its_approval() {
    let shop = Shop::approved();
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let approval = &shop.record()["recipe"]["approval"];
    assert_eq!(approval["act"]["by"], "review-01");
    assert_eq!(approval["act"]["digest"], shop.record()["recipe"]["digest"]);
    assert_eq!(shop.says("verify").code, 0);
}

#[test]
fn neither_its_author_nor_somebody_without_the_role_approves() {
    let shop = Shop::new();
    shop.edit(
        "people.yaml",
        "id: author-02, name: Author 02, roles: [author]",
        "id: author-02, name: Author 02, roles: [author, reviewer]",
    );
    let own = shop.says("approve short --by author-02");
    assert_eq!(own.code, 2);
    assert!(own.text.contains("wrote revision 1"), "{}", own.text);
    let role = shop.says("approve short --by tech-04");
    assert!(
        role.code == 2 && role.text.contains("only reviewer"),
        "{}",
        role.text
    );
    let nobody = shop.says("approve short --by review-02");
    assert!(
        nobody.code == 2 && nobody.text.contains("`review-01`"),
        "{}",
        nobody.text
    );
    // Nor is approved what nobody of the shop wrote.
    shop.edit("recipes/short.yaml", "by: author-02", "by: nobody-known");
    let unknown = shop.says("approve short --by author-02");
    assert!(
        unknown.code == 2 && unknown.text.contains("`nobody-known`"),
        "{}",
        unknown.text
    );
    let checked = shop.says("check recipes/short.yaml");
    assert!(
        checked.code == 1 && checked.text.contains("error[unknown-author]"),
        "{}",
        checked.text
    );
    shop.edit("recipes/short.yaml", "by: nobody-known", "by: author-02");
    // Who may have written it can't approve what does not say who wrote it.
    shop.edit("recipes/short.yaml", ", by: author-02", "");
    let unsaid = shop.says("approve short --by author-02");
    assert!(
        unsaid.code == 2 && unsaid.text.contains("by: PERSON"),
        "{}",
        unsaid.text
    );
    assert_eq!(shop.says("approve short --by review-01").code, 0);
}

#[test]
fn a_recipe_with_errors_is_not_approved() {
    let shop = Shop::new();
    shop.edit("recipes/short.yaml", "drops <= 2", "drips <= 2");
    let said = shop.says("approve short --by review-01");
    assert!(
        said.code == 2 && said.text.contains("unknown-name"),
        "{}",
        said.text
    );
}

#[test]
fn a_text_that_was_changed_under_its_revision_is_refused_with_the_change() {
    let shop = Shop::approved();
    shop.edit("recipes/short.yaml", "drops <= 2", "drops <= 3");
    for words in [
        "approve short --by review-01",
        "run short --device VP-1001 --by tech-04 --answers answers.yaml",
    ] {
        let said = shop.says(words);
        assert_eq!(said.code, 2, "{words}");
        let shown = said.text.contains("-    accept: drops <= 2")
            && said.text.contains("+    accept: drops <= 3");
        assert!(
            shown && said.text.contains("raise `revision`"),
            "{}",
            said.text
        );
    }
    let checked = shop.says("check");
    let place = checked.text.contains("recipes/short.yaml:3:11");
    assert!(
        checked.code == 1 && checked.text.contains("error[changed-after-approval]") && place,
        "{}",
        checked.text
    );
    // A trial may try the change out.
    let trial = shop.says("run short --device VP-1001 --by tech-04 --answers answers.yaml --trial");
    assert!(
        trial.code == 0 && trial.text.contains("was changed after revision 1"),
        "{}",
        trial.text
    );
    // What was approved can still be run by its name and revision.
    let stored = shop.says("run short@1 --device VP-1001 --by tech-04 --answers answers.yaml");
    assert_eq!(stored.code, 0, "{}", stored.text);
}

#[test]
fn while_a_new_revision_is_written_the_approved_one_is_run() {
    let shop = Shop::approved();
    let draft = SHORT
        .replace("revision: 1", "revision: 2")
        .replace("drops <= 2", "drops <= 1");
    shop.write("recipes/short.yaml", &draft);
    let said = shop.run("VP-1001", "tech-04");
    assert!(
        said.code == 0 && said.text.contains("revision 1 is run"),
        "{}",
        said.text
    );
    assert_eq!(shop.record()["recipe"]["revision"], 1);
    assert_eq!(shop.says("approve short --by review-01").code, 0);
    assert_eq!(shop.run("VP-1002", "tech-04").code, 0);
    assert_eq!(shop.record()["recipe"]["revision"], 2);
    shop.write("recipes/short.yaml", SHORT);
    let checked = shop.says("check recipes/short.yaml");
    assert!(
        checked.code == 0 && checked.text.contains("[older-revision]"),
        "{}",
        checked.text
    );
    let old = shop.run("VP-1003", "tech-04");
    assert!(
        old.code == 0 && old.text.contains("revision 2 is approved too: `short@2`"),
        "{}",
        old.text
    );
    let older = shop.says("approve short --by review-01");
    assert!(
        older.code == 0 && older.text.contains("approved before"),
        "{}",
        older.text
    );
    // Both go on to verify, whichever text the file has now.
    assert_eq!(shop.says("verify").code, 0);
    // Of what is withdrawn it is told what can be run instead.
    assert_eq!(
        shop.says("withdraw short@2 --by review-01 --why wrong")
            .code,
        0
    );
    let refused = shop.says("run short@2 --device VP-1001 --by tech-04 --answers answers.yaml");
    assert!(
        refused.code == 2 && refused.text.contains("`stepwell run short@1`"),
        "{}",
        refused.text
    );
}

#[test]
fn what_was_withdrawn_is_not_run_and_older_records_stay_good() {
    let shop = Shop::approved();
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    assert_eq!(
        shop.says("withdraw short@1 --by tech-04 --why wrong").code,
        2
    );
    let said = shop.says("withdraw short@1 --by review-01 --why the_limit_is_wrong");
    assert_eq!(said.code, 0, "{}", said.text);
    let refused = shop.run("VP-1001", "tech-04");
    let why = refused.text.contains("withdrawn") && refused.text.contains("the limit is wrong");
    assert!(refused.code == 2 && why, "{}", refused.text);
    assert_eq!(shop.says("verify").code, 0);
    let again = shop.says("approve short --by review-01");
    assert_eq!(again.code, 0, "{}", again.text);
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    assert_eq!(shop.says("verify").code, 0);
}

#[test]
fn an_approved_revision_is_compared_with_the_file_and_a_withdrawn_one_too() {
    let shop = Shop::approved();
    let diff = |words: &str| shop.says(&format!("diff {words} --format json"));
    let same = diff("short@1 short");
    assert_eq!(same.code, 0, "{}", same.text);
    shop.edit("recipes/short.yaml", "revision: 1", "revision: 2");
    let raised = diff("short@1 recipes/short.yaml");
    assert!(
        raised.code == 1 && raised.text.contains("there is no entry for revision 2"),
        "{}",
        raised.text
    );
    assert_eq!(
        shop.says("withdraw short@1 --by review-01 --why wrong")
            .code,
        0
    );
    assert_eq!(diff("short@1 short").code, 1);
    let never = diff("short@7 short");
    assert!(
        never.code == 2 && never.text.contains("never approved"),
        "{}",
        never.text
    );
}
