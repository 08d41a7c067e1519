//! A recipe and the devices that it is for: others are refused, or said in the record, which then makes no device done.
//!
//! Never in here: what `due` prints otherwise. Changes when recipes say otherwise whom they are for.

use std::path::Path;

use serde_json::Value;

use super::made::{records, shop, stepwell};

const RUN: &str =
    "run stopwatch --device VP-1011 --by tech-04 --answers answers/stopwatch-pass.yaml";

/// Exit code and all that was said.
fn says(shop: &Path, words: &str) -> (i32, String) {
    let all: Vec<&str> = words.split(' ').collect();
    let out = stepwell(shop, &all);
    let said = String::from_utf8_lossy(&out.stdout) + String::from_utf8_lossy(&out.stderr);
    (out.status.code().expect("a code"), said.into_owned())
}

/// Stored readings with the serial number of VP-1011.
fn readings_of_vp_1011(shop: &Path) {
    for (file, serial) in [("stopwatch-pass", "SI-060052"), ("pass", "EW-100231")] {
        let path = shop.join(format!("answers/{file}.yaml"));
        let text = std::fs::read_to_string(&path).expect("stored readings");
        assert!(text.contains(serial), "{file}");
        std::fs::write(path, text.replace(serial, "EW-1001011")).expect("room");
    }
}

/// What `due` says of a device.
fn due_of(shop: &Path, tag: &str) -> Vec<String> {
    let (_, said) = says(shop, "due --within 9999");
    let lines = said.lines().filter(|l| l.contains(tag));
    lines.map(str::to_owned).collect()
}

#[test]
fn the_recipes_that_are_for_a_device_are_listed() {
    let shop = shop();
    let (code, said) = says(shop.path(), "devices show VP-1001");
    assert_eq!(code, 0, "{said}");
    let base = said.find("recipe volumetric-annual:");
    let of_model = said.find("recipe volumetric-vp1:");
    assert!(of_model.is_some() && of_model < base, "{said}");
    assert!(
        !said.contains("recipe syringe-annual") && !said.contains("recipe looks:"),
        "{said}"
    );
    let (code, said) = says(shop.path(), "run --device VP-1001 --by tech-04");
    assert_eq!(code, 2);
    assert!(
        said.contains("name a recipe") && said.contains("recipe volumetric-vp1:"),
        "{said}"
    );
    let (code, said) = says(shop.path(), "run --by tech-04");
    assert!(code == 2 && said.contains("name a recipe"), "{said}");
}

#[test]
fn a_recipe_for_other_devices_is_refused_unattended() {
    let shop = shop();
    let (code, said) = says(shop.path(), RUN);
    assert_eq!(code, 2, "{said}");
    assert!(
        said.contains(
            "`VP-1011` is of category volumetric; the recipe `stopwatch` is for category gauge"
        ) && said.contains("--other-device"),
        "{said}"
    );
    let cuff =
        "run cuff-pressure --device CU-6006 --by tech-04 --answers answers/cuff-pressure-pass.yaml";
    let (code, said) = says(shop.path(), cuff);
    assert_eq!(code, 2, "{said}");
    assert!(
        said.contains("`CU-6006` is Placeholder Medical CU-7"),
        "{said}"
    );
    assert!(records(shop.path()).is_empty());
    assert!(says(shop.path(), "resume").1.contains("no session is open"));
}

#[test]
fn run_all_the_same_it_is_said_in_the_record_and_makes_no_device_done() {
    let shop = shop();
    readings_of_vp_1011(shop.path());
    let before = due_of(shop.path(), "VP-1011");
    let (code, said) = says(shop.path(), &format!("{RUN} --other-device"));
    assert_eq!(code, 0, "{said}");
    let text = std::fs::read_to_string(&records(shop.path())[0]).expect("a record");
    let record: Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(record["other_device"], true);
    let remarks = record["remarks"].to_string();
    assert!(remarks.contains("that the recipe is not for"), "{remarks}");
    assert_eq!(says(shop.path(), "verify").0, 0);
    assert_eq!(due_of(shop.path(), "VP-1011"), before);
    // What is for the device makes it done.
    let own = "run volumetric-annual --device VP-1011 --by tech-04 --answers answers/pass.yaml";
    assert_eq!(says(shop.path(), own).0, 0);
    let after = due_of(shop.path(), "VP-1011");
    assert!(after[0].contains(" by volumetric-annual"), "{after:?}");
}

#[test]
fn after_a_fail_a_recipe_is_named_that_is_for_the_device() {
    let shop = shop();
    let instruments = include_str!("../../demo-data/shop/instruments.yaml");
    std::fs::write(shop.path().join("instruments.yaml"), instruments).expect("room");
    let fail = "run suction --device SU-6002 --by tech-04 --answers answers/suction-fail-regulation-rise.yaml";
    let (code, said) = says(shop.path(), fail);
    assert_eq!(code, 1, "{said}");
    let next =
        "\n  stepwell run suction --device SU-6002 --by tech-04 --occasion \"after repair\"\n";
    assert!(said.contains(next), "{said}");
    let due = due_of(shop.path(), "SU-6002");
    assert!(due[0].contains(", FAILED "), "{due:?}");
    let shown = says(shop.path(), "devices show SU-6002").1;
    assert!(shown.contains("suction@1  fail"), "{shown}");
}
