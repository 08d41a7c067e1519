//! `approve`, `withdraw`, `countersign`, `amend`: what is signed besides a session.
//!
//! Never in here: what an approval rests on (see `app`). Changes when they take another option.

use std::collections::HashSet;
use std::path::Path;

use crate::app::{self, Amending, AppError, Overruled, Reviewed};
use crate::diff::{Change, Lean, Weight};
use crate::host::RealHost;
use crate::recipe::Name;
use crate::record::{Correction, Record, Step};
use crate::shop::Deed;
use crate::text::findings_as_text;
use crate::trust::{APPROVAL, RECORD};

use super::begun::trial;
use super::commands::{Done, GOOD, NO, colour, here, print, say, say_under};
use super::fitted::{in_columns, report};
use super::show::plain;
use super::signing::{Signing, ready_signer, signer};

/// Most failed criteria and corrections of a record, or changes of a recipe, that are told before it is signed.
const MOST_TOLD: usize = 20;
/// Most remarks about a recipe's history that are told before it is signed.
const MOST_REMARKS: usize = 3;
/// Widest column where no terminal is.
const WIDEST: usize = 60;

/// Approves recipes: of all is told what changed, then the passphrase is asked for once. If one can't be approved, none is.
pub(super) fn approve(
    host: &RealHost,
    shop: Option<&Path>,
    recipes: &[String],
    by: &str,
    how: &Signing,
) -> Done {
    let open = app::open_shop(host, &here(host, shop)?)?;
    let permit = app::permitted(host, &open, by, Deed::Approve)?;
    app::may_be_unsigned(&open.shop, &permit)?;
    let reviewed = review_all(host, &open, recipes, by)?;
    let coloured = colour(&std::io::stdout());
    for one in &reviewed {
        print(&findings_as_text(&one.findings, coloured));
        tell_the_reviewer(one);
    }
    let mut sign = signer(host, &permit, APPROVAL, how);
    for one in reviewed {
        let approved = app::approve(host, &open, one, &mut sign)?;
        let of = approved.entry.act.of();
        let done = match approved.before {
            true => "was approved before",
            false => "is approved",
        };
        let signed = match of.signature.is_some() {
            true => "signed",
            false => "not signed",
        };
        say(&format!(
            "`{}` revision {} {done}, by {} on {}, {signed}\n  {}",
            of.recipe,
            of.revision,
            of.by,
            approved.entry.at.get(..10).unwrap_or_default(),
            of.digest
        ));
    }
    Ok(GOOD)
}

/// All recipes, each once; or what is wrong with each that can't be approved.
fn review_all(
    host: &RealHost,
    open: &app::OpenShop,
    recipes: &[String],
    by: &str,
) -> Result<Vec<Reviewed>, AppError> {
    let mut reviewed: Vec<Reviewed> = Vec::new();
    let (mut findings, mut refused) = (Vec::new(), Vec::new());
    for recipe in recipes {
        match app::review(host, open, recipe, by) {
            Ok(one) if reviewed.iter().any(|r| r.plan.recipe == one.plan.recipe) => {}
            Ok(one) => reviewed.push(one),
            Err(AppError::Findings(of)) => findings.extend(of),
            Err(error) => refused.push(error.to_string()),
        }
    }
    if recipes.len() > 1 && !(findings.is_empty() && refused.is_empty()) {
        refused.push("none of them was approved".to_owned());
    }
    match (refused.is_empty(), findings.is_empty()) {
        (true, true) => Ok(reviewed),
        (true, false) => Err(AppError::Findings(findings)),
        (false, _) => {
            let faults = findings_as_text(&findings, false);
            Err(AppError::new(format!("{faults}{}", refused.join("\n"))))
        }
    }
}

/// What a reviewer reads before signing: what changed since the revision approved before; what eases the procedure, and what
/// nobody can weigh, one by one.
fn tell_the_reviewer(of: &Reviewed) {
    let plan = &of.plan;
    say(&format!("`{}` revision {}", plan.recipe, plan.revision));
    for remark in &of.remarks {
        say_under(&format!("remark: {remark}"));
    }
    let Some((name, difference)) = &of.since else {
        return;
    };
    say_under(&format!("since `{name}`: {}", difference.summary()));
    let (warnings, most) = (&difference.warnings, MOST_REMARKS);
    for warning in warnings.iter().take(most) {
        say_under(&format!("remark: {}", warning.message));
    }
    if warnings.len() > most {
        say_under(&format!("and {} more remarks", warnings.len() - most));
    }
    let first = |c: &&Change| c.lean == Lean::Looser || c.weight == Weight::Undecided;
    let eased: Vec<&Change> = difference.changes.iter().filter(first).collect();
    for change in eased.iter().take(MOST_TOLD) {
        say_under(&one_change(change));
    }
    if eased.len() > MOST_TOLD {
        say_under(&format!("and {} more of these", eased.len() - MOST_TOLD));
    }
    say_under(&format!("`stepwell diff {name} {}` tells all", plan.recipe));
}

fn one_change(change: &Change) -> String {
    let Change {
        path,
        old,
        new,
        why,
        weight,
        ..
    } = change;
    let became = match (old.is_empty(), new.is_empty()) {
        (false, false) => format!("`{old}` became `{new}`: "),
        (false, true) => format!("`{old}`: "),
        (true, false) => format!("`{new}`: "),
        (true, true) => String::new(),
    };
    format!("{}: {path}: {became}{why}", weight.word())
}

/// Withdraws approvals: each in its turn, the passphrase is asked for once.
pub(super) fn withdraw(
    host: &RealHost,
    shop: Option<&Path>,
    recipes: &[String],
    by: &str,
    why: &str,
    how: &Signing,
) -> Result<u8, AppError> {
    let open = app::open_shop(host, &here(host, shop)?)?;
    let permit = app::permitted(host, &open, by, Deed::Withdraw)?;
    app::may_be_unsigned(&open.shop, &permit)?;
    let mut sign = signer(host, &permit, APPROVAL, how);
    let mut resting: Vec<Name> = Vec::new();
    for recipe in recipes {
        let withdrawn = app::withdraw(host, &open, recipe, by, why, &mut sign)?;
        let of = withdrawn.entry.act.of();
        say(&format!(
            "`{}` revision {} is withdrawn: it can't be run any longer",
            of.recipe, of.revision
        ));
        resting.extend(withdrawn.resting);
    }
    resting.retain(|name| recipes.iter().all(|r| *r != name.to_string()));
    let mut seen = HashSet::new();
    resting.retain(|name| seen.insert(name.clone()));
    if !resting.is_empty() {
        say(
            "These approved recipes rest on it and can still be run; withdraw those that are wrong too:",
        );
        let names: Vec<String> = resting.iter().map(Name::to_string).collect();
        say(&format!(
            "  stepwell withdraw {} --by {by} --why TEXT",
            names.join(" ")
        ));
    }
    Ok(GOOD)
}

/// Countersigns records: all are shown in short, then the passphrase is asked for once.
pub(super) fn countersign(
    host: &RealHost,
    shop: Option<&Path>,
    records: &[String],
    by: &str,
    how: &Signing,
) -> Result<u8, AppError> {
    let open = app::open_shop(host, &here(host, shop)?)?;
    let permit = app::permitted(host, &open, by, Deed::Countersign)?;
    let overruled = app::overruled(host, &open.paths)?;
    for named in records {
        let (_, record) = app::read_record(host, Some(&open.paths), named)?;
        print(&report(&format!(
            "{}\n",
            plain(&in_short(&record, overruled.get(&record.record)))
        )));
    }
    let mut sign = signer(host, &permit, RECORD, how);
    for named in records {
        let done = app::countersign(host, &open, named, by, &mut sign)?;
        let before = if done.before { " before" } else { "" };
        say(&format!(
            "Record {} ({}{}) was countersigned{before} by {by}\n  {}",
            done.record.record,
            done.record.verdict,
            trial(&done.record),
            done.path.display()
        ));
    }
    Ok(GOOD)
}

/// Lists the records that wait for a countersignature.
pub(super) fn waiting(host: &RealHost, shop: Option<&Path>, by: Option<&str>) -> Done {
    let open = app::open_shop(host, &here(host, shop)?)?;
    let all = app::waiting(host, &open, by)?;
    if all.is_empty() {
        say("no record waits for a countersignature");
        return Ok(GOOD);
    }
    let names = ["day", "record", "device", "verdict", "recipe", "by"];
    let mut rows = vec![names.map(str::to_owned).to_vec()];
    rows.extend(all.iter().map(|of| {
        let stored = &of.stored;
        let day = stored.started.get(..10).unwrap_or_default();
        let recipe = format!("{}@{}", of.recipe, stored.revision);
        let cells = [
            day,
            &stored.record,
            &stored.device,
            &stored.verdict,
            &recipe,
            &of.by,
        ];
        cells.map(plain).to_vec()
    }));
    print(&in_columns(&rows, WIDEST));
    Ok(NO)
}

/// What a reviewer signs: device, recipe, verdict, remarks, and who signed it so far.
fn in_short(record: &Record, overruled: Option<&Overruled>) -> String {
    let device = &record.device;
    let mut lines = vec![format!(
        "{}: {} ({} {}), {} revision {}: {}{}",
        record.record,
        device.tag,
        device.maker,
        device.model,
        record.recipe.id,
        record.recipe.revision,
        record.verdict.to_uppercase(),
        trial(record)
    )];
    lines.extend(record.ended.iter().map(|ended| format!("  {ended}")));
    lines.extend(overruled.map(|why| format!("  {why}")));
    let told = [
        record.steps.iter().flat_map(failed).collect::<Vec<_>>(),
        record.steps.iter().flat_map(corrected).collect(),
    ];
    for all in told {
        let more = all.len().saturating_sub(MOST_TOLD);
        lines.extend(all.into_iter().take(MOST_TOLD));
        if more > 0 {
            lines.push(format!("  and {more} more, which the record has"));
        }
    }
    lines.extend(record.remarks.iter().map(|r| format!("  remark: {r}")));
    let signed: Vec<&str> = (record.seal.signatures.iter())
        .map(|s| s.statement.by.as_str())
        .collect();
    lines.push(match signed.is_empty() {
        true => format!("  not signed by {}, who made it", record.by),
        false => format!("  signed by {}", signed.join(", ")),
    });
    lines.join("\n")
}

/// The criteria of a step that failed, each in a line.
fn failed(step: &Step) -> impl Iterator<Item = String> {
    let failed = step.criteria.iter().filter(|c| c.verdict.contains("fail"));
    failed.map(|c| {
        let shown = match c.shown.is_empty() {
            true => String::new(),
            false => format!(": {}", c.shown),
        };
        format!(
            "  {} ({}): {}, `{}`{shown}",
            c.verdict, c.severity, step.path, c.that
        )
    })
}

/// The corrections of a step's entries, each in a line.
fn corrected(step: &Step) -> impl Iterator<Item = String> {
    let one = |c: &Correction| {
        let (before, after) = (&c.before, &c.after);
        format!(
            "  corrected: {}, `{before}` became `{after}`: {}",
            step.path, c.why
        )
    };
    step.corrections.iter().map(one)
}

/// Adds to a sealed record.
pub(super) fn amend(
    host: &RealHost,
    shop: Option<&Path>,
    what: &Amending<'_>,
    how: &Signing,
) -> Done {
    let open = app::open_shop(host, &here(host, shop)?)?;
    let permit = app::permitted(host, &open, what.by, Deed::Amend)?;
    app::may_amend(host, &open, what, &permit)?;
    let mut sign = ready_signer(host, &permit, RECORD, how)?;
    let done = app::amend(host, &open, what, &mut sign)?;
    let amendment = &done.amendment;
    let before = if done.before { " before" } else { "" };
    let signed = if amendment.seal.signatures.is_empty() {
        "not signed"
    } else {
        "signed"
    };
    say(&format!(
        "Record {} was amended{before}: {}, by {}, {signed}\n  {}",
        amendment.of.record,
        amendment.amendment,
        amendment.by,
        done.path.display()
    ));
    Ok(GOOD)
}
