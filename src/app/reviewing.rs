//! What a reviewer should know of a recipe before its approval counts: what changed, and whose text nobody can tell.
//!
//! Never in here: what keeps a recipe from being approved (see `approve`). Changes when reviewers are told something else.

use crate::diff::{Revision, compare};
use crate::host::Host;
use crate::plan::Plan;
use crate::recipe::Whole;
use crate::shop::Approvals;

use super::AppError;
use super::approved::approved_source;
use super::open::OpenShop;

/// Most parts of which it is told one by one that they do not say who wrote them.
const MOST_UNSAID: usize = 3;

/// What changed since the newest approved revision before this one, in a line, and what its history leaves unsaid.
pub(super) fn since_the_last(
    host: &dyn Host,
    open: &OpenShop,
    known: &Approvals,
    plan: &Plan,
) -> Result<Vec<String>, AppError> {
    let newest = known.newest(&plan.recipe).map(|e| e.act.of().revision);
    let Some(before) = newest.filter(|newest| *newest < plan.revision) else {
        return Ok(Vec::new());
    };
    let name = format!("{}@{before}", plan.recipe);
    let source = approved_source(host, &open.paths, &name)?;
    let Some(old) = source.and_then(|source| crate::recipe::read(source).plan) else {
        return Ok(Vec::new());
    };
    let revision = |plan: Plan| {
        let revision = Revision::new(&plan.recipe.clone(), plan).map_err(AppError::Findings)?;
        Ok::<_, AppError>(revision.in_shop(Some(open.shop.decision)))
    };
    let difference = compare(&revision(old)?, &revision(plan.clone())?);
    let (id, revision) = (&plan.recipe, plan.revision);
    let told = format!(
        "since `{name}`: {}; `stepwell diff {name} {id}@{revision}` tells each",
        difference.summary()
    );
    let warnings = difference.warnings.into_iter().map(|w| w.message);
    Ok(std::iter::once(told).chain(warnings).collect())
}

/// The parts of which nobody can tell whether their author approves them.
pub(super) fn of_unknown_author(plan: &Plan, whole: &Whole) -> Vec<String> {
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
