//! The names of kinds of quantity in the language of a rendering.
//!
//! Never in here: which kinds there are (see the quantity room). Changes when a kind gets a name.

use super::words::{fixed, said};

/// The kinds that have a name.
const KINDS: [&str; 25] = [
    fixed!("ratio"),
    fixed!("length"),
    fixed!("area"),
    fixed!("volume"),
    fixed!("mass"),
    fixed!("time"),
    fixed!("temperature"),
    fixed!("current"),
    fixed!("drops"),
    fixed!("biological units"),
    fixed!("flow"),
    fixed!("speed"),
    fixed!("acceleration"),
    fixed!("mass flow"),
    fixed!("pressure"),
    fixed!("density"),
    fixed!("force"),
    fixed!("energy"),
    fixed!("power"),
    fixed!("voltage"),
    fixed!("resistance"),
    fixed!("frequency"),
    fixed!("drop factor"),
    fixed!("drip rate"),
    fixed!("compliance"),
];

/// A kind by its name; what is no kind's name as it stands.
pub(super) fn kind(name: &str) -> String {
    match KINDS.contains(&name) {
        true => said(name, &[]),
        false => name.to_owned(),
    }
}
