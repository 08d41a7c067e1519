//! `trend`: the history of a value, against figures of others.
//!
//! Never in here: the statistics themselves (see `tests/oracle`). Changes when more is told of a history.

use serde_json::Value;

use crate::made::{GOOD, Made, Typed};

fn runs(made: &Made, device: &str, values: &[(u32, &str)]) {
    for (day, delivered) in values {
        made.run(
            device,
            &format!("2026-04-{day:02}"),
            Typed { delivered, ..GOOD },
        );
    }
}

fn history(made: &Made, device: &str) -> Value {
    made.data(&["trend", "--device", device, "--value", "delivered"])
        .0
}

fn near(of: &Value, wanted: f64, tolerance: f64) {
    let found = of.as_f64().unwrap_or(f64::NAN);
    assert!(
        (found - wanted).abs() <= tolerance,
        "{found} is not {wanted}"
    );
}

/// The first data set of Anscombe, The American Statistician 27 (1973) 17, from memory, days in order: slope 0.5001 and its
/// standard error 0.1179, residual standard deviation 1.237, 9 degrees of freedom, t = 4.24, intercept 3.0001.
#[test]
fn the_line_is_that_of_least_squares() {
    let made = Made::shop(str::to_owned);
    let set = [
        (4, "4.26"),
        (5, "5.68"),
        (6, "7.24"),
        (7, "4.82"),
        (8, "6.95"),
        (9, "8.81"),
        (10, "8.04"),
        (11, "8.33"),
        (12, "10.84"),
        (13, "7.58"),
        (14, "9.96"),
    ];
    runs(&made, "D-1", &set);
    let json = history(&made, "D-1");
    let fit = &json["fit"];
    near(&fit["slope_per_day"], 0.5001, 5e-5);
    near(&fit["standard_error_per_day"], 0.1179, 5e-5);
    near(&fit["residual_standard_deviation"], 1.237, 5e-4);
    assert_eq!(fit["degrees_of_freedom"], 9);
    near(&fit["at_last"], 3.0001 + 14.0 * 0.5001, 1e-3);
    // t = 4.24 is above 2.262, the 97.5 % point of 9 degrees of freedom (printed tables, from memory).
    assert_eq!(fit["significant"], true);
    // (10.5 mL − 10.0014 mL)/0.5001 mL/d = 0.997 d after the 14th.
    assert_eq!(fit["crossing"]["day"], "2026-04-15");
    assert_eq!(json["points"][0]["low"], "9.5");
    assert_eq!(json["points"][0]["verdict"], "fail");
}

/// NIST/SEMATECH e-Handbook 6.3.2.2, the flow of ten batches, from memory: mean 50.81, mean moving range 1.8778, limits
/// 55.8041 and 45.8159, there with d2 = 1.128 to three decimals.
#[test]
fn the_control_limits_are_those_of_individuals() {
    let made = Made::shop(str::to_owned);
    let flows = [
        "49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1",
    ];
    let values: Vec<(u32, &str)> = (1..).zip(flows).collect();
    runs(&made, "D-1", &values);
    let json = history(&made, "D-1");
    let chart = &json["individuals"];
    near(&chart["mean"], 50.81, 1e-9);
    near(&chart["mean_range"], 1.8778, 5e-5);
    near(&chart["high"], 55.8041, 0.002);
    near(&chart["low"], 45.8159, 0.002);
    // D4 of two readings is 3.267 (ASTM E2587, from memory).
    near(&chart["range_high"], 3.267 * 1.8778, 0.002);
}

/// NIST/SEMATECH e-Handbook 1.3.5.17.1: Grubbs' G of 2.4687 for the last of eight values, from memory; here a tenth of each,
/// which changes G in nothing.
#[test]
fn a_value_that_stands_apart_has_a_hint_and_stays() {
    let made = Made::shop(str::to_owned);
    let values = [
        "19.931", "19.953", "20.019", "20.082", "20.192", "20.195", "20.218", "24.557",
    ];
    let values: Vec<(u32, &str)> = (1..).zip(values).collect();
    runs(&made, "D-1", &values);
    let json = history(&made, "D-1");
    let hints = |n: usize| {
        json["points"][n]["hints"]
            .as_array()
            .expect("hints")
            .clone()
    };
    assert!(
        hints(7)[0].as_str().expect("a hint").contains("G 2.47"),
        "{:?}",
        hints(7)
    );
    assert!((0..7).all(|n| hints(n).is_empty()));
    near(&json["individuals"]["mean"], 20.6434, 1e-4);
}

#[test]
fn nothing_is_foretold_of_a_slope_that_is_none() {
    let made = Made::shop(str::to_owned);
    runs(
        &made,
        "D-1",
        &[
            (1, "10.1"),
            (2, "9.9"),
            (3, "10.1"),
            (4, "9.9"),
            (5, "10.1"),
        ],
    );
    let fit = history(&made, "D-1")["fit"].clone();
    near(&fit["slope_per_day"], 0.0, 1e-12);
    assert_eq!(
        (&fit["significant"], &fit["crossing"]),
        (&false.into(), &Value::Null)
    );
}

#[test]
fn trials_are_left_out_and_models_are_looked_at_together() {
    let made = Made::shop(str::to_owned);
    runs(&made, "D-1", &[(1, "10.0")]);
    runs(&made, "D-3", &[(2, "10.1")]);
    runs(&made, "D-2", &[(3, "10.2")]);
    made.run_as("D-1", "2026-04-05", GOOD, true);
    let count = |words: &[&str]| {
        let words = [&["trend", "--value", "delivered"][..], words].concat();
        made.data(&words).0["points"].as_array().map_or(0, Vec::len)
    };
    assert_eq!(count(&["--device", "D-1"]), 1);
    assert_eq!(count(&["--device", "D-1", "--trials"]), 2);
    // D-1 and D-3 are of one model.
    assert_eq!(count(&["--model", "VP-2"]), 2);
    assert_eq!(count(&["--recipe", "looked-back"]), 3);
    assert_eq!(
        count(&[
            "--recipe",
            "looked-back",
            "--since",
            "2026-04-02",
            "--until",
            "2026-04-02"
        ]),
        1
    );
}

#[test]
fn values_that_can_be_had_are_listed_and_others_refused() {
    let made = Made::shop(|text| {
        text.replace(
            "accept: flow >= least",
            "accept: flow * running >= \"9.5 mL\"",
        )
    });
    runs(&made, "D-1", &[(1, "10.0"), (2, "10.2")]);
    let (json, _) = made.data(&["trend", "--device", "D-1"]);
    let names: Vec<&str> = json
        .as_array()
        .expect("a list")
        .iter()
        .map(|k| k["value"].as_str().expect("a name"))
        .collect();
    assert_eq!(
        names,
        [
            "delivered",
            "flow",
            "pressure",
            "again",
            "flow: flow * running"
        ]
    );
    let held = made
        .data(&[
            "trend",
            "--device",
            "D-1",
            "--value",
            "flow: flow * running",
        ])
        .0;
    // 9.5 mL are 9.5 · 60 mL·min/h.
    assert_eq!(
        (&held["unit"], &held["points"][1]["low"]),
        (&"mL·min/h".into(), &"570".into())
    );
    let refused = made.program(&["trend", "--device", "D-1", "--value", "delivred"]);
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(2));
    assert!(said.contains("the nearest one is `delivered`"), "{said}");
    for (option, unknown, near) in [
        ("--device", "D-11", "the nearest one is `D-1`"),
        ("--model", "VP-99999", "no model `VP-99999`"),
        (
            "--recipe",
            "looked-bakc",
            "the nearest one is `looked-back`",
        ),
    ] {
        let refused = made.program(&["trend", option, unknown]);
        let said = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert!(
            refused.status.code() == Some(2) && said.contains(near),
            "{said}"
        );
    }
}

#[test]
fn a_part_of_a_path_is_enough_where_it_is_the_only_one() {
    let each = "  - id: points
    each: point
    in: [{rate: 5 mL/h}, {rate: 50 mL/h}]
    steps:
      - {id: drift, compute: point.rate - flow, unit: mL/h}
  - id: last
    group: At the end
    steps:
      - {id: doubled, compute: flow * 2, unit: mL/h}
";
    let made = Made::shop(|text| format!("{}\n{each}", text.trim_end()));
    runs(&made, "D-1", &[(1, "10.0"), (2, "10.2")]);
    let asked = |value| made.program(&["trend", "--device", "D-1", "--value", value]);
    for value in ["doubled", "points.2"] {
        let said = asked(value);
        let text = String::from_utf8_lossy(&said.stdout).into_owned();
        let error = String::from_utf8_lossy(&said.stderr).into_owned();
        assert_eq!(said.status.code(), Some(0), "{error}");
        let whole = if value == "doubled" {
            "last.doubled"
        } else {
            "points.2.drift"
        };
        assert!(text.contains(whole), "{text}");
    }
    for (value, told) in [
        (
            "drift",
            "several are called so: `points.1.drift`, `points.2.drift`",
        ),
        ("dobled", "the nearest one is `last.doubled`"),
    ] {
        let said = asked(value);
        let error = String::from_utf8_lossy(&said.stderr).into_owned();
        assert!(
            said.status.code() == Some(2) && error.contains(told),
            "{error}"
        );
    }
}

#[test]
fn the_unit_is_that_of_the_newest_record() {
    let made = Made::shop(str::to_owned);
    runs(&made, "D-1", &[(1, "10.0"), (2, "10.2")]);
    // As a later revision of the recipe would have it: the same value in litres.
    let file = made.file("B1-2026-0002");
    let text = std::fs::read_to_string(&file).expect("a record");
    let mut record: Value = serde_json::from_str(&text).expect("a record");
    record["steps"][0]["value"]["value"] = "0.0102".into();
    record["steps"][0]["value"]["unit"] = "L".into();
    std::fs::write(&file, record.to_string()).expect("room");
    let json = history(&made, "D-1");
    assert_eq!(json["unit"], "L");
    let values: Vec<&Value> = json["points"]
        .as_array()
        .expect("points")
        .iter()
        .map(|p| &p["value"])
        .collect();
    assert_eq!(values, ["0.01", "0.0102"]);
}

/// 10.0, 10.1, 10.2 and 10.32 mL rise by about 0.1 mL a day towards 10.5 mL; on the other device nothing rises.
#[test]
fn what_drifts_is_listed_by_the_day_on_which_it_meets_its_limit() {
    let made = Made::shop(str::to_owned);
    let rising = ["10.0", "10.1", "10.2", "10.32"];
    let lying = ["10.0", "10.1", "10.0", "10.1"];
    for (day, (rises, lies)) in (1..).zip(rising.into_iter().zip(lying)) {
        runs(&made, "D-1", &[(day, rises)]);
        runs(&made, "D-2", &[(day, lies)]);
    }
    let (drifts, code) = made.data(&["trend"]);
    assert_eq!(code, 0);
    let of = |d: &Value| (d["device"].clone(), d["value"].clone());
    let all: Vec<_> = drifts.as_array().expect("drifts").iter().map(of).collect();
    assert_eq!(all[0], ("D-1".into(), "delivered".into()), "{drifts}");
    assert!(all.iter().all(|(device, _)| device == "D-1"), "{drifts}");
    let fit = &history(&made, "D-1")["fit"];
    assert_eq!(drifts[0]["limit_met"], fit["crossing"]["day"]);
    assert_eq!(drifts[0]["newest"]["value"], "10.32");
    let only = made.data(&["trend", "--drifting", "--device", "D-2"]).0;
    assert_eq!(only, serde_json::json!([]));
    let text = made.program(&["trend"]);
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    assert!(text.contains("10.32 mL on 2026-04-04"), "{text}");
    let refused = made.program(&["trend", "--value", "delivered"]);
    assert_eq!(refused.status.code(), Some(2));
    let page = made.program(&["trend", "--format", "html"]);
    assert!(String::from_utf8_lossy(&page.stdout).contains("<table"));
}

#[test]
fn text_and_page_draw_the_history() {
    let made = Made::shop(str::to_owned);
    runs(&made, "D-1", &[(1, "10.0"), (5, "10.2"), (9, "10.3")]);
    let words = ["trend", "--device", "D-1", "--value", "delivered"];
    let text = made.program(&words);
    let text = String::from_utf8(text.stdout).expect("text");
    assert!(
        text.contains("●") && text.contains("upper limit 10.5 mL"),
        "{text}"
    );
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    let page = [&words[..], &["--format", "html", "--output", "page.html"]].concat();
    assert!(made.program(&page).status.success());
    let page = std::fs::read_to_string(made.root().join("page.html")).expect("a page");
    assert!(page.contains("<svg") && page.contains("B1-2026-0003") && !page.contains("<script"));
}
