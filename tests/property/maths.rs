//! Laws of statistics, risks and reported results.

use proptest::prelude::*;
use stepwell::maths::Correlations;
use stepwell::maths::budget::EffectiveFreedom;
use stepwell::maths::budget::{Component, combine};
use stepwell::maths::control::ChartConstants;
use stepwell::maths::coverage::{coverage_factor, truncated};
use stepwell::maths::decision::{Interval, Knowledge, conformance_probability, specific_risk};
use stepwell::maths::distribution::{Gamma, normal_quantile};
use stepwell::maths::guard::{GuardBand, guard_band, least_above_limit};
use stepwell::maths::outlier::{Side, grubbs_critical};
use stepwell::maths::report::{UncertaintyDigits, report};
use stepwell::maths::risk::{Process, global_risk, guard_band_for_global_risk};
use stepwell::maths::statistics::{QuantileRule, mean, quantile, variance};
use stepwell::maths::student::{student_cdf, student_quantile};
use stepwell::quantity::{Exact, Rounding};

fn thousandths(values: &[i64]) -> Vec<Exact> {
    let parse = |v: &i64| Exact::parse(&format!("{v}e-3")).unwrap();
    values.iter().map(parse).collect()
}

/// Numbers as they may come: ordinary, huge, tiny, and none at all.
fn anything() -> impl Strategy<Value = f64> {
    let odd = [
        0.0,
        -0.0,
        1.0,
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::MAX,
        5e-324,
    ];
    prop_oneof![
        any::<f64>(),
        -2.0f64..2.0,
        prop::sample::select(odd.to_vec())
    ]
}

proptest! {
    #[test]
    fn no_number_makes_it_panic(a in anything(), b in anything(), c in anything(), d in anything(), n in 0usize..40) {
        let _ = (normal_quantile(a), student_quantile(a, b), student_cdf(a, b));
        let _ = Gamma::new(a, b).map(|g| (g.cdf(c), g.tail(c), g.density(c)));
        let _ = combine(&[Component::estimated(a, b, c), Component::estimated(b, c, d).sharing(1)], None);
        let _ = Correlations::of_pairs(3, &[(0, 1, a), (0, 2, b), (1, 2, c)]);
        let _ = (coverage_factor(a, EffectiveFreedom::Finite(b)), truncated(b));
        let _ = (grubbs_critical(n, Side::Both, a), ChartConstants::of(n % 4).map(|c| c.mean_limits(a, b)));
        for band in [GuardBand::OfExpanded(c), GuardBand::Rss, GuardBand::Dobbert] {
            let _ = guard_band(band, a, b);
        }
        let _ = least_above_limit(a, b, c);
        if let (Some(value), Some(u)) = (Exact::from_f64(a), Exact::from_f64(b)) {
            let _ = report(&value, &u, UncertaintyDigits::Two, Rounding::HalfUp);
        }
        let gamma = Gamma::new(c.abs().max(1.0), d).map(Process::Gamma);
        let processes = [Ok(Process::Normal { mean: c, standard_deviation: d }), gamma];
        for process in processes.into_iter().flatten() {
            for limits in [Interval::new(Some(a), Some(b)), Interval::new(None, Some(a))].into_iter().flatten() {
                let _ = conformance_probability(c, d, &limits, Knowledge::Student(b));
                let _ = global_risk(&process, b, &limits, &limits);
                if limits.low().is_some() {
                    let _ = guard_band_for_global_risk(0.01, &process, b, &limits);
                }
            }
        }
    }

    #[test]
    fn variance_does_not_see_a_shift(values in prop::collection::vec(-1_000_000i64..1_000_000, 2..20), shift in -1_000_000_000_000i64..1_000_000_000_000) {
        let shifted: Vec<i64> = values.iter().map(|v| v + shift).collect();
        let (before, after) = (thousandths(&values), thousandths(&shifted));
        prop_assert_eq!(variance(&before), variance(&after));
        let moved = thousandths(&[shift])[0].clone();
        prop_assert_eq!(mean(&before).unwrap() + moved, mean(&after).unwrap());
    }

    #[test]
    fn quantiles_rise_with_their_order(values in prop::collection::vec(-1000i64..1000, 1..12), a in 0i64..=1000, b in 0i64..=1000) {
        let data = thousandths(&values);
        let at = |p: i64, rule| quantile(&data, &thousandths(&[p])[0], rule).unwrap();
        for rule in [QuantileRule::Type6, QuantileRule::Type7] {
            prop_assert!(at(a.min(b), rule) <= at(a.max(b), rule));
        }
    }

    #[test]
    fn student_quantile_and_probability_undo_each_other(p in 0.00001f64..0.99999, nu in 0.5f64..2e5) {
        let t = student_quantile(p, nu).unwrap();
        let back = student_cdf(t, nu).unwrap();
        prop_assert!((back - p).abs() < 1e-12, "{} {} {}", t, back, p);
    }

    #[test]
    fn a_wider_guard_band_lowers_the_consumers_risk_and_raises_the_producers(
        mean in -1.5f64..1.5, sd in 0.05f64..3.0, u in 0.01f64..2.0, w in 0.0f64..0.45, more in 0.001f64..0.5,
    ) {
        let process = Process::Normal { mean, standard_deviation: sd };
        let tolerance = Interval::new(Some(-1.0), Some(1.0)).unwrap();
        let risk = |w| global_risk(&process, u, &tolerance, &tolerance.guarded(w).unwrap()).unwrap();
        let (wide, narrow) = (risk(w), risk(w + more));
        prop_assert!(narrow.consumer <= wide.consumer + 1e-12);
        prop_assert!(narrow.producer >= wide.producer - 1e-12);
        prop_assert!(wide.consumer >= 0.0 && wide.producer >= 0.0 && wide.accepted() <= 1.0 + 1e-12);
    }

    #[test]
    fn conformance_and_risk_add_up_to_one(y in -5.0f64..5.0, u in 0.01f64..3.0, nu in 1.0f64..100.0) {
        let tolerance = Interval::new(Some(-1.0), Some(2.0)).unwrap();
        for knowledge in [Knowledge::Normal, Knowledge::Student(nu)] {
            let conforming = conformance_probability(y, u, &tolerance, knowledge).unwrap();
            let risk = specific_risk(y, u, &tolerance, knowledge).unwrap();
            prop_assert!((conforming + risk - 1.0).abs() < 1e-12);
            prop_assert!((0.0..=1.0).contains(&conforming));
        }
    }

    #[test]
    fn more_uncertainty_never_combines_to_less(u in prop::collection::vec(0.0f64..10.0, 1..8), more in 0.0f64..5.0) {
        let known = |u: &[f64]| -> Vec<Component> { u.iter().map(|u| Component::known(1.0, *u)).collect() };
        let before = combine(&known(&u), None).unwrap().uncertainty;
        let mut raised = u.clone();
        raised[0] += more;
        prop_assert!(combine(&known(&raised), None).unwrap().uncertainty >= before - 1e-12);
        prop_assert!(before >= u.iter().fold(0.0f64, |a, b| a.max(*b)) - 1e-12);
    }

    #[test]
    fn reported_result_and_uncertainty_end_at_the_same_place(value in -1_000_000_000i64..1_000_000_000, u in 1i64..100_000_000) {
        let (value, u) = (thousandths(&[value])[0].clone(), thousandths(&[u])[0].clone());
        for rule in [Rounding::HalfEven, Rounding::HalfUp, Rounding::Ceiling] {
            let found = report(&value, &u, UncertaintyDigits::Two, rule).unwrap();
            let decimals = |text: &str| text.split_once('.').map_or(0, |(_, f)| f.len());
            prop_assert_eq!(decimals(&found.value), decimals(&found.uncertainty));
            let digits = found.uncertainty.trim_start_matches(['0', '.']).replace('.', "");
            let significant = if found.place > 0 { digits.len() - found.place as usize } else { digits.len() };
            prop_assert_eq!(significant, 2, "{:?}", found);
            // Neither is moved by more than half of the last digit (the uncertainty by a whole one, where it goes up).
            let step = Exact::from(10).powi(found.place as i32).unwrap();
            let moved = (Exact::parse(&found.value).unwrap() - value.clone()).abs();
            prop_assert!(moved.clone() + moved <= step);
            prop_assert!((Exact::parse(&found.uncertainty).unwrap() - u.clone()).abs() <= step);
            prop_assert!(rule != Rounding::Ceiling || Exact::parse(&found.uncertainty).unwrap() >= u);
        }
    }
}
