//! `ssh-keygen` accepts our signatures, with the lines that a rendering shows; `jq` and `sha256sum` find the same digest.
//!
//! Never in here: our own checks (see `trust`). Changes when what is signed does.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use crate::made::{SHORT, Shop};

/// Whether what these tests run is there.
fn all_at_hand() -> bool {
    let tools = ["jq", "sha256sum"].iter().all(|t| super::at_hand(t));
    tools && super::at_hand_by("ssh", "-V")
}

/// A line of shell in the shop's folder.
fn shell(shop: &Shop, line: &str) -> Output {
    let mut bash = Command::new("bash");
    bash.args(["-o", "pipefail", "-c", line])
        .current_dir(shop.path());
    bash.output().unwrap()
}

fn text(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).trim().to_owned()
}

fn does(shop: &Shop, line: &str) -> String {
    let output = shell(shop, line);
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{line}: {error}");
    text(&output)
}

/// What `ssh-keygen` says to SIGNED and SIGNED.sig.
fn accepts(shop: &Shop, person: &str, namespace: &str) -> bool {
    let line = format!(
        "ssh-keygen -Y verify -f ALLOWED -I {person} -n {namespace} -s SIGNED.sig < SIGNED"
    );
    shell(shop, &line).status.success()
}

/// Accepted as it is, and not with one byte changed or by somebody else.
fn proven(shop: &Shop, person: &str, namespace: &str) {
    assert!(accepts(shop, person, namespace), "{person} {namespace}");
    assert!(!accepts(shop, "tech-07", namespace));
    assert!(!accepts(shop, person, "file"));
    let mut signed = std::fs::read(shop.file("SIGNED")).unwrap();
    let middle = signed.len() / 2;
    signed[middle] ^= 1;
    std::fs::write(shop.file("SIGNED"), signed).unwrap();
    assert!(!accepts(shop, person, namespace), "{person} {namespace}");
}

/// A shop whose recipe is not written in ASCII alone, with a countersigned and amended record; gives the record's file.
fn shop() -> (Shop, PathBuf) {
    let shop = Shop::new();
    let title = "title: \"Prüfung µL – 测试 😀 \\\"x\\\" \\\\ </b>\"";
    shop.write(
        "recipes/short.yaml",
        &SHORT.replace("title: Short check", title),
    );
    for person in ["tech-04", "review-01"] {
        shop.key(person);
    }
    let run = |words: &str| {
        let said = shop.says(&format!("{words} --passphrase-file passphrase"));
        assert_eq!(said.code, 0, "{}", said.text);
    };
    run("approve short --by review-01");
    run("run short --device VP-1001 --by tech-04 --answers answers.yaml");
    let record = shop.records()[0].clone();
    let id = record.file_stem().unwrap().to_string_lossy().into_owned();
    run(&format!("countersign {id} --by review-01"));
    run(&format!(
        "amend {id} --by tech-04 --why wrong_serial_number"
    ));
    assert_eq!(shop.says("people export --output ALLOWED").code, 0);
    (shop, record)
}

fn relative(shop: &Shop, path: &Path) -> String {
    path.strip_prefix(shop.path())
        .unwrap()
        .display()
        .to_string()
}

#[test]
fn signatures_on_records_and_amendments_are_accepted() {
    if !all_at_hand() {
        return;
    }
    let (shop, record) = shop();
    let amendment = does(&shop, "ls amendments/*/*.json");
    let record = relative(&shop, &record);
    for (file, n, person) in [
        (&record, 0, "tech-04"),
        (&record, 1, "review-01"),
        (&amendment, 0, "tech-04"),
    ] {
        does(
            &shop,
            &format!("jq -cSj '.seal.signatures[{n}] | del(.signature)' {file} > SIGNED"),
        );
        does(
            &shop,
            &format!("jq -j '.seal.signatures[{n}].signature' {file} > SIGNED.sig"),
        );
        let own = "ssh-keygen -Y check-novalidate -n stepwell-record -s SIGNED.sig < SIGNED";
        let good = does(&shop, own);
        let key = does(
            &shop,
            &format!("grep '^{person} ' ALLOWED | cut -d' ' -f3- | ssh-keygen -l -f -"),
        );
        let key = key.split(' ').nth(1).expect("a fingerprint");
        assert!(good.contains(key), "{good}: {key}");
        if file == &record {
            let id = record
                .rsplit('/')
                .next()
                .expect("a name")
                .trim_end_matches(".json");
            let shown = shop
                .says(&format!("render {id}"))
                .text
                .replace("\n    ", " ");
            assert!(shown.contains(key) && shown.contains(own), "{shown}");
        }
        proven(&shop, person, "stepwell-record");
        assert!(!shell(&shop, own).status.success(), "{person}");
    }
}

#[test]
fn signatures_on_approvals_are_accepted() {
    if !all_at_hand() {
        return;
    }
    let (shop, _) = shop();
    let own = "select(.act.recipe == \"short\").act.signature";
    does(
        &shop,
        &format!("jq -cSj '{own} | del(.signature)' approvals-B1.jsonl > SIGNED"),
    );
    does(
        &shop,
        &format!("jq -j '{own}.signature' approvals-B1.jsonl > SIGNED.sig"),
    );
    proven(&shop, "review-01", "stepwell-approval");
}

#[test]
fn a_key_that_somebody_has_signs_too() {
    if !all_at_hand() {
        return;
    }
    let shop = Shop::approved();
    does(
        &shop,
        "ssh-keygen -q -t ed25519 -N \"$(cat passphrase)\" -C own -f id-own",
    );
    assert_eq!(shop.says("people key tech-04 --public id-own.pub").code, 0);
    let said = shop.says("run short --device VP-1001 --by tech-04 --answers answers.yaml --key id-own --passphrase-file passphrase");
    assert_eq!(said.code, 0, "{}", said.text);
    assert_eq!(shop.says("verify").code, 0);
    assert_eq!(shop.says("people export --output ALLOWED").code, 0);
    let record = relative(&shop, &shop.records()[0]);
    does(
        &shop,
        &format!("jq -cSj '.seal.signatures[0] | del(.signature)' {record} > SIGNED"),
    );
    does(
        &shop,
        &format!("jq -j '.seal.signatures[0].signature' {record} > SIGNED.sig"),
    );
    proven(&shop, "tech-04", "stepwell-record");
    // The other way round: a key of ours is read by `ssh-keygen`.
    shop.key("tech-07");
    let key = shop.keys().join("tech-07");
    let mut read = Command::new("ssh-keygen");
    read.args(["-y", "-P", "wet gloves", "-f"])
        .arg(&key)
        .stdin(Stdio::null());
    let read = text(&read.output().unwrap());
    assert!(read.starts_with("ssh-ed25519 ") && shop.read("people.yaml").contains(&read[..60]));
}

#[test]
fn jq_finds_the_digest_of_records_in_any_language() {
    if !all_at_hand() {
        return;
    }
    let (shop, record) = shop();
    let amendment = does(&shop, "ls amendments/*/*.json");
    for file in [relative(&shop, &record), amendment] {
        let line = format!("jq -cS 'del(.seal)' {file} | tr -d '\\n' | sha256sum");
        let found = does(&shop, &line);
        let said = does(&shop, &format!("jq -r .seal.digest {file}"));
        assert_eq!(format!("sha256:{}", found.trim_end_matches("  -")), said);
    }
}
