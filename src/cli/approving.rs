//! `approve`, `withdraw`, `countersign`, `amend`: what is signed besides a session.
//!
//! Never in here: what an approval rests on (see `app`). Changes when they take another option.

use std::path::Path;

use crate::app::{self, Amending, AppError, Overruled};
use crate::host::RealHost;
use crate::record::{Correction, Record, Step};
use crate::shop::Deed;
use crate::text::findings_as_text;
use crate::trust::{APPROVAL, RECORD};

use super::begun::trial;
use super::commands::{Done, GOOD, NO, colour, here, print, say};
use super::fitted::in_columns;
use super::show::plain;
use super::signing::{Signing, ready_signer, signer};

/// Most failed criteria and corrections that are told of a record before it is signed; the record has all.
const MOST_TOLD: usize = 20;
/// Widest column where no terminal is.
const WIDEST: usize = 60;

/// Approves a recipe.
pub(super) fn approve(
    host: &RealHost,
    shop: Option<&Path>,
    recipe: &str,
    by: &str,
    how: &Signing,
) -> Done {
    let open = app::open_shop(host, &here(host, shop)?)?;
    let permit = app::permitted(host, &open, by, Deed::Approve)?;
    app::may_be_unsigned(&open.shop, &permit)?;
    let mut sign = signer(host, &permit, APPROVAL, how);
    let approved = app::approve(host, &open, recipe, by, &mut sign)?;
    let coloured = colour(&std::io::stdout());
    print(&findings_as_text(&approved.findings, coloured));
    for remark in &approved.remarks {
        say(&format!("remark: {remark}"));
    }
    let of = approved.entry.act.of();
    let done = if approved.before {
        "was approved before"
    } else {
        "is approved"
    };
    say(&format!(
        "`{}` revision {} {done}, by {} on {}{}\n  {}",
        of.recipe,
        of.revision,
        of.by,
        approved.entry.at.get(..10).unwrap_or_default(),
        if of.signature.is_some() {
            ", signed"
        } else {
            ", not signed"
        },
        of.digest
    ));
    Ok(GOOD)
}

/// Withdraws an approval.
pub(super) fn withdraw(
    host: &RealHost,
    shop: Option<&Path>,
    recipe: &str,
    by: &str,
    why: &str,
    how: &Signing,
) -> Result<u8, AppError> {
    let open = app::open_shop(host, &here(host, shop)?)?;
    let permit = app::permitted(host, &open, by, Deed::Withdraw)?;
    app::may_be_unsigned(&open.shop, &permit)?;
    let mut sign = signer(host, &permit, APPROVAL, how);
    let withdrawn = app::withdraw(host, &open, recipe, by, why, &mut sign)?;
    let of = withdrawn.entry.act.of();
    say(&format!(
        "`{}` revision {} is withdrawn: it can't be run any longer",
        of.recipe, of.revision
    ));
    if !withdrawn.resting.is_empty() {
        say(
            "These approved recipes rest on it and can still be run; withdraw those that are wrong too:",
        );
        for name in &withdrawn.resting {
            say(&format!("  stepwell withdraw {name} --by {by} --why TEXT"));
        }
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
        say(&in_short(&record, overruled.get(&record.record)));
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
