//! Signatures of technicians and reviewers.
//!
//! Never in here: what `ssh-keygen` says of them (see `outside`). Changes when signing asks for more.

use super::made::Shop;

#[test]
fn who_has_a_key_signs_and_a_reviewer_countersigns() {
    let shop = Shop::approved();
    shop.key("tech-04");
    shop.key("review-01");
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let signatures = shop.record()["seal"]["signatures"].clone();
    assert_eq!(signatures[0]["by"], "tech-04");
    assert_eq!(signatures[0]["role"], "technician");
    let id = shop.record()["record"].as_str().expect("an id").to_owned();
    let own = shop.says(&format!("countersign {id} --by tech-04"));
    assert_eq!(own.code, 2);
    let words = format!("countersign {id} --by review-01 --passphrase-file passphrase");
    assert_eq!(shop.says(&words).code, 0);
    assert_eq!(shop.record()["seal"]["signatures"][1]["role"], "reviewer");
    // Once is enough.
    let again = shop.says(&words);
    assert!(
        again.code == 0 && again.text.contains("before"),
        "{}",
        again.text
    );
    assert_eq!(
        shop.record()["seal"]["signatures"].as_array().map(Vec::len),
        Some(2)
    );
    let verified = shop.says("verify --full");
    assert!(
        verified.code == 0
            && verified
                .text
                .contains("tech-04 (technician), review-01 (reviewer)"),
        "{}",
        verified.text
    );
}

#[test]
fn several_are_countersigned_at_once_and_shown_before() {
    let shop = Shop::approved();
    shop.key("review-01");
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    shop.write("fails.yaml", "confirm: all\nanswers: {drops: 9}\n");
    let fails = shop.says("run short --device VP-1002 --by tech-04 --answers fails.yaml");
    assert_eq!(fails.code, 1, "{}", fails.text);
    let id = |path: &std::path::PathBuf| path.file_stem().unwrap().to_string_lossy().into_owned();
    let ids: Vec<String> = shop.records().iter().map(id).collect();
    let words = format!(
        "countersign {} --by review-01 --passphrase-file passphrase",
        ids.join(" ")
    );
    let said = shop.says(&words);
    assert_eq!(said.code, 0, "{}", said.text);
    let signs = said.text.find("was countersigned").expect("a signature");
    for shown in [
        "VP-1002 (Example Works VP-2), short revision 1: FAIL",
        "not signed by tech-04",
    ] {
        let at = said.text.find(shown).expect(shown);
        assert!(at < signs, "{}", said.text);
    }
    assert_eq!(said.text.matches("was countersigned by").count(), 2);
}

#[test]
fn records_that_wait_for_a_countersignature_are_listed() {
    let shop = Shop::approved();
    shop.key("review-01");
    assert_eq!(shop.says("countersign").code, 0);
    for device in ["VP-1001", "VP-1002"] {
        assert_eq!(shop.run(device, "tech-04").code, 0);
    }
    let trial = shop.says("run short --device VP-1003 --by tech-04 --trial --answers answers.yaml");
    assert_eq!(trial.code, 0, "{}", trial.text);
    for words in ["countersign", "countersign --by review-01"] {
        let said = shop.says(words);
        assert_eq!(said.code, 1, "{}", said.text);
        let is_told = |tag: &str| said.text.contains(tag);
        assert!(is_told("VP-1001") && is_told("VP-1002"), "{}", said.text);
        assert!(is_told("short@1") && !is_told("VP-1003"), "{}", said.text);
    }
    assert_eq!(shop.says("countersign --by tech-04").code, 2);
    let first = shop.records()[0].clone();
    let id = first.file_stem().expect("a name").to_string_lossy();
    let words = format!("countersign {id} --by review-01 --passphrase-file passphrase");
    assert_eq!(shop.says(&words).code, 0);
    let left = shop.says("countersign").text;
    assert!(!left.contains(&*id) && left.contains("VP-1002"), "{left}");
    assert_eq!(shop.says("countersign B1-2026-0001").code, 2);
}

#[test]
fn a_passphrase_of_a_key_has_a_length_and_is_read_once() {
    let shop = Shop::approved();
    shop.write("short", "ab\n");
    let made = shop.says("people key tech-04 --passphrase-file short");
    assert!(
        made.code == 2 && made.text.contains("at least 8"),
        "{}",
        made.text
    );
    shop.key("tech-04");
    // A pipe gives it once.
    let program = env!("CARGO_BIN_EXE_stepwell");
    let script = format!(
        "'{program}' run short --device VP-1001 --by tech-04 --answers answers.yaml --passphrase-file <(cat passphrase)"
    );
    let ran = std::process::Command::new("bash")
        .args(["-c", &script])
        .current_dir(shop.path())
        .env("STEPWELL_KEYS", shop.keys())
        .output()
        .expect("bash");
    assert!(
        ran.status.success(),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
}

#[test]
fn a_wrong_passphrase_and_a_missing_key_cost_nothing() {
    let shop = Shop::approved();
    shop.key("tech-04");
    shop.write("wrong", "dry gloves\n");
    let said = shop.says(
        "run short --device VP-1001 --by tech-04 --answers answers.yaml --passphrase-file wrong",
    );
    assert!(
        said.code == 2 && said.text.contains("passphrase does not open"),
        "{}",
        said.text
    );
    // It is seen before anything is asked.
    assert!(shop.says("resume").text.contains("no session is open"));
    shop.write("none.yaml", "confirm: all\n");
    let begun = shop.says("run short --device VP-1001 --by tech-04 --answers none.yaml");
    assert_eq!(begun.code, 3, "{}", begun.text);
    let session = shop.session();
    let wrong = shop.says(&format!(
        "resume {session} --answers answers.yaml --passphrase-file wrong"
    ));
    assert!(
        wrong.code == 2 && wrong.text.contains("passphrase does not open"),
        "{}",
        wrong.text
    );
    assert!(shop.records().is_empty());
    let resumed = shop.says(&format!(
        "resume {session} --answers answers.yaml --passphrase-file passphrase"
    ));
    assert_eq!(resumed.code, 0, "{}", resumed.text);
    assert_eq!(shop.says("verify").code, 0);
    // Without the key nothing is begun.
    std::fs::remove_file(shop.keys().join("tech-04")).expect("a key");
    let missing = shop.run("VP-1002", "tech-04");
    assert!(
        missing.code == 2 && missing.text.contains("not on this computer"),
        "{}",
        missing.text
    );
    assert!(shop.says("resume").text.contains("no session is open"));
}

#[test]
fn a_new_key_leaves_what_the_old_one_signed_good() {
    let shop = Shop::approved();
    shop.key("tech-04");
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    std::fs::remove_file(shop.keys().join("tech-04")).expect("a key");
    shop.key("tech-04");
    assert!(shop.read("people.yaml").contains("former_keys"));
    assert_eq!(shop.run("VP-1002", "tech-04").code, 0);
    let said = shop.says("verify --full");
    assert!(
        said.code == 0 && !said.text.contains("not made with a key"),
        "{}",
        said.text
    );
    // Somebody who takes the old key away makes its signature that of nobody.
    let people = shop.read("people.yaml");
    let begin = people.find(", former_keys").expect("the key");
    let end = begin + people[begin..].find(']').expect("its end") + 1;
    shop.write(
        "people.yaml",
        &(people[..begin].to_owned() + &people[end..]),
    );
    let said = shop.says("verify");
    assert!(
        said.code == 1 && said.text.contains("not made with a key of `tech-04`"),
        "{}",
        said.text
    );
}

#[test]
fn a_key_of_somebody_else_does_not_sign() {
    let shop = Shop::approved();
    shop.key("tech-04");
    shop.key("tech-07");
    let other = shop.keys().join("tech-07");
    let words = format!(
        "run short --device VP-1001 --by tech-04 --answers answers.yaml --passphrase-file passphrase --key {}",
        other.display()
    );
    let said = shop.says(&words);
    assert!(
        said.code == 2 && said.text.contains("not the one that people.yaml has"),
        "{}",
        said.text
    );
    // It was seen before anything was entered.
    assert!(shop.says("resume").text.contains("no session is open"));
}

#[test]
fn a_new_key_is_made_where_one_lies_already() {
    let shop = Shop::approved();
    shop.key("tech-04");
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let old = std::fs::read(shop.keys().join("tech-04")).expect("a key");
    let words = "people key tech-04 --passphrase-file passphrase";
    let refused = shop.says(words);
    let ways = ["--new", "--public", "--key FILE"];
    let told = ways.iter().all(|w| refused.text.contains(w));
    assert!(refused.code == 2 && told, "{}", refused.text);
    let made = shop.says(&format!("{words} --new"));
    assert_eq!(made.code, 0, "{}", made.text);
    let aside = shop.keys().join("tech-04.former-1");
    assert_eq!(std::fs::read(&aside).expect("the old key"), old);
    assert!(shop.keys().join("tech-04.former-1.pub").exists());
    assert!(shop.read("people.yaml").contains("former_keys"));
    let former = shop.says(&format!(
        "run short --device VP-1002 --by tech-04 --answers answers.yaml --passphrase-file passphrase --key {}",
        aside.display()
    ));
    assert!(
        former.code == 2 && former.text.contains("is a former one of `tech-04`"),
        "{}",
        former.text
    );
    assert_eq!(shop.run("VP-1002", "tech-04").code, 0);
    assert_eq!(shop.says("verify").code, 0);
    let list = shop.says("people list").text;
    let keyed = |id: &str, word: &str| {
        let line = list.lines().find(|l| l.starts_with(id));
        line.is_some_and(|l| l.trim_end().ends_with(word))
    };
    assert!(keyed("tech-04", "yes") && keyed("tech-07", "no"), "{list}");
}

#[test]
fn who_closed_a_session_seals_it() {
    let shop = Shop::approved();
    shop.key("tech-04");
    let (session, _) = shop.closed();
    let other = shop.says(&format!(
        "resume {session} --by tech-07 --answers answers.yaml"
    ));
    assert!(
        other.code == 2 && other.text.contains("`tech-07` can't take it over"),
        "{}",
        other.text
    );
    let own = shop.says(&format!(
        "resume {session} --answers answers.yaml --passphrase-file passphrase"
    ));
    let told = [
        "Verdict: pass",
        "closed the session as B1-2026-0001",
        "Record B1-2026-0001: PASS",
    ];
    assert!(
        own.code == 0 && told.iter().all(|t| own.text.contains(t)),
        "{}",
        own.text
    );
    assert_eq!(shop.says("verify").code, 0);
}

#[test]
fn an_approval_is_signed_too() {
    let shop = Shop::new();
    shop.key("review-01");
    let said = shop.says("approve short --by review-01 --passphrase-file passphrase");
    assert!(
        said.code == 0 && said.text.contains(", signed"),
        "{}",
        said.text
    );
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let said = shop.says("verify --full");
    assert!(
        said.code == 0 && said.text.contains("signed"),
        "{}",
        said.text
    );
}
