//! Whether the shop has what a recipe is for, and what it asks for: its maker and models among the devices, the kinds of its
//! roles among the instruments.
//!
//! Never in here: whether an instrument is good enough (see `ratio`). Changes when recipes name more of the registers.

use crate::journal::{Device, Instrument};
use crate::plan::Plan;
use crate::recipe::Whole;
use crate::recipe::cursor::At;
use crate::recipe::schema::nearest;
use crate::text::{Code, Finding};

/// Names that nothing in the registers has, where something has one that is spelled nearly so: what is still to come is no
/// fault.
pub(super) fn check_fitting(
    whole: &Whole,
    plan: &Plan,
    devices: &[Device],
    instruments: &[Instrument],
) -> Vec<Finding> {
    let root = At::root(&whole.document);
    let mut findings = Vec::new();
    let mut look = |at: Option<At<'_>>, what: &str, known: Vec<&str>| {
        let Some((at, name)) = at.and_then(|at| at.text().map(|name| (at, name))) else {
            return;
        };
        if known.contains(&&*name) {
            return;
        }
        if let Some(near) = nearest(&name, known.iter().copied()) {
            let message = format!("the shop has no {what} `{name}`");
            let help = format!("the nearest one is `{near}`");
            findings.push(at.finding(Code::NothingFits, message, help));
        }
    };
    if let Some(applies) = root.get("applies_to") {
        let all = |of: fn(&Device) -> &str| devices.iter().map(of).collect::<Vec<_>>();
        look(
            applies.get("maker"),
            "device of the maker",
            all(|d| &d.maker),
        );
        for model in applies.get("models").iter().flat_map(At::items) {
            look(Some(model), "device of the model", all(|d| &d.model));
        }
    }
    let Some(roles) = root.get("instruments") else {
        return findings;
    };
    for (name, role) in &plan.roles {
        let is_of_kind = |kind: &&str| {
            role.kind
                .as_deref()
                .is_some_and(|k| k.eq_ignore_ascii_case(kind))
        };
        let kinds: Vec<&str> = instruments.iter().map(|i| i.kind.trim()).collect();
        if !kinds.iter().any(is_of_kind) {
            let kind = roles.get(name).and_then(|role| role.get("kind"));
            look(kind, "instrument of the kind", kinds);
        }
    }
    findings
}
