//! What the register says of the device, in pairs of revisions.
//!
//! Never in here: what is read. Changes when recipes can name more of the device.

use crate::{difference, weights};

const RECIPE: &str = "format: 1
recipe: plate
revision: 1
title: Type plate
category: gauge
basis: {practice: common practice}
changes: [{revision: 1, date: 2026-01-15, why: First issue}]
cautions: [Never test a device that is connected to a patient.]
steps:
  - {id: serial, enter: 'Serial number; the register says {{ device.serial }}', accept: serial == device.serial, basis: practice}
  - {id: newer, confirm: The newer cassette is in, when: 'device.model == \"VP-2\"', basis: practice}
";

fn said(from: &str, to: &str) -> Vec<String> {
    assert_eq!(RECIPE.matches(from).count(), 1, "{from}");
    weights(&difference(RECIPE, &RECIPE.replace(from, to)))
}

#[test]
fn the_same_of_the_device_is_the_same() {
    assert!(weights(&difference(RECIPE, RECIPE)).is_empty());
    assert_eq!(
        said("'device.model == \"VP-2\"'", "'\"VP-2\" == device.model'"),
        ["notation newer"]
    );
    assert_eq!(
        said(
            "'device.model == \"VP-2\"'",
            "'!(device.model != \"VP-2\")'"
        ),
        ["notation newer"]
    );
}

#[test]
fn another_field_or_text_is_a_change() {
    assert_eq!(
        said(
            "accept: serial == device.serial",
            "accept: serial == device.tag"
        ),
        ["undecided serial"]
    );
    assert_eq!(said("== \"VP-2\"", "== \"VP-3\""), ["flow newer"]);
    assert_eq!(
        said("device.model ==", "device.category =="),
        ["flow newer"]
    );
    assert_eq!(
        said("says {{ device.serial }}", "says {{ device.tag }}"),
        ["undecided serial"]
    );
}
