//! What was done for instruments: the lines that are kept, and new certificates.
//!
//! Never in here: when it is due. Changes when something else is kept of an instrument.

use super::made::{data, put, said, shop, stepwell, text};

#[test]
fn a_line_is_kept_of_what_was_done() {
    let shop = shop();
    let words = [
        "instruments",
        "done",
        "FM-01",
        "cleaning",
        "--by",
        "tech-04",
        "--on",
        "2026-03-02",
        "--note",
        "two \"marks\"",
    ];
    said(shop.path(), 0, &words);
    let lines = text(shop.path(), "upkeep-B1.jsonl");
    let last = lines.lines().last().expect("a line");
    // Keys in the order of their code points, no blanks: RFC 8785.
    let (at, rest) = last.split_once(",\"by\"").expect("keys in order");
    assert!(at.starts_with("{\"at\":\""), "{at}");
    assert_eq!(
        rest,
        ":\"tech-04\",\"instrument\":\"FM-01\",\"note\":\"two \\\"marks\\\"\",\"on\":\"2026-03-02\",\"upkeep\":1,\"what\":\"cleaning\"}"
    );
    // Another bench's file, copied into the folder, counts as well.
    put(
        shop.path(),
        "upkeep-B2.jsonl",
        lines.replace("2026-03-02", "2026-04-01"),
    );
    let shown = data(shop.path(), 0, &["instruments", "show", "FM-01"]);
    let cleaning = shown["due_list"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|d| d["task"] == "cleaning");
    assert_eq!(cleaning.expect("a task")["last"], "2026-04-01");
}

/// The register's spelling is kept, whatever was typed; an instrument that is on a bench is said to be.
#[test]
fn upkeep_of_an_instrument_in_use_says_so() {
    let shop = shop();
    let words = "run volumetric-annual --device VP-1001 --by tech-04 --trial --answers none.yaml";
    put(shop.path(), "none.yaml", "answers: {}\n");
    let words: Vec<&str> = words.split(' ').collect();
    said(shop.path(), 3, &words);
    let done = "instruments done fm-01 cleaning --by tech-07";
    let output = stepwell(shop.path(), &done.split(' ').collect::<Vec<_>>());
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(told.contains(" FM-01: cleaning"), "{told}");
    let warned = String::from_utf8_lossy(&output.stderr);
    assert!(warned.contains("FM-01 is in use in a session"), "{warned}");
    assert!(text(shop.path(), "upkeep-B1.jsonl").contains("\"FM-01\""));
}

#[test]
fn what_can_not_have_been_done_is_refused() {
    let shop = shop();
    let people = text(shop.path(), "people.yaml").replace(
        "roles: [technician]}",
        "roles: [technician], left: 2026-01-31}",
    );
    put(shop.path(), "people.yaml", people);
    let before = text(shop.path(), "upkeep-B1.jsonl");
    for (what, by, on, part) in [
        ("cleanin", "tech-07", "2026-03-02", "`cleaning`"),
        ("cleaning", "tech-99", "2026-03-02", "tech-99"),
        ("cleaning", "tech-04", "2026-03-02", "left on 2026-01-31"),
        ("cleaning", "tech-07", "2199-03-02", "future"),
        (
            "cleaning",
            "tech-07",
            "2026-02-30",
            "`2026-02-30` is not a day",
        ),
    ] {
        let told = said(
            shop.path(),
            2,
            &["instruments", "done", "FM-01", what, "--by", by, "--on", on],
        );
        assert!(told.contains(part), "{told}");
    }
    assert_eq!(text(shop.path(), "upkeep-B1.jsonl"), before);
    // Nothing can be done in the name of somebody who left, whichever day it is dated.
    let done = ["instruments", "done", "FM-01", "cleaning", "--by"];
    let early = [&done[..], &["tech-04", "--on", "2026-01-30"]].concat();
    assert!(said(shop.path(), 2, &early).contains("left on 2026-01-31"));
    let certificate = "--certificate C-9 --on 2026-01-30 --due 2099-01-01";
    let calibrated = ["instruments", "calibrated", "FM-01", "--by", "tech-04"];
    let certificate: Vec<&str> = certificate.split(' ').collect();
    let late = [&calibrated[..], &certificate[..]].concat();
    assert!(said(shop.path(), 2, &late).contains("left on 2026-01-31"));
    assert_eq!(text(shop.path(), "upkeep-B1.jsonl"), before);
    said(shop.path(), 0, &[&done[..], &["tech-07"]].concat());
}

#[test]
fn the_policy_says_who_enters_upkeep() {
    let shop = shop();
    let policy = text(shop.path(), "shop.yaml") + "may: {run: [technician], upkeep: [reviewer]}\n";
    put(shop.path(), "shop.yaml", policy);
    let done = ["instruments", "done", "FM-01", "cleaning", "--by"];
    let told = said(shop.path(), 2, &[&done[..], &["tech-07"]].concat());
    assert!(told.contains("only reviewer may enter upkeep"), "{told}");
    said(shop.path(), 0, &[&done[..], &["review-01"]].concat());
}

#[test]
fn a_torn_line_is_a_finding_with_its_place_and_costs_no_other() {
    let shop = shop();
    let mut lines = text(shop.path(), "upkeep-B1.jsonl");
    lines.push_str("{\"upkeep\":1,\"instr");
    put(shop.path(), "upkeep-B1.jsonl", &lines);
    let told = said(shop.path(), 2, &["due"]);
    let row = lines.lines().count();
    assert!(told.contains(&format!("upkeep-B1.jsonl:{row}:1")), "{told}");
    said(
        shop.path(),
        0,
        &[
            "instruments",
            "done",
            "FM-01",
            "cleaning",
            "--by",
            "tech-04",
        ],
    );
    let after = text(shop.path(), "upkeep-B1.jsonl");
    assert_eq!(after.lines().count(), row + 1);
    assert!(after.starts_with(&lines));
}

#[test]
fn a_new_certificate_goes_into_the_register_and_the_old_one_into_the_history() {
    let shop = shop();
    let words = [
        "instruments",
        "calibrated",
        "PG-09",
        "--certificate",
        "C-2026: 9",
        "--on",
        "2026-03-02",
        "--due",
        "2027-03-02",
        "--by",
        "tech-04",
    ];
    said(shop.path(), 0, &words);
    let before = include_str!("../../demo-data/shop/instruments.yaml");
    let wanted = before
        .replace("certificate: DEMO-2024-0909", "certificate: \"C-2026: 9\"")
        .replace("calibrated: 2024-06-30", "calibrated: 2026-03-02")
        .replace("due: 2025-06-30", "due: 2027-03-02");
    assert_eq!(text(shop.path(), "instruments.yaml"), wanted);
    let history = data(shop.path(), 0, &["instruments", "show", "PG-09"])["history"].clone();
    assert_eq!(
        (
            &history[0]["former_certificate"],
            &history[0]["certificate"]
        ),
        (&"DEMO-2024-0909".into(), &"C-2026: 9".into())
    );
    // Said again it is the same calibration, not another one.
    said(shop.path(), 0, &words);
    assert_eq!(
        data(shop.path(), 0, &["instruments", "show", "PG-09"])["history"],
        history
    );
    let earlier = [
        "instruments",
        "calibrated",
        "PG-09",
        "--certificate",
        "C",
        "--on",
        "2026-03-01",
        "--due",
        "2027-03-02",
        "--by",
        "tech-04",
    ];
    assert!(said(shop.path(), 2, &earlier).contains("later calibration"));
    let backwards = [
        "instruments",
        "calibrated",
        "PG-09",
        "--certificate",
        "C",
        "--on",
        "2026-03-03",
        "--due",
        "2026-03-03",
        "--by",
        "tech-04",
    ];
    assert!(said(shop.path(), 2, &backwards).contains("not after"));
    assert_eq!(text(shop.path(), "instruments.yaml"), wanted);
}
