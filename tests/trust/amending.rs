//! Amendments: what is added to a sealed record, and that nothing of it can be meddled with unseen.
//!
//! Never in here: every byte of them (see `altered`), failing writes (see `faults`). Changes when an amendment holds more.

use std::path::PathBuf;

use super::made::{Shop, folder};

const FIRST: &str = "amend RECORD --by tech-04 --why wrong_serial_number --note it_is_EW-100231 --passphrase-file passphrase";

/// A shop with two records; gives their ids.
fn shop() -> (Shop, String, String) {
    let shop = Shop::approved();
    shop.key("tech-04");
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let id = |n: usize| {
        let path = shop.records()[n].clone();
        path.file_stem().unwrap().to_string_lossy().into_owned()
    };
    let (first, second) = (id(0), id(1));
    (shop, first, second)
}

fn amendments(shop: &Shop) -> Vec<PathBuf> {
    let years = folder(&shop.file("amendments"));
    years.iter().flat_map(|year| folder(year)).collect()
}

#[test]
fn a_note_stands_beside_the_record_and_the_record_stays_as_it_is() {
    let (shop, first, _) = shop();
    let before = std::fs::read(&shop.records()[0]).unwrap();
    let said = shop.says(&FIRST.replace("RECORD", &first));
    assert!(
        said.code == 0 && said.text.contains("signed"),
        "{}",
        said.text
    );
    assert_eq!(std::fs::read(&shop.records()[0]).unwrap(), before);
    assert_eq!(shop.says("verify").code, 0);
    let verified = shop.says(&format!("verify {first}")).text;
    assert!(
        verified.contains("amendments") && verified.contains("-A0001"),
        "{verified}"
    );
    for to in ["text", "md", "html"] {
        let shown = shop.says(&format!("render {first} --to {to}"));
        assert_eq!(shown.code, 0, "{}", shown.text);
        let top = shown.text.find("Amended: ").unwrap();
        assert!(top < shown.text.find("VP-1001 ").unwrap_or(usize::MAX));
        for words in [
            "Technician 04",
            "Why: wrong serial number",
            "Note: it is ",
            "EW-",
        ] {
            assert!(shown.text.contains(words), "{to}: {words}\n{}", shown.text);
        }
    }
    shop.write("own.txt", "{{ amendments[0].amendment.why }}\n");
    let own = shop.says(&format!("render {first} --template own.txt"));
    assert_eq!(own.text.trim_end(), "wrong serial number");
    // Once is enough.
    let again = shop.says(&FIRST.replace("RECORD", &first));
    assert!(
        again.code == 0 && again.text.contains("amended before"),
        "{}",
        again.text
    );
    assert_eq!(amendments(&shop).len(), 1);
}

#[test]
fn a_correction_is_told_in_both_records() {
    let (shop, first, second) = shop();
    let words = format!(
        "amend {first} --by tech-04 --why meter_not_zeroed --correction {second} --passphrase-file passphrase"
    );
    assert_eq!(shop.says(&words).code, 0);
    let corrected = shop.says(&format!("render {first}")).text;
    assert!(
        corrected.contains(&format!("Corrected by record {second}")),
        "{corrected}"
    );
    let correcting = shop.says(&format!("render {second}")).text;
    assert!(
        correcting.contains(&format!("This record corrects record {first}")),
        "{correcting}"
    );
    assert!(!correcting.contains("Amended"));
    let verified = shop.says("verify");
    assert!(
        verified.code == 0 && verified.text.contains(&format!("corrected by {second}")),
        "{}",
        verified.text
    );
    // The one that holds instead is the one that counts.
    let back = format!(
        "amend {second} --by tech-04 --why x --correction {first} --passphrase-file passphrase"
    );
    let said = shop.says(&back);
    assert!(
        said.code == 2 && said.text.contains("is itself corrected by"),
        "{}",
        said.text
    );
    let trend = shop.says("trend --device VP-1001 --value drops").text;
    assert!(
        trend.contains(&format!("{first} is left out: corrected by {second}")),
        "{trend}"
    );
}

#[test]
fn a_correction_is_a_whole_record_of_the_same_device() {
    let (shop, first, _) = shop();
    let refused = |other: usize, why: &str| {
        let other = shop.records()[other].clone();
        let other = other.file_stem().unwrap().to_string_lossy().into_owned();
        let said = shop.says(&format!(
            "amend {first} --by tech-04 --why x --correction {other} --passphrase-file passphrase"
        ));
        assert!(said.code == 2 && said.text.contains(why), "{}", said.text);
    };
    assert_eq!(shop.run("VP-1002", "tech-04").code, 0);
    refused(2, "is of device VP-1002");
    let trial = "run short --trial --device VP-1001 --by tech-04 --answers answers.yaml --passphrase-file passphrase";
    assert_eq!(shop.says(trial).code, 0);
    refused(3, "is a trial");
}

#[test]
fn a_pass_that_was_corrected_by_a_fail_leaves_the_device_due() {
    let (shop, _, second) = shop();
    let due = || shop.says("due --within 3650").text;
    let of_device = |text: &str| {
        let line = text.lines().find(|l| l.contains("VP-1001"));
        line.map(str::to_owned)
    };
    let before = of_device(&due());
    shop.write("fails.yaml", "confirm: all\nanswers: {drops: 9}\n");
    let fails =
        "run short --device VP-1001 --by tech-04 --answers fails.yaml --passphrase-file passphrase";
    assert_eq!(shop.says(fails).code, 1);
    let third = shop.record()["record"].as_str().unwrap().to_owned();
    for record in [&shop.records()[0], &shop.records()[1]] {
        let id = record.file_stem().unwrap().to_string_lossy().into_owned();
        let words = format!(
            "amend {id} --by tech-04 --why meter_not_zeroed --correction {third} --passphrase-file passphrase"
        );
        assert_eq!(shop.says(&words).code, 0, "{second}");
    }
    assert_ne!(of_device(&due()), before);
}

#[test]
fn a_void_record_counts_no_longer_and_says_so() {
    let (shop, first, second) = shop();
    let due = || shop.says("due --within 3650").text;
    let of_device = |text: &str| {
        let line = text.lines().find(|l| l.contains("VP-1001"));
        line.map(str::to_owned)
    };
    let passed = of_device(&due());
    let amend = |id: &str| {
        let words = format!(
            "amend {id} --by tech-04 --why the_wrong_pump --void --passphrase-file passphrase"
        );
        let said = shop.says(&words);
        assert_eq!(said.code, 0, "{}", said.text);
    };
    amend(&first);
    amend(&second);
    // The same once more adds nothing.
    amend(&second);
    assert_eq!(amendments(&shop).len(), 2);
    assert_ne!(of_device(&due()), passed);
    assert!(of_device(&due()).is_some_and(|l| l.contains("2025-03-18")));
    for to in ["text", "md", "html"] {
        let shown = shop.says(&format!("render {first} --to {to}"));
        assert!(shown.text.contains("declared void"), "{to}: {}", shown.text);
        assert!(shown.text.contains("VOID: "), "{to}: {}", shown.text);
    }
    let label = shop.says(&format!("label {first}"));
    assert!(
        label.code == 2 && label.text.contains("declares it void"),
        "{}",
        label.text
    );
    let verified = shop.says("verify --full");
    assert!(
        verified.code == 0 && verified.text.contains("declared void ("),
        "{}",
        verified.text
    );
    let shown = shop.says("devices show VP-1001").text;
    assert!(shown.contains("pass, declared void by"), "{shown}");
    // What is void holds instead of nothing.
    let third = {
        assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
        shop.record()["record"].as_str().unwrap().to_owned()
    };
    let trend = shop.says("trend --device VP-1001 --value drops");
    assert!(trend.text.contains("declared void by"), "{}", trend.text);
    let words = format!("amend {third} --by tech-04 --why x --correction {second}");
    let refused = shop.says(&words);
    assert!(
        refused.code == 2 && refused.text.contains("is void"),
        "{}",
        refused.text
    );
}

#[test]
fn what_may_not_be_is_refused_and_leaves_nothing() {
    let (shop, first, second) = shop();
    let refused = |words: &str, why: &str| {
        let said = shop.says(words);
        assert!(
            said.code == 2 && said.text.contains(why),
            "{words}: {}",
            said.text
        );
    };
    refused(
        &format!("amend {first} --by tech-04 --why _"),
        "needs its reason",
    );
    refused(
        &format!("amend {first} --by author-02 --why x"),
        "may amend a record",
    );
    refused(
        &format!("amend {first} --by tech-04 --why a\u{7}b"),
        "control character",
    );
    refused(
        &format!("amend {first} --by tech-04 --why {}", "x".repeat(4001)),
        "4000 characters",
    );
    refused(
        &format!("amend {first} --by tech-04 --why x --correction {first}"),
        "by itself",
    );
    refused("amend B1-2026-0999 --by tech-04 --why x", "no such file");
    std::fs::copy(&shop.records()[0], shop.file("copy.json")).unwrap();
    refused(
        "amend copy.json --by tech-04 --why x",
        "not among the records of this shop",
    );
    let path = shop.records()[1].clone();
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace("scheduled", "Scheduled")).unwrap();
    refused(
        &format!("amend {second} --by tech-04 --why x"),
        "does not verify",
    );
    assert!(amendments(&shop).is_empty());
}

#[test]
fn an_amendment_that_was_meddled_with_is_named_at_its_file() {
    let (shop, first, _) = shop();
    assert_eq!(shop.says(&FIRST.replace("RECORD", &first)).code, 0);
    let path = amendments(&shop).pop().unwrap();
    let text = std::fs::read_to_string(&path).unwrap();
    let found = |why: &str, at: &PathBuf| {
        let name = at.file_name().unwrap().to_string_lossy().into_owned();
        let said = shop.says("verify");
        let told = said
            .text
            .lines()
            .any(|l| l.contains(&name) && l.contains(why));
        assert!(said.code == 1 && told, "{why}: {}", said.text);
        let single = shop.says(&format!("verify {first}"));
        assert!(
            single.code == 1 && single.text.contains("amendments"),
            "{}",
            single.text
        );
        assert_eq!(shop.says(&format!("render {first}")).code, 1);
    };
    std::fs::write(&path, text.replace("wrong serial", "right serial")).unwrap();
    found("altered after it was sealed", &path);
    std::fs::write(
        &path,
        text.replace(
            "\"name\": \"Technician 04\"",
            "\"name\":  \"Technician 04\"",
        ),
    )
    .unwrap();
    found("altered after it was entered", &path);
    std::fs::remove_file(&path).unwrap();
    found("was removed", &path);
    let other = path.with_file_name("B1-2026-A0009.json");
    std::fs::write(&other, &text).unwrap();
    found("the file holds the amendment", &other);
    std::fs::remove_file(&other).unwrap();
    // What was removed keeps its number, and the words can be given again.
    let again = shop.says(&FIRST.replace("RECORD", &first));
    assert!(
        again.code == 0 && again.text.contains("-A0002"),
        "{}",
        again.text
    );
    std::fs::write(&path, &text).unwrap();
    assert_eq!(shop.says("verify").code, 0);
    // One that no ledger has.
    let unentered = path.with_file_name("B1-2026-A0003.json");
    std::fs::write(&unentered, text.replace("-A0001", "-A0003")).unwrap();
    found("not in the ledger", &unentered);
}
