//! Uncertainties as a session carries them through a recipe: GUM H.1, what cancels, and errors drawn at random.
//!
//! Never in here: expected values of our own. Changes when errors are carried or drawn otherwise.

use std::collections::HashMap;
use std::f64::consts::{PI, SQRT_2};

use stepwell::engine::{Bench, DrawingsLeft, Event, Fitted, Sizes, State, apply, begin, draw};
use stepwell::maths::Linear;
use stepwell::plan::{Accuracy, Capability, Decision, Plan, Spread, TRIALS, Trials, Uncertainty};
use stepwell::quantity::Dimension;
use stepwell::recipe;
use stepwell::text::Source;

const HEAD: &str = "format: 1
recipe: example
revision: 1
title: Example
category: gauge
changes:
  - {revision: 1, date: 2026-01-15, why: First issue}
";

/// A session of a recipe.
struct Session {
    plan: Plan,
    state: State,
}

impl Session {
    /// Walks steps with these readings, each instrument named after its role.
    fn of(steps: &str, accuracies: &[(&str, &str, &str)], readings: &[(&str, &str)]) -> Self {
        let roles: Vec<String> = accuracies
            .iter()
            .map(|(role, kind, _)| format!("{role}: {{measures: [{kind}]}}"))
            .collect();
        let roles = match roles.len() {
            0 => String::new(),
            _ => format!("instruments: {{{}}}\n", roles.join(", ")),
        };
        let reading = recipe::read(Source::new(
            "example.yaml",
            &format!("{HEAD}{roles}{steps}"),
        ));
        let plan = reading
            .plan
            .unwrap_or_else(|| panic!("{:?}", reading.findings));
        let bench = bench(accuracies);
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
        Self { plan, state }
    }

    fn index(&self, path: &str) -> usize {
        let found = self.plan.items.iter().position(|i| i.path == path);
        found.unwrap_or_else(|| panic!("no step `{path}`"))
    }

    fn number(&self, path: &str) -> &Linear {
        match self.state.items[self.index(path)].spread() {
            Some(Spread::Number(number)) => number,
            other => panic!("`{path}`: {other:?}"),
        }
    }

    fn uncertainty(&self, path: &str) -> Option<Uncertainty> {
        self.state.sources.borrow().uncertainty(self.number(path))
    }

    fn drawn(&self, path: &str) -> Option<Trials> {
        let mut left = DrawingsLeft {
            values: 1,
            limits: 1,
        };
        let index = self.index(path);
        draw(&self.plan, &self.state, index, Decision::Simple, &mut left).value
    }
}

fn bench(accuracies: &[(&str, &str, &str)]) -> Bench {
    let mut instruments = HashMap::new();
    for (role, kind, accuracy) in accuracies {
        let dimension = Dimension::from_name(kind).expect("a kind");
        let capability = Capability {
            dimension,
            range: None,
            accuracy: Some(Accuracy::parse(accuracy, None, dimension).expect("an accuracy")),
            resolution: None,
        };
        let fitted = Fitted {
            id: (*role).to_owned(),
            capabilities: vec![capability],
        };
        instruments.insert((*role).to_owned(), fitted);
    }
    Bench {
        instruments: instruments.into(),
        ..Bench::default()
    }
}

fn near(found: f64, expected: f64, tolerance: f64) {
    let off = (found - expected).abs();
    assert!(off <= tolerance, "{found} instead of {expected}");
}

/// Within four standard deviations of what a share of the draws strays by.
fn covers(share: f64, expected: f64) {
    let deviation = (expected * (1.0 - expected) / TRIALS as f64).sqrt();
    near(share, expected, 4.0 * deviation);
}

/// The share of results below the ends of an interval that covers 95.45 %.
fn ends_are_quantiles(drawn: &Trials, cumulative: impl Fn(f64) -> f64) {
    const TAIL: f64 = 0.022_75;
    covers(cumulative(drawn.low_si), TAIL);
    covers(cumulative(drawn.high_si), 1.0 - TAIL);
}

/// The normal distribution by libm's complementary error function.
fn normal(x: f64) -> f64 {
    0.5 * libm::erfc(-x / SQRT_2)
}

fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * PI).sqrt()
}

/// GUM H.1 with its inputs as a recipe states them; `l` in nm. Degrees of freedom as there, or all infinite.
fn end_gauge(freedom: bool) -> Session {
    let of = |nu: &str| {
        if freedom {
            format!(", {nu}")
        } else {
            String::new()
        }
    };
    let steps = format!(
        r#"steps:
  - id: standard
    compute: uncertain("50000623 nm", "25 nm"{})
    unit: nm
  - id: difference
    compute: uncertain("215 nm", "5.8 nm"{}) + uncertain("0 nm", "3.9 nm"{}) + uncertain("0 nm", "6.7 nm"{})
    unit: nm
  - id: expansion
    compute: uncertain("11.5e-6 1/K", "2e-6 1/K" / sqrt(3))
  - id: expansion_difference
    compute: uncertain("0 1/K", "1e-6 1/K" / sqrt(3){})
  - id: temperature
    compute: uncertain("-0.1 K", "0.2 K") + uncertain("0 K", "0.5 K" / sqrt(2))
  - id: temperature_difference
    compute: uncertain("0 K", "0.05 K" / sqrt(3){})
  - id: length
    compute: standard + difference - standard * (expansion_difference * temperature + expansion * temperature_difference)
    unit: nm
    record_only: true
"#,
        of("18"),
        of("24"),
        of("5"),
        of("8"),
        of("50"),
        of("2"),
    );
    Session::of(&steps, &[], &[])
}

/// JCGM 100:2008, H.1: l = 50 000 838 nm, u = 32 nm, ν = 16; unrounded 31.6639 and 16.752 by GTC (rows `f.h1.*`).
#[test]
fn end_gauge_as_a_recipe() {
    let session = end_gauge(true);
    near(session.number("length").value, 50_000_838e-9, 1e-15);
    let found = session.uncertainty("length").expect("an uncertainty");
    near(found.standard_si * 1e9, 31.663_9, 5e-5);
    assert_eq!(found.freedom, 16.0);
    // t of 0.977 25 with 16 degrees of freedom by scipy 1.17.1: stats.t.ppf(0.97725, 16).
    near(found.k, 2.168_942_995_677_41, 1e-9);
}

/// JCGM 100:2008, H.1.7: with the terms of second order, products of errors, u = 34 nm; unrounded 33.81 (row
/// `f.h1.u_second_order`). The terms are invisible as long as one error at a time is moved.
#[test]
fn products_of_errors_are_drawn() {
    let drawn = end_gauge(false).drawn("length").expect("errors are drawn");
    near(
        drawn.standard_si * 1e9,
        33.81,
        4.0 * 33.81 / (2.0 * TRIALS as f64).sqrt(),
    );
}

const TWO_WEIGHINGS: &str = r#"steps:
  - {id: first, measure: First mass, unit: g, with: balance}
  - {id: second, measure: Second mass, unit: g, with: other}
  - {id: ratio, compute: second / first, record_only: true}
  - {id: gain, compute: second - first, unit: g, record_only: true}
"#;

/// JCGM 100:2008, 5.2.2, note 1, and F.1.2.3: with one instrument at both places the errors are one and the same.
#[test]
fn the_same_instrument_cancels_from_a_ratio() {
    let steps = TWO_WEIGHINGS.replace("with: other", "with: balance");
    let readings = [("first", "50"), ("second", "75")];
    let relative = Session::of(&steps, &[("balance", "mass", "1 %")], &readings);
    let left = relative.number("ratio").standard();
    assert!(left < 1e-15, "{left} is left of an error that cancels");
    let fixed = Session::of(&steps, &[("balance", "mass", "0.3 g")], &readings);
    assert!(fixed.number("gain").standard() < 1e-18);
    // u(b/a) = u·|1/a − b/a²| for one error u of both: 0.3 g/√3 · 0.5/50 g.
    near(
        fixed.number("ratio").standard(),
        0.3 / 3.0_f64.sqrt() * 0.01,
        1e-15,
    );
}

#[test]
fn two_instruments_do_not_cancel() {
    let accuracies = [("balance", "mass", "1 %"), ("other", "mass", "1 %")];
    let session = Session::of(
        TWO_WEIGHINGS,
        &accuracies,
        &[("first", "50"), ("second", "75")],
    );
    // JCGM 100:2008, 5.1.6: relative uncertainties of a ratio add in squares: 1.5 · √2 · 1 %/√3.
    near(
        session.number("ratio").standard(),
        1.5 * 0.01 * (2.0_f64 / 3.0).sqrt(),
        1e-15,
    );
}

/// One calibration stays one, whatever roles its instrument plays.
#[test]
fn one_instrument_in_two_roles_cancels_too() {
    let accuracies = [("balance", "mass", "1 %"), ("other", "mass", "1 %")];
    let mut bench = bench(&accuracies);
    let same = bench.instruments["balance"].clone();
    std::sync::Arc::make_mut(&mut bench.instruments).insert("other".to_owned(), same);
    let roles = "instruments: {balance: {measures: [mass]}, other: {measures: [mass]}}\n";
    let text = format!("{HEAD}{roles}{TWO_WEIGHINGS}");
    let plan = recipe::read(Source::new("example.yaml", &text))
        .plan
        .expect("a good recipe");
    let mut state = begin(&plan, &bench);
    for (path, text) in [("first", "50"), ("second", "75")] {
        let event = Event::Entry {
            path: path.to_owned(),
            text: text.to_owned(),
            confirmed: true,
            timer: None,
            heard: None,
            at: String::new(),
        };
        apply(&plan, &bench, &mut state, &event).expect("a reading");
    }
    let session = Session { plan, state };
    assert!(session.number("ratio").standard() < 1e-15);
}

/// The larger of two: Clark, Operations Research 9 (1961) 145, eq. (2) and (3), from memory; its distribution is the product
/// of the two.
#[test]
fn the_larger_of_two_near_equal_values() {
    let (a, b, sigma) = (10.0, 10.02, 0.1);
    let session = Session::of(
        r#"steps:
  - {id: a, compute: 'uncertain(10, 0.1)'}
  - {id: b, compute: 'uncertain(10.02, 0.1)'}
  - {id: larger, compute: 'max(a, b)', record_only: true}
"#,
        &[],
        &[],
    );
    let drawn = session.drawn("larger").expect("errors are drawn");
    let theta = sigma * SQRT_2;
    let alpha = (a - b) / theta;
    let mean = a * normal(alpha) + b * normal(-alpha) + theta * density(alpha);
    let square = (a * a + sigma * sigma) * normal(alpha)
        + (b * b + sigma * sigma) * normal(-alpha)
        + (a + b) * theta * density(alpha);
    let standard = (square - mean * mean).sqrt();
    near(
        drawn.standard_si,
        standard,
        4.0 * standard / (2.0 * TRIALS as f64).sqrt(),
    );
    ends_are_quantiles(&drawn, |x| {
        normal((x - a) / sigma) * normal((x - b) / sigma)
    });
    assert!(!drawn.agrees);
}

/// |x| near zero: the folded normal distribution, Leone, Nelson & Nottingham, Technometrics 3 (1961) 543, from memory.
#[test]
fn a_magnitude_near_zero() {
    let (mu, sigma) = (0.02, 0.1);
    let session = Session::of(
        r#"steps:
  - {id: x, compute: 'uncertain(0.02, 0.1)'}
  - {id: size, compute: 'abs(x)', record_only: true}
"#,
        &[],
        &[],
    );
    let drawn = session.drawn("size").expect("errors are drawn");
    let z: f64 = mu / sigma;
    let mean = 2.0 * sigma * density(z) + mu * (1.0 - 2.0 * normal(-z));
    let standard = (mu * mu + sigma * sigma - mean * mean).sqrt();
    // Wide enough for its kurtosis, which is above that of a normal distribution.
    near(
        drawn.standard_si,
        standard,
        5.0 * standard / (2.0 * TRIALS as f64).sqrt(),
    );
    ends_are_quantiles(&drawn, |x| {
        normal((x - mu) / sigma) - normal((-x - mu) / sigma)
    });
}

/// JCGM 101:2008, 9.2.3: the sum of four rectangular distributions of standard deviation 1. Their tail beyond s is
/// ((4√3 − s)/2√3)⁴/24, which gives the published 3.88 for 95 %, where the normal one has 3.92. The cube of the sum, as a
/// rising function that strays from first order, has the cubes of the quantiles.
#[test]
fn the_sum_of_four_rectangular_errors() {
    let width = 2.0 * 3.0_f64.sqrt();
    let tail = |s: f64| ((2.0 * width - s) / width).powi(4) / 24.0;
    near(tail(3.88), 0.025, 1e-4);
    assert!(tail(3.92) < 0.024);
    let roles = ["a", "b", "c", "d"];
    let measures: String = roles
        .iter()
        .map(|r| format!("  - {{id: {r}, measure: Reading, unit: \"1\", with: {r}_meter}}\n"))
        .collect();
    let steps = format!(
        "steps:\n{measures}  - {{id: cube, compute: '(a + b + c + d)^3', record_only: true}}\n"
    );
    let meters = roles.map(|r| format!("{r}_meter"));
    let accuracies: Vec<(&str, &str, &str)> = meters
        .iter()
        .map(|m| (m.as_str(), "ratio", "1.73205080756888"))
        .collect();
    let drawn = Session::of(&steps, &accuracies, &roles.map(|r| (r, "0"))).drawn("cube");
    let drawn = drawn.expect("errors are drawn");
    ends_are_quantiles(&drawn, |cube| {
        let s = cube.cbrt();
        if s < 0.0 { tail(-s) } else { 1.0 - tail(s) }
    });
}

/// The standard deviation of repeats is known to s/√(2(n − 1)) (JCGM 100:2008, E.4.3, from memory) with n − 1 degrees of
/// freedom, and is not drawn on top of its own scatter; the mean to s/√n (4.2.3).
#[test]
fn repeats_scatter_once() {
    let steps = r#"steps:
  - {id: x, measure: Reading, unit: mL, repeat: 5}
  - {id: s, compute: sd(x), unit: mL, record_only: true}
  - {id: middle, compute: mean(x), unit: mL, record_only: true}
"#;
    let readings = ["1", "2", "3", "4", "5"].map(|text| ("x", text));
    let session = Session::of(steps, &[], &readings);
    let s = 2.5_f64.sqrt() * 1e-6;
    for (path, expected) in [("s", s / 8.0_f64.sqrt()), ("middle", s / 5.0_f64.sqrt())] {
        let found = session.uncertainty(path).expect("an uncertainty");
        near(found.standard_si, expected, 1e-12 * expected);
        assert_eq!(found.freedom, 4.0);
        assert!(session.drawn(path).is_none());
    }
}

/// Two readings of a gauge on both sides of zero, −10 kPa and +10 kPa, with their sum and their difference.
fn across_zero(accuracy: &str) -> [Option<f64>; 4] {
    let steps = "steps:
  - {id: low, measure: Suction, unit: kPa, with: gauge, record_only: true}
  - {id: high, measure: Pressure, unit: kPa, with: gauge, record_only: true}
  - {id: sum, compute: low + high, unit: kPa}
  - {id: span, compute: high - low, unit: kPa}
";
    let readings = [("low", "-10"), ("high", "10")];
    let session = Session::of(steps, &[("gauge", "pressure", accuracy)], &readings);
    let standard_kpa = |u: Uncertainty| u.standard_si / 1000.0;
    ["low", "high", "sum", "span"].map(|path| session.uncertainty(path).map(standard_kpa))
}

/// Worked out by hand, a part of the reading g and a fixed part o, each over √3: an error g·x turns with the sign of the reading,
/// an error o does not.
#[test]
fn readings_of_opposite_sign_share_an_error_by_its_sign() {
    let root = 3.0_f64.sqrt();
    // g = 1 %: ±0.1 kPa, which cancels in the sum and adds in the difference.
    let [low, high, sum, span] = across_zero("1 %");
    near(low.expect("known"), 0.1 / root, 1e-12);
    near(high.expect("known"), 0.1 / root, 1e-12);
    assert_eq!(sum, None);
    near(span.expect("known"), 0.2 / root, 1e-12);
    // o = 0.3 kPa: the other way about.
    let [low, high, sum, span] = across_zero("0.3 kPa");
    near(low.expect("known"), 0.3 / root, 1e-12);
    near(high.expect("known"), 0.3 / root, 1e-12);
    near(sum.expect("known"), 0.6 / root, 1e-12);
    assert_eq!(span, None);
    // Both: 0.4 kPa at either reading. At −10 kPa the shared error is 0.3 − 0.1 = 0.2 kPa, its own below zero 2·√(0.1·0.3) kPa:
    // the sum has √(0.6² + 0.12), the difference √(0.2² + 0.12).
    let [low, high, sum, span] = across_zero("1 % + 0.3 kPa");
    near(low.expect("known"), 0.4 / root, 1e-12);
    near(high.expect("known"), 0.4 / root, 1e-12);
    near(sum.expect("known"), 0.48_f64.sqrt() / root, 1e-12);
    near(span.expect("known"), 0.4 / root, 1e-12);
}

/// Budget lines of two readings of one instrument: name, u and sensitivity; with the sizes of their own errors, or without.
fn budgets(accuracy: &str, own: bool) -> Vec<(String, Option<String>, Option<String>)> {
    let steps = "steps:
  - {id: small, measure: Volume, unit: mL, with: meter, record_only: true}
  - {id: large, measure: Volume, unit: mL, with: meter, record_only: true}
";
    let readings = [("small", "10"), ("large", "20")];
    let session = Session::of(steps, &[("meter", "volume", accuracy)], &readings);
    let told = |path: &str| {
        let value = session.state.items[session.index(path)].value();
        let value = value.and_then(|v| v.as_quantity()).expect("a reading");
        let sources = session.state.sources.borrow();
        let number = session.number(path);
        let sizes = match own {
            true => Sizes::of([number], &sources),
            false => Sizes::default(),
        };
        stepwell::record::uncertainty(value, number, &sources, None, &sizes)
    };
    let lines = ["small", "large"].into_iter().filter_map(told);
    let lines = lines.flat_map(|u| u.budget);
    lines
        .map(|l| (l.source, l.standard, l.sensitivity))
        .collect()
}

#[test]
fn a_calibration_is_named_without_a_reading_and_has_a_size_only_where_it_is_the_same() {
    let name = |accuracy: &str| format!("meter: accuracy of volume ({accuracy})");
    // 1 % of 10 mL and of 20 mL: no size is that of the calibration.
    for (source, standard, sensitivity) in budgets("1 %", false) {
        assert_eq!((source, standard, sensitivity), (name("1 %"), None, None));
    }
    let number = |text: Option<String>| text.and_then(|t| t.parse().ok()).expect("a number");
    // Of one reading it is that of the reading.
    let half_widths = [0.1, 0.2].into_iter();
    for ((_, standard, sensitivity), a) in budgets("1 %", true).into_iter().zip(half_widths) {
        near(number(standard), a / 3.0_f64.sqrt(), 1e-12);
        near(number(sensitivity), 1.0, 1e-12);
    }
    for (source, standard, sensitivity) in budgets("0.03 mL", false) {
        assert_eq!(source, name("0.03 mL"));
        near(number(standard), 0.03 / 3.0_f64.sqrt(), 1e-12);
        near(number(sensitivity), 1.0, 1e-12);
    }
}
