//! Verdicts by decision rules on steps of recipes: empty zones, exact edges, drawn errors, limits that are read.
//!
//! Never in here: expected values of our own. Changes when a decision rule does.

use std::collections::HashMap;

use stepwell::engine::{Bench, Event, Fitted, Judged, State, apply, begin};
use stepwell::plan::{Accuracy, Capability, Decision, Plan};
use stepwell::quantity::{Dimension, parse_quantity};
use stepwell::recipe;
use stepwell::text::Source;

const HEAD: &str = "format: 1
recipe: example
revision: 1
title: Example
category: gauge
changes:
  - {revision: 1, date: 2026-01-15, why: First issue}
instruments: {meter: {measures: [volume]}, other: {measures: [volume]}}
";

/// What the instruments of a run are good for: half-widths with k = 2, and the step of the display.
struct Meters {
    meter: &'static str,
    other: &'static str,
    display: Option<&'static str>,
}

const fn meter(accuracy: &'static str) -> Meters {
    Meters {
        meter: accuracy,
        other: "0.001 mL",
        display: None,
    }
}

fn bench(decision: Decision, meters: &Meters) -> Bench {
    let volume = Dimension::from_name("volume").expect("a kind");
    let fitted = |id: &str, accuracy: &str| Fitted {
        id: id.to_owned(),
        capabilities: vec![Capability {
            dimension: volume,
            range: None,
            accuracy: Some(Accuracy::parse(accuracy, Some("2"), volume).expect("an accuracy")),
            resolution: meters
                .display
                .map(|step| parse_quantity(step).expect("a step")),
        }],
    };
    Bench {
        decision,
        instruments: HashMap::from([
            ("meter".to_owned(), fitted("meter", meters.meter)),
            ("other".to_owned(), fitted("other", meters.other)),
        ])
        .into(),
        ..Bench::default()
    }
}

fn walked(
    decision: Decision,
    meters: &Meters,
    steps: &str,
    readings: &[(&str, &str)],
) -> (Plan, State) {
    let text = format!("{HEAD}steps:\n{steps}");
    let reading = recipe::read(Source::new("example.yaml", &text));
    let plan = reading
        .plan
        .unwrap_or_else(|| panic!("{:?}", reading.findings));
    let bench = bench(decision, meters);
    let mut state = begin(&plan, &bench);
    for (path, text) in readings {
        let event = Event::Entry {
            path: (*path).to_owned(),
            text: (*text).to_owned(),
            confirmed: true,
            timer: None,
            heard: None,
            at: String::new(),
        };
        apply(&plan, &bench, &mut state, &event).unwrap_or_else(|e| panic!("{path}: {e:?}"));
    }
    assert!(state.ended.is_some(), "readings are missing");
    (plan, state)
}

/// The criteria of the last step, judged.
fn judged(
    decision: Decision,
    meters: &Meters,
    steps: &str,
    readings: &[(&str, &str)],
) -> Vec<Judged> {
    let (_, state) = walked(decision, meters, steps, readings);
    state.items.last().expect("a step").criteria().to_vec()
}

/// The verdicts of one reading of `meter` against criteria.
fn of_reading(
    decision: Decision,
    meters: &Meters,
    accept: &[&str],
    reading: &str,
) -> Vec<&'static str> {
    let criteria: String = accept
        .iter()
        .map(|c| format!("      - that: '{c}'\n"))
        .collect();
    let steps = format!(
        "  - id: x\n    measure: Volume\n    unit: mL\n    with: meter\n    on_fail: continue\n    accept:\n{criteria}"
    );
    let judged = judged(decision, meters, &steps, &[("x", reading)]);
    judged.iter().map(|j| j.verdict.word()).collect()
}

/// JCGM 106:2012, 8.3: 2w > T_U − T_L leaves no zone of acceptance. U = 0.2 mL at both ends of 9.9 mL to 10.1 mL, however it
/// is written; what lies outside by more than U fails all the same.
#[test]
fn an_empty_zone_is_one_however_it_is_written() {
    let ways: [&[&str]; 5] = [
        &[r#"within(x, "10 mL", "0.1 mL")"#],
        &[r#"between(x, "9.9 mL", "10.1 mL")"#],
        &[r#"x >= "9.9 mL" && x <= "10.1 mL""#],
        &[r#""10.1 mL" >= x && "9.9 mL" <= x"#],
        &[r#"x >= "9.9 mL""#, r#"x <= "10.1 mL""#],
    ];
    for decision in [Decision::Guarded, Decision::Banded] {
        for accept in ways {
            let inside = of_reading(decision, &meter("0.2 mL"), accept, "10");
            assert!(
                inside.iter().all(|v| *v == "not judged"),
                "{accept:?}: {inside:?}"
            );
            // 10.35 mL is above 10.1 mL by more than 0.2 mL.
            let outside = of_reading(decision, &meter("0.2 mL"), accept, "10.35");
            assert_eq!(*outside.last().expect("one"), "fail", "{accept:?}");
            // 2w = T_U − T_L leaves one value, which is inside by exactly w.
            let touching = of_reading(decision, &meter("0.1 mL"), accept, "10");
            assert!(
                touching.iter().all(|v| *v == "pass"),
                "{accept:?}: {touching:?}"
            );
        }
    }
    // Ends for different quantities are no pair.
    let steps = r#"  - {id: a, measure: Volume, unit: mL, with: meter}
  - {id: x, measure: Volume, unit: mL, with: meter, on_fail: continue, accept: 'a >= "9.9 mL" && x <= "10.1 mL"'}
"#;
    let apart = judged(
        Decision::Guarded,
        &meter("0.2 mL"),
        steps,
        &[("a", "10"), ("x", "10")],
    );
    assert_eq!(apart[0].verdict.word(), "fail");
}

/// ILAC-G8:09/2019, 4.2.3: outside by w at most is a conditional fail, inside by w at least a pass; on the edge counts as
/// inside (this project's convention). The sums are decimal: 10 + 0.1 = 10.1, 10.5 + 0.1 = 10.6, and so on.
#[test]
fn on_the_edge_is_inside_it() {
    let most = r#"x <= "10 mL""#;
    let tolerance = r#"within(x, "10 mL", "5 %")"#;
    let cases = [
        ("0.1 mL", most, "10.1", "conditional fail"),
        ("0.1 mL", most, "9.9", "pass"),
        ("0.125 mL", most, "10.125", "conditional fail"),
        ("0.125 mL", most, "9.875", "pass"),
        ("0.03 mL", most, "10.03", "conditional fail"),
        ("0.03 mL", most, "9.97", "pass"),
        ("0.1 mL", tolerance, "9.4", "conditional fail"),
        ("0.1 mL", tolerance, "10.6", "conditional fail"),
        ("0.1 mL", tolerance, "9.6", "pass"),
        ("0.1 mL", tolerance, "10.4", "pass"),
        // A billionth beside the edge is seen.
        ("0.1 mL", most, "10.10000001", "fail"),
        ("0.1 mL", most, "9.90000001", "conditional pass"),
    ];
    for (accuracy, accept, reading, wanted) in cases {
        let found = of_reading(Decision::Banded, &meter(accuracy), &[accept], reading);
        assert_eq!(found, [wanted], "{accept} at {reading} mL, U = {accuracy}");
    }
}

const LARGER: &str = r#"  - {id: p, measure: Volume, unit: mL, with: meter}
  - {id: q, measure: Volume, unit: mL, with: other, on_fail: continue, accept: 'max(p, q) <= "LIMIT mL"'}
"#;

/// The larger of two with the same mean and σ = 0.015 mL lies below μ + zσ with probability Φ(z)² (the product of both). The
/// upper end of the interval that leaves 2.275 % above has Φ(z) = √0.977 25 = 0.988 560, z = 2.27542 (Python's statistics.NormalDist),
/// so that it is at 10.03413 mL; first order would say 10.03 mL.
#[test]
fn the_larger_of_two_is_guarded_by_drawn_errors() {
    let meters = Meters {
        meter: "0.03 mL",
        other: "0.03 mL",
        display: None,
    };
    let readings = [("p", "10"), ("q", "10")];
    let verdict = |decision, limit: &str, readings: &[(&str, &str)]| {
        let steps = LARGER.replace("LIMIT", limit);
        judged(decision, &meters, &steps, readings).remove(0)
    };
    for (limit, wanted) in [("10.032", "fail"), ("10.036", "pass")] {
        assert_eq!(
            verdict(Decision::Guarded, limit, &readings).verdict.word(),
            wanted
        );
    }
    for (limit, wanted) in [
        ("10.036", "pass"),
        ("10.032", "conditional pass"),
        // The lower end has Φ(z)² = 0.022 75, Φ(z) = 0.150 83, z = -1.0327: 9.98451 mL.
        ("9.99", "conditional fail"),
        ("9.98", "fail"),
    ] {
        let found = verdict(Decision::Banded, limit, &readings);
        assert_eq!(found.verdict.word(), wanted, "{limit}");
        assert!(found.limits[0].distance.drawn.is_some());
    }
    // Conformance at a limit of 10.015 mL, z = 1: Φ(1)² = 0.841 345² = 0.707 861; the share of 20 000 draws within 4 of its
    // standard deviations of 0.0032.
    let share = verdict(Decision::Banded, "10.015", &readings).limits[0].conformance;
    assert!((share.expect("a share") - 0.707_861).abs() < 0.0129);
    // Far from each other the larger one decides alone, and first order is enough.
    let apart = verdict(Decision::Guarded, "10.032", &[("p", "10"), ("q", "9")]);
    assert_eq!(apart.verdict.word(), "pass");
    assert!(apart.limits[0].distance.drawn.is_none());
}

/// The same with the maximum in a step of its own: what was computed is drawn from its readings.
#[test]
fn what_was_computed_is_drawn_from_its_readings() {
    let meters = Meters {
        meter: "0.03 mL",
        other: "0.03 mL",
        display: None,
    };
    for (limit, wanted) in [("10.032", "fail"), ("10.036", "pass")] {
        let steps = format!(
            r#"  - {{id: p, measure: Volume, unit: mL, with: meter}}
  - {{id: q, measure: Volume, unit: mL, with: other}}
  - {{id: larger, compute: 'max(p, q)', unit: mL, on_fail: continue, accept: 'larger <= "{limit} mL"'}}
"#
        );
        let found = judged(
            Decision::Guarded,
            &meters,
            &steps,
            &[("p", "10"), ("q", "10")],
        );
        assert_eq!(found[0].verdict.word(), wanted, "{limit}");
    }
}

/// (p − q)² where p = q: no sensitivity is left. p − q is normal with σ² = 2·(0.015 mL)², its square over that chi-squared
/// with one degree of freedom, whose 0.977 25 quantile is 5.18749 (2.277 6², by Python's statistics.NormalDist), at 0.002 334 mL².
#[test]
fn a_square_at_zero_is_guarded() {
    let meters = Meters {
        meter: "0.03 mL",
        other: "0.03 mL",
        display: None,
    };
    for (limit, wanted) in [("0.0022", "fail"), ("0.0025", "pass")] {
        let steps = format!(
            r#"  - {{id: p, measure: Volume, unit: mL, with: meter}}
  - {{id: q, measure: Volume, unit: mL, with: other, on_fail: continue, accept: '(p - q) * (p - q) <= "{limit} mL" * "1 mL"'}}
"#
        );
        let found = judged(
            Decision::Guarded,
            &meters,
            &steps,
            &[("p", "10"), ("q", "10")],
        );
        assert_eq!(found[0].verdict.word(), wanted, "{limit}");
        assert!(found[0].limits[0].is_acted_upon);
    }
}

/// Where errors would have to be drawn and can't be, nothing passes: the square root has no result for half of them.
#[test]
fn what_can_not_be_drawn_is_not_judged() {
    let steps = r#"  - {id: p, measure: Volume, unit: mL, with: meter}
  - {id: q, measure: Volume, unit: mL, with: other, on_fail: continue, accept: 'sqrt((p - q) / "1 mL") <= 1'}
"#;
    let readings = [("p", "10"), ("q", "9.999999")];
    let found = judged(Decision::Guarded, &meter("0.03 mL"), steps, &readings);
    assert_eq!(found[0].verdict.word(), "not judged");
    assert!(
        found[0].shown.contains("give no result"),
        "{}",
        found[0].shown
    );
}

/// The same readings give the same verdict, however often they are judged.
#[test]
fn drawn_verdicts_are_the_same_each_time() {
    let run = || {
        let steps = LARGER.replace("LIMIT", "10.02");
        let found = judged(
            Decision::Banded,
            &meter("0.03 mL"),
            &steps,
            &[("p", "10"), ("q", "10")],
        );
        (
            found[0].limits[0].distance.drawn,
            found[0].limits[0].conformance,
        )
    };
    assert_eq!(run(), run());
}

/// One instrument reads value and limit: its error is in both and cancels, so that 0.1 mL below the limit is inside for
/// sure. By itself the value has U = 0.3 mL.
#[test]
fn what_value_and_limit_share_cancels() {
    let steps = r#"  - {id: y, measure: Volume, unit: mL, with: meter}
  - {id: x, measure: Volume, unit: mL, with: meter, accept: 'x <= y + "0.2 mL"'}
"#;
    let found = judged(
        Decision::Guarded,
        &meter("0.3 mL"),
        steps,
        &[("y", "10"), ("x", "10.1")],
    );
    assert_eq!(found[0].verdict.word(), "pass");
    let limit = &found[0].limits[0];
    let of_value = limit.uncertainty.expect("an uncertainty");
    assert!((of_value.expanded_si - 0.3e-6).abs() < 1e-15);
    assert_eq!(limit.distance.uncertainty, None);
    assert_eq!(limit.conformance, Some(1.0));
}

/// A limit that is the mean of three repeats (9.9, 10.0, 10.1 mL: s = 0.1 mL, s/√3 = 0.057 735 mL, 2 degrees of freedom; JCGM
/// 100:2008, 4.2.3), read with the instrument of the value, whose error cancels. A value 0.1 mL below has t = √3, and with ν = 2
/// the distribution of t is 1/2 + t/(2·√(2 + t²)) = 0.887 298 (closed form).
#[test]
fn a_limit_from_repeats_has_few_degrees_of_freedom() {
    let steps = r#"  - {id: y, measure: Volume, unit: mL, with: meter, repeat: 3}
  - {id: x, measure: Volume, unit: mL, with: meter, accept: 'x <= mean(y)'}
"#;
    let readings = [("y", "9.9"), ("y", "10"), ("y", "10.1"), ("x", "9.9")];
    let found = judged(Decision::Banded, &meter("0.03 mL"), steps, &readings);
    assert_eq!(found[0].verdict.word(), "conditional pass");
    let of_distance = found[0].limits[0]
        .distance
        .uncertainty
        .expect("an uncertainty");
    assert_eq!(of_distance.freedom, 2.0);
    let expected = 0.1e-6 / 3.0_f64.sqrt();
    assert!((of_distance.standard_si - expected).abs() < 1e-12 * expected.sqrt());
    let t = 3.0_f64.sqrt();
    let probability = 0.5 + t / (2.0 * (2.0 + t * t).sqrt());
    assert!((found[0].limits[0].conformance.expect("one") - probability).abs() < 1e-9);
}

/// The largest of repeats is one of the readings at hand: the error of the instrument acts on it, and its scatter has shown
/// itself. 10.00, 10.00, 9.99 mL with U = 0.03 mL: 10.03 mL at most, whatever the scatter of 0.0058 mL is.
#[test]
fn extremes_of_repeats_do_not_scatter_again() {
    let verdict = |of: &str, accept: &str, display| {
        let steps = format!(
            "  - {{id: x, measure: Volume, unit: mL, with: meter, repeat: 3, on_fail: continue, accept: '{of} <= \"{accept}\"'}}\n"
        );
        let meters = Meters {
            display,
            ..meter("0.03 mL")
        };
        let readings = [("x", "10"), ("x", "10"), ("x", "9.99")];
        judged(Decision::Guarded, &meters, &steps, &readings).remove(0)
    };
    for (limit, wanted) in [("10.03 mL", "pass"), ("10.029 mL", "fail")] {
        let found = verdict("max(x)", limit, None);
        assert_eq!(found.verdict.word(), wanted, "{limit}");
        let u = found.limits[0].uncertainty.expect("an uncertainty");
        assert!((u.expanded_si - 0.03e-6).abs() < 1e-18 && u.freedom == f64::INFINITY);
    }
    // One calibration for all: nothing of it is left in the range, nor of the scatter.
    let range = verdict("range(x)", "0.01 mL", None);
    assert_eq!(range.verdict.word(), "pass");
    assert_eq!(range.limits[0].uncertainty, None);
    assert!(range.limits[0].is_acted_upon && range.limits[0].distance.drawn.is_none());
    // A display in steps of 0.01 mL errs by 0.005 mL at most: three such errors range over 0.01 mL at most, on top of 0.01 mL.
    let shown = verdict("range(x)", "0.02 mL", Some("0.01 mL"));
    assert_eq!(shown.verdict.word(), "pass");
    assert!(shown.limits[0].distance.drawn.is_some());
}

/// JCGM 100:2008, E.4.3 (from memory): u(s) = s/√(2(n − 1)). Nine of 10.1, eight of 9.9, eight of 10.0 mL: mean 250.1/25 =
/// 10.004; Σ(x − x̄)² = 9·0.096² + 8·0.104² + 8·0.004² = 0.1696; s = √(0.1696/24) = 0.084 063 mL; s/√48 = 0.012 133 5 mL. Each
/// display error of 0.01 mL/√12 acts with (x − x̄)/((n − 1)·s), together 0.01 mL/√(12·24) = 0.000 589 mL. The error of the
/// calibration is in all readings and leaves s alone. With 1, 2, 3 mL: s = 1 mL, u = 1/√4 = 0.5 mL.
#[test]
fn the_standard_deviation_of_repeats() {
    let of = |count: usize, readings: &[(&'static str, usize)], scatter: f64, display: f64| {
        let steps = format!(
            "  - {{id: x, measure: Volume, unit: mL, with: meter, repeat: {count}, accept: 'sd(x) <= \"5 mL\"'}}\n"
        );
        let meters = Meters {
            display: Some("0.01 mL"),
            ..meter("0.03 mL")
        };
        let each = readings.iter().flat_map(|(text, n)| vec![("x", *text); *n]);
        let each: Vec<_> = each.collect();
        let found = judged(Decision::Guarded, &meters, &steps, &each).remove(0);
        let u = found.limits[0].uncertainty.expect("an uncertainty");
        let expected = scatter.hypot(display) * 1e-6;
        assert!(
            (u.standard_si - expected).abs() < 1e-9 * expected,
            "{}",
            u.standard_si
        );
    };
    let display = |n: f64| 0.01 / (12.0 * (n - 1.0)).sqrt();
    let scatter = (0.1696_f64 / 24.0 / 48.0).sqrt();
    assert!((scatter - 0.012_133_5).abs() < 1e-7);
    of(
        25,
        &[("10.1", 9), ("9.9", 8), ("10.0", 8)],
        scatter,
        display(25.0),
    );
    of(3, &[("1", 1), ("2", 1), ("3", 1)], 0.5, display(3.0));
}
