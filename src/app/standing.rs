//! Whether a recipe that lies in a shop can be run as it is: its author against the people, its text against the approvals.
//!
//! Never in here: approving (see `approve`). Changes when `run` or `approve` refuse something new that a file shows.

use std::sync::Arc;

use crate::plan::Plan;
use crate::recipe::{Whole, finding_at_revision};
use crate::shop::{Approvals, Person, Standing};
use crate::text::{Code, Finding};

use super::beneath::withdrawn;

/// What a recipe's file is held against.
#[derive(Debug, Default)]
pub(super) struct Known {
    /// The people of the shop; nothing where they can't be read.
    pub people: Option<Vec<Person>>,
    /// Its approvals; nothing where they can't be read.
    pub approvals: Option<Approvals>,
}

/// What keeps a file from being approved or run, and what somebody who runs it should know.
pub(super) fn check_standing(whole: &Whole, plan: &Plan, known: &Known) -> Vec<Finding> {
    let author = known
        .people
        .as_deref()
        .and_then(|people| unknown_author(plan, people));
    let found = author.into_iter().map(|message| {
        let help = "write the id of somebody in people.yaml";
        finding_at_revision(whole, plan, "by", Code::UnknownAuthor, message, help)
    });
    let approvals = known.approvals.as_ref();
    let approval = approvals.into_iter().flat_map(|a| of_text(whole, plan, a));
    let beneath = approvals
        .into_iter()
        .flat_map(|a| on_withdrawn(whole, plan, a));
    found.chain(approval).chain(beneath).flatten().collect()
}

/// Bases and fragments that were withdrawn: what rests on them can't be approved.
fn on_withdrawn(whole: &Whole, plan: &Plan, approvals: &Approvals) -> Vec<Option<Finding>> {
    let told = |source: &Arc<Whole>| {
        let message = withdrawn(approvals, &source.name)?;
        let help = "let it rest on another revision, or withdraw the recipe too";
        Some(finding_at_revision(
            whole,
            plan,
            "revision",
            Code::WithdrawnBase,
            format!("the recipe rests on what can't be run any longer: {message}"),
            help,
        ))
    };
    whole.sources().iter().filter_map(told).collect()
}

/// The author of the revision, where nobody of the register is that.
pub(super) fn unknown_author(plan: &Plan, people: &[Person]) -> Option<String> {
    let author = plan.author()?;
    let known = people.iter().any(|p| p.id == author);
    (!known).then(|| {
        format!(
            "`{author}`, who wrote revision {}, is not in people.yaml",
            plan.revision
        )
    })
}

fn of_text(whole: &Whole, plan: &Plan, approvals: &Approvals) -> Vec<Option<Finding>> {
    let (id, revision) = (&plan.recipe, plan.revision);
    let at_revision = |code, message, help: &str| {
        finding_at_revision(whole, plan, "revision", code, message, help)
    };
    let beneath: Vec<String> = whole.sources().iter().map(|s| s.name.to_string()).collect();
    let mut found = Vec::new();
    if let Standing::Approved(entry) | Standing::Withdrawn(entry) = approvals.standing(id, revision)
        // What is looked over has no text of its own: the effective one counts, as for `approve`.
        && entry.act.of().digest != whole.digest()
    {
        found.push(at_revision(
            Code::ChangedAfterApproval,
            match &beneath[..] {
                [] => format!("the file was changed after revision {revision} was approved"),
                all => format!("the file, or what it rests on (`{}`), was changed after revision {revision} was approved", all.join("`, `")),
            },
            match beneath.is_empty() {
                true => "raise `revision`, say in `changes` why, and have it approved",
                false => "raise the revision of what was changed, then `stepwell raise` lets this one rest on it",
            },
        ));
    }
    let newest = approvals.newest(id).map(|e| e.act.of().revision);
    if let Some(newest) = newest.filter(|newest| *newest > revision) {
        let help = format!("bring the file up to revision {newest}, or withdraw that one");
        found.push(at_revision(
            Code::OlderRevision,
            format!("the file has revision {revision}; revision {newest} is approved already"),
            &help,
        ));
    }
    found
}
