//! What a reviewer should know of a recipe before it is approved: what keeps it from being approved, what changed, and
//! whose text nobody can tell.
//!
//! Never in here: entering the approval (see `approve`). Changes when an approval asks for more.

use crate::diff::{Difference, Revision, compare};
use crate::host::Host;
use crate::plan::{Plan, Reaches};
use crate::recipe::{Name, Whole, check_ranges};
use crate::shop::{ApprovalAct, Approvals, Deed, Permit, Standing};
use crate::text::Finding;
use crate::trust::Entry;

use super::approve::{holds, permitted, read_whole, same_text};
use super::approved::approved_source;
use super::beneath::withdrawn;
use super::open::OpenShop;
use super::standing::unknown_author;
use super::start::recipe_file;
use super::{AppError, approvals};

/// Most parts of which it is told one by one that they do not say who wrote them.
const MOST_UNSAID: usize = 3;

/// A recipe that may be approved, with what its reviewer should know.
#[derive(Debug)]
pub struct Reviewed {
    /// The procedure.
    pub plan: Plan,
    /// Warnings and hints about it.
    pub findings: Vec<Finding>,
    /// Of which part it is not said who wrote it; what was withdrawn, and why.
    pub remarks: Vec<String>,
    /// The newest revision before this one that was approved, if only for a time, as `RECIPE@REVISION`; and what changed since.
    pub since: Option<(String, Difference)>,
    /// The line of its approval, where it is approved already.
    pub before: Option<Box<Entry<ApprovalAct>>>,
    pub(super) permit: Permit,
}

/// Looks at a recipe as its reviewer does; nothing is entered.
///
/// # Errors
/// A recipe with errors, somebody who may not approve, its author, a revision that stands for another text already, and
/// those of the system.
pub fn review(
    host: &dyn Host,
    open: &OpenShop,
    recipe: &str,
    by: &str,
) -> Result<Reviewed, AppError> {
    let permit = permitted(host, open, by, Deed::Approve)?;
    let path = recipe_file(host, open, recipe)?;
    let (plan, mut findings, whole) = read_whole(host, &path)?;
    not_the_author(&permit, &plan)?;
    not_an_author(&permit, &whole)?;
    findings.extend(check_ranges(&whole, &plan, &Reaches::of(&plan.items)));
    if let Some(why) = unknown_author(&plan, &open.people) {
        return Err(AppError::new(format!(
            "{why}: write the id of somebody who is there (`by` in `changes`)"
        )));
    }
    let known = approvals(host, &open.paths)?;
    on_nothing_withdrawn(&known, &whole)?;
    let standing = known.standing(&plan.recipe, plan.revision);
    same_text(host, &open.paths, &path, &plan, &standing)?;
    let before = match standing {
        Standing::Approved(entry) if holds(host, open, &entry).is_ok() => Some(entry),
        _ => {
            not_older(&known, &plan)?;
            None
        }
    };
    let since = since_the_last(host, open, &known, &plan)?;
    let mut remarks = of_unknown_author(&plan, &whole);
    let before_it = since.as_ref().and_then(|(name, _)| Name::parse(name));
    let own = Name {
        id: plan.recipe.clone(),
        revision: plan.revision,
    };
    remarks.extend(
        [Some(own), before_it]
            .into_iter()
            .flatten()
            .filter_map(|name| withdrawn(&known, &name)),
    );
    Ok(Reviewed {
        remarks,
        since,
        plan,
        findings,
        before,
        permit,
    })
}

/// Four eyes: the author of a revision does not approve it.
fn not_the_author(permit: &Permit, plan: &Plan) -> Result<(), AppError> {
    let person = permit.person();
    let author = plan.author();
    match author {
        Some(author) if author == person.id => Err(AppError::new(format!(
            "`{}` wrote revision {}; somebody else has to approve it",
            person.id, plan.revision
        ))),
        None if person.roles.iter().any(|r| r == "author") => Err(AppError::new(format!(
            "`{}` may write recipes, and the recipe does not say who wrote revision {}: say it in `changes` (`by: PERSON`)",
            person.id, plan.revision
        ))),
        _ => Ok(()),
    }
}

/// Nor does who wrote a base or fragment of it: their text is in the recipe.
fn not_an_author(permit: &Permit, whole: &Whole) -> Result<(), AppError> {
    let person = &permit.person().id;
    let sources = whole.sources();
    let own = sources.iter().find(|s| s.author().as_ref() == Some(person));
    match own {
        Some(source) => Err(AppError::new(format!(
            "`{person}` wrote `{}`, which `{}` rests on; somebody else has to approve it",
            source.name, whole.name.id
        ))),
        None => Ok(()),
    }
}

/// What was withdrawn does not come back in a recipe that rests on it.
fn on_nothing_withdrawn(known: &Approvals, whole: &Whole) -> Result<(), AppError> {
    let sources = whole.sources();
    match sources.iter().find_map(|s| withdrawn(known, &s.name)) {
        Some(told) => Err(AppError::new(format!(
            "`{}` rests on what can't be run any longer: {told}\nlet it rest on another revision, say so in `changes`, and have that approved",
            whole.name
        ))),
        None => Ok(()),
    }
}

fn not_older(known: &Approvals, plan: &Plan) -> Result<(), AppError> {
    match known.newest(&plan.recipe).map(|e| e.act.of().revision) {
        Some(newest) if newest > plan.revision => Err(AppError::new(format!(
            "revision {newest} of `{}` is approved already; this file has the older revision {}",
            plan.recipe, plan.revision
        ))),
        _ => Ok(()),
    }
}

/// What changed since the revision before this one that was approved, if only for a time.
fn since_the_last(
    host: &dyn Host,
    open: &OpenShop,
    known: &Approvals,
    plan: &Plan,
) -> Result<Option<(String, Difference)>, AppError> {
    let of_it = known
        .revisions()
        .into_iter()
        .filter(|of| of.recipe == plan.recipe);
    let older = of_it
        .map(|of| of.revision)
        .filter(|revision| *revision < plan.revision);
    let Some(before) = older.max() else {
        return Ok(None);
    };
    let name = format!("{}@{before}", plan.recipe);
    let source = approved_source(host, &open.paths, &name)?;
    let Some(old) = source.and_then(|source| crate::recipe::read(source).plan) else {
        return Ok(None);
    };
    let revision = |plan: Plan| {
        let revision = Revision::new(&plan.recipe.clone(), plan).map_err(AppError::Findings)?;
        Ok::<_, AppError>(revision.in_shop(Some(open.shop.decision)))
    };
    let difference = compare(&revision(old)?, &revision(plan.clone())?);
    Ok(Some((name, difference)))
}

/// The parts of which nobody can tell whether their author approves them.
fn of_unknown_author(plan: &Plan, whole: &Whole) -> Vec<String> {
    let own = plan.author().is_none().then(|| whole.name.to_string());
    let sources = whole.sources();
    let unsaid = sources.iter().filter(|s| s.author().is_none());
    let all: Vec<String> = own
        .into_iter()
        .chain(unsaid.map(|s| s.name.to_string()))
        .collect();
    if all.len() > MOST_UNSAID {
        return vec![format!(
            "`{}` do not say who wrote them (`by: PERSON` in `changes`): that somebody else approves them can't be told",
            all.join("`, `")
        )];
    }
    let told = |name: String| {
        format!(
            "`{name}` does not say who wrote it (`by: PERSON` in `changes`): that somebody else approves it can't be told"
        )
    };
    all.into_iter().map(told).collect()
}
