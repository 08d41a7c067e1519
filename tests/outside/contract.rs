//! A short Python script, written from the contract alone, and `verify` agree: on a good shop, and on altered ones.
//!
//! Never in here: the script, which is beside this. Changes when the contract does.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::made::{Shop, folder};

fn python(shop: &Path) -> Output {
    Command::new("python3")
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/verify.py"))
        .arg(shop)
        .output()
        .unwrap()
}

fn shop() -> Shop {
    let shop = Shop::new();
    for person in ["tech-04", "review-01"] {
        shop.key(person);
    }
    for words in [
        "approve short --by review-01",
        "run short --device VP-1001 --by tech-04 --answers answers.yaml",
        "run short --device VP-1002 --by tech-04 --answers answers.yaml",
    ] {
        let said = shop.says(&format!("{words} --passphrase-file passphrase"));
        assert_eq!(said.code, 0, "{}", said.text);
    }
    let id = shop.records()[0]
        .file_stem()
        .unwrap()
        .to_string_lossy()
        .into_owned();
    for words in [
        "countersign ID --by review-01",
        "amend ID --by tech-04 --why µm_–_测试_😀",
    ] {
        let words = words.replace("ID", &id) + " --passphrase-file passphrase";
        let said = shop.says(&words);
        assert_eq!(said.code, 0, "{}", said.text);
    }
    shop
}

#[test]
fn both_find_a_good_shop_good() {
    if !super::at_hand("python3") {
        return;
    }
    let (shop, (_folder, demo)) = (shop(), super::demo());
    for path in [shop.path(), &demo] {
        let run = python(path);
        let said = String::from_utf8_lossy(&run.stdout).into_owned()
            + &String::from_utf8_lossy(&run.stderr);
        assert!(run.status.success() && said == "good\n", "{said}");
    }
    assert_eq!(shop.says("verify").code, 0);
}

#[test]
fn both_find_what_was_altered_at_the_same_file() {
    if !super::at_hand("python3") {
        return;
    }
    let shop = shop();
    let of = |at: &str| folder(&shop.file(at)).into_iter().next_back().unwrap();
    let year = |at: &str| folder(&of(at)).pop().unwrap();
    let record = shop.records()[1].clone();
    let cases: [(PathBuf, &str, &str); 6] = [
        (record, "scheduled", "schedulef"),
        (shop.records()[0].clone(), "\"reviewer\"", "\"reviewes\""),
        (
            shop.file("records/ledger-B1.jsonl"),
            "\"number\":2",
            "\"number\":3",
        ),
        (
            shop.file("approvals-B1.jsonl"),
            "\"by\":\"review-01\"",
            "\"by\":\"review-02\"",
        ),
        (of("approved"), "accept", "accepu"),
        (year("amendments"), "Technician", "Technicians"),
    ];
    for (path, from, to) in cases {
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains(from), "{} has no {from}", path.display());
        std::fs::write(&path, text.replacen(from, to, 1)).unwrap();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let stem = path.file_stem().unwrap().to_string_lossy().into_owned();
        let run = python(shop.path());
        let said = String::from_utf8_lossy(&run.stdout);
        assert!(
            run.status.code() == Some(1) && said.contains(&name),
            "{name}: {said}"
        );
        let own = shop.says("verify");
        assert!(
            own.code == 1 && own.text.contains(&stem),
            "{name}: {}",
            own.text
        );
        std::fs::write(&path, text).unwrap();
    }
    // A line that was taken out, and a record that was.
    let ledger = shop.read("records/ledger-B1.jsonl");
    let rest: Vec<&str> = ledger.lines().skip(1).collect();
    shop.write("records/ledger-B1.jsonl", &(rest.join("\n") + "\n"));
    assert_eq!(python(shop.path()).status.code(), Some(1));
    assert_eq!(shop.says("verify").code, 1);
    shop.write("records/ledger-B1.jsonl", &ledger);
    std::fs::remove_file(&shop.records()[1]).unwrap();
    assert_eq!(python(shop.path()).status.code(), Some(1));
    assert_eq!(shop.says("verify").code, 1);
}
