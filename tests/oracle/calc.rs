//! The rows of `data/` as expressions of the language, evaluated as `calc` does and through the program.
//!
//! Never in here: formulas called directly (see `maths`). Changes when the language can say a row that it could not.

use std::process::Command;

use serde_json::Value as Json;
use stepwell::app::{Sheet, calculate, calculated_json};

/// A row of `checks.json` with its expression.
struct Case {
    id: String,
    expression: String,
    unit: Option<String>,
    expected: Json,
    tolerance: f64,
}

fn read(file: &str) -> String {
    let path = format!("{}/tests/oracle/{file}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{file}: {e}"))
}

fn json(file: &str) -> Json {
    serde_json::from_str(&read(file)).unwrap_or_else(|e| panic!("{file}: {e}"))
}

fn cases() -> Vec<Case> {
    let checks = json("data/checks.json");
    let rows = checks.as_array().expect("a list of rows");
    let expressions = json("expressions.json");
    let expressions = expressions.as_object().expect("expressions by id");
    let case = |(id, how): (&String, &Json)| {
        let row = rows
            .iter()
            .find(|r| r["id"] == id.as_str())
            .unwrap_or_else(|| panic!("no row `{id}`"));
        if how.get("skip").is_some() {
            return None;
        }
        Some(Case {
            id: id.clone(),
            expression: how["expression"]
                .as_str()
                .expect("an expression")
                .to_owned(),
            unit: how["unit"].as_str().map(str::to_owned),
            expected: row["expected"].clone(),
            tolerance: row["tolerance"].as_f64().expect("a tolerance"),
        })
    };
    expressions.iter().filter_map(case).collect()
}

fn calculated(name: &str, expression: &str, unit: Option<&str>) -> Json {
    let value = calculate(name, expression, unit).unwrap_or_else(|findings| {
        let told: Vec<_> = findings
            .iter()
            .map(|f| format!("{}: {}", f.code.name(), f.message))
            .collect();
        panic!("{name}: `{expression}`: {}", told.join("; "))
    });
    calculated_json(&value)
}

/// The number of a result: its value as decimal text.
fn number(found: &Json) -> f64 {
    let text = found["value"]
        .as_str()
        .unwrap_or_else(|| panic!("{found} has no value"));
    text.parse().unwrap_or_else(|e| panic!("{text}: {e}"))
}

/// Whether a result is what a row expects: a number to its tolerance; text, truth and lists as they are.
fn agrees(found: &Json, expected: &Json, tolerance: f64) -> bool {
    match expected {
        Json::Number(n) => (number(found) - n.as_f64().expect("a double")).abs() <= tolerance,
        Json::Bool(truth) => found["truth"] == *truth,
        Json::String(word) if word == "pass" || word == "fail" => {
            found["truth"] == (word == "pass")
        }
        Json::String(text) => found["value"] == *text || found["text"] == *text,
        Json::Array(items) => {
            let list = found["list"].as_array().expect("a list");
            list.len() == items.len()
                && list.iter().zip(items).all(|(f, e)| agrees(f, e, tolerance))
        }
        _ => false,
    }
}

#[test]
fn every_row_with_an_expression_agrees() {
    let cases = cases();
    assert_eq!(cases.len(), 268, "rows with an expression");
    for case in &cases {
        let found = calculated(&case.id, &case.expression, case.unit.as_deref());
        let Case {
            id,
            expected,
            tolerance,
            ..
        } = case;
        assert!(
            agrees(&found, expected, *tolerance),
            "{id}: {found} is not {expected} to {tolerance}"
        );
    }
}

/// A row of the on-limit tables in the language: numbers for names, operators spelled our way.
fn on_limit(line: &str) -> (String, bool) {
    let cells: Vec<&str> = line.split(',').collect();
    let [nominal, reading, limit, expression, _, exact] = cells[..] else {
        panic!("six cells: {line}")
    };
    let words = [
        ("reading", reading),
        ("nominal", nominal),
        ("limit", limit),
        ("tol", limit),
        ("and", "&&"),
    ];
    let text = words
        .iter()
        .fold(expression.to_owned(), |text, (word, value)| {
            text.replace(word, value)
        });
    (text, exact == "true")
}

fn all_on_limit(file: &str, count: usize) {
    let text = read(file);
    let rows: Vec<_> = text.lines().skip(1).map(on_limit).collect();
    assert_eq!(rows.len(), count, "rows of {file}");
    for (expression, exact) in rows {
        assert_eq!(
            calculated(file, &expression, None)["truth"],
            exact,
            "{expression}"
        );
    }
}

/// Doubles judge every one of these wrongly.
#[test]
fn readings_on_a_limit_are_judged_exactly() {
    all_on_limit("data/on_limit_cases.csv", 65);
    all_on_limit("data/on_limit_abs_cases.csv", 142);
}

/// All rows go through the program in one call, those with a unit of their own as conversions.
#[test]
fn the_program_says_the_same() {
    let line = |case: &Case| match &case.unit {
        Some(unit) => format!("convert({}, \"{unit}\")", case.expression),
        None => case.expression.clone(),
    };
    let lines: Vec<String> = cases().iter().map(line).collect();
    let file = std::env::temp_dir().join(format!("stepwell-oracle-{}.txt", std::process::id()));
    std::fs::write(&file, lines.join("\n")).expect("a file in the temporary folder");
    let mut program = Command::new(env!("CARGO_BIN_EXE_stepwell"));
    let output = program
        .args(["calc", "--format", "json", "--file"])
        .arg(&file)
        .output();
    std::fs::remove_file(&file).expect("the file is there");
    let output = output.expect("the program runs");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let printed = String::from_utf8(output.stdout).expect("text");
    assert_eq!(printed.lines().count(), lines.len());
    for (line, printed) in lines.iter().zip(printed.lines()) {
        assert_eq!(
            printed,
            calculated("program", line, None).to_string(),
            "{line}"
        );
    }
}

/// A criterion that is decided through doubles nearer to the limit than their error is said to be so. The numbers are equal
/// by mathematics: (√2)² = 2, e^(ln 3) = 3, s of {4.9, 5.1} = √0.02, and e^(ln 0.5)
/// lies on a tie of rounding; or they differ by more than any rounding.
#[test]
fn a_decision_within_numerical_error_is_told() {
    let cases = [
        ("sqrt(2) * sqrt(2) <= 2", true),
        ("exp(ln(3)) >= 3", true),
        ("within(sqrt(2) ^ 2, 2, 0)", true),
        ("between(exp(ln(7)), 7, 8)", true),
        (
            "sd(\"4.9 mL\", \"5.1 mL\") * sd(\"4.9 mL\", \"5.1 mL\") <= \"0.02 mL2\"",
            true,
        ),
        ("round(exp(ln(0.5)), 1) <= 0.5", true),
        ("sqrt(2) <= 1.414213562374", false),
        ("water_density(\"20 degC\") < \"998.3 kg/m3\"", false),
        ("1.1 * 1.1 <= 1.21", false),
    ];
    for (expression, close) in cases {
        let found = Sheet::default().calculate("case", expression, None);
        let found = found.unwrap_or_else(|f| panic!("{expression}: {}", f[0].message));
        assert_eq!(found.close, close, "{expression}");
    }
}

/// U = 2·u as it is printed for a stated u: an exact decimal stands as it is, and only a true excess rounds up (JCGM 100:2008,
/// 7.2.6; each U worked out by hand).
#[test]
fn a_printed_uncertainty_is_rounded_up_only_where_it_would_be_understated() {
    let cases = [
        ("0.05", "0.10"),
        ("0.1", "0.20"),
        ("0.15", "0.30"),
        ("0.2", "0.40"),
        ("0.25", "0.50"),
        ("0.3", "0.60"),
        ("0.35", "0.70"),
        ("0.4", "0.80"),
        ("0.45", "0.90"),
        ("0.5", "1.0"),
        ("1", "2.0"),
        ("0.0625", "0.13"),
        ("0.0004", "0.00080"),
        // U = 0.1000000001 as 0.10 is hardly understated; 0.105 as 0.10 is by 5 %, 0.140 99 as 0.14 by 0.7 %.
        ("0.05000000005", "0.10"),
        ("0.0525", "0.11"),
        ("0.070495", "0.14"),
    ];
    for (u, printed) in cases {
        for unit in ["mL", "kPa", "min", "mmHg", "L/h"] {
            let sheet = Sheet::default();
            let text = format!("uncertain(\"7 {unit}\", \"{u} {unit}\")");
            let calculated = sheet.calculate("case", &text, None).expect("good");
            let told = sheet.uncertainty(&calculated).expect("an uncertainty");
            let end = format!("± {printed}) {unit}");
            assert!(told.shown.ends_with(&end), "{u} {unit}: {}", told.shown);
        }
    }
}
