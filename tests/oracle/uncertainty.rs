//! Uncertainty budgets against the examples of the GUM and other programs.
//!
//! Never in here: expected values of our own. Changes when budgets are combined or reported otherwise.

use serde_json::Value;
use stepwell::maths::budget::{
    Combined, Component, EffectiveFreedom, combine, covariance_of_results,
};
use stepwell::maths::coverage::{USUAL_PROBABILITY, coverage_factor, truncated};
use stepwell::maths::line::Line;
use stepwell::maths::report::{UncertaintyDigits, report, rule_of_expanded};
use stepwell::maths::statistics::{
    correlation, mean, standard_deviation, standard_deviation_of_mean,
};
use stepwell::maths::student::student_quantile;
use stepwell::maths::type_b::TypeB;
use stepwell::maths::{Correlations, Refusal};
use stepwell::quantity::{Exact, Rounding};

use crate::maths::{id, input, near, rows};
use crate::statistics::{exact, exacts};

/// Rows that nothing here computes, and why.
const NOT_COMPUTED: [(&str, &str); 1] = [(
    "f.s1.rect95",
    "the quantile of a sum of rectangular distributions is propagation of distributions (JCGM 101), not of uncertainties",
)];

fn list(value: &Value) -> Vec<f64> {
    let items = value.as_array().expect("a list");
    items
        .iter()
        .map(|v| match v.as_str() {
            Some("inf") => f64::INFINITY,
            _ => v.as_f64().expect("a number"),
        })
        .collect()
}

fn finite(combined: &Combined) -> f64 {
    match combined.degrees_of_freedom {
        EffectiveFreedom::Finite(nu) => nu,
        other => panic!("{other:?} instead of finite degrees of freedom"),
    }
}

/// GUM H.1, the end gauge, in nm: l = l_S + d − l_S·(δα·θ + α_S·δθ), at δα = 0 and δθ = 0 (inputs as in `f.h1.*`).
fn end_gauge(second_order: bool) -> Vec<Component> {
    let (length, alpha, theta) = (50_000_623.0, 11.5e-6, -0.1);
    let rectangle = |a| {
        TypeB::Rectangular
            .standard_uncertainty(a)
            .expect("in domain")
    };
    let (u_alpha, u_d_alpha, u_d_theta) = (rectangle(2e-6), rectangle(1e-6), rectangle(0.05));
    let swing = TypeB::UShaped.standard_uncertainty(0.5).expect("in domain");
    let mut components = vec![
        Component::estimated(1.0, 25.0, 18.0),
        Component::estimated(1.0, 5.8, 24.0),
        Component::estimated(1.0, 3.9, 5.0),
        Component::estimated(1.0, 6.7, 8.0),
        // −l_S·δθ and −l_S·δα are zero at the estimates.
        Component::known(0.0, u_alpha),
        Component::known(0.0, 0.2),
        Component::known(0.0, swing),
        Component::estimated(-length * theta, u_d_alpha, 50.0),
        Component::estimated(-length * alpha, u_d_theta, 2.0),
    ];
    if second_order {
        // GUM H.1.7: the cross terms −l_S·δα·θ and −l_S·α_S·δθ.
        components.push(Component::known(-length, u_d_alpha * 0.2_f64.hypot(swing)));
        components.push(Component::known(-length, u_alpha * u_d_theta));
    }
    components
}

/// GUM H.2: V, I and φ observed together, and the sensitivities of R, X and Z = V/I.
struct Impedance {
    means: [f64; 3],
    uncertainties: [f64; 3],
    correlations: Correlations,
}

impl Impedance {
    fn of(data: &Value) -> Self {
        let [v, i, phi] = ["V", "I", "phi"].map(|name| exacts(&data[name]));
        let i: Vec<Exact> = i
            .into_iter()
            .map(|milliamperes| milliamperes * exact("0.001"))
            .collect();
        let both = |x: &[Exact], y: &[Exact]| correlation(x, y).expect("a spread");
        let pairs = [
            (0, 1, both(&v, &i)),
            (0, 2, both(&v, &phi)),
            (1, 2, both(&i, &phi)),
        ];
        let data = [v, i, phi];
        Self {
            means: data.each_ref().map(|x| mean(x).expect("readings").to_f64()),
            uncertainties: data
                .each_ref()
                .map(|x| standard_deviation_of_mean(x).expect("readings")),
            correlations: Correlations::of_pairs(3, &pairs).expect("they hold together"),
        }
    }

    /// The value of R, X or Z, and its sensitivities to V, I, φ.
    fn result(&self, which: char) -> (f64, [f64; 3]) {
        let [v, i, phi] = self.means;
        let (factor, slope) = match which {
            'R' => (phi.cos(), -phi.sin()),
            'X' => (phi.sin(), phi.cos()),
            _ => (1.0, 0.0),
        };
        let z = v / i;
        (z * factor, [factor / i, -z * factor / i, z * slope])
    }

    fn uncertainty(&self, which: char) -> f64 {
        let (_, sensitivities) = self.result(which);
        let components: Vec<Component> = sensitivities
            .iter()
            .zip(self.uncertainties)
            .map(|(c, u)| Component::estimated(*c, u, 4.0))
            .collect();
        let combined = combine(&components, Some(&self.correlations)).expect("in domain");
        assert_eq!(combined.degrees_of_freedom, EffectiveFreedom::NotDefined);
        combined.uncertainty
    }

    fn correlation(&self, a: char, b: char) -> f64 {
        let (from, to) = (self.result(a).1, self.result(b).1);
        let both = covariance_of_results(&from, &to, &self.uncertainties, &self.correlations);
        both.expect("in domain") / (self.uncertainty(a) * self.uncertainty(b))
    }
}

fn of_impedance(row: &Value, which: &[&str]) -> Option<f64> {
    let data = &row["inputs"]["data"];
    let scale = |name: &str| exact(if name == "I" { "0.001" } else { "1" });
    let scaled = |name: &str| -> Vec<Exact> {
        let raw = exacts(data).into_iter();
        raw.map(|x| x * scale(name)).collect()
    };
    let at = |text: &str, n: usize| text.chars().nth(n);
    Some(match which {
        ["mean", name] => mean(&scaled(name)).ok()?.to_f64(),
        ["s", name] => standard_deviation_of_mean(&scaled(name)).ok()?,
        [pair] if pair.starts_with("rin") => {
            let place = |n| Some(at(pair, n)?.to_digit(10)? as usize);
            Impedance::of(data)
                .correlations
                .between(place(3)?, place(4)?)
        }
        [pair] if pair.starts_with('r') => {
            Impedance::of(data).correlation(at(pair, 1)?, at(pair, 2)?)
        }
        [u] if u.starts_with('u') => Impedance::of(data).uncertainty(at(u, 1)?),
        [value] => Impedance::of(data).result(at(value, 0)?).0,
        _ => return None,
    })
}

/// GUM H.3, the thermometer's line.
fn of_thermometer(row: &Value, which: &str) -> Option<f64> {
    let inputs = &row["inputs"];
    let base = exact(&inputs["t0"].to_string());
    let x: Vec<Exact> = exacts(&inputs["t_C"])
        .into_iter()
        .map(|t| t - base.clone())
        .collect();
    let line = Line::through(&x, &exacts(&inputs["b_C"])).ok()?;
    let thirty = exact("30") - base;
    Some(match which {
        "y1" => line.intercept().to_f64(),
        "y2" => line.slope().to_f64(),
        "s_y1" => line.intercept_uncertainty(),
        "s_y2" => line.slope_uncertainty(),
        "r" => line.coefficient_correlation(),
        "s" => line.residual_standard_deviation(),
        "b30" => line.at(&thirty).to_f64(),
        "u_b30" => line.uncertainty_at(&thirty),
        _ => return None,
    })
}

/// Flow by weighing: Q = (m_end − m_start + m_evaporated)·Z·3600/t, in mL/h.
fn of_flow(row: &Value, which: &str) -> Option<f64> {
    let pair = |name: &str| {
        let both = list(&row["inputs"][name]);
        (both[0], both[1])
    };
    let (end, start, lost, time) = (
        pair("m_end_g"),
        pair("m_start_g"),
        pair("evap_g"),
        pair("t_s"),
    );
    let z = input(row, "Z_uL_mg");
    let per_gram = z * 3600.0 / time.0;
    let value = (end.0 - start.0 + lost.0) * per_gram;
    let components = [
        Component::known(per_gram, end.1),
        Component::known(-per_gram, start.1),
        Component::known(per_gram, lost.1),
        Component::known(value / z, input(row, "u_rel_Z") * z),
        Component::known(-value / time.0, time.1),
    ];
    let combined = combine(&components, None).ok()?;
    let k = coverage_factor(USUAL_PROBABILITY, combined.degrees_of_freedom).ok()?;
    Some(match which {
        "value" => value,
        "u" => combined.uncertainty,
        "U_pct" => 100.0 * k * combined.uncertainty / value,
        _ => return None,
    })
}

fn of_type_b(row: &Value, which: &str) -> Option<f64> {
    let known = match which {
        "rect" => TypeB::Rectangular,
        "tri" => TypeB::Triangular,
        "ushape" | "arcsine" => TypeB::UShaped,
        "normal_k2" => TypeB::Expanded(2.0),
        "normal_95" => TypeB::NormalInterval(0.95),
        "resolution" => TypeB::Resolution,
        "trap_b05" => TypeB::Trapezoidal(0.5),
        _ => return None,
    };
    known.standard_uncertainty(input(row, "a")).ok()
}

fn of_components(row: &Value, uncertainties: &str) -> Combined {
    let u = list(&row["inputs"][uncertainties]);
    let nu = list(&row["inputs"]["nu"]);
    let components: Vec<Component> = u
        .iter()
        .zip(&nu)
        .map(|(u, nu)| Component::estimated(1.0, *u, *nu))
        .collect();
    combine(&components, None).expect("in domain")
}

fn computed(row: &Value) -> Option<f64> {
    let parts: Vec<&str> = id(row).split('.').collect();
    Some(match parts[1..] {
        ["h1", "u_second_order"] => combine(&end_gauge(true), None).ok()?.uncertainty,
        ["h1", which] => {
            let combined = combine(&end_gauge(false), None).ok()?;
            let k = coverage_factor(0.99, combined.degrees_of_freedom).ok()?;
            match which {
                "U99" => k * combined.uncertainty,
                "u" | "uc" => combined.uncertainty,
                "nu" => finite(&combined),
                _ => return None,
            }
        }
        ["h2", ref which @ ..] => of_impedance(row, which)?,
        ["h3", which] => of_thermometer(row, which)?,
        ["g41", "u"] => of_components(row, "u_rel_pct").uncertainty,
        ["g41", "nu"] => finite(&of_components(row, "u_rel_pct")),
        // The row enters the table with 19, as the GUM does; truncation of 18.998 7 would give 18.
        ["g41", "U95"] => {
            let u = list(&row["inputs"]["u_rel_pct"]);
            let components: Vec<Component> = u.iter().map(|u| Component::known(1.0, *u)).collect();
            let nineteen = EffectiveFreedom::Finite(input(row, "nu_eff"));
            coverage_factor(0.95, nineteen).ok()? * combine(&components, None).ok()?.uncertainty
        }
        ["ws", ..] => finite(&of_components(row, "u")),
        ["t", ..] => {
            let freedom = EffectiveFreedom::Finite(input(row, "nu"));
            coverage_factor(input(row, "p_pct") / 100.0, freedom).ok()?
        }
        ["div", which] => of_type_b(row, which)?,
        // JCGM 101 9.2.4 (from memory): three inputs with u = 1 and one with u = 10, by the law of propagation.
        ["s1", "widerect95", "guf"] => {
            let inputs = [1.0, 1.0, 1.0, 10.0].map(|u| Component::known(1.0, u));
            let combined = combine(&inputs, None).ok()?;
            coverage_factor(0.95, combined.degrees_of_freedom).ok()? * combined.uncertainty
        }
        ["flow", which] => of_flow(row, which)?,
        ["corr", ..] => {
            let u = list(&row["inputs"]["u"]);
            let components: Vec<Component> = u.iter().map(|u| Component::known(1.0, *u)).collect();
            let r = input(row, "r");
            let pairs = [(0, 1, r), (0, 2, r), (1, 2, r)];
            let correlations = Correlations::of_pairs(3, &pairs).ok()?;
            combine(&components, Some(&correlations)).ok()?.uncertainty
        }
        _ => return None,
    })
}

#[test]
fn every_row_of_uncertainty() {
    let rows = rows("f.");
    assert_eq!(rows.len(), 59);
    let mut left_out = Vec::new();
    for row in &rows {
        match computed(row) {
            Some(found) => near(row, found),
            None => left_out.push(id(row)),
        }
    }
    assert_eq!(left_out, NOT_COMPUTED.map(|(id, _)| id));
}

/// GUM H.1 as printed (from memory; 32 nm and 16 are also asserted by suncal 1.7.1): 32 nm, ν_eff 16.7 and so 16, k 2.92.
#[test]
fn end_gauge_as_printed() {
    let combined = combine(&end_gauge(false), None).expect("in domain");
    assert!((combined.uncertainty - 32.0).abs() < 0.5, "{combined:?}");
    let nu = finite(&combined);
    assert!((nu - 16.7).abs() < 0.06 && truncated(nu) == 16.0, "{nu}");
    let k = coverage_factor(0.99, combined.degrees_of_freedom).expect("in domain");
    assert!((k - 2.92).abs() < 0.005);
}

/// GUM 4.4.3 and table 1 (readings and results from memory): 20 temperatures in °C; 100.14, s 1.49, u 0.33.
#[test]
fn readings_of_gum_4_4_3() {
    let data: Vec<Exact> = [
        "96.90", "98.18", "98.25", "98.61", "99.03", "99.49", "99.56", "99.74", "99.89", "100.07",
        "100.33", "100.42", "100.68", "100.95", "101.11", "101.20", "101.57", "101.84", "102.36",
        "102.72",
    ]
    .into_iter()
    .map(exact)
    .collect();
    assert_eq!(data.len(), 20);
    let centre = mean(&data).expect("readings").to_f64();
    let s = standard_deviation(&data).expect("readings");
    let u = standard_deviation_of_mean(&data).expect("readings");
    assert!((centre - 100.14).abs() < 0.0051, "{centre}");
    assert!(
        (s - 1.49).abs() < 0.005 && (u - 0.33).abs() < 0.005,
        "{s} {u}"
    );
}

/// GUM 4.4.5 and 4.4.6 (from memory): ±4 °C about 100 °C is 2.3 °C if rectangular and 1.6 °C if triangular.
#[test]
fn half_widths_of_gum_4_4() {
    let u = |known: TypeB| known.standard_uncertainty(4.0).expect("in domain");
    assert!((u(TypeB::Rectangular) - 2.3).abs() < 0.05);
    assert!((u(TypeB::Triangular) - 1.6).abs() < 0.05);
    // The ends of a trapezoid: β = 0 is a triangle, β = 1 a rectangle.
    assert_eq!(u(TypeB::Trapezoidal(0.0)), u(TypeB::Triangular));
    assert_eq!(u(TypeB::Trapezoidal(1.0)), u(TypeB::Rectangular));
    for bad in [-0.1, 1.1, f64::NAN] {
        assert!(TypeB::Trapezoidal(bad).divisor().is_err());
    }
    assert!(TypeB::Expanded(0.0).divisor().is_err());
    assert!(TypeB::NormalInterval(1.0).divisor().is_err());
    assert!(TypeB::Rectangular.standard_uncertainty(-1.0).is_err());
}

/// GUM table G.2 (from memory), columns of 68.27 %, 95 %, 95.45 %, 99 % and 99.73 %; the last for three whole standard
/// deviations, 99.730 02 %, or its first row would be 235.78.
#[test]
fn rows_of_gum_table_g_2() {
    for (nu, row) in [
        (1.0, [1.84, 12.71, 13.97, 63.66, 235.80]),
        (5.0, [1.11, 2.57, 2.65, 4.03, 5.51]),
        (10.0, [1.05, 2.23, 2.28, 3.17, 3.96]),
        (50.0, [1.01, 2.01, 2.05, 2.68, 3.16]),
    ] {
        for (p, printed) in [0.6827, 0.95, 0.9545, 0.99, 0.997_300_2]
            .into_iter()
            .zip(row)
        {
            let k = coverage_factor(p, EffectiveFreedom::Finite(nu)).expect("in domain");
            assert!((k - printed).abs() <= 0.0051, "{nu} {p}: {k}");
        }
    }
}

/// By hand: groups share one estimate and count once. Two equal, independent u from one pooled s: ν_eff stays ν.
#[test]
fn components_of_one_estimate_count_once() {
    let alone = [
        Component::estimated(1.0, 2.0, 9.0),
        Component::estimated(1.0, 2.0, 9.0),
    ];
    let apart = finite(&combine(&alone, None).expect("in domain"));
    assert!((apart - 18.0).abs() < 1e-12);
    let shared = alone.map(|c| c.sharing(1));
    let together = finite(&combine(&shared, None).expect("in domain"));
    assert!((together - 9.0).abs() < 1e-12);
    // Fully correlated within the group they add up, and the formula holds.
    let r = Correlations::of_pairs(2, &[(0, 1, 1.0)]).expect("they hold together");
    let full = combine(&shared, Some(&r)).expect("in domain");
    assert!((full.uncertainty - 4.0).abs() < 1e-12 && (finite(&full) - 9.0).abs() < 1e-12);
    let crossed = combine(&alone, Some(&r)).expect("in domain");
    assert_eq!(crossed.degrees_of_freedom, EffectiveFreedom::NotDefined);
    assert_eq!(
        coverage_factor(0.95, EffectiveFreedom::NotDefined),
        Err(Refusal::NoFreedom)
    );
    // What cancels wholly leaves nothing, not what rounding leaves.
    let zeroed = [Component::known(0.1, 3.0), Component::known(-0.3, 1.0)];
    assert_eq!(combine(&zeroed, Some(&r)).map(|c| c.uncertainty), Ok(0.0));
    let odd = [shared[0], Component::estimated(1.0, 2.0, 8.0).sharing(1)];
    assert_eq!(
        combine(&odd, None),
        Err(Refusal::GroupDisagrees { group: 1 })
    );
}

#[test]
fn budgets_that_can_not_be_are_refused() {
    let bad = |u: f64, nu: f64| combine(&[Component::estimated(1.0, u, nu)], None).is_err();
    assert!(bad(-1.0, 5.0) && bad(1.0, 0.0) && bad(1.0, -2.0) && bad(f64::NAN, 5.0));
    assert!(bad(1.0, f64::NAN) && bad(1.0, f64::NEG_INFINITY) && combine(&[], None).is_err());
    assert_eq!(
        combine(&[Component::estimated(1.0, 0.0, 5.0)], None),
        Err(Refusal::ZeroOverZero)
    );
    let nothing = combine(&[Component::known(1.0, 0.0)], None).expect("in domain");
    assert_eq!(nothing.degrees_of_freedom, EffectiveFreedom::Infinite);
    assert!(Correlations::of_pairs(2, &[(0, 1, 1.01)]).is_err());
    assert!(Correlations::of_pairs(2, &[(0, 2, 0.5)]).is_err());
    assert!(Correlations::new(vec![vec![1.0, 0.5], vec![0.4, 1.0]]).is_err());
    assert!(Correlations::new(vec![vec![1.0, 0.5]]).is_err());
    assert!(Correlations::new(vec![vec![0.9]]).is_err());
    // Two that agree can't disagree with a third about each other.
    let pairs = [(0, 1, 0.9), (0, 2, 0.9), (1, 2, -0.9)];
    assert_eq!(
        Correlations::of_pairs(3, &pairs),
        Err(Refusal::Correlations)
    );
    // On the edge: r₁₂ = r₀₁·r₀₂ − √(1 − r₀₁²)·√(1 − r₀₂²) = 0.28 for 0.8 and 0.8; full agreement has rank one.
    assert!(Correlations::of_pairs(3, &[(0, 1, 0.8), (0, 2, 0.8), (1, 2, 0.28)]).is_ok());
    assert!(Correlations::of_pairs(3, &[(0, 1, 0.8), (0, 2, 0.8), (1, 2, 0.2799)]).is_err());
    assert!(Correlations::of_pairs(3, &[(0, 1, 1.0), (0, 2, -1.0), (1, 2, -1.0)]).is_ok());
    let r = Correlations::of_pairs(2, &[]).expect("they hold together");
    assert!(combine(&[Component::known(1.0, 1.0)], Some(&r)).is_err());
}

#[test]
fn coverage_factors_at_the_ends() {
    let infinite = EffectiveFreedom::Infinite;
    assert_eq!(coverage_factor(USUAL_PROBABILITY, infinite), Ok(2.0));
    let k = coverage_factor(0.95, infinite).expect("in domain");
    assert!((k - 1.96).abs() < 0.005);
    assert!(coverage_factor(0.95, EffectiveFreedom::Finite(0.9)).is_err());
    assert!(coverage_factor(1.0, infinite).is_err());
    // Truncated, but not for what arithmetic lost: nine parts of u⁴/(u⁴/9).
    assert_eq!(truncated(16.752), 16.0);
    assert_eq!(truncated(8.999_999_999_999_998), 9.0);
    let k = coverage_factor(0.95, EffectiveFreedom::Finite(16.752)).expect("in domain");
    assert_eq!(Ok(k), student_quantile(0.975, 16.0));
    // Neither overflow nor underflow in fourth powers.
    for size in [1e-200, 1e200] {
        let two = [
            Component::estimated(1.0, 3.0 * size, 5.0),
            Component::known(1.0, 4.0 * size),
        ];
        let combined = combine(&two, None).expect("in domain");
        assert!((combined.uncertainty / size - 5.0).abs() < 1e-12);
        assert!((finite(&combined) - 38.580_246_913_580_25).abs() < 1e-9);
    }
}

/// The examples of GUM 7.2.2 and 7.2.6 (from memory): 100.021 47 g ± 0.35 mg, and 10.057 62 Ω with 27 mΩ gives 10.058 Ω.
#[test]
fn results_as_text() {
    use Rounding::{Ceiling, HalfEven};
    use UncertaintyDigits::{One, Two};
    for (value, u, digits, rule, text, u_text, place) in [
        ("10.05762", "0.027", Two, HalfEven, "10.058", "0.027", -3),
        (
            "100.02147",
            "0.00035",
            Two,
            HalfEven,
            "100.02147",
            "0.00035",
            -5,
        ),
        // By hand: a carry makes another digit, the result follows.
        ("1.23456", "0.0996", Two, HalfEven, "1.23", "0.10", -2),
        ("1.23456", "0.96", One, HalfEven, "1", "1", 0),
        (
            "20.86241954",
            "0.01011724",
            Two,
            HalfEven,
            "20.862",
            "0.010",
            -3,
        ),
        (
            "20.86241954",
            "0.01011724",
            Two,
            Ceiling,
            "20.862",
            "0.011",
            -3,
        ),
        ("123456", "1234", Two, HalfEven, "123500", "1200", 2),
        ("-0.0004", "0.12", Two, HalfEven, "0.00", "0.12", -2),
        ("2.5", "0.0", Two, HalfEven, "2.5", "0", -1),
        ("7", "0.5", Two, HalfEven, "7.00", "0.50", -2),
    ] {
        let found = report(&exact(value), &exact(u), digits, rule).expect("in domain");
        let expected = (text, u_text, place);
        assert_eq!((&*found.value, &*found.uncertainty, found.place), expected);
    }
    assert!(report(&exact("1"), &exact("-0.1"), Two, HalfEven).is_err());
}

/// JCGM 100:2008, 7.2.6 (from memory): 10.47 mΩ is rounded up to 11 mΩ, 28.05 kHz to 28 kHz. By hand: 0.140 99 as 0.14 is 0.7 % too
/// small, 2468 as 2500 is none, 0.102 5 as 0.10 is 2.4 % too small, 0.101 as 0.10 0.99 %.
#[test]
fn an_expanded_uncertainty_is_hardly_understated() {
    use UncertaintyDigits::Two;
    for (u, text) in [
        ("10.47", "11"),
        ("28.05", "28"),
        ("0.14099", "0.14"),
        ("0.0100002", "0.010"),
        ("2468", "2500"),
        ("0.1025", "0.11"),
        ("0.101", "0.10"),
        ("0.10102", "0.11"),
        ("0.0996", "0.10"),
        ("0.2", "0.20"),
    ] {
        let rule = rule_of_expanded(&exact(u), Two);
        let found = report(&exact("1"), &exact(u), Two, rule).expect("in domain");
        assert_eq!(found.uncertainty, text, "{u}");
    }
}
