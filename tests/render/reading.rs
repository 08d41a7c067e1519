//! What a reader finds.

use stepwell::record::Record;
use stepwell::render::{Beside, Format, render};

use crate::made;

const FORMATS: [Format; 3] = [Format::Text, Format::Markdown, Format::Html];

/// A rendering with its lines joined and mark-up taken off, so that sentences can be looked for.
pub fn said(record: &Record, format: Format) -> String {
    let mut text = render(record, &Beside::default(), format).unwrap();
    if format == Format::Html {
        let (_, body) = text.split_once("<body>").unwrap();
        let tags = regex::Regex::new("<[^>]*>").unwrap();
        text = tags.replace_all(body, "").into_owned();
        for (code, sign) in [
            ("&lt;", "<"),
            ("&gt;", ">"),
            ("&quot;", "\""),
            ("&#x27;", "'"),
            ("&#x2f;", "/"),
            ("&amp;", "&"),
        ] {
            text = text.replace(code, sign);
        }
    } else if format == Format::Markdown {
        text = text.replace(['\\', '`', '*'], "");
    }
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

pub fn says(record: &Record, sentences: &[&str]) {
    for format in FORMATS {
        let said = said(record, format);
        for sentence in sentences {
            assert!(
                said.contains(sentence),
                "{format:?} lacks `{sentence}`:\n{said}"
            );
        }
    }
}

#[test]
fn every_step_is_there_with_its_path_and_its_sentence() {
    for record in [made::pass(), made::fail(), made::retried()] {
        for format in FORMATS {
            let said = said(&record, format);
            for step in record.setup.iter().chain(&record.steps) {
                assert!(said.contains(&step.path), "{format:?} lacks {}", step.path);
                assert!(
                    said.contains(&step.prompt),
                    "{format:?} lacks {}",
                    step.prompt
                );
            }
        }
    }
}

#[test]
fn the_answer_names_device_person_time_recipe_and_cautions() {
    says(
        &made::pass(),
        &[
            "Test record B1-2026-0042, VP-1001",
            "Every criterion that was judged is met.",
            "VP-1001",
            "Example Works VP-1",
            "scheduled check",
            "tech-04",
            "2026-03-09 08:12:40, UTC+01:00",
            "volumetric-short, revision 3",
            "Never test a pump that is connected to a patient.",
            "A pass does not release the device.",
            "licensed practice govern",
            "not signed",
        ],
    );
}

#[test]
fn a_failure_is_told_with_value_limit_and_difference() {
    let record = made::fail();
    says(
        &record,
        &[
            "FAIL",
            "2. Occlusion alarm · Alarm pressure",
            "pressure = 17.2 psi",
            "at most 15 psi",
            "2.2 psi above",
            "Ended at step 2, Occlusion alarm · Alarm pressure (occlusion.pressure), which failed",
            "the session ended before this step",
        ],
    );
    assert!(said(&record, Format::Text).contains("Verdict: FAIL"));
    assert!(!said(&made::pass(), Format::Html).contains("What failed"));
}

#[test]
fn attempts_corrections_notes_and_files_stay_readable() {
    says(
        &made::retried(),
        &[
            "Attempt 1 of 2",
            "4.61; 4.60; 4.62",
            "mean ≈ 4.610 mL; limit 4.75 mL to 5.25 mL",
            "this one decides",
            "Correction of attempt 2, reading 2",
            "first entered “50.3” (08:42:00), corrected to “5.03” (08:45:00)",
            "why: Point forgotten",
            "Filter cleaned",
            "2026-03-10 07:00:00, UTC+01:00",
            "printout.txt",
            "sha256:3333",
            "mean(delivered) = 5.04 mL",
            "limit 4.75 mL to 5.25 mL",
            "basis: Service manual, chapter 6 (invented)",
            "Step 2, Volume and flow · 25 mL/h, 5 mL · Delivered volume (accuracy.1.delivered): 1 entry corrected",
        ],
    );
}

#[test]
fn numbers_are_short_and_marked_where_they_are_not_whole() {
    says(
        &made::pass(),
        &[
            "≈ 0.198413 %",
            "only where cord == \"detachable\" [cord = fixed]",
        ],
    );
    for format in FORMATS {
        assert!(!said(&made::pass(), format).contains("0.19841269"));
    }
}

#[test]
fn it_says_that_no_uncertainty_is_stated_and_how_to_verify() {
    says(
        &made::pass(),
        &[
            "states no measurement uncertainty for any value",
            "uncertainty not stated",
            "RFC 8785",
            "stepwell verify FILE",
            "sha256:2222",
            "sha256:1111",
            "DEMO-2025-0202",
            "2026-11-03",
            "0.5 % of the reading + 0.05 psi",
        ],
    );
}

#[test]
fn a_trial_says_so_before_the_verdict() {
    let mut record = made::pass();
    record.trial = true;
    for format in FORMATS {
        let said = said(&record, format);
        let line = "TRIAL: proves nothing about the device";
        assert!(said.starts_with(line) || said.starts_with("# Test record"));
        assert!(said.matches(line).count() == 2 && said.ends_with(line));
        let trial = said.find("This session was a trial").unwrap();
        assert!(trial < said.find("Every criterion").unwrap());
    }
}

#[test]
fn text_keeps_to_eighty_columns() {
    for record in [made::pass(), made::fail(), made::retried(), made::hostile()] {
        let mut record = record;
        record.occasion.push_str(&"x".repeat(300));
        for line in render(&record, &Beside::default(), Format::Text)
            .unwrap()
            .lines()
        {
            assert!(textwrap::core::display_width(line) <= 80, "{line}");
            assert!(!line.ends_with(' '), "{line:?}");
        }
    }
}

#[test]
fn html_has_its_language_its_heads_and_its_headings_in_order() {
    let heading = regex::Regex::new("<h([1-6])").unwrap();
    for record in [made::pass(), made::fail(), made::retried()] {
        let html = render(&record, &Beside::default(), Format::Html).unwrap();
        assert!(html.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
        assert!(html.contains("<th scope=\"col\"") && html.contains("<th scope=\"row\""));
        let levels: Vec<u8> = heading
            .captures_iter(&html)
            .map(|c| c[1].parse().unwrap())
            .collect();
        assert_eq!(levels[0], 1);
        assert!(levels.windows(2).all(|w| w[1] <= w[0] + 1), "{levels:?}");
    }
}

#[test]
fn the_same_record_renders_the_same() {
    for format in FORMATS {
        assert_eq!(
            render(&made::retried(), &Beside::default(), format).unwrap(),
            render(&made::retried(), &Beside::default(), format).unwrap()
        );
    }
}

#[test]
fn a_trial_says_so_at_the_head_and_the_foot_of_each_printed_page() {
    let html = |trial| {
        let mut record = made::pass();
        record.trial = trial;
        render(&record, &Beside::default(), Format::Html).unwrap()
    };
    for place in ["@top-center", "@bottom-center"] {
        let rule = format!("{place} {{ content: \"TRIAL");
        assert!(html(true).contains(&rule) && !html(false).contains(place));
    }
}

#[test]
fn who_signed_and_who_approved_stand_in_the_answer() {
    let mut record = made::pass();
    record.recipe.approval = Some(serde_json::json!({
        "act": {"what": "approve", "by": "review-01", "signature": {"name": "Reviewer 01"}},
        "at": "2026-02-01T10:00:00.000+01:00",
    }));
    record.seal.signatures = vec![made::signature("technician")];
    says(
        &record,
        &[
            "by review-01, 2026-02-01 10:00:00, UTC+01:00, signed as Reviewer 01",
            "Technician 04 (tech-04), 2026-03-09 09:40:05, UTC+01:00",
            "not checked by this rendering",
            "jq -cS 'del(.seal)' FILE | tr -d",
            "| sha256sum",
            "ssh-keygen -Y verify -f ALLOWED -I PERSON -n stepwell-record",
        ],
    );
    assert!(said(&record, Format::Text).contains("Signed by reviewer: not signed"));
}

#[test]
fn amendments_are_cleaned_and_stand_first() {
    let beside = made::hostile_beside();
    for format in FORMATS {
        let text = render(&made::pass(), &beside, format).unwrap();
        let amended = text.find("Amended: ").unwrap();
        assert!(amended < text.find("it said: ").unwrap());
        assert!(text.contains("U+202E") && !text.contains('\u{202e}'));
        let text_only = format == Format::Text;
        let harmless = !text.contains("<script>") || text.contains("\\<script");
        assert!(text_only || harmless, "{format:?}");
        assert!(text.contains("This record corrects record"));
    }
}
