//! What the register says of the device, as recipes name it.
//!
//! Never in here: the register itself. Changes when recipes can name more of it.

use std::path::Path;

use serde_json::Value;

use super::made::{records, shop, step, stepwell};

const RECIPE: &str = "format: 1
recipe: plate
revision: 1
title: Type plate
category: gauge
changes: [{revision: 1, date: 2026-01-15, why: First issue}]
basis: {practice: common practice}
cautions: [Never test a device that is connected to a patient.]
steps:
  - {id: serial, enter: 'Serial number on the plate; the register says {{ device.serial }}', accept: serial == device.serial, basis: practice}
  - {id: newer, confirm: The newer cassette is in, when: 'device.model == \"VP-2\"', basis: practice}
  - {id: older, confirm: The older cassette is in, when: 'device.model != \"VP-2\"', basis: practice}
";

/// The record of a walk through the recipe with this serial number typed.
fn record(shop: &Path, device: &str, serial: &str) -> Value {
    std::fs::write(shop.join("recipes/plate.yaml"), RECIPE).expect("room");
    let answers = format!("confirm: all\nanswers: {{serial: \"{serial}\"}}\n");
    std::fs::write(shop.join("plate.yaml"), answers).expect("room");
    let before = records(shop);
    let words = format!("run plate --device {device} --by tech-04 --trial --answers plate.yaml");
    let run = stepwell(shop, &words.split(' ').collect::<Vec<_>>());
    let made = records(shop).into_iter().find(|r| !before.contains(r));
    let path = made.unwrap_or_else(|| panic!("{}", String::from_utf8_lossy(&run.stderr)));
    let text = std::fs::read_to_string(path).expect("a record");
    serde_json::from_str(&text).expect("JSON")
}

fn verdict(record: &Value) -> &Value {
    &step(record, "serial")["criteria"][0]["verdict"]
}

#[test]
fn a_serial_number_is_compared_with_the_registers() {
    let folder = shop();
    let shop = folder.path();
    // As devices.csv of the demo has it.
    let register = std::fs::read_to_string(shop.join("devices.csv")).expect("a register");
    assert!(
        register
            .lines()
            .any(|l| l.starts_with("VP-1001,EW-100231,"))
    );
    let same = record(shop, "VP-1001", "EW-100231");
    assert_eq!(verdict(&same), "pass");
    let prompt = step(&same, "serial")["prompt"].as_str().expect("a text");
    assert!(prompt.ends_with("the register says EW-100231"), "{prompt}");
    assert_eq!(step(&same, "newer")["state"], "not applicable");
    assert_eq!(step(&same, "older")["state"], "done");
    let other = record(shop, "VP-1001", "EW-100213");
    assert_eq!(verdict(&other), "fail");
    assert_eq!(other["verdict"], "fail");
    // The record rests on the device that it names itself, whatever the register says later.
    std::fs::write(
        shop.join("devices.csv"),
        register.replace("EW-100231", "EW-999999"),
    )
    .expect("room");
    let verified = stepwell(shop, &["verify"]);
    let said = String::from_utf8_lossy(&verified.stdout);
    assert_eq!(verified.status.code(), Some(0), "{said}");
}

#[test]
fn what_is_empty_in_the_register_is_not_judged() {
    let folder = shop();
    let shop = folder.path();
    let file = shop.join("devices.csv");
    let register = std::fs::read_to_string(&file).expect("a register");
    std::fs::write(&file, register.replace("EW-100231", "")).expect("room");
    let record = record(shop, "VP-1001", "EW-100231");
    assert_eq!(verdict(&record), "not judged");
    assert_eq!(record["verdict"], "incomplete");
    let remarks = record["remarks"].to_string();
    assert!(
        remarks.contains("rests on `device.serial`, which is empty in the register"),
        "{remarks}"
    );
    let prompt = step(&record, "serial")["prompt"].as_str().expect("a text");
    assert!(prompt.ends_with("the register says —"), "{prompt}");
}

#[test]
fn what_a_condition_rests_on_has_to_be_in_the_register() {
    let folder = shop();
    let shop = folder.path();
    let file = shop.join("devices.csv");
    let register = std::fs::read_to_string(&file).expect("a register");
    let line = register
        .lines()
        .find(|l| l.starts_with("VP-1001,"))
        .expect("a pump");
    std::fs::write(&file, register.replace(line, &line.replace(",VP-1,", ",,"))).expect("room");
    let record = record(shop, "VP-1001", "EW-100231");
    assert_eq!(step(&record, "newer")["state"], "not done");
    assert_eq!(record["verdict"], "incomplete");
}

/// Whoever runs the session is no second person in it.
#[test]
fn a_witness_is_somebody_else() {
    let folder = shop();
    let shop = folder.path();
    let recipe = RECIPE.replace(
        "steps:\n",
        "steps:\n  - {id: witness, enter: Id of the second person, accept: witness != session.by, basis: practice}\n",
    );
    std::fs::write(shop.join("recipes/plate.yaml"), recipe).expect("room");
    for (witness, verdict) in [("tech-04", "fail"), ("tech-07", "pass")] {
        let answers = format!("confirm: all\nanswers: {{serial: EW-100231, witness: {witness}}}\n");
        std::fs::write(shop.join("plate.yaml"), answers).expect("room");
        let before = records(shop);
        let words = "run plate --device vp-1001 --by tech-04 --trial --answers plate.yaml";
        stepwell(shop, &words.split(' ').collect::<Vec<_>>());
        let made = records(shop).into_iter().find(|r| !before.contains(r));
        let text = std::fs::read_to_string(made.expect("a record")).expect("a record");
        let record: Value = serde_json::from_str(&text).expect("JSON");
        let step = step(&record, "witness");
        assert_eq!(step["criteria"][0]["verdict"], verdict, "{step}");
    }
    let out = stepwell(shop, &["verify"]);
    assert!(out.status.success(), "{out:?}");
}
