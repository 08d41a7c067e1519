//! What somebody does to records, ledgers and approvals behind the program's back is found, and named at the right file.
//!
//! Never in here: what is right. Changes when another file is proven.

use std::path::{Path, PathBuf};

use stepwell::app::verify_shop;
use stepwell::host::RealHost;
use stepwell::shop::Paths;

use super::made::{Shop, folder};

/// Every so many bytes one is flipped, unless STEPWELL_EVERY_BYTE is set.
const STEP: usize = 41;
/// The lowest bit, and what turns a blank into a line feed and back.
const MASKS: [u8; 2] = [0x01, 0x2A];

/// A small shop with signed and countersigned records: two recipes are approved, not all that the demo brings.
fn shop() -> Shop {
    let shop = Shop::new();
    std::fs::remove_file(shop.file("approvals-B1.jsonl")).expect("the demo's approvals");
    std::fs::remove_dir_all(shop.file("approved")).expect("their texts");
    for person in ["tech-04", "review-01"] {
        shop.key(person);
    }
    let all = [
        "approve short --by review-01",
        "approve cuff-cu7 --by review-01",
        "run short --device VP-1001 --by tech-04 --answers answers.yaml",
        "run short --device VP-1002 --by tech-04 --answers answers.yaml",
        "run short --device VP-1003 --by tech-04 --answers answers.yaml",
    ];
    for words in all {
        let said = shop.says(&format!("{words} --passphrase-file passphrase"));
        assert_eq!(said.code, 0, "{}", said.text);
    }
    let first = shop.records()[0]
        .file_stem()
        .expect("a name")
        .to_string_lossy()
        .into_owned();
    let said = shop.says(&format!(
        "countersign {first} --by review-01 --passphrase-file passphrase"
    ));
    assert_eq!(said.code, 0, "{}", said.text);
    let said = shop.says(&format!(
        "amend {first} --by tech-04 --why wrong_serial_number --passphrase-file passphrase"
    ));
    assert_eq!(said.code, 0, "{}", said.text);
    shop
}

/// The files that `verify` finds wrong.
fn bad(shop: &Path) -> Vec<PathBuf> {
    let mut bad = Vec::new();
    let mut tell = |verified: stepwell::app::Verified| {
        if verified.is_bad() {
            bad.push(verified.path);
        }
    };
    let files = verify_shop(&RealHost::default(), &Paths::at(shop), &mut tell).expect("a shop");
    bad.extend(
        files
            .into_iter()
            .filter(|f| !f.faults.is_empty())
            .map(|f| f.path),
    );
    bad
}

fn proven(shop: &Shop) -> Vec<PathBuf> {
    let mut all = shop.records();
    all.extend(
        folder(&shop.file("records"))
            .into_iter()
            .filter(|f| f.extension().is_some_and(|e| e == "jsonl")),
    );
    for year in folder(&shop.file("amendments")) {
        all.extend(folder(&year));
    }
    all.extend(folder(&shop.file("approved")));
    all.extend(folder(shop.path()).into_iter().filter(|f| {
        f.file_name()
            .is_some_and(|n| n.to_string_lossy().starts_with("approvals-"))
    }));
    all
}

#[test]
fn every_flipped_byte_is_found_and_named_at_its_file() {
    let shop = shop();
    assert_eq!(bad(shop.path()), Vec::<PathBuf>::new());
    let every = std::env::var_os("STEPWELL_EVERY_BYTE").is_some();
    let (mut flips, mut unfound) = (0, Vec::new());
    for path in proven(&shop) {
        let whole = std::fs::read(&path).expect("a file");
        let ledger = path.extension().is_some_and(|e| e == "jsonl");
        let short = ledger || path.starts_with(shop.file("amendments"));
        let step = if every {
            1
        } else if short {
            STEP / 8
        } else {
            STEP * 4
        };
        for at in (0..whole.len()).step_by(step).chain([whole.len() - 1]) {
            let mut flipped = whole.clone();
            flipped[at] ^= MASKS[at % 2];
            std::fs::write(&path, &flipped).expect("room");
            flips += 1;
            if !bad(shop.path()).contains(&path) {
                unfound.push((path.clone(), at));
            }
        }
        std::fs::write(&path, &whole).expect("room");
    }
    println!("{flips} flips");
    assert!(unfound.is_empty(), "{unfound:?}");
    assert_eq!(bad(shop.path()), Vec::<PathBuf>::new());
}

#[test]
fn a_removed_record_is_named_by_its_ledger() {
    let shop = shop();
    let record = shop.records()[1].clone();
    std::fs::remove_file(&record).expect("a record");
    let said = shop.says("verify");
    let name = record
        .file_stem()
        .expect("a name")
        .to_string_lossy()
        .into_owned();
    let told = said
        .text
        .contains(&format!("the record {name} was removed"));
    assert!(said.code == 1 && told, "{}", said.text);
    // Its number is not given to another one.
    assert_eq!(shop.says("run short --device VP-1002 --by tech-04 --answers answers.yaml --passphrase-file passphrase").code, 0);
    assert!(!shop.records().contains(&record));
}

#[test]
fn a_cut_ledger_names_the_records_that_it_has_lost() {
    let shop = shop();
    let ledger = proven(&shop)
        .into_iter()
        .find(|p| p.ends_with("ledger-B1.jsonl"))
        .expect("a ledger");
    let text = std::fs::read_to_string(&ledger).expect("text");
    let lines: Vec<&str> = text.lines().collect();
    std::fs::write(&ledger, lines[..2].join("\n") + "\n").expect("room");
    let said = shop.says("verify");
    assert!(
        said.code == 1 && said.text.contains("no ledger has it"),
        "{}",
        said.text
    );
    assert!(bad(shop.path()).contains(&shop.records()[2]));
    // In the middle of a line.
    std::fs::write(&ledger, &text[..text.len() - 20]).expect("room");
    assert!(bad(shop.path()).contains(&ledger));
}

#[test]
fn reordered_doubled_and_foreign_lines_are_named() {
    let shop = shop();
    let ledger = shop.file("records/ledger-B1.jsonl");
    let text = std::fs::read_to_string(&ledger).expect("text");
    let lines: Vec<&str> = text.lines().collect();
    let swapped = [lines[1], lines[0], lines[2], lines[3], lines[4]];
    let doubled = [lines[0], lines[1], lines[1], lines[2], lines[3], lines[4]];
    let left_out = [lines[0], lines[2], lines[3], lines[4]];
    for changed in [&swapped[..], &doubled[..], &left_out[..]] {
        std::fs::write(&ledger, changed.join("\n") + "\n").expect("room");
        let said = shop.says("verify");
        assert!(
            said.code == 1 && said.text.contains("ledger-B1.jsonl: line "),
            "{}",
            said.text
        );
    }
    // The ledger of a bench under the name of another one.
    std::fs::write(&ledger, &text).expect("room");
    std::fs::copy(&ledger, shop.file("records/ledger-B7.jsonl")).expect("room");
    let said = shop.says("verify");
    assert!(
        said.code == 1 && said.text.contains("belongs to the ledger of bench B1"),
        "{}",
        said.text
    );
}

#[test]
fn a_copied_record_is_named() {
    let shop = shop();
    let record = shop.records()[0].clone();
    let other = record.with_file_name("B1-2026-0009.json");
    std::fs::copy(&record, &other).expect("room");
    assert!(bad(shop.path()).contains(&other));
}

#[test]
fn a_record_of_a_newer_format_is_said_to_be_one() {
    let shop = shop();
    let record = shop.records()[0].clone();
    let text = std::fs::read_to_string(&record).expect("text");
    std::fs::write(&record, text.replacen("\"format\": 1", "\"format\": 2", 1)).expect("room");
    let said = shop.says("verify");
    assert!(
        said.code == 1 && said.text.contains("by a newer program"),
        "{}",
        said.text
    );
}
