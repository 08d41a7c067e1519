//! What decision rules leave in a record, and in `calc`: drawn errors, uncertain limits, ratios on the edge.
//!
//! Never in here: the verdicts themselves (see `oracle`). Changes when a record tells more of a decision.

use std::path::Path;

use serde_json::Value;
use tempfile::TempDir;

use crate::made::{records, shop, stepwell};

const HEAD: &str = "format: 1
recipe: decided
revision: 1
title: Decided
category: gauge
changes:
  - {revision: 1, date: 2026-01-15, why: First issue}
instruments: {meter: {measures: [length]}, other: {measures: [length]}}
";

fn instrument(id: &str, accuracy: &str) -> String {
    format!(
        "  - id: {id}
    kind: Gauge
    serial: D-{id}
    certificate: DEMO-{id}
    calibrated: 2025-11-03
    due: 2099-12-31
    measures:
      length: {{range: [0 mm, 100 mm], accuracy: {accuracy}, k: 2}}
"
    )
}

/// A shop with two gauges of this accuracy and the recipe.
fn with_recipe(accuracy: &str, rule: &str, steps: &str) -> TempDir {
    let shop = shop();
    let register = shop.path().join("instruments.yaml");
    let mut text = std::fs::read_to_string(&register).expect("instruments");
    text.push_str(&instrument("LG-1", accuracy));
    text.push_str(&instrument("LG-2", accuracy));
    std::fs::write(register, text).expect("room");
    let recipe = format!("{HEAD}decision: {rule}\nsteps:\n{steps}");
    std::fs::write(shop.path().join("recipes/decided.yaml"), recipe).expect("room");
    shop
}

/// The record of a run with these answers.
fn recorded(shop: &Path, answers: &str) -> Value {
    let text = format!("answers:\n{answers}");
    std::fs::write(shop.join("decided-answers.yaml"), text).expect("room");
    let words = "run decided --device VP-1001 --by tech-04 --trial --with meter=LG-1 --with other=LG-2 --answers decided-answers.yaml";
    let said = stepwell(shop, &words.split(' ').collect::<Vec<_>>());
    let sealed = matches!(said.status.code(), Some(0 | 1 | 3));
    assert!(sealed, "{}", String::from_utf8_lossy(&said.stderr));
    let file = records(shop).pop().expect("a record");
    serde_json::from_slice(&std::fs::read(file).expect("a record")).expect("JSON")
}

fn decimal(json: &Value) -> f64 {
    json.as_str()
        .expect("decimal text")
        .parse()
        .expect("a number")
}

fn verifies(shop: &Path) {
    let said = stepwell(shop, &["verify"]);
    let text = String::from_utf8_lossy(&said.stdout);
    assert!(said.status.success(), "{text}");
}

/// U = 0.3 mm of the value, of which nothing is left in the distance to a limit that the same gauge read.
#[test]
fn a_record_tells_the_uncertainty_of_the_distance() {
    let shop = with_recipe(
        "0.3 mm",
        "guarded",
        r#"  - {id: y, measure: Length, unit: mm, with: meter}
  - {id: x, measure: Length, unit: mm, with: meter, on_fail: continue, accept: 'x <= y + "0.2 mm"'}
  - {id: z, measure: Length, unit: mm, with: other, on_fail: continue, accept: 'z <= y + "0.2 mm"'}
"#,
    );
    let record = recorded(shop.path(), "  y: 10\n  x: 10.1\n  z: 10.1\n");
    let limit = |n: usize| &record["steps"][n]["criteria"][0]["limits"][0];
    assert_eq!(record["steps"][1]["criteria"][0]["verdict"], "pass");
    assert!((decimal(&limit(1)["uncertainty"]["expanded"]) - 0.3).abs() < 1e-12);
    assert_eq!(limit(1)["distance"]["expanded"], "0");
    assert_eq!(limit(1)["conformance"], "1");
    // Two gauges: their errors add in squares, √2 · 0.3 mm (JCGM 100:2008, 5.1.2).
    assert_eq!(record["steps"][2]["criteria"][0]["verdict"], "fail");
    let of_two = decimal(&limit(2)["distance"]["expanded"]);
    assert!((of_two - 0.3 * 2.0_f64.sqrt()).abs() < 1e-12);
    verifies(shop.path());
}

/// (p − q)² at zero: nothing is left to first order, and the record says what the decision rests on. Its 0.977 25 quantile is
/// 5.187 49·2·(0.015 mm)² = 0.002 334 mm² (chi-squared with one degree of freedom).
#[test]
fn a_record_tells_that_errors_were_drawn() {
    let shop = with_recipe(
        "0.03 mm",
        "banded",
        r#"  - {id: p, measure: Length, unit: mm, with: meter}
  - {id: q, measure: Length, unit: mm, with: other}
  - {id: square, compute: '(p - q) * (p - q)', on_fail: continue, accept: 'square <= "0.0022 mm" * "1 mm"'}
"#,
    );
    let record = recorded(shop.path(), "  p: 10\n  q: 10\n");
    let step = &record["steps"][2];
    let limit = &step["criteria"][0]["limits"][0];
    assert_eq!(step["criteria"][0]["verdict"], "conditional pass");
    for uncertainty in [&step["uncertainty"], &limit["uncertainty"]] {
        assert_eq!(uncertainty["standard"], "0");
        assert_eq!(uncertainty["drawn"]["trials"], 20_000);
        let scale = match uncertainty["drawn"]["unit"].as_str() {
            Some("mm2" | "mm²" | "mm^2") => 1.0,
            _ => 1e6,
        };
        let high = decimal(&uncertainty["drawn"]["high"]) * scale;
        assert!((high - 0.002_334).abs() < 0.000_15, "{uncertainty}");
    }
    assert!(limit["distance"]["drawn"]["trials"] == 20_000);
    let remarks = record["remarks"].to_string();
    assert!(
        remarks.contains("rests on errors drawn at random"),
        "{remarks}"
    );
    assert!(!remarks.contains("no uncertainty is known"), "{remarks}");
    verifies(shop.path());
}

/// (10.1 − 9.9)/2 = 0.1 is 1:1 to U = 0.1, and 0.4 is 4:1: exactly enough.
#[test]
fn a_ratio_that_is_exactly_enough_is_enough() {
    let steps = |limit: &str| {
        format!(
            "  - {{id: x, measure: Length, unit: mm, with: meter, accept: 'between(x, {limit})'}}\n"
        )
    };
    let code = |accuracy: &str, limit: &str| {
        let shop = with_recipe(accuracy, "simple", &steps(limit));
        let said = stepwell(
            shop.path(),
            &["check", "--format", "json", "recipes/decided.yaml"],
        );
        let found: Value = serde_json::from_slice(&said.stdout).expect("JSON");
        let codes = found
            .as_array()
            .expect("a list")
            .iter()
            .map(|f| f["code"].clone());
        codes
            .filter(|c| c.to_string().contains("uncertainty"))
            .collect::<Vec<_>>()
    };
    let large = ["uncertainty-large"];
    assert_eq!(code("0.1 mm", r#""9.9 mm", "10.1 mm""#), large);
    assert_eq!(code("0.03 mm", r#""9.97 mm", "10.03 mm""#), large);
    assert_eq!(
        code("0.1 mm", r#""9.901 mm", "10.1 mm""#),
        ["uncertainty-too-large"]
    );
    assert!(code("0.1 mm", r#""9.6 mm", "10.4 mm""#).is_empty());
    assert!(code("0.03 mm", r#""9.88 mm", "10.12 mm""#).is_empty());
    assert_eq!(code("0.1 mm", r#""9.601 mm", "10.4 mm""#), large);
    let shop = with_recipe("0.1 mm", "simple", &steps(r#""9.9 mm", "10.1 mm""#));
    assert_eq!(recorded(shop.path(), "  x: 10\n")["verdict"], "pass");
}

/// Limits on a linear function of one reading; U = 0.2 mm throughout. By hand: 0.1 to 0.2 is 0.5:1; 1 % of 10 mm is 0.1 mm;
/// 2·x up to 20.2 mm from 19.8 mm leaves x 0.1 mm; 0.7998 to 0.2 is 3.999:1.
#[test]
fn a_ratio_is_found_through_a_linear_function() {
    let told = |steps: &str| {
        let shop = with_recipe("0.2 mm", "simple", steps);
        let words = ["check", "--format", "json", "recipes/decided.yaml"];
        let said = stepwell(shop.path(), &words);
        let found: Value = serde_json::from_slice(&said.stdout).expect("JSON");
        let all = found.as_array().expect("a list").iter();
        let all = all.filter(|f| f["code"].to_string().contains("uncertainty"));
        all.map(|f| f["message"].as_str().expect("text").to_owned())
            .collect::<Vec<_>>()
    };
    let own = |accept: &str| {
        told(&format!(
            "  - {{id: x, measure: Length, unit: mm, with: meter, accept: '{accept}'}}\n"
        ))
    };
    for accept in [
        r#"abs(x - "10 mm") <= "0.1 mm""#,
        r#""0.1 mm" > abs("10 mm" - x)"#,
        r#"abs(deviation(x, "10 mm")) <= "1 %""#,
        r#"deviation(x, "10 mm") <= "1 %" && deviation(x, "10 mm") >= -"1 %""#,
        r#"between(2 * x, "19.8 mm", "20.2 mm")"#,
        r#"between("20 mm" - x, "9.9 mm", "10.1 mm")"#,
    ] {
        let found = own(accept);
        let [only] = &found[..] else {
            panic!("{accept}: {found:?}")
        };
        let end = "leave 0.10 mm, and the best instrument, LG-2, has U = 0.20 mm at 10.1 mm (k = 2): 0.50:1, under 1:1";
        assert!(only.ends_with(end), "{accept}: {only}");
    }
    // One-sided: what the expression may come to counts.
    assert!(own(r#"x - "10 mm" <= "0.1 mm""#)[0].contains(": 0.50:1, under 1:1"));
    assert!(own(r#"2 * x <= "20 mm""#).is_empty());
    let near = own(r#"abs(x - "10 mm") <= "0.7998 mm""#);
    let end = "leave 0.7998 mm, and the best instrument, LG-2, has U = 0.2000 mm at 10.7998 mm (k = 2): 3.999:1, under 4:1";
    assert!(near[0].ends_with(end), "{near:?}");
    let computed = told(
        r#"  - {id: x, measure: Length, unit: mm, with: meter}
  - {id: off, compute: 'x - "10 mm"', accept: 'abs(off) <= "0.1 mm"'}
"#,
    );
    assert!(computed[0].contains("the limits of `off` leave 0.10 mm for `x`"));
    let two = told(
        r#"  - {id: x, measure: Length, unit: mm, with: meter}
  - {id: y, measure: Length, unit: mm, with: other, accept: 'abs(x - y) <= "0.1 mm"'}
"#,
    );
    assert!(two.is_empty(), "{two:?}");
}

/// `abs(x − n) <= t` is `within(x, n, t)`. 2Φ(2.1) − 1 = 0.964 27 for t = 0.21 mm and u = 0.1 mm (tables of Φ: Φ(2.1) = 0.982 14).
#[test]
fn an_absolute_value_has_two_limits() {
    let first = |rule: &str, accept: &str| {
        let step = format!(
            "  - {{id: x, measure: Length, unit: mm, with: meter, on_fail: continue, accept: '{accept}'}}\n"
        );
        let shop = with_recipe("0.2 mm", rule, &step);
        let record = recorded(shop.path(), "  x: 10\n");
        verifies(shop.path());
        record["steps"][0]["criteria"][0].clone()
    };
    let (abs, within) = (
        r#"abs(x - "10 mm") <= "0.21 mm""#,
        r#"within(x, "10 mm", "0.21 mm")"#,
    );
    for rule in ["simple", "guarded", "banded"] {
        let (a, w) = (first(rule, abs), first(rule, within));
        assert_eq!(
            (&a["verdict"], &w["verdict"]),
            (&"pass".into(), &"pass".into())
        );
        let of = |criterion: &Value| decimal(&criterion["limits"][0]["conformance"]);
        assert!((of(&a) - 0.964_27).abs() < 1e-5 && (of(&w) - of(&a)).abs() < 1e-12);
    }
    let limit = first("simple", abs)["limits"][0].clone();
    assert_eq!(limit["of"], r#"x - "10 mm""#);
    assert_eq!(
        (&limit["low"]["value"], &limit["high"]["value"]),
        (&"-0.21".into(), &"0.21".into())
    );
    assert_eq!(
        first("simple", r#"abs(x - "10 mm") < "0.2 mm""#)["limits"][0]["strict"],
        true
    );
}

/// `abs(x − y)` of two gauges, u = √2 · 0.1 mm: U = 0.28 mm leaves no zone of acceptance in ±0.1 mm.
#[test]
fn an_absolute_value_may_have_no_zone_of_acceptance() {
    for accept in [r#"abs(x - y) <= "0.1 mm""#, r#"within(x, y, "0.1 mm")"#] {
        let steps = format!(
            "  - {{id: y, measure: Length, unit: mm, with: other}}\n  - {{id: x, measure: Length, unit: mm, with: meter, on_fail: continue, accept: '{accept}'}}\n"
        );
        let shop = with_recipe("0.2 mm", "guarded", &steps);
        let record = recorded(shop.path(), "  y: 10\n  x: 10\n");
        let criterion = &record["steps"][1]["criteria"][0];
        assert_eq!(criterion["verdict"], "not judged");
        let shown = criterion["shown"].to_string();
        assert!(shown.contains("no zone of acceptance"), "{shown}");
    }
}

/// a/b ≤ 70 at 10 mm and 0.3 mm, u = 0.1 mm each: to first order 36.7 to u = 11.1, that is 0.999 5. By hand:
/// b ≥ a/70 with Φ(11/√(7² + 0.1²)) = Φ(1.571) = 0.941 9, and b < 0 with Φ(−3) = 0.001 3 (tables of Φ); 20,000 draws know
/// that to ±0.005 for three standard deviations.
#[test]
fn a_probability_of_conformity_is_drawn_where_first_order_is_not_enough() {
    let steps = r#"  - {id: a, measure: Length, unit: mm, with: meter}
  - {id: b, measure: Length, unit: mm, with: other}
  - {id: ratio, compute: a / b, accept: ratio <= 70}
"#;
    let shop = with_recipe("0.2 mm", "simple", steps);
    let record = recorded(shop.path(), "  a: 10\n  b: 0.3\n");
    let limit = &record["steps"][2]["criteria"][0]["limits"][0];
    assert_eq!(limit["uncertainty"]["drawn"]["agrees"], false);
    let conformance = decimal(&limit["conformance"]);
    assert!((conformance - 0.943_2).abs() < 0.005, "{conformance}");
    let remarks = record["remarks"].to_string();
    let told = "the probability of conformity rests on errors drawn at random";
    assert!(remarks.contains(told), "{remarks}");
    verifies(shop.path());
    let file = records(shop.path()).pop().expect("a record");
    let said = stepwell(shop.path(), &["render", &file.display().to_string()]);
    let text = String::from_utf8_lossy(&said.stdout).replace("\n", " ");
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("% by drawn errors"), "{text}");
}

/// u = 1 % of the reading / 2: of 2·b that is the u of b with a sensitivity of 2; a + b rests on two sizes. A mean of three readings
/// has one line for their displays.
#[test]
fn a_budget_has_the_size_of_the_one_reading_and_one_line_for_displays() {
    let steps = r#"  - {id: a, measure: Length, unit: mm, with: meter, resolution: 0.1 mm}
  - {id: b, measure: Length, unit: mm, with: meter, resolution: 0.1 mm}
  - {id: twice, compute: 2 * b, accept: 'twice <= "90 mm"'}
  - {id: sum, compute: a + b, accept: 'sum <= "90 mm"'}
  - {id: c, measure: Length, unit: mm, with: other, resolution: 0.1 mm, repeat: 3, accept: 'mean(c) <= "90 mm"'}
"#;
    let shop = with_recipe("1 %", "simple", steps);
    let record = recorded(shop.path(), "  a: 10\n  b: 20\n  c: [10, 10, 10]\n");
    verifies(shop.path());
    let line = |of: &Value| {
        let all = of["budget"].as_array().expect("lines").iter();
        let line = all
            .clone()
            .find(|l| l["source"].to_string().contains("accuracy"));
        let line = line.expect("a line of the calibration").clone();
        let number = |key: &str| {
            line[key]
                .as_str()
                .map(|t| t.parse::<f64>().expect("a number"))
        };
        (number("standard"), number("sensitivity"))
    };
    let near = |found: (Option<f64>, Option<f64>), u: f64, c: f64| {
        let (Some(standard), Some(sensitivity)) = found else {
            panic!("{found:?}")
        };
        assert!((standard - u).abs() < 1e-12 && (sensitivity - c).abs() < 1e-12);
    };
    let steps = &record["steps"];
    near(line(&steps[0]["uncertainty"]), 0.05, 1.0);
    near(line(&steps[1]["uncertainty"]), 0.1, 1.0);
    near(line(&steps[2]["uncertainty"]), 0.1, 2.0);
    near(
        line(&steps[2]["criteria"][0]["limits"][0]["uncertainty"]),
        0.1,
        2.0,
    );
    assert_eq!(line(&steps[3]["uncertainty"]), (None, None));
    let budget = &steps[4]["criteria"][0]["limits"][0]["uncertainty"]["budget"];
    let displays = budget.as_array().expect("lines").iter();
    let displays: Vec<&Value> = displays
        .filter(|l| l["source"].to_string().contains("display"))
        .collect();
    assert_eq!(displays.len(), 1, "{budget}");
    assert!(
        displays[0]["source"].to_string().contains(", 3 readings"),
        "{budget}"
    );
    // d/√12 of each, divided by √3.
    let u = 0.1 / 12.0_f64.sqrt();
    assert!((decimal(&displays[0]["contribution"]) - u / 3.0_f64.sqrt()).abs() < 1e-12);
}

/// `calc` draws where first order is not enough, and says so.
#[test]
fn calc_draws_errors() {
    let shop = shop();
    let said = |words: &[&str]| {
        let said = stepwell(shop.path(), &[&["calc"], words].concat());
        assert!(
            said.status.success(),
            "{}",
            String::from_utf8_lossy(&said.stderr)
        );
        String::from_utf8_lossy(&said.stdout).into_owned()
    };
    let lets = [
        "--let",
        "a=uncertain(10, 0.015)",
        "--let",
        "b=uncertain(10, 0.015)",
    ];
    let json = |expression: &str, lets: &[&str]| -> Value {
        let text = said(&[&[expression], lets, &["--format", "json"]].concat());
        serde_json::from_str(&text).expect("JSON")
    };
    // |a − b|: half-normal with σ = 0.015·√2; its 0.977 25 quantile is 2.277 61σ, its 0.022 75 quantile 0.028 515σ (Python's
    // statistics.NormalDist at (1 + p)/2).
    let sigma = 0.015 * 2.0_f64.sqrt();
    let drawn = json("abs(a - b)", &lets)["uncertainty"]["drawn"].clone();
    assert!(
        (decimal(&drawn["high"]) - 2.277_61 * sigma).abs() < 0.06 * sigma,
        "{drawn}"
    );
    assert!(
        (decimal(&drawn["low"]) - 0.028_517 * sigma).abs() < 0.006 * sigma,
        "{drawn}"
    );
    assert_eq!(drawn["agrees"], false);
    // a² at zero: chi-squared with one degree of freedom, 5.187 49·σ².
    let zero = ["--let", "a=uncertain(0, 0.1)"];
    let square = json("a^2", &zero)["uncertainty"].clone();
    assert_eq!(square["standard"], "0");
    assert!(
        (decimal(&square["drawn"]["high"]) - 0.051_875).abs() < 0.003,
        "{square}"
    );
    // Stated inside the expression itself.
    let square = json("uncertain(0, 0.1)^2", &[])["uncertainty"].clone();
    assert!(
        (decimal(&square["drawn"]["high"]) - 0.051_875).abs() < 0.003,
        "{square}"
    );
    let text = said(&[&["abs(a - b)", "--budget"], &lets[..]].concat());
    assert!(text.contains("first order is not enough"), "{text}");
    let ratio = said(&["1 / uncertain(0.1, 0.06)", "--budget"]);
    assert!(ratio.contains("first order is not enough"), "{ratio}");
    let root = said(&["sqrt(uncertain(0.001, 0.1))"]);
    assert!(root.contains("give no result"), "{root}");
    let sum = said(&[&["a + b", "--budget"], &lets[..]].concat());
    assert!(!sum.contains("drawn"), "{sum}");
}
