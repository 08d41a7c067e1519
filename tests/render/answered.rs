//! The first page: what may be made of the verdict, what is missing, whether it can be trusted.

use stepwell::record::Record;
use stepwell::render::pdf::Paper;
use stepwell::render::{Beside, Format, House, render, render_pdf};

use crate::made;
use crate::reading::{said, says};

fn html(record: &Record, beside: &Beside) -> String {
    render(record, beside, Format::Html).unwrap()
}

#[test]
fn no_trial_and_no_doubtful_record_shows_a_pass() {
    let mut trial = made::pass();
    trial.trial = true;
    let doubts = vec!["seal: the content has another digest".to_owned()];
    let doubtful = Beside {
        doubts,
        ..Beside::default()
    };
    for (record, beside, word, shape) in [
        (&trial, &Beside::default(), "trial: would pass", "plain"),
        (&made::pass(), &doubtful, "not valid", "void"),
    ] {
        let html = html(record, beside);
        let (_, from) = html
            .split_once(&format!("<div class=\"verdict {shape}\">"))
            .unwrap();
        let (verdict, _) = from.split_once("</div>").unwrap();
        assert!(verdict.contains(word), "{verdict}");
        assert!(!html.contains("<div class=\"verdict pass\">"));
        let foot = word.replace(':', "\\00003a ");
        assert!(
            html.contains(&format!("@bottom-left {{ content: \"{foot}\"")),
            "{foot}"
        );
    }
    for place in ["@top-center", "@bottom-center"] {
        let rule = format!("{place} {{ content: \"NOT VALID");
        assert!(html(&made::pass(), &doubtful).contains(&rule));
    }
    assert!(
        html(&made::fail(), &Beside::default())
            .contains("@bottom-left { content: \"result\\00003a  fail\"")
    );
}

#[test]
fn what_was_checked_is_told_and_nothing_else() {
    let mut record = made::pass();
    record.seal.signatures = vec![made::signature("technician"), made::signature("reviewer")];
    let good = vec![
        "seal",
        "values and verdicts",
        "instruments",
        "ledger",
        "signatures",
    ];
    let beside = Beside {
        good,
        ..Beside::default()
    };
    let text = render(&record, &beside, Format::Text).unwrap();
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "Signatures: both valid, by the shop's register of keys",
        "Checked: when these pages were made: unchanged since it was sealed; recomputed from its entries: agrees; instruments in calibration that day; entered in the shop's ledger",
        "Digest: sha256:2222",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    assert!(!said(&record, Format::Text).contains("Checked:"));
}

#[test]
fn what_failed_comes_before_the_device_and_what_was_skipped_says_so() {
    let page = said(&made::fail(), Format::Html);
    let places =
        ["What failed", "Device and test", "Serial number"].map(|w| page.find(w).expect(w));
    assert!(places.is_sorted());
    let mut record = made::pass();
    let step = &mut record.steps[0];
    (step.state, step.why) = ("skipped".to_owned(), Some(String::new()));
    step.criteria[0].verdict = "not judged".to_owned();
    step.criteria[0].shown = "skipped: ".to_owned();
    step.criteria[0].limits.clear();
    let page = said(&record, Format::Text);
    assert!(
        page.contains("Value: skipped, optional Limit: pressure <= most"),
        "{page}"
    );
}

#[test]
fn a_text_that_differs_is_told_by_its_values() {
    let mut record = made::fail();
    let criterion = &mut record.steps[0].criteria[0];
    criterion.limits.clear();
    criterion.that = "serial == wanted".to_owned();
    criterion.shown = "serial == wanted [serial = EW-1; wanted = EW-2]".to_owned();
    says(
        &record,
        &["serial = EW-1; wanted = EW-2", "serial == wanted"],
    );
    assert!(
        said(&record, Format::Text)
            .contains("Value: serial = EW-1; wanted = EW-2 Limit: serial == wanted")
    );
}

#[test]
fn steps_that_were_not_begun_stand_in_a_list_and_their_groups_on_the_first_page() {
    let mut record = made::fail();
    let like = record.steps[2].clone();
    for n in 0..4 {
        let mut step = like.clone();
        step.path = format!("electrical.check_{n}");
        step.within = vec!["Electrical safety".to_owned()];
        step.criteria = record.steps[0].criteria.clone();
        step.criteria[0].verdict = "not judged".to_owned();
        record.steps.push(step);
    }
    says(
        &record,
        &[
            "4 criteria of steps that were not done",
            "5 to 8",
            "Not done: the session ended before these steps",
            "electrical.check_3",
        ],
    );
    assert!(!said(&record, Format::Text).contains("Reason: the session ended before this step"));
}

/// A recipe that asks for words at its end, and for a number that may be left out.
const WORDS_AT_THE_END: &str = "format: 1
recipe: words
revision: 1
title: Words
category: infusion
steps:
  - {id: seen, confirm: It was looked at}
  - {id: remark, enter: Remark for the ward, optional: true}
  - {id: lot, enter: Lot, optional: true, pattern: '[0-9]+'}
";

#[test]
fn words_of_the_technician_at_the_end_stand_on_the_first_page() {
    let mut record = made::pass();
    record.recipe.source = WORDS_AT_THE_END.to_owned();
    let entered = |path: &str, text: &str| {
        let text = serde_json::json!(text);
        made::step(path, "enter", "Remark for the ward", text.clone(), text)
    };
    let long = format!("The left wheel is loose. {}", "Mind the step. ".repeat(40));
    record.steps.push(entered("remark", &long));
    record.steps.push(entered("lot", "12"));
    let page = said(&record, Format::Text);
    let (first, _) = page.split_once("CAUTIONS").unwrap();
    let number = record.setup.len() + record.steps.len() - 1;
    assert!(
        first.contains("Remark: The left wheel is loose."),
        "{first}"
    );
    assert!(
        first.contains(&format!("(in full at step {number})")),
        "{first}"
    );
    // Left out, or of a recipe that can't be read, there are none.
    let remark = record.steps.len() - 2;
    record.steps[remark].state = "skipped".to_owned();
    assert!(!said(&record, Format::Text).contains("Remark: "));
}

#[test]
fn corrected_entries_are_counted_on_the_first_page_with_their_steps() {
    let record = made::retried();
    let page = said(&record, Format::Text);
    let (first, _) = page.split_once("CAUTIONS").unwrap();
    let entries: usize = record.steps.iter().map(|s| s.corrections.len()).sum();
    assert_eq!(entries, 1);
    assert!(
        first.contains("Corrected: 1 entry (2. Delivered volume)"),
        "{first}"
    );
}

#[test]
fn a_limit_that_is_judged_twice_is_counted_once() {
    let mut record = made::fail();
    let failed = record.steps[0].clone();
    assert_eq!(failed.path, "occlusion.pressure");
    let none = serde_json::Value::Null;
    let mut stopped = made::step(
        "occlusion.stopped",
        "confirm",
        "It stopped",
        none.clone(),
        none,
    );
    stopped.criteria = failed.criteria.clone();
    let answer = &mut stopped.criteria[0];
    answer.that = "the answer is yes".to_owned();
    answer.shown = "no".to_owned();
    answer.limits.clear();
    let mut judged = stopped.clone();
    judged.path = "occlusion.seen".to_owned();
    judged.verb = "judge".to_owned();
    judged.criteria[0].that = "stopped".to_owned();
    judged.criteria[0].shown = "stopped [stopped = no]".to_owned();
    judged.criteria.extend(failed.criteria);
    let before = said(&record, Format::Text)
        .matches("Verdict: FAIL, critical")
        .count();
    record.steps.extend([stopped, judged]);
    let page = said(&record, Format::Text);
    let (first, _) = page.split_once("DEVICE AND TEST").unwrap();
    let number = record.setup.len() + record.steps.len();
    assert_eq!(first.matches("Verdict: FAIL, critical").count(), before + 1);
    let again = format!("(judged again at step {number})");
    assert_eq!(first.matches(&again).count(), 2, "{first}");
    assert!(
        page.contains(&format!(", {} not met", before + 1)),
        "{page}"
    );
}

#[test]
fn what_a_table_says_is_not_said_again_among_the_remarks() {
    let mut record = made::pass();
    let step = &mut record.steps[0];
    (step.state, step.why) = ("skipped".to_owned(), Some("the gauge broke".to_owned()));
    step.criteria[0].verdict = "not judged".to_owned();
    step.criteria[0].limits.clear();
    record.verdict = "pass with remarks".to_owned();
    record.remarks = vec![format!("`{}`: skipped: the gauge broke", step.path)];
    let page = said(&record, Format::Text);
    let (first, _) = page
        .split_once("PREPARATION")
        .or(page.split_once("STEPS"))
        .unwrap();
    assert_eq!(first.matches("the gauge broke").count(), 1, "{first}");
}

#[test]
fn a_result_that_nobody_signed_says_so_beside_the_verdict() {
    let unsigned = "Nobody has signed this record.";
    says(&made::pass(), &[unsigned]);
    let mut record = made::pass();
    record.seal.signatures = vec![made::signature("technician")];
    assert!(!said(&record, Format::Text).contains(unsigned));
}

#[test]
fn notes_of_the_technician_stand_on_the_first_page() {
    let page = said(&made::retried(), Format::Text);
    let notes = page.find("NOTES OF THE TECHNICIAN").unwrap();
    assert!(page[notes..].starts_with(
        "NOTES OF THE TECHNICIAN - Step 2, Volume and flow · 25 mL/h, 5 mL · Delivered volume: Filter cleaned"
    ));
    assert!(page.contains("NOTES ON THE RUN") && !page.contains("REMARKS"));
}

#[test]
fn a_caution_is_said_once() {
    let mut record = made::pass();
    record.cautions = vec![
        "A passed record does not release the pump.".to_owned(),
        "The maker's manual governs.".to_owned(),
    ];
    let page = said(&record, Format::Text);
    assert!(!page.contains("Release is decided by") && !page.contains("licensed practice"));
}

#[test]
fn cautions_stand_before_what_may_be_long_and_what_failed_is_cut_aloud() {
    let mut record = made::fail();
    let failed = |c: &stepwell::record::Criterion| c.verdict == "fail";
    let step = record
        .steps
        .iter()
        .find(|s| s.criteria.iter().any(failed))
        .unwrap()
        .clone();
    record.remarks = vec!["the clock was set back".to_owned()];
    record.steps.extend(std::iter::repeat_n(step, 22));
    let count = record
        .steps
        .iter()
        .flat_map(|s| &s.criteria)
        .filter(|c| failed(c))
        .count();
    let page = said(&record, Format::Text);
    let cautions = page.find("CAUTIONS").unwrap();
    assert!(cautions < page.find("REMARKS").unwrap());
    let (first, _) = page.split_once("DEVICE AND TEST").unwrap();
    assert_eq!(first.matches("Verdict: FAIL").count(), 7);
    says(
        &record,
        &[&format!(
            "and {} more; each stands with its verdict at its step",
            count - 6
        )],
    );
}

#[test]
fn a_session_that_was_stopped_says_so_in_its_language() {
    let mut record = made::pass();
    record.ended = Some("stopped: The fluid ran out".to_owned());
    record.verdict = "incomplete".to_owned();
    record.remarks = vec!["timed by the computer, not with an instrument: `a`".to_owned()];
    says(
        &record,
        &["The session was cut short. Stopped: The fluid ran out."],
    );
    let words = stepwell::render::Words::of("de");
    let beside = Beside {
        house: House {
            words,
            ..House::default()
        },
        ..Beside::default()
    };
    let page = html(&record, &beside);
    assert!(page.contains("Abgebrochen: The fluid ran out."));
    assert!(page.contains("Vom Rechner gestoppt") && !page.contains("topped"));
}

#[test]
fn units_stand_as_people_write_them_and_entries_as_typed() {
    let mut record = made::pass();
    let step = &mut record.steps[0];
    step.entry = serde_json::json!("21.4 degC");
    step.prompt = "Leakage in uA, earth in ohm, delta_degC".to_owned();
    let page = said(&record, Format::Text);
    assert!(page.contains("Entered: 21.4 degC"), "{page}");
    assert!(page.contains("Leakage in µA, earth in Ω, K"), "{page}");
}

#[test]
fn long_names_are_shortened_in_the_head_and_long_headings_are_whole() {
    let mut record = made::pass();
    record.device.location = "W".repeat(10_000);
    record.steps[0].within = vec!["Q ".repeat(5_000)];
    let beside = Beside {
        house: House {
            name: "H".repeat(10_000),
            ..House::default()
        },
        ..Beside::default()
    };
    let page = html(&record, &beside);
    for letter in ["W", "H"] {
        let shown = format!("{}… (9840 more characters)", letter.repeat(160));
        assert!(
            page.contains(&shown) && !page.contains(&letter.repeat(161)),
            "{letter}"
        );
    }
    assert!(page.contains("Q Q Q") && page.matches("Q ").count() > 4_990);
    assert!(render_pdf(&record, &beside, Paper::A4).is_ok());
}
