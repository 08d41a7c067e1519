//! Whether two conditions are put together of the same parts so that they come to the same, whatever the parts come to.
//!
//! Never in here: what parts say of values (see `region`). Changes when parts are told apart otherwise.

use std::collections::BTreeSet;

use super::formula::{Formula, Order};

/// Most parts: each doubles what is tried.
const MAX_PARTS: usize = 12;

/// Whether both hold together or fail together for each choice of which of their parts hold. Where this is false, they may
/// be the same all the same: nothing is known here of parts that depend on each other.
pub fn always_agree(old: &Formula, new: &Formula) -> bool {
    let mut parts = BTreeSet::new();
    for formula in [old, new] {
        formula.visit(&mut |_, part| _ = parts.insert(upright(part).0));
    }
    let parts: Vec<Formula> = parts.into_iter().collect();
    if parts.len() > MAX_PARTS {
        return false;
    }
    (0_u32..1 << parts.len()).all(|chosen| holds(old, &parts, chosen) == holds(new, &parts, chosen))
}

/// A part and whether it is meant itself: what is not below a bound is at least there.
fn upright(part: &Formula) -> (Formula, bool) {
    match part {
        Formula::Number(of, Order::AtLeast, bound) => (
            Formula::Number(of.clone(), Order::Below, bound.clone()),
            false,
        ),
        Formula::Number(of, Order::Above, bound) => (
            Formula::Number(of.clone(), Order::AtMost, bound.clone()),
            false,
        ),
        other => (other.clone(), true),
    }
}

fn holds(formula: &Formula, parts: &[Formula], chosen: u32) -> bool {
    match formula {
        Formula::Always(truth) => *truth,
        Formula::Not(inner) => !holds(inner, parts, chosen),
        Formula::All(all) => all.iter().all(|f| holds(f, parts, chosen)),
        Formula::Any(any) => any.iter().any(|f| holds(f, parts, chosen)),
        part => {
            let (part, itself) = upright(part);
            let at = parts.binary_search(&part);
            at.is_ok_and(|at| (chosen >> at & 1 == 1) == itself)
        }
    }
}
