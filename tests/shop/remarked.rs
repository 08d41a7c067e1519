//! Remarks of a record on drawn errors, and how their numbers are written.
//!
//! Never in here: how errors are drawn. Changes when a remark tells numbers otherwise.

use super::made::{records, shop, stepwell};

const RECIPE: &str = "format: 1
recipe: remarked
revision: 1
title: Remarked
category: volumetric
changes: [{revision: 1, date: 2026-01-15, why: First issue}]
basis: {practice: common practice}
cautions: [Never test a device that is connected to a patient.]
decision: guarded
steps:
  - {id: ready, confirm: All is ready}
  - {id: drops, count: Drops in one minute}
  - {id: x, compute: 'uncertain(drops / 50, 0.1)'}
  - {id: bare, compute: abs(x), accept: bare <= 0.9, basis: practice}
  - {id: percent, compute: abs(x), unit: '%', accept: percent <= 0.9, basis: practice}
";

#[test]
fn a_ratio_is_told_as_a_bare_number_or_in_the_unit_of_its_step() {
    let folder = shop();
    let shop = folder.path();
    std::fs::write(shop.join("recipes/remarked.yaml"), RECIPE).expect("room");
    std::fs::write(
        shop.join("remarked.yaml"),
        "confirm: all\nanswers: {drops: \"1\"}\n",
    )
    .expect("room");
    let words = "run remarked --device VP-1001 --by tech-04 --trial --answers remarked.yaml";
    let run = stepwell(shop, &words.split(' ').collect::<Vec<_>>());
    let record = records(shop)
        .into_iter()
        .find_map(|path| {
            let text = std::fs::read_to_string(path).expect("a record");
            let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
            (json["recipe"]["id"] == "remarked").then_some(json)
        })
        .unwrap_or_else(|| panic!("{}", String::from_utf8_lossy(&run.stderr)));
    let remarks = record["remarks"].as_array().expect("a list");
    let of = |path: &str| {
        let begins = format!("`{path}`: the decision rests on errors drawn at random");
        let mut texts = remarks.iter().filter_map(serde_json::Value::as_str);
        let found = texts.find(|t| t.starts_with(&begins));
        let text = found.unwrap_or_else(|| panic!("{remarks:?}"));
        let ends = text
            .split("the value lies from ")
            .nth(1)
            .expect("an interval");
        let ends = ends.split(" the limit").next().expect("a part");
        ends.replace(" inside", "").replace(" outside", "")
    };
    let is_number = |text: &str| text.parse::<f64>().is_ok();
    assert!(of("bare").split(" to ").all(is_number), "{}", of("bare"));
    let percents = of("percent");
    let mut ends = percents.split(" to ");
    assert!(
        ends.all(|end| end.strip_suffix(" %").is_some_and(is_number)),
        "{percents}"
    );
}
