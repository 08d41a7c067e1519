//! Which instruments of the shop fill a role.
//!
//! Never in here: limits (see `ratios`). Changes when suitability rests on something new.

use super::made::{records, shop, stepwell};

const RECIPE: &str = "format: 1
recipe: air
revision: 1
title: Air pressure
category: gauge
changes: [{revision: 1, date: 2026-01-15, why: First issue}]
basis: {practice: common practice}
cautions: [Never test a device that is connected to a patient.]
instruments:
  barometer: {measures: [pressure]KIND}
steps:
  - {id: ready, confirm: All is ready}
  - {id: air, measure: Pressure of the air, unit: kPa, with: barometer, accept: 'air >= \"60 kPa\"', basis: practice}
";

/// Walks the recipe with a kind of instrument, or with none, and gives the instrument taken, or what was said against them.
fn taken(kind: &str) -> Result<String, String> {
    let folder = shop();
    let shop = folder.path();
    let recipe = RECIPE.replace("KIND", kind);
    std::fs::write(shop.join("recipes/air.yaml"), recipe).expect("room");
    let answers = "confirm: all\nanswers: {air: \"101.3 kPa\"}\n";
    std::fs::write(shop.join("air.yaml"), answers).expect("room");
    let before = records(shop);
    let words = "run air --device VP-1001 --by tech-04 --trial --answers air.yaml";
    let run = stepwell(shop, &words.split(' ').collect::<Vec<_>>());
    let made = records(shop).into_iter().find(|r| !before.contains(r));
    let Some(path) = made else {
        return Err(String::from_utf8_lossy(&run.stderr).into_owned());
    };
    let text = std::fs::read_to_string(path).expect("a record");
    let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let id = json["instruments"]["barometer"]["id"].as_str();
    Ok(id.expect("an id").to_owned())
}

#[test]
fn a_role_of_a_kind_is_filled_by_no_other_kind() {
    assert_eq!(taken(", kind: barometer").as_deref(), Ok("BM-06"));
    assert_eq!(taken(", kind: \" BAROMETER \"").as_deref(), Ok("BM-06"));
    let said = taken(", kind: Manometer").expect_err("no instrument fits");
    assert!(
        said.contains("BM-06: is of the kind `Barometer`, not `Manometer`"),
        "{said}"
    );
    assert!(
        said.contains("PG-02: is of the kind `Pressure gauge`, not `Manometer`"),
        "{said}"
    );
}

#[test]
fn without_a_kind_instruments_of_the_same_quantity_are_not_told_apart() {
    // A gauge and a barometer reach the limit: unattended, the first of the register is taken, which here is the gauge.
    assert_eq!(taken("").as_deref(), Ok("PG-02"));
}

#[test]
fn an_empty_kind_is_refused() {
    let said = taken(", kind: ''").expect_err("not a kind");
    assert!(said.contains("`kind`"), "{said}");
}
