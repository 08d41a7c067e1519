//! Limits held against what the shop's instruments can tell.
//!
//! Never in here: uncertainties of readings. Changes when instruments are held against limits otherwise.

use serde_json::Value;

use crate::made::{shop, stepwell};

/// The gauge PG-02 of the demo: (0.5 % of 30.6 psi + 0.05 psi)/√3 and 0.01 psi/√12, so U = 0.234 psi with k = 2 (GUM 4.3.7).
/// 0.6 psi to that is 2.6:1; 0.1 psi to 0.231 psi is 0.43:1. The barometer does not reach so far.
#[test]
fn limits_too_near_for_the_best_instrument_are_found() {
    let shop = shop();
    let said = stepwell(
        shop.path(),
        &["check", "--format", "json", "recipes/tight-limits.yaml"],
    );
    assert_eq!(said.status.code(), Some(1));
    let found: Value = serde_json::from_slice(&said.stdout).expect("JSON");
    let told: Vec<(&str, u64, u64)> = found
        .as_array()
        .expect("a list")
        .iter()
        .map(|f| {
            let number = |key: &str| f[key].as_u64().expect("a number");
            (
                f["code"].as_str().expect("a code"),
                number("line"),
                number("column"),
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            ("uncertainty-large", 16, 13),
            ("uncertainty-too-large", 23, 16)
        ]
    );
    let text = found.to_string();
    assert!(
        text.contains("at 30.6 psi (k = 2): 2.6:1, under 4:1")
            && text.contains("0.43:1, under 1:1"),
        "{text}"
    );
}

#[test]
fn an_instrument_that_is_too_uncertain_fills_no_role() {
    let shop = shop();
    let words = [
        "run",
        "tight-limits",
        "--device",
        "VP-1001",
        "--by",
        "tech-04",
        "--trial",
    ];
    let said = stepwell(shop.path(), &words);
    assert_eq!(said.status.code(), Some(2));
    let text = String::from_utf8_lossy(&said.stderr);
    assert!(
        text.contains("PG-02: too uncertain for the limits of `nearer`"),
        "{text}"
    );
}

#[test]
fn outside_a_shop_there_is_nothing_to_hold_limits_against() {
    let folder = tempfile::tempdir().expect("a folder");
    let recipe = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/shop/tight-limits.yaml");
    std::fs::copy(recipe, folder.path().join("tight-limits.yaml")).expect("room");
    let said = stepwell(folder.path(), &["check", "tight-limits.yaml"]);
    assert!(
        said.status.success(),
        "{}",
        String::from_utf8_lossy(&said.stdout)
    );
}
