//! What a reader finds of uncertainties: value ± U, the rule, budgets, conditional verdicts, plots of repeats.

use serde_json::json;
use stepwell::record::{BudgetLine, DrawnErrors, Record, Uncertainty};
use stepwell::render::document::{Block, of_record};
use stepwell::render::{Beside, Format, render};

use crate::made::{self, quantity};
use crate::reading::{said, says};

fn line(source: &str, contribution: &str, share: &str) -> BudgetLine {
    BudgetLine {
        source: source.to_owned(),
        standard: Some("0.0123456".to_owned()),
        unit: Some("mL".to_owned()),
        sensitivity: Some("0.577350269".to_owned()),
        contribution: contribution.to_owned(),
        share: share.to_owned(),
        freedom: None,
    }
}

/// The numbers are made up; what is looked for is how they are told.
fn uncertainty(shown: &str) -> Uncertainty {
    let display = || line("M1: display in steps of 0.01 mL", "0.003", "0.02");
    let mut budget = vec![line("M1: accuracy of volume", "0.0200051", "0.856")];
    budget.extend([display(), display(), display()]);
    let small = |n: usize| {
        let mut line = line("", "0.002", "0.016");
        line.source = format!("source {n}");
        line
    };
    budget.extend((1..=5).map(small));
    budget.push(line("dust", "0.0000001", "0.0000000001"));
    Uncertainty {
        standard: "0.0216".to_owned(),
        k: "2.0069128".to_owned(),
        expanded: "0.0433493".to_owned(),
        unit: "mL".to_owned(),
        freedom: Some("363".to_owned()),
        shown: shown.to_owned(),
        budget,
        drawn: None,
    }
}

/// A record with an uncertainty at its repeats, judged by a rule.
fn record(decision: &str, verdict: &str, value: &str, shown: &str) -> Record {
    let mut record = made::retried();
    record.decision = decision.to_owned();
    let step = &mut record.steps[0];
    let each = serde_json::to_value(uncertainty("(5.040 ± 0.044) mL")).unwrap();
    let five = ["5.05", "5.03", "5.04", "5.06", "5.02"].map(|v| quantity(v, "mL", true));
    step.value = json!(five);
    step.uncertainty = json!(vec![each; 5]);
    let criterion = &mut step.criteria[0];
    criterion.verdict = verdict.to_owned();
    let limit = &mut criterion.limits[0];
    limit.value = Some(quantity(value, "mL", true));
    limit.uncertainty = Some(uncertainty(shown));
    limit.conformance = Some("0.8234".to_owned());
    record
}

#[test]
fn a_judged_value_stands_with_its_uncertainty_and_its_budget() {
    let mut record = record("simple", "pass", "5.04", "(5.040 ± 0.044) mL");
    record.steps[0].criteria[0].within_numerical_error = true;
    says(
        &record,
        &[
            "mean(delivered) = 5.04 mL; value ± U: (5.040 ± 0.044) mL",
            "each ± 0.044 mL",
            "probability of conformity 82 %",
            "within its numerical error of the limit",
            "simple: the value itself against the limit",
            "Decision rule: simple acceptance",
            "coverage probability of 95.45 %",
            "here 2.01 for every value",
            "Not counted: readings without an instrument",
            "JCGM 100:2008, 7.2.6",
            "1 judged value",
            "Delivered volume: mean(delivered) = (5.040 ± 0.044) mL; u = 0.0216 mL, k = 2.01, 363 degrees of freedom",
            "M1: accuracy of volume",
            "0.0200 mL",
            "86 %",
            "M1: display in steps of 0.01 mL, 3 readings",
            "the others together",
        ],
    );
    for format in [Format::Text, Format::Markdown, Format::Html] {
        let said = said(&record, format);
        assert!(!said.contains("dust"), "what tells nothing is left out");
        assert!(!said.contains("source 4"), "five lines are the most");
        assert!(!said.contains("0.0200051"), "numbers are rounded");
    }
}

#[test]
fn how_sure_a_verdict_is_ends_at_a_hundredth_of_a_percent() {
    let cases = [
        ("0.99995", "conformity > 99.99 %"),
        ("1", "conformity > 99.99 %"),
        ("0.9967", "conformity 99.67 %"),
        ("0.5", "conformity 50 %"),
        ("0.0123", "conformity 1.2 %"),
        ("0.00001", "conformity < 0.01 %"),
    ];
    for (ratio, told) in cases {
        let mut record = record("simple", "pass", "5.04", "(5.040 ± 0.044) mL");
        record.steps[0].criteria[0].limits[0].conformance = Some(ratio.to_owned());
        says(&record, &[told]);
    }
}

#[test]
fn conditional_verdicts_have_words_shapes_and_a_meaning_of_their_own() {
    let pass = record("banded", "conditional pass", "5.23", "(5.230 ± 0.044) mL");
    says(
        &pass,
        &[
            "conditional pass",
            "inside the limit, but by less than U",
            "2 criteria met (1 conditionally), 0 not met",
            "banded: pass, conditional pass, conditional fail or fail, by the uncertainty U",
            "mean(delivered) = 5.23 mL; value ± U: (5.230 ± 0.044) mL",
            "0.02 mL inside",
            "conditional fail: outside the limit by no more than U.",
            "who releases decides",
        ],
    );
    let fail = record("banded", "conditional fail", "5.26", "(5.260 ± 0.044) mL");
    says(
        &fail,
        &[
            "CONDITIONAL FAIL",
            "0.01 mL above",
            "1 not met (1 conditionally)",
        ],
    );
    let [pass, fail] = [pass, fail].map(|r| render(&r, &Beside::default(), Format::Html).unwrap());
    assert!(pass.contains("mark conditional-pass"));
    assert!(pass.contains("<h2>What passed under a condition</h2>"));
    assert!(fail.contains("mark conditional-fail"));
    assert!(fail.contains("<h2>What failed</h2>"));
    assert!(fail.contains("class=\"reach\""), "U is drawn at the value");
}

#[test]
fn a_guarded_fail_inside_the_limit_says_why() {
    let record = record("guarded", "fail", "5.23", "(5.230 ± 0.044) mL");
    says(
        &record,
        &[
            "inside the limit, but by less than U",
            "at least its expanded uncertainty U",
        ],
    );
}

#[test]
fn drawn_errors_are_told_with_seed_and_count() {
    let mut record = record("simple", "pass", "5.04", "(5.040 ± 0.044) mL");
    let of = record.steps[0].criteria[0].limits[0].uncertainty.as_mut();
    of.unwrap().drawn = Some(DrawnErrors {
        trials: 20_000,
        seed: 77,
        standard: "0.02".to_owned(),
        low: "4.998765".to_owned(),
        high: "5.0912345".to_owned(),
        unit: "mL".to_owned(),
        agrees: false,
    });
    says(
        &record,
        &[
            "JCGM 101:2008",
            "20000 drawings, seed 77, for 1 value",
            "drawn at random: 5.00 mL to 5.09 mL, which does not agree",
        ],
    );
}

fn plots(record: &Record) -> Vec<stepwell::render::Plot> {
    let blocks = of_record(record, &Beside::default()).blocks.into_iter();
    let plot = |block| match block {
        Block::Plot { plot } => Some(*plot),
        _ => None,
    };
    blocks.filter_map(plot).collect()
}

#[test]
fn judged_repeats_are_drawn_with_limits_nominal_and_uncertainty() {
    let record = record("simple", "pass", "5.04", "(5.040 ± 0.044) mL");
    let [plot] = &plots(&record)[..] else {
        panic!("one plot was awaited");
    };
    let points = &plot.series[0].points;
    let drawn: Vec<_> = points.iter().map(|p| (p.x, p.y, p.uncertainty)).collect();
    // U as it is told, rounded up to two digits.
    let u = Some(0.044);
    assert_eq!(drawn[..3], [(1.0, 5.05, u), (2.0, 5.03, u), (3.0, 5.04, u)]);
    // Four readings are told, not drawn.
    let mut few = record.clone();
    few.steps[0].value.as_array_mut().unwrap().truncate(4);
    assert!(plots(&few).is_empty());
    let levels: Vec<_> = plot
        .levels
        .iter()
        .map(|l| (l.name.as_str(), l.value))
        .collect();
    assert_eq!(
        levels,
        [
            ("upper limit", 5.25),
            ("lower limit", 4.75),
            ("nominal", 5.0)
        ]
    );
    says(&record, &["The limits are those of mean(delivered)."]);
}

#[test]
fn a_limit_of_another_kind_is_not_drawn_among_the_readings() {
    let mut record = record("simple", "pass", "0.01", "(0.010 ± 0.004) mL");
    let criterion = &mut record.steps[0].criteria[0];
    criterion.that = "sd(delivered) <= most".to_owned();
    criterion.limits[0].of = "sd(delivered)".to_owned();
    assert!(plots(&record)[0].levels.is_empty());
}

#[test]
fn at_most_twelve_plots_are_drawn_and_the_others_counted() {
    let mut record = record("simple", "pass", "5.04", "(5.040 ± 0.044) mL");
    let step = record.steps[0].clone();
    record.steps.extend(std::iter::repeat_n(step, 13));
    assert_eq!(plots(&record).len(), 12);
    says(&record, &["2 more plots could be drawn"]);
}

#[test]
fn times_are_told_as_a_clock_does_however_they_were_typed() {
    let inexact = |value: &str, unit: &str| quantity(value, unit, false);
    for (entry, value, told) in [
        ("1 h", quantity("3600", "s", true), "soak = 1 h"),
        ("3600", quantity("3600", "s", true), "soak = 1 h"),
        ("1:00:00", quantity("3600", "s", true), "soak = 1 h"),
        (
            "1:01:05.2",
            quantity("3665.2", "s", true),
            "soak = 1 h 1 min 5.2 s",
        ),
        (
            "",
            inexact("61.083333333333333", "min"),
            "soak ≈ 1 h 1 min 5 s",
        ),
        ("", quantity("1.25", "h", true), "soak = 1 h 15 min"),
    ] {
        let mut record = made::pass();
        let mut step = made::step(
            "soak",
            "time",
            "Soaking time",
            json!(entry),
            serde_json::to_value(&value).unwrap(),
        );
        step.criteria = vec![made::criterion(
            "soak >= least",
            "soak = 1 h; least = 60 min",
            ("soak", value),
            (Some(quantity("60", "min", true)), None),
            "pass",
        )];
        record.steps = vec![step];
        record.steps[0].criteria[0].limits[0].uncertainty = None;
        says(&record, &[told, "limit at least 1 h;"]);
        assert!(!said(&record, Format::Text).contains("3600 s"));
    }
}

/// 5 min − 4 min 37 s = 23 s; a limit of 90 s is 1 min 30 s.
#[test]
fn how_far_a_time_is_off_is_told_in_seconds() {
    let mut record = made::pass();
    let value = quantity("277", "s", true);
    let mut step = made::step("run", "time", "Time", json!("4:37"), json!(value));
    let limit = (Some(quantity("5", "min", true)), None);
    let shown = "run = 277 s; least = 5 min";
    step.criteria = vec![made::criterion(
        "run >= least",
        shown,
        ("run", value),
        limit,
        "fail",
    )];
    record.steps = vec![step];
    record.verdict = "fail".to_owned();
    says(
        &record,
        &["limit at least 5 min; run = 4 min 37 s; 23 s below the limit"],
    );
    let limit = &mut record.steps[0].criteria[0].limits[0];
    (limit.low, limit.high) = (None, Some(quantity("90", "s", true)));
    says(
        &record,
        &["limit at most 1 min 30 s; run = 4 min 37 s; 3 min 7 s above the limit"],
    );
}

#[test]
fn two_limits_that_leave_one_value_are_told_as_it() {
    let mut record = made::pass();
    let four = || quantity("4", "1", true);
    let step = &mut record.steps[0];
    let upper = made::criterion(
        "n <= 4 && n >= 4",
        "n = 4",
        ("n", four()),
        (None, Some(four())),
        "pass",
    );
    let mut both = upper.clone();
    both.limits.push(upper.limits[0].clone());
    (both.limits[1].low, both.limits[1].high) = (Some(four()), None);
    step.criteria = vec![both.clone()];
    says(&record, &["limit exactly 4;"]);
    both.limits[1].low = Some(quantity("3", "1", true));
    record.steps[0].criteria = vec![both];
    says(&record, &["limit at most 4 and at least 3;"]);
}

#[test]
fn readings_that_are_all_alike_are_told_once() {
    let mut record = made::pass();
    let same = |n: usize| vec![json!("5.00"); n];
    record.steps[0].entry = json!(same(60));
    says(&record, &["60 times 5.00"]);
    record.steps[0].entry = json!(same(3));
    says(&record, &["5.00; 5.00; 5.00"]);
    let mut differ = same(60);
    differ[59] = json!("5.01");
    record.steps[0].entry = json!(differ);
    assert_eq!(said(&record, Format::Text).matches("5.00;").count(), 59);
}

#[test]
fn a_value_that_is_not_whole_has_one_sign() {
    let mut record = made::pass();
    let limit = &mut record.steps[0].criteria[0].limits[0];
    limit.value = Some(quantity("11.457999999", "psi", true));
    says(&record, &["pressure ≈ 11.4580 psi"]);
}

#[test]
fn long_names_break_where_a_reader_would_break_them() {
    let mut record = made::fail();
    let criterion = &mut record.steps[0].criteria[0];
    criterion.limits.clear();
    criterion.that = "max(accuracy.volume_error)".to_owned();
    let html = render(&record, &Beside::default(), Format::Html).unwrap();
    assert!(html.contains("max(<wbr>accuracy.<wbr>volume_<wbr>error)"));
}

#[test]
fn the_first_page_has_a_value_alone_and_the_step_what_it_is() {
    let text = render(&made::fail(), &Beside::default(), Format::Text).unwrap();
    assert!(text.contains("  Value: 17.2 psi\n"), "{text}");
    assert!(text.contains("pressure = 17.2 psi"));
}
