//! Conformity decisions and risks against JCGM 106, ILAC-G8 and other programs.
//!
//! Never in here: expected values of our own. Changes when a decision rule or guard band is added.

use serde_json::Value;
use stepwell::maths::Refusal;
use stepwell::maths::decision::{
    DecisionRule, Interval, Knowledge, Verdict, banded, conformance_probability, decide, margin,
    specific_risk,
};
use stepwell::maths::distribution::{Gamma, normal_quantile};
use stepwell::maths::guard::{
    GuardBand, dobbert_multiplier, guard_band, guard_band_for_probability, least_above_limit,
    risk_on_acceptance_limit, rss_acceptance, test_uncertainty_ratio,
};
use stepwell::maths::risk::{Process, global_risk, guard_band_for_global_risk};
use stepwell::quantity::Exact;

use crate::maths::{id, input, near, rows};
use crate::statistics::exact;

fn interval(row: &Value, low: &str, high: &str) -> Interval<f64> {
    let end = |name: &str| row["inputs"][name].as_f64();
    Interval::new(end(low), end(high)).unwrap_or_else(|e| panic!("{}: {e}", id(row)))
}

fn upper(high: f64) -> Interval<f64> {
    Interval::new(None, Some(high)).expect("a limit")
}

/// JCGM 106 9.5.4 (from memory): ball bearings whose run-out is gamma with mean 1 µm and standard deviation 0.5 µm.
fn bearings() -> Process {
    Process::Gamma(Gamma::new(4.0, 0.25).expect("a distribution"))
}

fn computed(row: &Value) -> Result<Option<f64>, Refusal> {
    let parts: Vec<&str> = id(row).split('.').collect();
    let get = |name: &str| input(row, name);
    Ok(Some(match parts[1..] {
        ["z", ..] => guard_band_for_probability(get("conformance_probability"), 1.0)?,
        ["pc", "t"] => {
            let tolerance = interval(row, "T_L", "T_U");
            let knowledge = Knowledge::Student(get("nu"));
            conformance_probability(get("y"), get("u"), &tolerance, knowledge)?
        }
        ["pc", _] | ["oil" | "zener"] => {
            let tolerance = interval(row, "T_L", "T_U");
            conformance_probability(get("y"), get("u"), &tolerance, Knowledge::Normal)?
        }
        ["speed"] => least_above_limit(get("v0"), get("u_rel"), get("p"))?,
        ["risk", _, which] => {
            let process = Process::Normal {
                mean: get("mu_process"),
                standard_deviation: get("sigma_process"),
            };
            let (tolerance, acceptance) =
                (interval(row, "T_L", "T_U"), interval(row, "A_L", "A_U"));
            let risk = global_risk(&process, get("u_m"), &tolerance, &acceptance)?;
            if which == "RC" {
                risk.consumer
            } else {
                risk.producer
            }
        }
        ["bearing", "P0"] => Gamma::new(get("gamma_shape"), get("gamma_scale"))?.tail(get("T_U")),
        ["bearing", "RC"] => {
            let acceptance = upper(get("A_U"));
            global_risk(&bearings(), get("u_m"), &upper(get("T_U")), &acceptance)?.consumer
        }
        // The other inputs are those of `g.bearing.RC`.
        ["bearing", ..] => {
            let target = get("target_RC");
            2.0 - guard_band_for_global_risk(target, &bearings(), 0.25, &upper(2.0))?
        }
        ["ilac", ..] => risk_on_acceptance_limit(get("w_over_U"), get("k"))?,
        ["tur", ..] => test_uncertainty_ratio(get("half_tolerance"), get("U_95"))?,
        ["gb", "rss", ..] => rss_acceptance(get("TUR"))?,
        ["gb", "dobbert", ..] => dobbert_multiplier(get("TUR"))?,
        _ => return Ok(None),
    }))
}

#[test]
fn every_row_of_probabilities_and_risks() {
    let rows = rows("g.");
    assert_eq!(rows.len(), 58);
    let numbers: Vec<&Value> = rows
        .iter()
        .filter(|r| !id(r).starts_with("g.rule."))
        .collect();
    assert_eq!(numbers.len(), 43);
    for row in numbers {
        match computed(row) {
            Ok(Some(found)) => near(row, found),
            Ok(None) => panic!("{} is not computed", id(row)),
            Err(e) => panic!("{}: {e}", id(row)),
        }
    }
}

#[test]
fn every_row_of_verdicts() {
    let rows = rows("g.rule.");
    assert_eq!(rows.len(), 15);
    for row in &rows {
        let number = |name: &str| {
            let value = &row["inputs"][name];
            (!value.is_null()).then(|| exact(&value.to_string()))
        };
        let tolerance = Interval::new(number("T_L"), number("T_U")).expect("limits");
        let rule = match row["inputs"]["rule"].as_str() {
            Some("simple") => DecisionRule::Simple,
            Some("guarded") => DecisionRule::Guarded,
            Some("nonbinary") => DecisionRule::Banded,
            other => panic!("{}: no rule {other:?}", id(row)),
        };
        let (y, w) = (number("y").expect("y"), number("U").expect("U"));
        let verdict = decide(&y, &tolerance, rule, &w).expect("a decision");
        assert_eq!(row["expected"], verdict.to_string(), "{}", id(row));
        assert_eq!(row["published_value"], verdict.to_string(), "{}", id(row));
    }
}

/// JCGM 106:2012 (from memory): the Zener reference, 7.4; table 1; the speed limit; the oil viscosity.
#[test]
fn examples_of_jcgm_106() {
    let normal = Knowledge::Normal;
    let zener = conformance_probability(-5.47, 0.05, &upper(-5.4), normal).expect("in domain");
    assert!((zener - 0.92).abs() <= 0.005, "{zener}");
    let oil = Interval::new(Some(12.5), Some(16.3)).expect("limits");
    let oil = conformance_probability(13.6, 1.8, &oil, normal).expect("in domain");
    assert!((oil - 0.66).abs() <= 0.005, "{oil}");
    let speed = least_above_limit(100.0, 0.02, 0.999).expect("in domain");
    assert_eq!(speed.ceil(), 107.0);
    for (p, z) in [
        (0.80, 0.84),
        (0.90, 1.28),
        (0.95, 1.64),
        (0.99, 2.33),
        (0.999, 3.09),
    ] {
        let found = guard_band_for_probability(p, 1.0).expect("in domain");
        assert!((found - z).abs() <= 0.005_001, "{p}: {found}");
    }
    let bearings = global_risk(&bearings(), 0.25, &upper(2.0), &upper(2.0)).expect("in domain");
    assert!(
        (bearings.conforming - 0.958).abs() < 0.0005 && (bearings.consumer - 0.008).abs() < 0.0005
    );
    let share = bearings
        .conditional_false_accept()
        .expect("some are accepted");
    assert!((share - bearings.consumer / bearings.accepted()).abs() < 1e-15);
}

/// One-sided risks in closed form: R_C + R_P = arccos(ρ)/π where both limits are at the process mean, ρ = σ/√(σ² + u²)
/// (orthant probability of the bivariate normal distribution, Sheppard 1899, from memory).
#[test]
fn risks_at_the_process_mean() {
    for u in [1e-4, 0.01, 0.3, 1.0, 5.0, 100.0] {
        let process = Process::Normal {
            mean: 7.0,
            standard_deviation: 2.0,
        };
        let found = global_risk(&process, u, &upper(7.0), &upper(7.0)).expect("in domain");
        let angle = (u / 2.0).atan() / std::f64::consts::PI;
        let sum = found.consumer + found.producer;
        assert!((sum - angle).abs() < 1e-13, "u = {u}: {sum} is not {angle}");
        assert!((found.accepted() - 0.5).abs() < 1e-13);
    }
}

/// Dobbert's multiplier reaches zero at a ratio of about 4.6 (from memory).
#[test]
fn guard_bands() {
    assert_eq!(dobbert_multiplier(4.7), Ok(0.0));
    assert!(dobbert_multiplier(4.5).expect("in domain") > 0.0);
    assert_eq!(guard_band(GuardBand::OfExpanded(1.0), 5.0, 1.25), Ok(1.25));
    // By hand: 5 − √(25 − 9) = 1.
    let rss = guard_band(GuardBand::Rss, 5.0, 3.0).expect("in domain");
    assert!((rss - 1.0).abs() < 1e-14);
    let dobbert = guard_band(GuardBand::Dobbert, 4.0, 1.0).expect("in domain");
    assert!((dobbert - 0.053_121_298_03).abs() < 1e-10);
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(test_uncertainty_ratio(bad, 1.0).is_err());
        assert!(test_uncertainty_ratio(1.0, bad).is_err());
        assert!(dobbert_multiplier(bad).is_err());
        assert!(guard_band_for_probability(0.95, bad).is_err());
    }
    assert!(rss_acceptance(1.0).is_err() && guard_band(GuardBand::Rss, 1.0, 2.0).is_err());
    assert!(guard_band(GuardBand::OfExpanded(-0.5), 5.0, 1.0).is_err());
    assert!(least_above_limit(100.0, 0.5, 0.999).is_err());
    // Between two limits: with w of 0.999 half the zone almost nothing is accepted; a target that simple acceptance meets needs no band.
    let process = Process::Normal {
        mean: 0.0,
        standard_deviation: 1.0,
    };
    let tolerance = Interval::new(Some(-2.0), Some(2.0)).expect("limits");
    assert_eq!(
        guard_band_for_global_risk(0.1, &process, 0.25, &tolerance),
        Ok(0.0)
    );
    let w = guard_band_for_global_risk(0.002, &process, 0.25, &tolerance).expect("in domain");
    let acceptance = tolerance.guarded(w).expect("a zone");
    let risk = global_risk(&process, 0.25, &tolerance, &acceptance).expect("in domain");
    assert!((risk.consumer - 0.002).abs() < 1e-12);
}

#[test]
fn what_can_not_be_decided_is_refused() {
    let crossed = |low: f64, high: f64| Interval::new(Some(low), Some(high));
    assert_eq!(Interval::<f64>::new(None, None), Err(Refusal::NoLimit));
    assert!(
        crossed(1.0, 1.0).is_err() && crossed(2.0, 1.0).is_err() && crossed(f64::NAN, 1.0).is_err()
    );
    assert!(Interval::new(None, Some(f64::NAN)).is_err());
    let (low, high) = (exact("118.75"), exact("131.25"));
    let tolerance = Interval::new(Some(low), Some(high)).expect("limits");
    let refused = |w: &str, rule| decide(&exact("125"), &tolerance, rule, &exact(w)).is_err();
    assert!(!refused("6.25", DecisionRule::Guarded));
    assert!(refused("6.2501", DecisionRule::Guarded) && refused("6.2501", DecisionRule::Banded));
    assert!(refused("-1", DecisionRule::Guarded) && !refused("-1", DecisionRule::Simple));
    for u in [0.0, -1.0, f64::NAN] {
        assert!(conformance_probability(1.0, u, &upper(2.0), Knowledge::Normal).is_err());
        assert!(global_risk(&bearings(), u, &upper(2.0), &upper(2.0)).is_err());
    }
    assert!(conformance_probability(1.0, 1.0, &upper(2.0), Knowledge::Student(0.0)).is_err());
    let flat = Process::Normal {
        mean: 0.0,
        standard_deviation: 0.0,
    };
    assert!(global_risk(&flat, 1.0, &upper(2.0), &upper(2.0)).is_err());
    assert!(guard_band_for_global_risk(0.0, &bearings(), 0.25, &upper(2.0)).is_err());
    let message = decide(
        &exact("125"),
        &tolerance,
        DecisionRule::Guarded,
        &exact("7"),
    );
    assert_eq!(
        message.expect_err("an empty zone").to_string(),
        "a guard band of 7 on each limit leaves nothing to accept; lower the uncertainty or widen the tolerance"
    );
}

/// By hand: on the limit, on the guard band, just beyond each.
#[test]
fn bands_of_a_margin() {
    let zero = Exact::zero();
    for (inside, w, verdict) in [
        ("2", "2", Verdict::Pass),
        ("1.9999", "2", Verdict::ConditionalPass),
        ("0", "2", Verdict::ConditionalPass),
        ("-0.0001", "2", Verdict::ConditionalFail),
        ("-2", "2", Verdict::ConditionalFail),
        ("-2.0001", "2", Verdict::Fail),
    ] {
        assert_eq!(banded(&exact(inside), &exact(w)), verdict, "{inside}");
    }
    assert_eq!(banded(&zero, &zero), Verdict::Pass);
    assert_eq!(banded(&exact("-0.1"), &zero), Verdict::Fail);
    let tolerance = Interval::new(Some(exact("1")), Some(exact("4"))).expect("limits");
    assert_eq!(margin(&exact("1.5"), &tolerance), exact("0.5"));
    assert_eq!(margin(&exact("4.5"), &tolerance), exact("-0.5"));
}

/// ILAC-G8:09/2019 table 1 (from memory): the bounds on the risk of false acceptance, at the acceptance limit.
#[test]
fn bounds_of_ilac_g8() {
    for (multiple, bound) in [
        (3.0, 1e-6),
        (1.5, 0.0016),
        (1.0, 0.025),
        (0.83, 0.05),
        (0.0, 0.5),
    ] {
        let found = risk_on_acceptance_limit(multiple, 2.0).expect("in domain");
        assert!(found <= bound, "{multiple}: {found}");
    }
    // 1.64·u is 0.82·U at k = 2: risk 5 %; the specific risk of the same value agrees.
    let z = normal_quantile(0.95).expect("in domain");
    let risk = specific_risk(10.0 - z, 1.0, &upper(10.0), Knowledge::Normal).expect("in domain");
    assert!((risk - 0.05).abs() < 1e-14);
}
