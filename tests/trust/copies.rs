//! Copies of records far from their shop: what they prove by themselves, and what a label may be printed of.
//!
//! Never in here: copies that were changed by other programs (see `outside`). Changes when a copy carries more.

use std::path::Path;
use std::process::Command;

use super::made::{Said, Shop, said};

/// A shop with a passed record of VP-1001, signed and countersigned; gives its id.
fn shop() -> (Shop, String) {
    let shop = Shop::approved();
    shop.key("tech-04");
    shop.key("review-01");
    let id = passed(&shop);
    let seen = format!("countersign {id} --by review-01 --passphrase-file passphrase");
    assert_eq!(shop.says(&seen).code, 0);
    (shop, id)
}

fn passed(shop: &Shop) -> String {
    let ran = shop.run("VP-1001", "tech-04");
    assert_eq!(ran.code, 0, "{}", ran.text);
    last(shop)
}

/// The id of the last record.
fn last(shop: &Shop) -> String {
    let path = shop.records().pop().expect("a record");
    path.file_stem().unwrap().to_string_lossy().into_owned()
}

/// What `verify` says of a file in a folder that is no shop.
fn verified(folder: &Path, file: &str) -> Said {
    let mut verify = Command::new(env!("CARGO_BIN_EXE_stepwell"));
    verify.args(["verify", file]).current_dir(folder);
    said(&verify.output().expect("the program"))
}

#[test]
fn signatures_are_held_against_their_own_keys() {
    let (shop, id) = shop();
    let away = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(&shop.records()[0]).unwrap();
    let put = |text: &str| {
        std::fs::write(away.path().join("copy.json"), text).unwrap();
        verified(away.path(), "copy.json")
    };
    let sound = put(&text);
    assert_eq!(sound.code, 0, "{}", sound.text);
    for words in [
        "tech-04 (technician): valid for key SHA256:",
        "review-01 (reviewer): valid for key SHA256:",
    ] {
        assert!(sound.text.contains(words), "{}", sound.text);
    }
    let key = sound
        .text
        .split("for key ")
        .nth(1)
        .and_then(|t| t.split(',').next())
        .unwrap();
    for to in ["text", "md", "html"] {
        let shown = shop.says(&format!("render {id} --to {to}")).text;
        assert!(
            shown.contains(key) || shown.contains(&key.replace('/', "&#x2f;")),
            "{to}: {key}"
        );
    }
    // A letter of the armour, the name of who signed, and the armour of the other one.
    let record: serde_json::Value = serde_json::from_str(&text).unwrap();
    let armour = |n: usize| {
        record["seal"]["signatures"][n]["signature"]
            .as_str()
            .unwrap()
            .replace('\n', "\\n")
    };
    let (first, second) = (armour(0), armour(1));
    let middle = second.len() / 2;
    let other = if &second[middle..=middle] == "A" {
        "B"
    } else {
        "A"
    };
    let spoiled = format!("{}{other}{}", &second[..middle], &second[middle + 1..]);
    for (from, to) in [
        (second.as_str(), spoiled.as_str()),
        (second.as_str(), "no signature"),
        (second.as_str(), first.as_str()),
        (
            "\"name\": \"Reviewer 01\",\n        \"role\"",
            "\"name\": \"Reviewer 02\",\n        \"role\"",
        ),
    ] {
        assert!(text.contains(from), "{from}");
        let found = put(&text.replace(from, to));
        assert_eq!(found.code, 1, "{to}: {}", found.text);
        assert!(
            found.text.contains("signatures           bad"),
            "{}",
            found.text
        );
    }
}

#[test]
fn a_pdf_tells_what_was_added_to_its_record() {
    let (shop, first) = shop();
    let second = passed(&shop);
    let amend = |words: &str| {
        let amended = shop.says(&format!(
            "amend {words} --by tech-04 --why wrong_meter --passphrase-file passphrase"
        ));
        assert_eq!(amended.code, 0, "{}", amended.text);
    };
    amend(&format!("{first} --correction {second}"));
    amend(&format!("{second} --void"));
    let away = tempfile::tempdir().unwrap();
    let holds = format!("by tech-04: {second} holds instead: wrong meter (");
    for (id, words) in [(&first, holds.as_str()), (&second, "void since ")] {
        let file = away.path().join("copy.pdf");
        let render = format!("render {id} --to pdf --output {}", file.display());
        assert_eq!(shop.says(&render).code, 0);
        let told = verified(away.path(), "copy.pdf");
        assert!(told.code == 0 && told.text.contains(words), "{}", told.text);
        assert!(
            told.text.contains("(amendment): valid for key SHA256:"),
            "{}",
            told.text
        );
        // Within the shop its own say it, once.
        let told = shop.says(&format!("verify {}", file.display())).text;
        assert_eq!(told.matches("     amendments").count(), 1, "{told}");
        assert!(told.contains("amendments           ok"), "{told}");
        // Rendered again far away it still says so.
        let mut again = Command::new(env!("CARGO_BIN_EXE_stepwell"));
        again.args(["render", "copy.pdf"]).current_dir(away.path());
        let again = said(&again.output().unwrap()).text;
        assert!(again.contains("Amended: B1-"), "{again}");
    }
}

#[test]
fn what_is_no_whole_record_is_named() {
    let (shop, id) = shop();
    let away = tempfile::tempdir().unwrap();
    let file = |name: &str| away.path().join(name).display().to_string();
    for (to, name) in [("html", "copy.html"), ("pdf", "copy.pdf")] {
        let render = format!("render {id} --to {to} --output {}", file(name));
        assert_eq!(shop.says(&render).code, 0);
    }
    std::fs::write(file("empty.json"), " \n").unwrap();
    let pdf = std::fs::read(file("copy.pdf")).unwrap();
    std::fs::write(file("cut.pdf"), &pdf[..pdf.len() - 64]).unwrap();
    std::fs::write(file("half.pdf"), &pdf[..pdf.len() / 2]).unwrap();
    for (name, code, words) in [
        ("copy.html", 1, "a web page, which carries no record"),
        ("empty.json", 1, "an empty file"),
        ("cut.pdf", 1, "the PDF is damaged: its end is missing"),
        ("half.pdf", 2, "it is damaged: its end is missing"),
    ] {
        let found = verified(away.path(), name);
        assert_eq!(found.code, code, "{name}: {}", found.text);
        assert!(found.text.contains(words), "{name}: {}", found.text);
    }
}

#[test]
fn an_older_pass_has_no_label() {
    let (shop, first) = shop();
    let label = || shop.says(&format!("label {first}"));
    assert_eq!(label().code, 0);
    shop.edit("answers.yaml", "drops: 0", "drops: 9");
    let fails = || {
        let ran = shop.run("VP-1001", "tech-04");
        assert_eq!(ran.code, 1, "{}", ran.text);
        last(&shop)
    };
    let failed = fails();
    let refused = label();
    assert_eq!(refused.code, 2, "{}", refused.text);
    assert!(
        refused
            .text
            .contains(&format!("{failed} of the same device is newer")),
        "{}",
        refused.text
    );
    assert!(
        shop.says(&format!("label {failed}"))
            .text
            .contains("FAIL: KEEP OUT OF USE")
    );
    // What does not count any longer does not count here, and a later pass makes the fail good.
    let void = format!(
        "amend {failed} --by tech-04 --void --why wrong_device --passphrase-file passphrase"
    );
    assert_eq!(shop.says(&void).code, 0);
    assert_eq!(label().code, 0);
    fails();
    assert_eq!(label().code, 2);
    shop.edit("answers.yaml", "drops: 9", "drops: 0");
    passed(&shop);
    assert_eq!(label().code, 0);
}
