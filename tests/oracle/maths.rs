//! The formulas of `stepwell::maths` against published and independently computed values.
//!
//! Never in here: expressions of the language (they have `expressions.json`). Changes when a formula is added.

use std::fs;

use serde_json::Value;
use stepwell::maths::{
    AirFormula, OutOfDomain, WaterFormula, air_density, column_pressure_at, honoured,
    water_density, weighed_volume, z_factor,
};

const CHECKS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/oracle/data/checks.json");
const Z_TABLE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/tests/oracle/data/iso8655_z_table.csv"
);

/// Four decimals, and the 0.52e-4 by which the printed table departs from its formulas.
const Z_TABLE_TOLERANCE: f64 = 6e-5;

pub(crate) fn read(path: &str) -> String {
    fs::read_to_string(path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The rows whose id begins with `prefix`.
pub(crate) fn rows(prefix: &str) -> Vec<Value> {
    let all: Vec<Value> = serde_json::from_str(&read(CHECKS)).expect("checks.json is JSON");
    all.into_iter()
        .filter(|row| id(row).starts_with(prefix))
        .collect()
}

pub(crate) fn id(row: &Value) -> &str {
    row["id"].as_str().expect("a row has an id")
}

pub(crate) fn input(row: &Value, name: &str) -> f64 {
    row["inputs"][name]
        .as_f64()
        .unwrap_or_else(|| panic!("{} has no number `{name}`", id(row)))
}

/// The numbers of a list, of a row's input or of its expected result.
fn whole_numbers(list: &Value) -> Vec<i64> {
    let items = list.as_array().expect("a list");
    items
        .iter()
        .map(|n| n.as_i64().expect("a whole number"))
        .collect()
}

/// Compares with the expected value, and with the printed one where the row has it.
pub(crate) fn near(row: &Value, found: f64) {
    for (value, tolerance) in [
        ("expected", "tolerance"),
        ("published_value", "published_tolerance"),
    ] {
        let (Some(value), Some(tolerance)) = (row[value].as_f64(), row[tolerance].as_f64()) else {
            assert_eq!(value, "published_value", "{} expects a number", id(row));
            continue;
        };
        assert!(
            (found - value).abs() <= tolerance,
            "{}: {found} is not {value} to {tolerance}; source: {}; evidence: {}",
            id(row),
            row["source"],
            row["evidence"]
        );
    }
}

/// Compares every row of a prefix; there must be as many as were counted by hand.
fn all_near(prefix: &str, count: usize, compute: impl Fn(&Value) -> Result<f64, OutOfDomain>) {
    let rows = rows(prefix);
    assert_eq!(rows.len(), count, "rows of {prefix}");
    for row in &rows {
        let found = compute(row).unwrap_or_else(|e| panic!("{}: {e}", id(row)));
        near(row, found);
    }
}

#[test]
fn water_after_tanaka() {
    all_near("a.tanaka.", 17, |row| {
        water_density(input(row, "t_C"), WaterFormula::Tanaka2001)
    });
}

#[test]
fn water_after_kell() {
    all_near("a.kell.", 3, |row| {
        water_density(input(row, "t_C_ITS90"), WaterFormula::Kell1975)
    });
}

#[test]
fn water_after_jones_and_harris() {
    all_near("a.jonesharris.", 3, |row| {
        water_density(input(row, "t_C"), WaterFormula::JonesHarris1992)
    });
}

/// IAPWS-95 is not offered, but is independent: Tanaka stays within 1.2 ppm of it from 0 °C to 40 °C.
#[test]
fn tanaka_is_near_iapws95() {
    let rows = rows("a.iapws95.");
    assert_eq!(rows.len(), 4);
    for row in &rows {
        let reference = row["expected"].as_f64().expect("a number");
        let found = water_density(input(row, "t_C"), WaterFormula::Tanaka2001).expect("in domain");
        assert!((found / reference - 1.0).abs() < 1.2e-6, "{}", id(row));
    }
}

#[test]
fn water_is_densest_where_tanaka_says() {
    let rows = rows("a.t_max_density");
    let [row] = &rows[..] else {
        panic!("one row of the greatest density")
    };
    let density = |t| water_density(t, WaterFormula::Tanaka2001).expect("in domain");
    // Thirds of an interval that holds the one maximum, until it is short.
    let (mut low, mut high) = (3.0, 5.0);
    while high - low > 1e-5 {
        let third = (high - low) / 3.0;
        if density(low + third) < density(high - third) {
            low += third;
        } else {
            high -= third;
        }
    }
    near(row, f64::midpoint(low, high));
}

#[test]
fn air_after_its_three_formulas() {
    all_near("b.air.", 13, |row| {
        let formula = id(row).split('.').nth(2).and_then(AirFormula::from_name);
        air_density(
            input(row, "t_C"),
            input(row, "p_hPa"),
            input(row, "rh_pct"),
            formula.unwrap_or_else(|| panic!("{} names no formula", id(row))),
        )
    });
}

#[test]
fn z_factors() {
    let rows = rows("b.z.");
    assert_eq!(rows.len(), 31);
    for row in &rows {
        let (t, p, rh) = (input(row, "t_C"), input(row, "p_hPa"), input(row, "rh_pct"));
        let found = if id(row).starts_with("b.z.tanaka.") {
            z_with(t, p, rh, WaterFormula::Tanaka2001, AirFormula::Tr20461)
        } else {
            z_factor(t, p, rh).expect("in domain")
        };
        near(row, found);
    }
}

/// ISO 8655-6:2002, Annex A, written out again for other pairs of formulas; mL/g.
fn z_with(t_c: f64, p_hpa: f64, rh_percent: f64, water: WaterFormula, air: AirFormula) -> f64 {
    let water = water_density(t_c, water).expect("in domain");
    let air = air_density(t_c, p_hpa, rh_percent, air).expect("in domain");
    1000.0 * (1.0 - air / 8000.0) / (water - air)
}

#[test]
fn printed_z_table() {
    let text = read(Z_TABLE);
    let mut lines = text.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let heading = lines.next().expect("a heading");
    let pressures: Vec<f64> = heading[1..]
        .iter()
        .map(|h| h.trim_start_matches('p').trim_end_matches("_hPa"))
        .map(|h| h.parse().expect("a pressure"))
        .collect();
    let mut entries = 0;
    for line in lines {
        let t: f64 = line[0].parse().expect("a temperature");
        assert_eq!(line.len(), pressures.len() + 1, "entries at {t} °C");
        for (p, printed) in pressures.iter().zip(&line[1..]) {
            let printed: f64 = printed.parse().expect("a Z factor");
            let found = z_factor(t, *p, 50.0).expect("in domain");
            assert!(
                (found - printed).abs() <= Z_TABLE_TOLERANCE,
                "{found} is not {printed} at {t} °C and {p} hPa"
            );
            entries += 1;
        }
    }
    assert_eq!(entries, 186);
}

#[test]
fn weighed_volume_from_z_factor() {
    let rows = rows("b.vol.simple");
    let [row] = &rows[..] else {
        panic!("one row of a simple weighing")
    };
    let (mass, t) = (input(row, "indicated_mass_g"), input(row, "t_C"));
    let (p, rh) = (input(row, "p_hPa"), input(row, "rh_pct"));
    near(row, mass * z_factor(t, p, rh).expect("in domain"));
    // With Tanaka's water and CIPM-2007 air the same weighing is about 3.5 ppm smaller: the dissolved air and Kell's base.
    let volume = weighed_volume(mass, t, p, rh).expect("in domain");
    let with = z_with(t, p, rh, WaterFormula::Tanaka2001, AirFormula::Cipm2007);
    assert!((volume - mass * with).abs() < 1e-12 * mass);
    let smaller = 1.0 - volume / row["expected"].as_f64().expect("a number");
    assert!((3.0e-6..4.0e-6).contains(&smaller), "{smaller}");
}

#[test]
fn column_pressures() {
    let rows = rows("e.head.");
    let mut tested = 0;
    for row in rows.iter().filter(|r| r["inputs"]["rho_from"] != "1000.0") {
        let from = row["inputs"]["rho_from"].as_str().expect("a formula");
        let t: f64 = from
            .trim_start_matches("tanaka(")
            .trim_end_matches(')')
            .parse()
            .expect("a temperature");
        let pascals = column_pressure_at(input(row, "h_m"), t).expect("in domain");
        near(
            row,
            pascals / pascals_per(row["unit"].as_str().expect("a unit")),
        );
        tested += 1;
    }
    // The one that is left out is the conventional column: exact, and not a formula of this room.
    assert_eq!((tested, rows.len()), (7, 8));
}

/// NIST SP 811:2008, appendix B; psi from the definitions of inch, pound and g_n.
fn pascals_per(unit: &str) -> f64 {
    match unit {
        "Pa" => 1.0,
        "kPa" => 1000.0,
        "mmHg" => 133.322_387_415,
        "psi" => 0.453_592_37 * 9.806_65 / (0.0254 * 0.0254),
        _ => panic!("no such unit among the rows: {unit}"),
    }
}

#[test]
fn honoured_demands_in_a_rolling_window() {
    let rows = rows("k.pca.limit");
    let [row] = &rows[..] else {
        panic!("one row of a dose limit")
    };
    let demands = whole_numbers(&row["inputs"]["demands_min"]);
    let minutes = |name: &str| row["inputs"][name].as_i64().expect("whole minutes");
    let doses = minutes("limit_mL") / minutes("dose_mL");
    let window = minutes("rolling_window_min");
    let allowed = usize::try_from(doses).expect("a count");
    let kept = honoured(&demands, &minutes("lockout_min"), Some((&window, allowed)));
    let times: Vec<i64> = kept.into_iter().map(|i| demands[i]).collect();
    assert_eq!(times, whole_numbers(&row["expected"]));
}

#[test]
fn most_doses_in_an_hour() {
    let rows = rows("k.pca.max_per_h.");
    assert_eq!(rows.len(), 3);
    for row in &rows {
        let inclusive = row["inputs"]["window"] == "[0,60]";
        let demands: Vec<i64> = (0..60 + i64::from(inclusive)).collect();
        let lockout = row["inputs"]["lockout_min"].as_i64().expect("minutes");
        let count = honoured(&demands, &lockout, None).len();
        assert_eq!(Some(count as u64), row["expected"].as_u64(), "{}", id(row));
    }
}

#[test]
fn temperatures_outside_the_domain_are_refused() {
    let rows = rows("a.domain.");
    assert_eq!(rows.len(), 1);
    for row in &rows {
        assert_eq!(row["expected"], "out_of_domain");
        for formula in [
            WaterFormula::Tanaka2001,
            WaterFormula::Kell1975,
            WaterFormula::JonesHarris1992,
        ] {
            assert!(water_density(input(row, "t_C"), formula).is_err());
        }
    }
}

#[test]
fn edges_of_the_domains() {
    use WaterFormula::{JonesHarris1992, Kell1975, Tanaka2001};
    for (t, formula, holds) in [
        (0.0, Tanaka2001, true),
        (40.0, Tanaka2001, true),
        (-0.001, Tanaka2001, false),
        (0.0, Kell1975, true),
        (-0.001, Kell1975, false),
        (5.0, JonesHarris1992, true),
        (4.999, JonesHarris1992, false),
        // 68 °F typed as if it were °C, and no number at all.
        (68.0, Tanaka2001, false),
        (f64::NAN, Tanaka2001, false),
        (f64::INFINITY, Kell1975, false),
    ] {
        let found = water_density(t, formula);
        assert_eq!(found.is_ok(), holds, "{} at {t} °C", formula.name());
    }
    for (t, p, rh) in [
        (-0.1, 1013.0, 50.0),
        (40.1, 1013.0, 50.0),
        (20.0, 101_325.0, 50.0),
        (20.0, 101.325, 50.0),
        (20.0, 1013.0, 100.1),
        (20.0, 1013.0, -0.1),
        (20.0, 1013.0, f64::NAN),
    ] {
        assert!(air_density(t, p, rh, AirFormula::Cipm2007).is_err());
        assert!(z_factor(t, p, rh).is_err());
        assert!(weighed_volume(10.0, t, p, rh).is_err());
    }
    assert!(weighed_volume(-0.1, 20.0, 1013.0, 50.0).is_err());
    assert!(weighed_volume(0.0, 20.0, 1013.0, 50.0).is_err());
    assert!(weighed_volume(1e-9, 20.0, 1013.0, 50.0).is_ok());
    assert!(column_pressure_at(0.5, 41.0).is_err());
}

#[test]
fn a_refusal_says_what_is_outside_what() {
    let error = water_density(41.0, WaterFormula::Tanaka2001).expect_err("beyond 40 °C");
    assert_eq!(
        error.to_string(),
        "water temperature of 41 °C is outside 0 °C to 40 °C"
    );
}

#[test]
fn names_of_formulas_lead_back() {
    for name in ["tanaka2001", "kell1975", "jones-harris1992"] {
        let formula = WaterFormula::from_name(name).expect("a formula");
        assert_eq!(formula.name(), name);
    }
    for name in ["cipm2007", "r111", "tr20461"] {
        let formula = AirFormula::from_name(name).expect("a formula");
        assert_eq!(formula.name(), name);
    }
    assert_eq!(WaterFormula::from_name("Tanaka"), None);
    assert_eq!(AirFormula::from_name(""), None);
}
