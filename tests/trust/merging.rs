//! Two benches apart and together again; two processes at once; a clock that was set back.
//!
//! Never in here: what was altered on purpose. Changes when a bench keeps another file.

use std::path::Path;
use std::process::Stdio;

use super::made::{Shop, folder, said};

/// Copies what the target does not have, and what is the source's own; as a person would with a stick.
fn copy_over(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("room");
    for file in folder(from) {
        let target = to.join(file.file_name().expect("a name"));
        if file.is_dir() {
            copy_over(&file, &target);
        } else if !target.exists() {
            std::fs::copy(&file, &target).expect("room");
        }
    }
}

fn some_sessions(shop: &Shop) {
    for device in ["VP-1001", "VP-1002", "VP-1003"] {
        let done = shop.run(device, "tech-04");
        assert_eq!(done.code, 0, "{}", done.text);
    }
}

#[test]
fn two_benches_that_worked_apart_merge_by_copying() {
    let one = Shop::approved();
    let other = Shop::new();
    other.edit("shop.yaml", "bench: B1", "bench: B2");
    // A copy of the same shop: both know what was approved before they parted.
    other.write("approvals-B1.jsonl", &one.read("approvals-B1.jsonl"));
    copy_over(&one.file("approved"), &other.file("approved"));
    some_sessions(&one);
    some_sessions(&other);
    copy_over(other.path(), one.path());
    let verified = one.says("verify");
    assert_eq!(verified.code, 0, "{}", verified.text);
    assert_eq!(one.records().len(), 6);
    // Work goes on at both.
    some_sessions(&one);
    assert_eq!(one.says("verify").code, 0);
}

#[test]
fn a_bench_is_named_by_its_computer_where_it_says_so() {
    let shop = Shop::approved();
    shop.write(".bench", "B2\n");
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    assert!(shop.file("records/ledger-B2.jsonl").exists());
    let words = "run short --device VP-1002 --by tech-04 --answers answers.yaml";
    let third = shop.command(words).env("STEPWELL_BENCH", "B3").output();
    assert_eq!(said(&third.expect("the program")).code, 0);
    let names: Vec<String> = shop
        .records()
        .iter()
        .map(|r| r.display().to_string())
        .collect();
    assert!(
        names[0].contains("B2-") && names[1].contains("B3-"),
        "{names:?}"
    );
    assert_eq!(shop.says("verify").code, 0);
    shop.write(".bench", "../B2");
    let refused = shop.run("VP-1001", "tech-04");
    assert!(
        refused.code == 2 && refused.text.contains("no id of a bench"),
        "{}",
        refused.text
    );
}

#[test]
fn of_several_that_begin_at_once_on_a_device_one_does() {
    let shop = Shop::approved();
    shop.write("none.yaml", "confirm: all\n");
    let begin = |_| {
        let mut command =
            shop.command("run short --device VP-1001 --by tech-04 --answers none.yaml");
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        command.spawn().expect("the program")
    };
    let running: Vec<_> = (0..4).map(begin).collect();
    let ended = running.into_iter().map(|child| {
        let said = said(&child.wait_with_output().expect("an end"));
        let told = said.code == 3 || said.text.contains("has a session under way");
        assert!(told, "{}", said.text);
        said.code
    });
    let mut codes: Vec<i32> = ended.collect();
    codes.sort_unstable();
    // One is paused at the step that has no answer, the others did not begin.
    assert_eq!(codes, [2, 2, 2, 3]);
    shop.session();
}

#[test]
fn many_processes_at_once_share_a_ledger() {
    let shop = Shop::approved();
    let devices = ["VP-1001", "VP-1002", "VP-1003"];
    let run = |device: &str| {
        let words = format!("run short --device {device} --by tech-04 --answers answers.yaml");
        let mut command = shop.command(&words);
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        command.spawn().expect("the program")
    };
    let running: Vec<_> = devices.iter().cycle().take(9).map(|d| run(d)).collect();
    let mut done = 0;
    for child in running {
        let said = said(&child.wait_with_output().expect("an end"));
        // Two at once on one device: the second is told so.
        assert!(
            said.code == 0 || said.text.contains("under way"),
            "{}",
            said.text
        );
        done += usize::from(said.code == 0);
    }
    assert_eq!(shop.records().len(), done);
    let verified = shop.says("verify");
    assert_eq!(verified.code, 0, "{}", verified.text);
    let ids: std::collections::HashSet<_> = shop.records().into_iter().collect();
    assert_eq!(ids.len(), done);
}

#[test]
fn a_clock_that_was_set_back_begins_nothing() {
    let shop = Shop::approved();
    some_sessions(&shop);
    let ledger = shop.read("records/ledger-B1.jsonl");
    let last = ledger.lines().last().expect("a line");
    let at = last.split("\"at\":\"").nth(1).expect("a time");
    // The same line as if it had been written in a year to come: the clock of this test can't be set.
    let later = at.replacen("20", "21", 1);
    let made = later_line(last, at, &later);
    shop.write("records/ledger-B1.jsonl", &ledger.replace(last, &made));
    let said = shop.run("VP-1001", "tech-04");
    assert!(
        said.code == 2 && said.text.contains("set the clock right"),
        "{}",
        said.text
    );
    assert!(shop.says("resume").text.contains("no session is open"));
}

/// A ledger's line with another time, and its own digest made anew.
fn later_line(line: &str, from: &str, to: &str) -> String {
    let mut json: serde_json::Value = serde_json::from_str(&line.replace(from, to)).expect("JSON");
    json.as_object_mut().expect("an object").remove("entry");
    let digest = stepwell::trust::digest_json(&json).expect("a digest");
    json["entry"] = digest.into();
    String::from_utf8(stepwell::trust::canonical(&json).expect("a form")).expect("text")
}
