//! `approve`, `withdraw`, and which text of a recipe may be run.
//!
//! Never in here: who may do it (see `shop::policy`). Changes when an approval asks for more.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use similar::TextDiff;

use crate::host::Host;
use crate::plan::Plan;
use crate::recipe::{Name, Whole};
use crate::shop::{Approval, ApprovalAct, Approvals, Deed, Paths, Permit, Standing, permit};
use crate::text::{Finding, Severity};
use crate::trust::{Entry, Statement, digest_bytes};

use super::beneath::{beneath, resting_on, withdrawal, withdrawn};
use super::ledgers::{self, Held};
use super::open::{OpenShop, read_source};
use super::reviewing::Reviewed;
use super::shelf::read_recipe;
use super::sign::Sign;
use super::signers::{Doubt, Signers};
use super::start::recipe_file;
use super::{AppError, approvals};

/// Lines of context around a change of a text.
const CONTEXT: usize = 2;

/// What came of approving.
#[derive(Clone, Debug)]
pub struct Approved {
    /// The line in the ledger.
    pub entry: Entry<ApprovalAct>,
    /// Whether it was approved before.
    pub before: bool,
}

/// What came of withdrawing.
#[derive(Clone, Debug)]
pub struct Withdrawn {
    /// The line in the ledger.
    pub entry: Entry<ApprovalAct>,
    /// The approved revisions that rest on what was withdrawn.
    pub resting: Vec<Name>,
}

/// Whether a person may do something in this shop today.
///
/// # Errors
/// Why not.
pub fn permitted(
    host: &dyn Host,
    open: &OpenShop,
    by: &str,
    deed: Deed,
) -> Result<Permit, AppError> {
    permit(&open.shop, &open.people, by, deed, &host.today()).map_err(AppError::new)
}

/// Approves a recipe that was reviewed: its text is kept by its digest, and a line entered into the ledger of approvals.
///
/// # Errors
/// Somebody who may not, and those of the system.
pub fn approve(
    host: &dyn Host,
    open: &OpenShop,
    reviewed: Reviewed,
    sign: &mut Sign<'_>,
) -> Result<Approved, AppError> {
    if let Some(entry) = reviewed.before {
        return Ok(Approved {
            entry: *entry,
            before: true,
        });
    }
    let (permit, plan) = (&reviewed.permit, &reviewed.plan);
    let digest = digest_bytes(plan.source.as_bytes());
    let of = unsigned(permit, &plan.recipe, plan.revision, &digest);
    // What nobody signed leaves no text behind.
    let keep = || keep_text(host, &open.paths, &digest, plan);
    let entry = enter(host, open, permit, ApprovalAct::Approve(of), sign, &keep)?;
    Ok(Approved {
        entry,
        before: false,
    })
}

/// Withdraws the approval of a revision, written `RECIPE@REVISION`.
///
/// # Errors
/// What is not approved, somebody who may not, no reason, and those of the system.
pub fn withdraw(
    host: &dyn Host,
    open: &OpenShop,
    recipe: &str,
    by: &str,
    why: &str,
    sign: &mut Sign<'_>,
) -> Result<Withdrawn, AppError> {
    let permit = permitted(host, open, by, Deed::Withdraw)?;
    if why.trim().is_empty() {
        return Err(AppError::new("a withdrawal needs its reason: `--why TEXT`"));
    }
    let (id, revision) = named_revision(recipe)
        .ok_or_else(|| AppError::new(format!("`{recipe}`: write it as RECIPE@REVISION")))?;
    let known = approvals(host, &open.paths)?;
    let Standing::Approved(entry) = known.standing(id, revision) else {
        return Err(AppError::new(format!(
            "`{id}` revision {revision} is not approved; {}",
            listed(&known, id)
        )));
    };
    let digest = entry.act.of().digest.clone();
    let of = unsigned(&permit, id, revision, &digest);
    let why = why.trim().to_owned();
    let act = ApprovalAct::Withdraw { of, why };
    let entry = enter(host, open, &permit, act, sign, &|| Ok(()))?;
    let name = Name {
        id: id.to_owned(),
        revision,
    };
    Ok(Withdrawn {
        entry,
        resting: resting_on(host, &open.paths, &known, &name),
    })
}

/// A recipe that may be run, with the line that says so; none for a trial.
#[derive(Debug)]
pub struct Runnable {
    /// The procedure.
    pub plan: Plan,
    /// Its approval.
    pub approval: Option<Entry<ApprovalAct>>,
    /// What the technician should know about the choice.
    pub notice: Option<String>,
}

/// The text that is run: of a name the file if it is approved, else the newest approved revision; of `RECIPE@REVISION`
/// that revision; of a path the file. For a trial the file as it is.
///
/// # Errors
/// No such recipe, nothing approved, a file that was changed without a new revision, and those of the system.
pub fn runnable(
    host: &dyn Host,
    open: &OpenShop,
    recipe: &str,
    trial: bool,
) -> Result<Runnable, AppError> {
    let known = approvals(host, &open.paths)?;
    let mut found = chosen(host, open, &known, recipe, trial)?;
    let parts = beneath(host, &open.paths, &found.plan.source);
    let told = parts.iter().filter_map(|name| withdrawn(&known, name));
    let told = told.map(|told| {
        format!("Remark: this recipe rests on what can't be run by itself any longer: {told}")
    });
    let all: Vec<String> = found.notice.into_iter().chain(told).collect();
    found.notice = (!all.is_empty()).then(|| all.join("\n"));
    Ok(found)
}

fn chosen(
    host: &dyn Host,
    open: &OpenShop,
    known: &Approvals,
    recipe: &str,
    trial: bool,
) -> Result<Runnable, AppError> {
    if !trial {
        ledgers::approvals_uncut(host, &open.paths)?;
    }
    if let Some((id, revision)) = named_revision(recipe) {
        return match known.standing(id, revision) {
            Standing::Approved(entry) => stored(host, open, *entry, None),
            other => Err(refused(known, id, revision, &other)),
        };
    }
    let path = recipe_file(host, open, recipe)?;
    let (plan, _) = match read_plan(host, &path) {
        Ok(read) => read,
        Err(error) => return broken(host, open, known, recipe, trial, error),
    };
    let standing = known.standing(&plan.recipe, plan.revision);
    if let Standing::Approved(line) = &standing
        && !trial
    {
        one_text(known, line)?;
    }
    let same = same_text(host, &open.paths, &path, &plan, &standing);
    if trial {
        let changed = || {
            let revision = plan.revision;
            format!("The file was changed after revision {revision} was approved.")
        };
        let notice = same.err().map(|_| changed());
        return Ok(Runnable {
            plan,
            approval: None,
            notice,
        });
    }
    same?;
    if let Standing::Approved(entry) = standing {
        holds(host, open, &entry)?;
        by_another(&open.paths, &entry, &plan)?;
        let newer = known.newest(&plan.recipe).map(|e| e.act.of().revision);
        let newer = newer.filter(|newer| *newer > plan.revision);
        let notice = newer.map(|newer| {
            let (id, revision) = (&plan.recipe, plan.revision);
            format!(
                "The file has revision {revision}, which is run; revision {newer} is approved too: `{id}@{newer}` names it."
            )
        });
        return Ok(Runnable {
            plan,
            approval: Some(*entry),
            notice,
        });
    }
    let by_name = recipe == plan.recipe;
    match known.newest(&plan.recipe).filter(|_| by_name) {
        Some(entry) => {
            let of = entry.act.of();
            let notice = format!(
                "Revision {} in {} is not approved; revision {} is run.",
                plan.revision,
                path.display(),
                of.revision
            );
            stored(host, open, entry.clone(), Some(notice))
        }
        None => Err(refused(known, &plan.recipe, plan.revision, &standing)),
    }
}

/// A file that has errors keeps nobody from running what was approved.
fn broken(
    host: &dyn Host,
    open: &OpenShop,
    known: &Approvals,
    recipe: &str,
    trial: bool,
    error: AppError,
) -> Result<Runnable, AppError> {
    match known.newest(recipe).filter(|_| !trial) {
        Some(entry) => {
            let revision = entry.act.of().revision;
            let notice = format!(
                "The file has errors (`stepwell check`); the approved revision {revision} is run."
            );
            stored(host, open, entry.clone(), Some(notice))
        }
        None => Err(error),
    }
}

fn stored(
    host: &dyn Host,
    open: &OpenShop,
    approval: Entry<ApprovalAct>,
    notice: Option<String>,
) -> Result<Runnable, AppError> {
    holds(host, open, &approval)?;
    let of = approval.act.of();
    let path = open.paths.approved_text(&of.digest);
    let (plan, _) = read_plan(host, &path)?;
    if digest_bytes(plan.source.as_bytes()) != of.digest {
        return Err(AppError::new(format!(
            "{}: was altered after it was approved; put it back from a copy",
            path.display()
        )));
    }
    by_another(&open.paths, &approval, &plan)?;
    Ok(Runnable {
        plan,
        approval: Some(approval),
        notice,
    })
}

/// A revision that two benches approved with different texts stands for neither.
fn one_text(known: &Approvals, line: &Entry<ApprovalAct>) -> Result<(), AppError> {
    let of = line.act.of();
    match known.other_text(&of.recipe, of.revision, &of.digest) {
        None => Ok(()),
        Some(_) => Err(AppError::new(format!(
            "two benches approved different texts as revision {} of `{}`; a reviewer withdraws it, and one of them gets another number",
            of.revision, of.recipe
        ))),
    }
}

/// Refuses an approval by the author of the revision, however it came into the ledger.
fn by_another(paths: &Paths, line: &Entry<ApprovalAct>, plan: &Plan) -> Result<(), AppError> {
    let of = line.act.of();
    if plan.author() != Some(&of.by) {
        return Ok(());
    }
    Err(AppError::new(format!(
        "{}: line {}: `{}` wrote revision {} of `{}` and approved it\nnothing can be run by it; a reviewer withdraws it with `stepwell withdraw {}@{} --by PERSON --why TEXT`, and somebody else approves it",
        paths.approvals(&line.bench).display(),
        line.number,
        of.by,
        of.revision,
        of.recipe,
        of.recipe,
        of.revision
    )))
}

/// Refuses an approval whose signature does not hold.
pub(super) fn holds(
    host: &dyn Host,
    open: &OpenShop,
    line: &Entry<ApprovalAct>,
) -> Result<(), AppError> {
    one_text(&approvals(host, &open.paths)?, line)?;
    match Signers::read(host, &open.paths)?.approval(line) {
        Ok(()) | Err(Doubt::Unknown(_)) => Ok(()),
        Err(Doubt::Bad(why)) => Err(AppError::new(format!(
            "{}: line {}: {why}\nnothing can be run by it; `stepwell verify` tells more",
            open.paths.approvals(&line.bench).display(),
            line.number
        ))),
    }
}

fn refused(known: &Approvals, id: &str, revision: u32, standing: &Standing) -> AppError {
    let why = match standing {
        Standing::Withdrawn(entry) => withdrawal(entry),
        _ => "is not approved".to_owned(),
    };
    // What is approved can be run at once; only then comes what takes a reviewer.
    let run = match known.newest(id) {
        Some(entry) => format!("; `stepwell run {id}@{}` runs it", entry.act.of().revision),
        None => String::new(),
    };
    AppError::new(format!(
        "`{id}` revision {revision} {why}\n{}{run}; a reviewer approves with `stepwell approve {id} --by PERSON`, `--trial` runs it as a trial",
        listed(known, id)
    ))
}

/// What is approved of a recipe, in words.
pub(super) fn listed(known: &Approvals, id: &str) -> String {
    let of_it = known.revisions().into_iter().filter(|of| of.recipe == id);
    let approved = of_it
        .map(|of| of.revision)
        .filter(|revision| matches!(known.standing(id, *revision), Standing::Approved(_)));
    let mut approved: Vec<u32> = approved.collect();
    approved.sort_unstable();
    let names: Vec<String> = approved.iter().map(u32::to_string).collect();
    match &names[..] {
        [] => format!("no revision of `{id}` is approved"),
        [one] => format!("approved is revision {one}"),
        [.., last] => format!(
            "approved are revisions {} and {last}",
            names[..names.len() - 1].join(", ")
        ),
    }
}

/// `volumetric-annual@3` in its two parts.
pub(super) fn named_revision(recipe: &str) -> Option<(&str, u32)> {
    let (id, revision) = recipe.rsplit_once('@')?;
    Some((id, revision.parse().ok()?))
}

/// Reads a recipe without errors, with its warnings and hints.
fn read_plan(host: &dyn Host, path: &Path) -> Result<(Plan, Vec<Finding>), AppError> {
    read_whole(host, path).map(|(plan, findings, _)| (plan, findings))
}

/// The same, with the recipe as it was put together.
pub(super) fn read_whole(
    host: &dyn Host,
    path: &Path,
) -> Result<(Plan, Vec<Finding>, Arc<Whole>), AppError> {
    let reading = read_recipe(host, path)?;
    let (errors, others): (Vec<Finding>, Vec<Finding>) = reading
        .findings
        .into_iter()
        .partition(|f| f.severity() == Severity::Error);
    match (reading.plan, reading.whole) {
        (Some(plan), Some(whole)) if errors.is_empty() => Ok((plan, others, whole)),
        _ => Err(AppError::Findings(errors)),
    }
}

/// A revision stands for one text for ever.
pub(super) fn same_text(
    host: &dyn Host,
    paths: &Paths,
    path: &Path,
    plan: &Plan,
    standing: &Standing,
) -> Result<(), AppError> {
    let (Standing::Approved(entry) | Standing::Withdrawn(entry)) = standing else {
        return Ok(());
    };
    let of = entry.act.of();
    if of.digest == digest_bytes(plan.source.as_bytes()) {
        return Ok(());
    }
    let kept = paths.approved_text(&of.digest);
    let old = read_source(host, &kept)?
        .map(|s| s.text.to_string())
        .unwrap_or_default();
    let diff = TextDiff::from_lines(old.as_str(), &*plan.source);
    let shown = diff
        .unified_diff()
        .context_radius(CONTEXT)
        .header(
            &format!("{}@{}", of.recipe, of.revision),
            &path.display().to_string(),
        )
        .to_string();
    Err(AppError::new(format!(
        "{}: was changed after revision {} was approved; raise `revision`, say in `changes` why, and have it approved\n{shown}",
        path.display(),
        of.revision
    )))
}

fn keep_text(host: &dyn Host, paths: &Paths, digest: &str, plan: &Plan) -> Result<(), AppError> {
    let folder = paths.approved();
    host.make_folder(&folder)
        .map_err(|e| AppError::at(&folder, &e))?;
    let path: PathBuf = paths.approved_text(digest);
    if host.exists(&path) {
        return Ok(());
    }
    host.create(&path, plan.source.as_bytes())
        .map_err(|e| AppError::at(&path, &e))
}

fn unsigned(permit: &Permit, recipe: &str, revision: u32, digest: &str) -> Approval {
    Approval {
        recipe: recipe.to_owned(),
        revision,
        digest: digest.to_owned(),
        by: permit.person().id.clone(),
        signature: None,
    }
}

/// Signs an act and enters it. What is signed names the line before, and nobody else waits while a passphrase is typed.
fn enter(
    host: &dyn Host,
    open: &OpenShop,
    permit: &Permit,
    act: ApprovalAct,
    sign: &mut Sign<'_>,
    before_it: &dyn Fn() -> Result<(), AppError>,
) -> Result<Entry<ApprovalAct>, AppError> {
    let (bench, person) = (&open.shop.bench, permit.person());
    let path = open.paths.approvals(bench);
    let before = Held::<ApprovalAct>::open(host, &path, bench)?.last();
    let at = host.now();
    let signature = sign(Statement {
        at: at.clone(),
        by: person.id.clone(),
        digest: act
            .signed_digest(bench, before.as_deref())
            .map_err(AppError::new)?,
        name: person.name.clone(),
        role: act.role().to_owned(),
    })?;
    let mut held = Held::open(host, &path, bench)?;
    if held.last() != before {
        return Err(AppError::new(format!(
            "{}: somebody else entered something meanwhile; nothing was entered, do it again",
            path.display()
        )));
    }
    before_it()?;
    let entry = held.enter(act.with(signature), &at)?;
    // Whether all of it can be read again is seen here rather than at the next run.
    ledgers::approvals(host, &open.paths)?;
    Ok(entry)
}
