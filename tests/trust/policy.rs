//! Who may do what, and what a record must have.
//!
//! Never in here: signatures. Changes when the policy can say more.

use super::made::Shop;

#[test]
fn what_the_policy_does_not_name_nobody_may_do() {
    let shop = Shop::approved();
    shop.edit(
        "shop.yaml",
        "decision: simple",
        "decision: simple\nmay: {approve: [reviewer]}",
    );
    let said = shop.run("VP-1001", "tech-04");
    assert!(
        said.code == 2 && said.text.contains("nobody may run"),
        "{}",
        said.text
    );
    shop.edit("shop.yaml", "may: {", "may: {run: [author], ");
    let said = shop.run("VP-1001", "tech-04");
    assert!(
        said.code == 2 && said.text.contains("only author"),
        "{}",
        said.text
    );
    assert_eq!(shop.run("VP-1001", "author-02").code, 0);
    let trial = shop.says("run short --device VP-1002 --by tech-04 --answers answers.yaml --trial");
    assert!(
        trial.code == 2 && trial.text.contains("nobody may run a trial"),
        "{}",
        trial.text
    );
}

#[test]
fn somebody_who_left_does_nothing_any_more_and_their_records_stay_good() {
    let shop = Shop::approved();
    shop.key("tech-04");
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let day = shop.record()["started"].as_str().expect("a time")[..10].to_owned();
    // Begun before, left in the meantime.
    shop.write("half.yaml", "confirm: all\nanswers: {}\n");
    let half = shop.says(
        "run short --device VP-1002 --by tech-04 --answers half.yaml --passphrase-file passphrase",
    );
    assert_eq!(half.code, 3, "{}", half.text);
    shop.edit(
        "people.yaml",
        "roles: [technician],",
        "roles: [technician], left: 2099-01-01,",
    );
    assert_eq!(shop.says("verify").code, 0);
    shop.edit("people.yaml", "left: 2099-01-01", &format!("left: {day}"));
    let said = shop.run("VP-1003", "tech-04");
    assert!(
        said.code == 2 && said.text.contains("left on"),
        "{}",
        said.text
    );
    let session = shop
        .says("resume")
        .text
        .split(' ')
        .next()
        .expect("a session")
        .to_owned();
    let alone = shop.says(&format!("resume {session} --answers answers.yaml"));
    assert!(
        alone.code == 2 && alone.text.contains("--by PERSON"),
        "{}",
        alone.text
    );
    let other = shop.says(&format!(
        "resume {session} --by tech-07 --answers answers.yaml"
    ));
    assert_eq!(other.code, 0, "{}", other.text);
    let remarks = shop.record()["remarks"].to_string();
    assert!(remarks.contains("`tech-07` went on with it"), "{remarks}");
}

#[test]
fn what_the_shop_asks_for_has_to_be_there() {
    let shop = Shop::approved();
    shop.edit(
        "shop.yaml",
        "decision: simple",
        "decision: simple\nrequire:\n  - {occasion: after an incident, photographs: 1, device: [serial, location]}\n",
    );
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let words = "run short --device VP-1001 --by tech-04 --answers answers.yaml --occasion after_an_incident";
    let said = shop.says(words);
    assert!(
        said.code == 3 && said.text.contains("1 photograph;"),
        "{}",
        said.text
    );
    assert_eq!(shop.records().len(), 1);
    // Another spelling is the same occasion, and what nobody knows is none.
    let spelled = words.replace("after_an_incident", "_After_an_Incident_ --beside");
    assert_eq!(shop.says(&spelled).code, 3);
    for (occasion, nearest) in [
        ("After_incident", "knows `after an incident`"),
        ("", "knows"),
    ] {
        let unknown = words.replace("after_an_incident", occasion);
        let said = shop.says(&unknown);
        assert!(
            said.code == 2 && said.text.contains(nearest),
            "{}",
            said.text
        );
    }
    shop.edit(
        "shop.yaml",
        "require:",
        "occasions: [after an update]\nrequire:",
    );
    let own = words.replace("after_an_incident", "After_an_update");
    assert_eq!(shop.says(&format!("{own} --beside")).code, 0);
    assert_eq!(shop.record()["occasion"], "after an update");
    shop.edit("devices.csv", "EW-100231", "");
    let said = shop.says(words);
    assert!(
        said.code == 2 && said.text.contains("no serial"),
        "{}",
        said.text
    );
}

#[test]
fn a_shop_that_requires_signatures_lets_nobody_without_a_key_begin() {
    let shop = Shop::approved();
    shop.edit(
        "shop.yaml",
        "decision: simple",
        "decision: simple\nsignatures: required",
    );
    let refused = |why: &str| {
        let said = shop.run("VP-1001", "tech-04");
        assert!(said.code == 2 && said.text.contains(why), "{}", said.text);
    };
    refused("`review-01` did not sign it");
    shop.key("review-01");
    let approved = "approve short --by review-01 --passphrase-file passphrase";
    assert_eq!(shop.says(approved).code, 0);
    refused("has no key");
    shop.key("tech-04");
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    assert_eq!(
        shop.says("verify").code,
        1,
        "the first approval is not signed"
    );
    // Nor does anybody without a key go on with a session of somebody who has one.
    shop.write("half.yaml", "confirm: all\nanswers: {}\n");
    let words =
        "run short --device VP-1002 --by tech-04 --answers half.yaml --passphrase-file passphrase";
    assert_eq!(shop.says(words).code, 3);
    let session = shop.session();
    let said = shop.says(&format!(
        "resume {session} --by tech-07 --answers answers.yaml"
    ));
    assert!(
        said.code == 2 && said.text.contains("`tech-07` has no key"),
        "{}",
        said.text
    );
    assert_eq!(shop.records().len(), 1);
    // The key that somebody had at the beginning may be gone at the end.
    let people = shop.read("people.yaml");
    let key = people.find(", public_key:").expect("a key");
    let end = people[key..].find('}').expect("an end");
    let without = [&people[..key], &people[key + end..]].concat();
    shop.write("people.yaml", &without);
    let said = shop.says(&format!("resume {session} --answers answers.yaml"));
    assert!(
        said.code == 2 && said.text.contains("`tech-04` has no key"),
        "{}",
        said.text
    );
    assert_eq!(shop.records().len(), 1);
}
