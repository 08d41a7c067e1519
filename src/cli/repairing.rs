//! What comes after a fail: what the recipe says of it, and the test after a repair.
//!
//! Never in here: verdicts. Changes when a fail is followed by something else.

use crate::app::{self, OpenShop, Runnable, Session};
use crate::host::Host;
use crate::plan::{Item, Section};
use crate::record::misfit;
use crate::shop::{AFTER_INCIDENT, POST_REPAIR, is_after_incident, occasion_of};

/// Categories of what is used once, of which nothing is repaired.
const USED_ONCE: [&str; 2] = ["elastomeric", "gravity"];

/// What is to be done after a fail: what the recipe says of the steps that failed, and the repair, where it is one.
pub(super) fn after_fail(session: &Session<'_>) -> Vec<String> {
    let helped =
        failed(session).filter_map(|i| Some(format!("`{}`: {}", i.path, i.help.as_ref()?)));
    let mut lines: Vec<String> = helped.collect();
    if is_for_repair(session) {
        let all_helped = failed(session).all(|i| i.help.is_some());
        lines.push(match all_helped {
            true => "what the recipe says of it stands above; after a repair:".to_owned(),
            false => "next: keep the device out of use and have it repaired; then".to_owned(),
        });
    }
    lines
}

/// The steps that failed.
fn failed<'s>(session: &'s Session<'_>) -> impl Iterator<Item = &'s Item> {
    let all = session.plan.items.iter().zip(&session.state.items);
    let failed = all.filter(|(_, went)| went.criteria().iter().any(|j| j.verdict.is_fail()));
    failed.map(|(item, _)| item)
}

/// Whether a repair comes next: not where the setup failed, which tells of the device's place and name rather than of its
/// state; not where the device is used once, or is kept as it is after an incident; nor in a trial, whose recipe can't be run
/// otherwise.
pub(super) fn is_for_repair(session: &Session<'_>) -> bool {
    let once = USED_ONCE.contains(&session.plan.category.as_str());
    let kept = occasion_of(&session.plan.recipe) == Some(AFTER_INCIDENT)
        || is_after_incident(&session.head.occasion);
    let in_steps = failed(session).any(|i| i.section == Section::Steps);
    in_steps && !once && !kept && !session.head.trial
}

/// The command for the test after a repair: by the recipe for it, where the shop has one that is for the device.
pub(super) fn test_after_repair(host: &dyn Host, open: &OpenShop, session: &Session<'_>) -> String {
    let device = &session.head.device;
    let own = host.exists(&open.paths.recipes().join(format!("{POST_REPAIR}.yaml")));
    let own = own.then(|| app::runnable(host, open, POST_REPAIR, false).ok());
    let is_for_it = |r: &Runnable| misfit(&r.plan, device).is_none();
    let recipe = match own.flatten().is_some_and(|r| is_for_it(&r)) {
        true => POST_REPAIR,
        false => &session.plan.recipe,
    };
    format!(
        "stepwell run {recipe} --device {} --by {} --occasion \"after repair\"",
        device.tag,
        session.by()
    )
}
