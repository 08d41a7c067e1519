//! Loggers' files from the file to the record.
//!
//! Never in here: dialects of CSV (see `trace`), formulas (see `oracle`). Changes when a record tells more of a log.

use serde_json::Value;

use crate::made::{number, records, run_log, shop, step, stepwell};

const LOG: &str = include_str!("../oracle/data/trumpet_example.csv");
/// Computed outside by four routes from the same readings (see `tests/oracle/data/README.md`).
const EXPECTED: &str = include_str!("../oracle/data/trumpet_example_expected.json");
/// Windows of the recipe, in min.
const WINDOWS: [&str; 8] = ["0.5", "1", "2", "5", "11", "19", "31", "60"];

fn read(path: &std::path::Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).expect("a record")).expect("JSON")
}

#[test]
fn a_trumpet_in_a_record_is_the_published_one() {
    let shop = shop();
    std::fs::write(shop.path().join("log.csv"), LOG).expect("room");
    let said = run_log(shop.path(), "log.csv");
    assert!(
        said.status.success(),
        "{}",
        String::from_utf8_lossy(&said.stderr)
    );
    let record = read(&records(shop.path())[0]);
    let expected: Value = serde_json::from_str(EXPECTED).expect("JSON");
    for (n, window) in WINDOWS.iter().enumerate() {
        for (path, key) in [("high", "Ep_max_pct"), ("low", "Ep_min_pct")] {
            let found = number(&step(&record, path)["value"][n]);
            let wanted = expected["windows"][window][key].as_f64().expect("a number");
            assert!(
                (found - wanted).abs() <= 1e-9,
                "{path} {window} min: {found}, not {wanted}"
            );
        }
    }
    let mean_error = expected["A_mean_flow_error_pct"]
        .as_f64()
        .expect("a number");
    let flow = 25.0 * (1.0 + mean_error / 100.0);
    assert!((number(&step(&record, "mean")["value"]) - flow).abs() <= 1e-9);
    // The first reading of 20 g or more in the file is the one at 18.5 min.
    assert_eq!(number(&step(&record, "alarm")["value"]), 1110.0);
}

/// `high` and `low` are judged in steps of their own: one drawing has both limits.
#[test]
fn a_trumpet_is_drawn_once_with_the_limits_of_both_sides() {
    let shop = shop();
    std::fs::write(shop.path().join("log.csv"), LOG).expect("room");
    run_log(shop.path(), "log.csv");
    let file = records(shop.path())[0].display().to_string();
    for format in ["text", "html", "md"] {
        let said = stepwell(shop.path(), &["render", &file, "--to", format]);
        let text = String::from_utf8_lossy(&said.stdout).into_owned();
        assert!(
            said.status.success(),
            "{}",
            String::from_utf8_lossy(&said.stderr)
        );
        let from = text
            .find("Largest and smallest mean flow error")
            .expect("a trumpet");
        let trumpet = &text[from..];
        assert!(
            trumpet.contains("upper limit") && trumpet.contains("lower limit"),
            "{format}"
        );
        let again = trumpet[1..]
            .matches("Largest and smallest mean flow error")
            .count();
        assert!(again == 0 || format == "html", "{format}: {again}");
    }
}

/// Mean flow = (m2 − m1)/(t·ρ) with one calibration error for both masses and a display error each: by hand after GUM 5.1.2.
#[test]
fn the_uncertainty_of_a_mean_flow_comes_from_its_end_readings() {
    let shop = shop();
    std::fs::write(shop.path().join("log.csv"), LOG).expect("room");
    run_log(shop.path(), "log.csv");
    let record = read(&records(shop.path())[0]);
    let (first, last) = (12.3456, 37.5071);
    let calibration = |m: f64| (0.00001 * m + 0.0005) / 2.0;
    let display = 0.0001 / 12.0_f64.sqrt();
    let of_difference = (calibration(last) - calibration(first)).hypot(display * 2.0_f64.sqrt());
    let wanted = of_difference / 0.998;
    let uncertainty = &step(&record, "mean")["uncertainty"];
    let found: f64 = uncertainty["standard"]
        .as_str()
        .expect("text")
        .parse()
        .expect("a number");
    assert!((found / wanted - 1.0).abs() < 1e-9, "{found}, not {wanted}");
    assert_eq!(uncertainty["k"], "2");
}

#[test]
fn a_record_of_a_log_is_verified_from_the_kept_file() {
    let shop = shop();
    std::fs::write(shop.path().join("log.csv"), LOG).expect("room");
    run_log(shop.path(), "log.csv");
    std::fs::remove_file(shop.path().join("log.csv")).expect("the file");
    assert!(stepwell(shop.path(), &["verify"]).status.success());
    for kept in std::fs::read_dir(shop.path().join("attachments")).expect("a folder") {
        std::fs::remove_file(kept.expect("a file").path()).expect("the file");
    }
    let said = stepwell(shop.path(), &["verify", "--full"]);
    let text = String::from_utf8_lossy(&said.stdout);
    assert!(text.contains("values and verdicts  not known"), "{text}");
}

#[test]
fn a_cell_that_cant_be_read_is_told_with_its_place_and_nothing_is_taken() {
    let shop = shop();
    let broken = LOG.replacen("12.7793", "12,77x3", 1);
    std::fs::write(shop.path().join("log.csv"), broken).expect("room");
    let said = run_log(shop.path(), "log.csv");
    let text = String::from_utf8_lossy(&said.stdout) + String::from_utf8_lossy(&said.stderr);
    assert_eq!(said.status.code(), Some(2), "{text}");
    assert!(text.contains("row 4"), "{text}");
    assert!(records(shop.path()).is_empty());
}

/// The balance of these tests ends at 300 g: no log of it has 312.7793 g, as no typed reading may.
#[test]
fn a_reading_that_the_instrument_cant_show_is_refused_with_its_place() {
    let shop = shop();
    let beyond = LOG.replacen("12.7793", "312.7793", 1);
    std::fs::write(shop.path().join("log.csv"), beyond).expect("room");
    let said = run_log(shop.path(), "log.csv");
    let text = String::from_utf8_lossy(&said.stdout) + String::from_utf8_lossy(&said.stderr);
    assert_eq!(said.status.code(), Some(2), "{text}");
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "row 4, column 3 `mass_g`: 312.7793 g is outside what the instrument can show (0 g to 300 g)",
        "instruments.yaml",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    assert!(records(shop.path()).is_empty());
}

#[test]
fn falling_masses_are_remarked_upon() {
    let shop = shop();
    let falling = LOG.replacen("12.7793", "12.5000", 1);
    std::fs::write(shop.path().join("log.csv"), falling).expect("room");
    run_log(shop.path(), "log.csv");
    let record = read(&records(shop.path())[0]);
    let remarks = record["remarks"].to_string();
    assert!(
        remarks.contains("lower than the one before") || remarks.contains("falls"),
        "{remarks}"
    );
}

#[test]
fn a_log_outlives_a_pause() {
    let shop = shop();
    std::fs::write(shop.path().join("log.csv"), LOG).expect("room");
    let recipe = shop.path().join("recipes/flow-log.yaml");
    let more = "  - id: seen\n    confirm: The plot looks as it should\n    basis: practice\n";
    let text = std::fs::read_to_string(&recipe).expect("a recipe") + more;
    std::fs::write(recipe, text).expect("room");
    let paused = run_log(shop.path(), "log.csv");
    assert_eq!(paused.status.code(), Some(3));
    std::fs::remove_file(shop.path().join("log.csv")).expect("the file");
    std::fs::write(shop.path().join("rest.yaml"), "confirm: all\nanswers: {}\n").expect("room");
    let said = stepwell(shop.path(), &["resume", "--answers", "rest.yaml"]);
    let session = String::from_utf8_lossy(&said.stdout);
    let id = session
        .split_whitespace()
        .find(|w| w.starts_with("B1-"))
        .unwrap_or_default();
    if records(shop.path()).is_empty() {
        let done = stepwell(shop.path(), &["resume", id, "--answers", "rest.yaml"]);
        assert!(
            done.status.success(),
            "{}",
            String::from_utf8_lossy(&done.stderr)
        );
    }
    assert!(stepwell(shop.path(), &["verify"]).status.success());
}

/// A fixed error of the balance cancels in a flow, a part of the reading does not: worked by hand from the end readings.
#[test]
fn a_log_is_judged_again_with_its_balance_off() {
    let shop = shop();
    std::fs::write(shop.path().join("log.csv"), LOG).expect("room");
    run_log(shop.path(), "log.csv");
    let traced = |error: &str| {
        let words = ["trace", "BA-77", "--format", "json", "--error", error];
        let said: Value =
            serde_json::from_slice(&stepwell(shop.path(), &words).stdout).expect("JSON");
        said["records"][0]["with_error"].clone()
    };
    let too_low = |of: &Value, path: &str| {
        let criteria = of["criteria"].as_array().cloned().unwrap_or_default();
        let found = criteria.into_iter().find(|c| c["step"] == path);
        found.map_or(Value::Null, |c| c["too_low"].clone())
    };
    // The last reading and largest is 37.5071 g: with 62.5 g more it lies above 100 g, with 62.4 g it does not.
    let fixed = traced("62.5 g");
    assert_eq!(too_low(&fixed, "top"), "would have failed");
    assert_eq!(too_low(&fixed, "mean"), Value::Null);
    assert_eq!(too_low(&traced("62.4 g"), "top"), Value::Null);
    // (37.5071 g − 12.3456 g)/(1 h · 0.998 g/mL) = 25.212 mL/h; 4.2 % more lie above 26.25 mL/h, 4.1 % do not.
    assert_eq!(too_low(&traced("4.2 %"), "mean"), "would have failed");
    assert_eq!(too_low(&traced("4.1 %"), "mean"), Value::Null);
    std::fs::remove_dir_all(shop.path().join("attachments")).expect("the kept file");
    let not_known = traced("4.2 %")["not_known"].clone();
    assert!(
        not_known
            .as_str()
            .is_some_and(|t| t.contains("not at hand")),
        "{not_known}"
    );
}
