//! What somebody who knows the form of the ledgers could put into them, linked anew from end to end.
//!
//! Never in here: what a slip of the hand does (see `altered`). Changes when a line can be forged in a new way.

use std::io::Write;
use std::path::Path;
use std::process::Stdio;

use serde_json::{Value, json};
use stepwell::trust::{canonical, digest_bytes, digest_json};

use super::made::{Said, Shop, folder, said};

const APPROVE: &str = "approve short --by review-01 --passphrase-file passphrase";
const WITHDRAW: &str =
    "withdraw short@1 --by review-01 --why wrong_limit --passphrase-file passphrase";

/// A shop in which everybody has a key, with the short recipe approved and signed.
fn signed_shop() -> Shop {
    let shop = Shop::new();
    shop.edit(
        "people.yaml",
        "people:\n",
        "people:\n  - {id: review-02, name: Reviewer 02, roles: [reviewer]}\n",
    );
    for person in ["tech-04", "review-01", "review-02"] {
        shop.key(person);
    }
    good(&shop, APPROVE);
    shop
}

fn good(shop: &Shop, words: &str) {
    let said = shop.says(words);
    assert_eq!(said.code, 0, "{words}: {}", said.text);
}

/// Changes the lines of a ledger, then numbers and links them anew.
fn relink(shop: &Shop, name: &str, change: impl FnOnce(&mut Vec<Value>)) {
    let text = shop.read(name);
    let parsed = text.lines().map(serde_json::from_str);
    let mut lines: Vec<Value> = parsed.collect::<Result<_, _>>().expect("JSON");
    change(&mut lines);
    let mut previous = Value::Null;
    let mut out = String::new();
    for (line, number) in lines.iter_mut().zip(1..) {
        line["number"] = json!(number);
        line["previous"] = previous;
        line.as_object_mut().expect("an object").remove("entry");
        previous = json!(digest_json(line).expect("a digest"));
        line["entry"] = previous.clone();
        out += &String::from_utf8(canonical(line).expect("a form")).expect("text");
        out.push('\n');
    }
    shop.write(name, &out);
}

fn found(said: &Said, why: &str) {
    let found = said.code != 0 && said.text.contains(why);
    assert!(found, "{}", said.text);
}

#[test]
fn a_withdrawal_that_was_made_an_approval_is_found_and_runs_nothing() {
    let shop = signed_shop();
    good(&shop, WITHDRAW);
    relink(&shop, "approvals-B1.jsonl", |lines| {
        let act = lines.last_mut().expect("a line")["act"]
            .as_object_mut()
            .expect("an act");
        act.remove("why");
        act.insert("what".to_owned(), json!("approve"));
    });
    found(&shop.says("verify"), "is about something else");
    found(&shop.run("VP-1001", "tech-04"), "is about something else");
}

#[test]
fn an_approval_that_is_entered_once_more_is_found_and_runs_nothing() {
    let shop = signed_shop();
    good(&shop, WITHDRAW);
    relink(&shop, "approvals-B1.jsonl", |lines| {
        let approval = lines
            .iter()
            .find(|l| l["act"]["recipe"] == "short" && l["act"]["what"] == "approve");
        let mut again = approval.expect("an approval").clone();
        again["at"] = lines.last().expect("a line")["at"].clone();
        lines.push(again);
    });
    found(&shop.says("verify"), "is about something else");
    found(&shop.run("VP-1001", "tech-04"), "is about something else");
}

#[test]
fn where_signatures_are_required_what_lost_them_is_found() {
    let shop = signed_shop();
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let finished = shop.record()["finished"].clone();
    let today = finished.as_str().and_then(|f| f.get(..10)).expect("a day");
    let rule = format!("decision: simple\nsignatures: required since {today}");
    shop.edit("shop.yaml", "decision: simple", &rule);
    let path = shop.records()[0].clone();
    let mut record = shop.record();
    record["device"]["serial"] = json!("EW-999999");
    record["seal"] = json!({"digest": "", "signatures": []});
    let mut body = record.clone();
    body.as_object_mut().expect("an object").remove("seal");
    record["seal"]["digest"] = json!(digest_json(&body).expect("a digest"));
    let text = serde_json::to_string_pretty(&record).expect("JSON") + "\n";
    std::fs::write(&path, &text).expect("room");
    relink(&shop, "records/ledger-B1.jsonl", |lines| {
        lines[0]["act"]["digest"] = record["seal"]["digest"].clone();
        lines[0]["act"]["file"] = json!(digest_bytes(text.as_bytes()));
    });
    found(
        &shop.says("verify"),
        "not signed, and this shop requires it",
    );
    let shop = signed_shop();
    shop.edit("shop.yaml", "decision: simple", &rule);
    relink(&shop, "approvals-B1.jsonl", |lines| {
        let act = lines.last_mut().expect("a line")["act"].as_object_mut();
        act.expect("an act").remove("signature");
    });
    found(&shop.run("VP-1001", "tech-04"), "did not sign it");
}

#[test]
fn an_approvals_ledger_that_was_cut_after_a_record_is_found() {
    let shop = signed_shop();
    let whole = shop.read("approvals-B1.jsonl");
    good(&shop, WITHDRAW);
    let trial = "run short --trial --device VP-1001 --by tech-04 --answers answers.yaml --passphrase-file passphrase";
    good(&shop, trial);
    assert_eq!(shop.says("verify").code, 0);
    shop.write("approvals-B1.jsonl", &whole);
    let said = shop.says("verify");
    found(&said, "approvals-B1.jsonl: was cut");
    // What was withdrawn would be run again.
    let run = shop.run("VP-1001", "tech-04");
    found(&run, "was cut: a line is gone");
    good(&shop, trial);
    std::fs::remove_file(shop.file("approvals-B1.jsonl")).expect("a file");
    found(&shop.says("verify"), "approvals-B1.jsonl: was cut");
}

/// Copies a folder as it is.
#[test]
fn an_approval_by_the_author_runs_nothing() {
    let shop = signed_shop();
    shop.edit(
        "people.yaml",
        "id: author-02, name: Author 02, roles: [author]",
        "id: author-02, name: Author 02, roles: [author, reviewer]",
    );
    relink(&shop, "approvals-B1.jsonl", |lines| {
        let act = lines.last_mut().expect("a line")["act"].as_object_mut();
        let act = act.expect("an act");
        act.remove("signature");
        act.insert("by".to_owned(), json!("author-02"));
    });
    let why = "`author-02` wrote revision 1 of `short` and approved it";
    found(&shop.says("verify"), why);
    found(&shop.run("VP-1001", "tech-04"), why);
    found(&shop.says("run short@1 --device VP-1001 --by tech-04"), why);
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("room");
    for file in folder(from) {
        let target = to.join(file.file_name().expect("a name"));
        if file.is_dir() {
            copy(&file, &target);
        } else {
            std::fs::copy(&file, &target).expect("room");
        }
    }
}

#[test]
fn two_reviewers_at_two_benches_both_stay_in_the_record() {
    let shop = signed_shop();
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let other = Shop::new();
    copy(shop.path(), other.path());
    other.write(".bench", "B2\n");
    let id = shop.record()["record"].as_str().expect("an id").to_owned();
    let words = |by: &str| format!("countersign {id} --by {by} --passphrase-file passphrase");
    good(&shop, &words("review-01"));
    copy(shop.keys(), other.keys());
    good(&other, &words("review-02"));
    std::fs::copy(
        other.file("records/ledger-B2.jsonl"),
        shop.file("records/ledger-B2.jsonl"),
    )
    .expect("room");
    found(
        &shop.says("verify"),
        "countersignature of `review-02` is missing",
    );
    // It needs no passphrase: the ledger has the signature.
    good(&shop, &format!("countersign {id} --by review-02"));
    let verified = shop.says("verify --full");
    let both = verified
        .text
        .contains("review-01 (reviewer), review-02 (reviewer)");
    assert!(verified.code == 0 && both, "{}", verified.text);
    // Another person's signature in its place is not taken.
    let path = shop.records()[0].clone();
    let mut record = shop.record();
    record["seal"]["signatures"][2]["name"] = json!("Somebody");
    let text = serde_json::to_string_pretty(&record).expect("JSON") + "\n";
    std::fs::write(&path, text).expect("room");
    assert_eq!(shop.says("verify").code, 1);
}

/// A session that was begun, in a shop and in its copy at another bench, and the words that complete it.
fn begun_and_copied() -> (Shop, Shop, String) {
    let shop = signed_shop();
    shop.write("none.yaml", "answers: {}\n");
    let begun = "run short --device VP-1001 --by tech-04 --answers none.yaml";
    assert_eq!(shop.says(begun).code, 3);
    let other = Shop::new();
    copy(shop.path(), other.path());
    copy(shop.keys(), other.keys());
    other.write(".bench", "B2\n");
    let session = shop.says("resume").text;
    let session = session.split(' ').next().expect("a session").to_owned();
    let words = format!("resume {session} --answers answers.yaml --passphrase-file passphrase");
    (shop, other, words)
}

#[test]
fn a_session_that_two_benches_completed_is_named() {
    let (shop, other, words) = begun_and_copied();
    good(&shop, &words);
    good(&other, &words);
    assert!(
        other.file("records/ledger-B2.jsonl").exists(),
        "a bench writes its own ledger"
    );
    assert!(!other.file("records/ledger-B1.jsonl").exists());
    copy(&other.file("records"), &shop.file("records"));
    found(&shop.says("verify"), "was made from the session");
}

#[test]
fn a_reviewer_who_is_none_is_not_taken_for_one() {
    let shop = signed_shop();
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let id = shop.record()["record"].as_str().expect("an id").to_owned();
    good(
        &shop,
        &format!("countersign {id} --by review-02 --passphrase-file passphrase"),
    );
    assert_eq!(shop.says("verify").code, 0);
    shop.edit("people.yaml", "roles: [reviewer]", "roles: [technician]");
    let said = shop.says("verify");
    assert!(
        said.text.contains("`review-02` may not countersign"),
        "{}",
        said.text
    );
}

#[test]
fn an_attachment_that_is_gone_is_missed() {
    let shop = signed_shop();
    shop.write("seen.txt", "the cord is torn\n");
    let words = "run short --device VP-1001 --by tech-04 --passphrase-file passphrase";
    let mut command = shop.command(words);
    command.stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut running = command.spawn().expect("the program");
    let mut typed = running.stdin.take().expect("its input");
    typed
        .write_all(b"yes\n:file seen.txt\n0\n\n")
        .expect("a pipe");
    drop(typed);
    let done = said(&running.wait_with_output().expect("an end"));
    assert_eq!(done.code, 0, "{}", done.text);
    assert_eq!(shop.says("verify").code, 0);
    let kept = folder(&shop.file("attachments"));
    assert_eq!(kept.len(), 1);
    std::fs::remove_file(&kept[0]).expect("a file");
    found(&shop.says("verify"), "not at hand");
}

/// Makes signatures required from today on.
fn require_signatures(shop: &Shop) {
    shop.edit(
        "shop.yaml",
        "decision: simple",
        "decision: simple\nsignatures: required",
    );
}

#[test]
fn an_approval_by_somebody_unknown_runs_nothing_where_signatures_are_required() {
    let shop = signed_shop();
    require_signatures(&shop);
    relink(&shop, "approvals-B1.jsonl", |lines| {
        let last = lines.last_mut().expect("a line");
        last["act"]["by"] = json!("nobody-77");
        last["act"]["signature"]["by"] = json!("nobody-77");
        let act = last["act"].clone();
        let mut bare = act;
        bare.as_object_mut().expect("an act").remove("signature");
        let placed = json!({"act": bare, "bench": "B1", "previous": last["previous"]});
        last["act"]["signature"]["digest"] = json!(digest_json(&placed).expect("a digest"));
    });
    found(&shop.says("verify"), "`nobody-77` is not in people.yaml");
    found(
        &shop.run("VP-1001", "tech-04"),
        "`nobody-77` is not in people.yaml",
    );
}

#[test]
fn a_line_from_before_the_one_above_it_is_found() {
    let shop = signed_shop();
    relink(&shop, "approvals-B1.jsonl", |lines| {
        let mut last = lines.last().expect("a line").clone();
        last["at"] = json!("2026-01-02T08:00:00+00:00");
        last["act"]
            .as_object_mut()
            .expect("an act")
            .remove("signature");
        lines.push(last);
    });
    found(&shop.says("verify"), "before the line above it");
    found(&shop.run("VP-1001", "tech-04"), "before the line above it");
}

#[test]
fn a_record_that_was_removed_with_its_line_is_missed() {
    let shop = signed_shop();
    for device in ["VP-1001", "VP-1002", "VP-1003"] {
        assert_eq!(shop.run(device, "tech-04").code, 0);
    }
    let second = shop.records()[1].clone();
    let id = second
        .file_stem()
        .expect("a name")
        .to_string_lossy()
        .into_owned();
    std::fs::remove_file(second).expect("a file");
    relink(&shop, "records/ledger-B1.jsonl", |lines| {
        lines.remove(1);
    });
    found(&shop.says("verify"), &format!("no line is about {id}"));
    found(&shop.says("verify"), " 0 bad; 1 ledger bad");
}

#[test]
fn a_record_that_lost_the_signature_of_its_technician_is_no_signed_one() {
    let shop = signed_shop();
    assert_eq!(shop.run("VP-1001", "tech-04").code, 0);
    let id = shop.record()["record"].as_str().expect("an id").to_owned();
    good(
        &shop,
        &format!("countersign {id} --by review-01 --passphrase-file passphrase"),
    );
    let path = shop.records()[0].clone();
    let mut record = shop.record();
    record["seal"]["signatures"]
        .as_array_mut()
        .expect("a list")
        .remove(0);
    let text = serde_json::to_string_pretty(&record).expect("JSON") + "\n";
    std::fs::write(&path, &text).expect("room");
    relink(&shop, "records/ledger-B1.jsonl", |lines| {
        lines[0]["act"]["file"] = json!(digest_bytes(text.as_bytes()));
    });
    let told = shop.says("verify").text;
    assert!(
        told.contains("`tech-04` did not sign; signed by review-01 (reviewer)"),
        "{told}"
    );
    require_signatures(&shop);
    found(&shop.says("verify"), "`tech-04` did not sign");
}

#[test]
fn two_texts_of_one_revision_are_named_and_run_nothing() {
    let shop = signed_shop();
    let other = Shop::new();
    copy(shop.path(), other.path());
    copy(shop.keys(), other.keys());
    other.write(".bench", "B2\n");
    for (of, limit) in [(&shop, "drops <= 3"), (&other, "drops <= 4")] {
        of.edit("recipes/short.yaml", "drops <= 2", limit);
        of.edit("recipes/short.yaml", "revision: 1\n", "revision: 2\n");
        of.edit(
            "recipes/short.yaml",
            "changes: [",
            "changes: [{revision: 2, date: 2026-02-15, why: Another limit, by: author-02}, ",
        );
        good(of, APPROVE);
    }
    copy(&other.file("approved"), &shop.file("approved"));
    std::fs::copy(
        other.file("approvals-B2.jsonl"),
        shop.file("approvals-B2.jsonl"),
    )
    .expect("room");
    found(&shop.says("verify"), "with another text too");
    found(
        &shop.run("VP-1001", "tech-04"),
        "two benches approved different texts",
    );
}

#[test]
fn one_key_is_of_one_person() {
    let shop = signed_shop();
    let people = shop.read("people.yaml");
    let key = |id: &str| {
        let of = people.split(&format!("id: {id}")).nth(1).expect("a person");
        let of = of.split("ssh-ed25519 ").nth(1).expect("a key");
        of.split([' ', '\n', '"', ',', '}'])
            .next()
            .expect("a key")
            .to_owned()
    };
    shop.write(
        "people.yaml",
        &people.replace(&key("tech-04"), &key("review-01")),
    );
    found(&shop.says("check"), "has the same key as");
}

#[test]
fn what_was_sealed_at_another_bench_is_not_gone_on_with() {
    let (shop, other, words) = begun_and_copied();
    good(&other, &words);
    copy(&other.file("records"), &shop.file("records"));
    let said = shop.says(&words);
    assert!(
        said.code == 2
            && said
                .text
                .contains("was sealed at another bench as record B2-"),
        "{}",
        said.text
    );
    assert!(shop.says("resume").text.contains("no session is open"));
    assert_eq!(shop.says("verify").code, 0);
}
