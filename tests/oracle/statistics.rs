//! Statistics, lines, outliers and control charts against certified and published values.
//!
//! Never in here: expected values of our own. Changes when a statistic is added.

use serde_json::Value;
use stepwell::maths::Refusal;
use stepwell::maths::control::ChartConstants;
use stepwell::maths::line::Line;
use stepwell::maths::outlier::{
    Confidence, ScaledBy, Side, dixon, dixon_critical, grubbs, grubbs_critical, modified_z,
    tukey_fences,
};
use stepwell::maths::statistics::{
    QuantileRule, covariance, lag_one_autocorrelation, mean, median, quantile, range,
    standard_deviation, variance,
};
use stepwell::quantity::Exact;

use crate::maths::{id, input, near, read, rows};

const STRD: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/tests/oracle/data/nist_strd_univariate.json"
);
const NORRIS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/oracle/data/norris.dat");

pub(crate) fn exact(text: &str) -> Exact {
    Exact::parse(text).unwrap_or_else(|e| panic!("`{text}`: {e}"))
}

/// The numbers of a list as they are written, which is not as a double holds them.
pub(crate) fn exacts(list: &Value) -> Vec<Exact> {
    let items = list.as_array().expect("a list");
    items.iter().map(|n| exact(&n.to_string())).collect()
}

fn readings(texts: &[&str]) -> Vec<Exact> {
    texts.iter().map(|t| exact(t)).collect()
}

fn strd() -> Value {
    serde_json::from_str(&read(STRD)).expect("JSON")
}

/// The readings of a set; the digits of PiDigits stand in one text.
fn strd_data(set: &Value) -> Vec<Exact> {
    let texts = set["data"].as_array().expect("a list");
    let texts = texts.iter().map(|t| t.as_str().expect("text"));
    match texts.clone().next() {
        Some(digits) if texts.len() == 1 => digits.chars().map(|c| exact(&c.to_string())).collect(),
        _ => texts.map(exact).collect(),
    }
}

/// x and y of Norris; the file gives y first, from line 61 on.
fn norris() -> (Vec<Exact>, Vec<Exact>) {
    let text = read(NORRIS);
    let pairs = text
        .lines()
        .skip(60)
        .filter(|l| !l.trim().is_empty())
        .map(|line| {
            let mut columns = line.split_whitespace().map(exact);
            let y = columns.next().expect("y");
            (columns.next().expect("x"), y)
        });
    pairs.unzip()
}

/// What a row of h. asks for, or nothing for a family that is not known.
fn computed(row: &Value, sets: &Value, line: &Line) -> Option<f64> {
    let parts: Vec<&str> = id(row).split('.').collect();
    let rule = || match id(row).ends_with('6') {
        true => QuantileRule::Type6,
        false => QuantileRule::Type7,
    };
    let order = |three: bool| exact(if three { "0.75" } else { "0.25" });
    let data = || exacts(&row["inputs"]["data"]);
    Some(match parts[1..] {
        [set, which] if !sets[set].is_null() => {
            let data = strd_data(&sets[set]);
            match which {
                "mean" => mean(&data).ok()?.to_f64(),
                "sd" => standard_deviation(&data).ok()?,
                "r1" => lag_one_autocorrelation(&data).ok()?.to_f64(),
                _ => return None,
            }
        }
        ["norris", which] => of_line(line, which)?,
        ["grubbs", "G"] => grubbs(&data(), Side::Upper, 0.05).ok()?.statistic,
        ["grubbs", "crit", ..] => {
            let n = row["inputs"]["n"].as_u64()?;
            grubbs_critical(usize::try_from(n).ok()?, Side::Upper, input(row, "alpha")).ok()?
        }
        ["dixon", which, n] => {
            let confidence = match which {
                "Q90" => Confidence::Percent90,
                "Q95" => Confidence::Percent95,
                "Q99" => Confidence::Percent99,
                _ => return None,
            };
            dixon_critical(n.parse().ok()?, confidence).ok()?
        }
        ["tukey", which] => quantile(&data(), &order(which.starts_with("q3")), rule())
            .ok()?
            .to_f64(),
        ["modz"] => {
            let value = exact(&row["inputs"]["value"].to_string());
            let at = data().iter().position(|x| *x == value)?;
            modified_z(&data()).ok()?.0[at].statistic
        }
        [constant, n, ..] => of_chart(&ChartConstants::of(n.parse().ok()?).ok()?, constant)?,
        _ => return None,
    })
}

fn of_line(line: &Line, which: &str) -> Option<f64> {
    Some(match which {
        "b0" => line.intercept().to_f64(),
        "b1" => line.slope().to_f64(),
        "s_b0" => line.intercept_uncertainty(),
        "s_b1" => line.slope_uncertainty(),
        "s" => line.residual_standard_deviation(),
        "r2" => line.r_squared()?.to_f64(),
        "rss" => line.residual_sum_of_squares().to_f64(),
        "F" => line.f_statistic()?.to_f64(),
        _ => return None,
    })
}

fn of_chart(constants: &ChartConstants, which: &str) -> Option<f64> {
    Some(match which {
        "d2" => constants.d2,
        "d3" => constants.d3,
        "c4" => constants.c4,
        "A2" => constants.a2(),
        "D3" => constants.lower_range_factor(),
        "D4" => constants.upper_range_factor(),
        _ => return None,
    })
}

#[test]
fn every_row_of_statistics() {
    let (sets, (x, y)) = (strd(), norris());
    let line = Line::through(&x, &y).expect("a line");
    let rows = rows("h.");
    assert_eq!(rows.len(), 81);
    for row in &rows {
        let found =
            computed(row, &sets, &line).unwrap_or_else(|| panic!("{} is not computed", id(row)));
        near(row, found);
    }
}

/// Whether a value has all digits of a certified one: within half a unit of the last, and half of what a double resolves.
fn has_digits(found: &Exact, certified: &str) -> bool {
    let places = certified.split_once('.').map_or(0, |(_, f)| f.len());
    let half_unit = exact(&format!("0.5e-{places}"));
    let certified = exact(certified);
    let half_step = exact("1.2e-16") * certified.abs();
    (found.clone() - certified).abs() <= half_unit + half_step
}

/// NIST StRD: all certified digits, in all nine sets.
#[test]
fn certified_digits_of_nist_univariate() {
    let sets = strd();
    let sets = sets.as_object().expect("sets");
    assert_eq!(sets.len(), 9);
    for (name, set) in sets {
        let data = strd_data(set);
        assert_eq!(Some(data.len() as u64), set["n"].as_u64(), "{name}");
        let deviation = standard_deviation(&data).expect("many readings");
        for (which, found) in [
            ("mean", mean(&data).expect("readings")),
            ("sd", Exact::from_f64(deviation).expect("finite")),
            ("r1", lag_one_autocorrelation(&data).expect("a spread")),
        ] {
            let certified = set[which].as_str().expect("text");
            assert!(
                has_digits(&found, certified),
                "{name} {which}: {found} is not {certified}"
            );
        }
    }
}

/// NIST StRD Norris, the certified values as the file prints them. Standard deviations to 15 digits.
#[test]
fn certified_digits_of_nist_norris() {
    let (x, y) = norris();
    assert_eq!(x.len(), 36);
    let line = Line::through(&x, &y).expect("a line");
    let double = |x: f64| Exact::from_f64(x).expect("finite");
    for (found, certified) in [
        (line.intercept(), "-0.262323073774029"),
        (line.slope().clone(), "1.00211681802045"),
        (double(line.intercept_uncertainty()), "0.232818234301152"),
        (double(line.slope_uncertainty()), "0.000429796848199937"),
        (
            double(line.residual_standard_deviation()),
            "0.884796396144373",
        ),
        (line.r_squared().expect("a spread"), "0.999993745883712"),
        (line.residual_sum_of_squares().clone(), "26.6173985294224"),
        (line.f_statistic().expect("residuals"), "5436385.54079785"),
    ] {
        assert!(has_digits(&found, certified), "{found} is not {certified}");
    }
    assert_eq!((line.points(), line.degrees_of_freedom()), (36, 34));
}

/// Printed tables of Grubbs' critical values (Grubbs & Beck 1972, from memory): 5 % one-sided and both sides.
#[test]
fn printed_critical_values_of_grubbs() {
    for (n, side, alpha, printed) in [
        (3, Side::Upper, 0.05, 1.153),
        (4, Side::Upper, 0.05, 1.463),
        (10, Side::Lower, 0.05, 2.176),
        (30, Side::Upper, 0.05, 2.745),
        (3, Side::Both, 0.05, 1.155),
        (10, Side::Both, 0.05, 2.290),
        (10, Side::Upper, 0.01, 2.410),
    ] {
        let found = grubbs_critical(n, side, alpha).expect("in domain");
        assert!((found - printed).abs() <= 0.001, "{n} {side:?}: {found}");
    }
}

/// The readings of NIST/SEMATECH e-Handbook 1.3.5.17.1 (from memory): the last is the outlier. Hints only name it.
#[test]
fn hints_name_the_reading() {
    let data = readings(&[
        "199.31", "199.53", "200.19", "200.82", "201.92", "201.95", "202.18", "245.57",
    ]);
    let hint = grubbs(&data, Side::Upper, 0.05).expect("a spread");
    assert_eq!((hint.index, hint.stands_out), (7, true));
    assert_eq!(grubbs(&data, Side::Both, 0.05).expect("a spread").index, 7);
    let hint = grubbs(&data, Side::Lower, 0.05).expect("a spread");
    assert_eq!((hint.index, hint.stands_out), (0, false));
    let (hints, by) = modified_z(&data).expect("a spread");
    let out: Vec<usize> = hints
        .iter()
        .filter(|h| h.stands_out)
        .map(|h| h.index)
        .collect();
    assert_eq!((out, by), (vec![7], ScaledBy::Median));
    // By hand: (245.57 − 202.18)/(245.57 − 199.31) = 43.39/46.26.
    let hint = dixon(&data, Confidence::Percent99).expect("a spread");
    assert_eq!((hint.index, hint.stands_out), (7, true));
    assert!((hint.statistic - 43.39 / 46.26).abs() < 1e-15);
    for rule in [QuantileRule::Type6, QuantileRule::Type7] {
        let fences = tukey_fences(&data, rule).expect("enough");
        let out: Vec<usize> = fences.beyond.iter().map(|h| h.index).collect();
        assert_eq!(out, vec![7]);
    }
}

/// By hand, with quartiles of type 7 as in `h.tukey.*`: 9.925 − 1.5·0.175 and 10.1 + 1.5·0.175.
#[test]
fn fences_are_exact_and_a_reading_on_one_is_inside() {
    let mut data = readings(&[
        "9.8", "10.1", "10.0", "9.9", "10.2", "10.0", "9.9", "10.1", "10.0", "11.4",
    ]);
    let fences = tukey_fences(&data, QuantileRule::Type7).expect("enough");
    assert_eq!(
        (&fences.low, &fences.high),
        (&exact("9.6625"), &exact("10.3625"))
    );
    assert_eq!(fences.beyond.len(), 1);
    data[9] = exact("10.3625");
    let fences = tukey_fences(&data, QuantileRule::Type7).expect("enough");
    assert!(fences.beyond.is_empty(), "{fences:?}");
}

/// More than half are equal: MAD is 0. By hand: the mean absolute deviation is 1.4/5, the score 1.4/(1.253314·0.28).
#[test]
fn a_zero_mad_gives_way_to_the_mean_deviation() {
    let data = readings(&["10.0", "10.0", "10.0", "10.0", "11.4"]);
    let (hints, by) = modified_z(&data).expect("a spread");
    assert_eq!(by, ScaledBy::Mean);
    assert!((hints[4].statistic - 5.0 / 1.253_314).abs() < 1e-12);
    assert!(hints[4].stands_out && !hints[0].stands_out);
}

#[test]
fn limits_of_charts() {
    // By hand from printed constants of n = 5 (from memory): A2 0.577, D3 0, D4 2.114 or 2.115, d2 2.326.
    let five = ChartConstants::of(5).expect("in domain");
    let means = five.mean_limits(10.0, 0.2).expect("numbers");
    assert!((means.low - 9.8846).abs() < 1e-4 && (means.high - 10.1154).abs() < 1e-4);
    let ranges = five.range_limits(0.2).expect("numbers");
    assert!(ranges.low == 0.0 && (ranges.high - 0.423).abs() < 2e-4);
    assert!((five.standard_deviation(2.326) - 1.0).abs() < 1e-4);
    // Printed for n = 25 (from memory): d2 3.931, d3 0.708, c4 0.9896.
    let most = ChartConstants::of(25).expect("in domain");
    assert!((most.d2 - 3.931).abs() < 6e-4 && (most.d3 - 0.708).abs() < 6e-4);
    assert!((most.c4 - 0.9896).abs() < 6e-5);
    for n in [0, 1, 26] {
        assert!(ChartConstants::of(n).is_err());
    }
    assert!(five.range_limits(-0.1).is_err() && five.mean_limits(f64::NAN, 0.1).is_err());
}

#[test]
fn too_few_readings_and_no_spread_are_refused() {
    let one = readings(&["1"]);
    let (two, equal) = (readings(&["1", "2"]), readings(&["5.0", "5.00", "5"]));
    assert!(mean(&[]).is_err() && median(&[]).is_err() && range(&[]).is_err());
    assert!(variance(&one).is_err() && lag_one_autocorrelation(&one).is_err());
    assert!(covariance(&one, &two).is_err());
    assert_eq!(variance(&equal), Ok(Exact::zero()));
    assert!(lag_one_autocorrelation(&equal).is_err());
    assert!(grubbs(&two, Side::Upper, 0.05).is_err());
    assert!(grubbs(&equal, Side::Upper, 0.05).is_err());
    assert!(dixon(&two, Confidence::Percent95).is_err());
    assert!(dixon(&equal, Confidence::Percent95).is_err());
    assert!(dixon_critical(11, Confidence::Percent95).is_err());
    assert!(modified_z(&equal).is_err() && tukey_fences(&two, QuantileRule::Type6).is_err());
    assert!(Line::through(&two, &two).is_err());
    assert!(Line::through(&equal, &readings(&["1", "2", "3"])).is_err());
    assert!(quantile(&two, &exact("1.1"), QuantileRule::Type7).is_err());
    assert_eq!(
        standard_deviation(&one)
            .expect_err("one reading")
            .to_string(),
        "a spread needs 2 values or more, and has 1"
    );
    assert_eq!(
        Line::through(&one, &two).expect_err("not paired"),
        Refusal::Unpaired {
            first: 1,
            second: 2
        }
    );
}

/// By hand.
#[test]
fn small_sets() {
    let data = readings(&["4", "1", "3", "2"]);
    assert_eq!(median(&data), Ok(exact("2.5")));
    assert_eq!(range(&data), Ok(exact("3")));
    let at = |p: &str, rule| quantile(&data, &exact(p), rule).expect("in domain");
    assert_eq!(at("0", QuantileRule::Type6), exact("1"));
    assert_eq!(at("1", QuantileRule::Type6), exact("4"));
    assert_eq!(at("0.25", QuantileRule::Type6), exact("1.25"));
    assert_eq!(at("0.25", QuantileRule::Type7), exact("1.75"));
    assert_eq!(at("1", QuantileRule::Type7), exact("4"));
    // A perfect line has no residuals, and so no F.
    let line = Line::through(&data, &data).expect("a line");
    assert_eq!(line.f_statistic(), None);
    assert_eq!(line.r_squared(), Some(Exact::one()));
    let flat = Line::through(&data, &readings(&["7", "7", "7", "7"])).expect("a line");
    assert_eq!((flat.r_squared(), flat.slope()), (None, &Exact::zero()));
}
