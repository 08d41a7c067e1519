//! Quantiles and tails against values of forty digits.
//!
//! Never in here: what distributions are used for. Changes when a distribution is added.

use std::f64::consts::PI;

use serde_json::Value;
use stepwell::maths::distribution::{Gamma, normal_cdf, normal_quantile, normal_tail};
use stepwell::maths::student::{student_cdf, student_quantile, student_tail};

use crate::maths::read;

const VALUES: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/tests/oracle/data/distributions.json"
);

/// The rows of a table; there must be as many as were made.
fn table(name: &str, count: usize) -> Vec<Value> {
    let all: Value = serde_json::from_str(&read(VALUES)).expect("JSON");
    let rows = all[name].as_array().expect("a table").clone();
    assert_eq!(rows.len(), count, "{name}");
    rows
}

/// A number, written as one or as text of more digits than a double has.
fn number(row: &Value, name: &str) -> f64 {
    let value = &row[name];
    let text = value.as_str().and_then(|text| text.parse().ok());
    value
        .as_f64()
        .or(text)
        .unwrap_or_else(|| panic!("{row} has no {name}"))
}

/// Compares relatively; what is below 1e-300 in truth may be zero.
fn close(row: &Value, found: f64, expected: f64, relative: f64) {
    let enough = (found - expected).abs() <= relative * expected.abs() + 1e-300;
    assert!(enough, "{row}: {found} is not {expected} to {relative}");
}

#[test]
fn student_quantiles() {
    for row in table("student_quantile", 180) {
        let (p, nu) = (number(&row, "p"), number(&row, "nu"));
        let expected = number(&row, "t");
        close(
            &row,
            student_quantile(p, nu).expect("in domain"),
            expected,
            1e-12,
        );
        // The other side, where 1 − p is exact.
        if 1.0 - (1.0 - p) == p {
            let below = student_quantile(1.0 - p, nu).expect("in domain");
            close(&row, -below, expected, 1e-12);
        }
    }
}

#[test]
fn student_tails() {
    for row in table("student_tail", 42) {
        let (t, nu) = (number(&row, "t"), number(&row, "nu"));
        let expected = number(&row, "tail");
        close(
            &row,
            student_tail(t, nu).expect("in domain"),
            expected,
            1e-12,
        );
        let cdf = student_cdf(t, nu).expect("in domain");
        close(&row, cdf, 1.0 - expected, 1e-13);
    }
}

/// Closed forms for one and two degrees of freedom.
#[test]
fn student_where_there_is_a_closed_form() {
    for p in [0.5, 0.51, 0.7, 0.9, 0.999] {
        let one = student_quantile(p, 1.0).expect("in domain");
        assert!((one - (PI * (p - 0.5)).tan()).abs() <= 1e-12 * one);
        let two = student_quantile(p, 2.0).expect("in domain");
        let exact = (2.0 * p - 1.0) / (2.0 * p * (1.0 - p)).sqrt();
        assert!(
            (two - exact).abs() <= 1e-13 * exact.max(1e-3),
            "{two} {exact}"
        );
    }
}

#[test]
fn normal_quantiles_and_tails() {
    for row in table("normal_quantile", 12) {
        let found = normal_quantile(number(&row, "p")).expect("in domain");
        close(&row, found, number(&row, "z"), 1e-14);
    }
    for row in table("normal_tail", 9) {
        let (x, tail) = (number(&row, "x"), number(&row, "tail"));
        let relative = 1e-15 + 3e-16 * x * x;
        close(&row, normal_tail(x), tail, relative);
        close(&row, normal_cdf(-x), tail, relative);
    }
    assert_eq!(normal_quantile(0.5), Ok(0.0));
}

#[test]
fn gamma_probabilities() {
    for row in table("gamma_tail", 36) {
        let gamma = Gamma::new(number(&row, "shape"), 1.0).expect("a distribution");
        let x = number(&row, "x");
        close(&row, gamma.tail(x), number(&row, "tail"), 3e-11);
        close(&row, gamma.cdf(x), number(&row, "cdf"), 3e-11);
    }
}

/// The density is the slope of the probability.
#[test]
fn gamma_density() {
    let gamma = Gamma::new(4.0, 0.25).expect("a distribution");
    for x in [0.1_f64, 0.5, 1.0, 2.0, 3.0] {
        // θ⁻⁴·x³·e^(−x/θ)/3!, the definition for k = 4.
        let exact = 256.0 * x * x * x * (-4.0 * x).exp() / 6.0;
        assert!((gamma.density(x) - exact).abs() < 1e-13, "{x}");
    }
    assert_eq!(gamma.density(-1.0), 0.0);
    assert_eq!(gamma.cdf(-1.0), 0.0);
    assert_eq!(gamma.tail(f64::INFINITY), 0.0);
}

#[test]
fn what_is_no_distribution_is_refused() {
    for p in [0.0, 1.0, -0.1, 1.1, f64::NAN] {
        assert!(normal_quantile(p).is_err());
        assert!(student_quantile(p, 5.0).is_err());
    }
    for nu in [0.0, -1.0, f64::NAN, f64::NEG_INFINITY] {
        assert!(student_quantile(0.9, nu).is_err());
        assert!(student_cdf(1.0, nu).is_err());
        assert!(Gamma::new(nu, 1.0).is_err());
        assert!(Gamma::new(1.0, nu).is_err());
    }
    assert!(student_cdf(f64::NAN, 5.0).is_err());
    // Infinitely many degrees of freedom are the normal distribution.
    assert_eq!(
        student_quantile(0.975, f64::INFINITY),
        normal_quantile(0.975)
    );
    assert_eq!(student_tail(f64::INFINITY, 3.0), Ok(0.0));
}
