//! Records that count no longer, or are not what was signed: said on every page, and in no coloured box.

use std::sync::Arc;

use stepwell::record::{Amendment, Criterion, Pointed, Seal};
use stepwell::render::{Addition, Beside, Format, render};

use crate::made;

fn corrected_by(record: &str) -> Beside {
    let pointed = |record: &str| Pointed {
        record: record.to_owned(),
        digest: "sha256:3333".to_owned(),
    };
    let amendment = Amendment {
        format: 1,
        amendment: "B1-2026-A0001".to_owned(),
        of: pointed("B1-2026-0042"),
        by: "tech-04".to_owned(),
        name: "n".repeat(10_000),
        at: "2026-03-10T08:00:00+01:00".to_owned(),
        why: "w".repeat(4_000),
        note: None,
        correction: Some(pointed(record)),
        void: false,
        bench: "B1".to_owned(),
        program: "0.1.0".to_owned(),
        seal: Seal::default(),
    };
    Beside {
        amendments: vec![Addition {
            id: "B1-2026-A0001".to_owned(),
            amendment: Some(amendment),
            doubts: Vec::new(),
            text: Arc::default(),
        }],
        ..Beside::default()
    }
}

#[test]
fn a_record_that_another_one_replaces_says_so_on_every_page() {
    let mut beside = corrected_by("B1-2026-0043");
    beside.holds = Some("B1-2026-0044".to_owned());
    let html = render(&made::pass(), &beside, Format::Html).unwrap();
    assert!(html.contains("<div class=\"verdict void\">"));
    assert!(!html.contains("<div class=\"verdict pass\">"));
    assert!(html.contains("@top-center { content: \"CORRECTED"));
    let text = render(&made::pass(), &beside, Format::Text).unwrap();
    let running = "CORRECTED: B1-2026-0044 holds instead";
    assert!(text.starts_with(running), "{text}");
    assert!(text.trim_end().ends_with(running), "{text}");
    assert!(text.contains("Verdict: CORRECTED"));
}

#[test]
fn long_texts_of_persons_are_whole_at_the_end() {
    let text = render(&made::pass(), &corrected_by("B1-2026-0043"), Format::Text).unwrap();
    let (first, rest) = text.split_once("\nPREPARATION").unwrap();
    assert!(first.contains("(in full under “Texts"), "{first}");
    assert!(first.len() < 8_000, "{} bytes", first.len());
    let whole = |c: char, n: usize| rest.matches(c).count() >= n;
    assert!(whole('w', 4_000) && whole('n', 10_000));
}

#[test]
fn signatures_of_another_content_are_not_called_valid() {
    let mut record = made::pass();
    record.seal.signatures = vec![made::signature("technician"), made::signature("reviewer")];
    let beside = Beside {
        doubts: vec!["seal: the content has another digest".to_owned()],
        good: vec!["signatures"],
        ..Beside::default()
    };
    let text = render(&record, &beside, Format::Text).unwrap();
    assert!(text.contains("Signatures: they sign another content than this one"));
    assert!(!text.contains("both valid"));
}

#[test]
fn a_name_by_the_register_stands_where_nobody_signed() {
    let mut beside = Beside::default();
    beside
        .names
        .insert("tech-04".into(), "Technician 04".into());
    let text = render(&made::pass(), &beside, Format::Text).unwrap();
    let named = "Tested by: Technician 04 (tech-04), name by the shop's register";
    assert!(text.contains(named), "{text}");
    let mut signed = made::pass();
    signed.seal.signatures = vec![made::signature("technician")];
    let text = render(&signed, &beside, Format::Text).unwrap();
    assert!(text.contains("Tested by: Technician 04 (tech-04)\n"));
}

#[test]
fn an_equality_with_the_register_reads_so() {
    let mut record = made::pass();
    let mut serial = made::step(
        "serial",
        "enter",
        "Serial number",
        "EW-9".into(),
        "EW-9".into(),
    );
    serial.criteria = vec![Criterion {
        that: "serial == device.serial".to_owned(),
        shown: "serial == device.serial [serial = EW-9; device.serial = EW-100231]".to_owned(),
        limits: Vec::new(),
        basis: None,
        severity: "critical".to_owned(),
        verdict: "fail".to_owned(),
        within_numerical_error: false,
    }];
    (record.steps, record.verdict) = (vec![serial], "fail".to_owned());
    let text = render(&record, &Beside::default(), Format::Text).unwrap();
    assert!(
        text.contains("Limit: as in the register: EW-100231"),
        "{text}"
    );
    assert!(text.contains("Value: EW-9"));
    assert!(!text.contains("device.serial"));
}

#[test]
fn what_does_not_apply_has_only_its_reason() {
    let mut record = made::pass();
    record.steps[2].criteria = record.steps[0].criteria.clone();
    record.steps[2].criteria[0].verdict = "not applicable".to_owned();
    let text = render(&record, &Beside::default(), Format::Text).unwrap();
    let (_, step) = text.split_once("cord_alone").unwrap();
    let (step, _) = step.split_once("INSTRUMENTS").unwrap();
    assert!(step.contains("Reason: only where"), "{step}");
    assert!(!step.contains("Criterion"), "{step}");
}
