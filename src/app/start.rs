//! `run`: what must be known before a session begins, and its beginning.
//!
//! Never in here: the walk. Changes when a session rests on something new.

use std::path::{Path, PathBuf};

use indexmap::IndexMap;

use crate::engine::limits_ahead;
use crate::host::{Host, Lock};
use crate::journal::{Device, Head, Instrument, RecipeHead};
use crate::plan::Plan;
use crate::recipe::schema::nearest;
use crate::record::misfit;
use crate::shop::{Candidate, Deed, NoneSuitable, candidates};
use crate::text::meant;
use crate::trust::digest_bytes;

use super::approve::{Runnable, permitted};
use super::ledgers::{clock_is_right, was_sealed};
use super::open::OpenShop;
use super::ratio::unfit;
use super::session::not_begun;
use super::sign::may_be_unsigned;
use super::underway::unfinished_on;
use super::{AppError, Session};

/// What a session is started with.
#[derive(Clone, Debug)]
pub struct Start<'a> {
    /// The device's tag.
    pub device: &'a str,
    /// Who runs it.
    pub by: &'a str,
    /// Why.
    pub occasion: &'a str,
    /// Whether an unapproved recipe is allowed.
    pub trial: bool,
    /// Instruments picked for roles.
    pub with: IndexMap<String, String>,
    /// Whether it may begin beside another session on the device.
    pub beside: bool,
    /// Whether it may begin on a device that the recipe is not for.
    pub other_device: bool,
}

/// A role with the instruments that can fill it today.
#[derive(Clone, Debug)]
pub struct Choice {
    /// The role.
    pub role: String,
    /// What it measures.
    pub measures: Vec<String>,
    /// The suitable instruments, in the register's order.
    pub suitable: Vec<Instrument>,
}

/// The file that a recipe's name or a path means.
///
/// # Errors
/// No such recipe.
pub fn recipe_file(host: &dyn Host, open: &OpenShop, recipe: &str) -> Result<PathBuf, AppError> {
    let named = open.paths.recipes().join(format!("{recipe}.yaml"));
    let path = if host.exists(&named) {
        named
    } else {
        Path::new(recipe).to_owned()
    };
    if host.exists(&path) {
        return Ok(path);
    }
    let known = host
        .list(&open.paths.recipes())
        .map_err(|e| AppError::at(&open.paths.recipes(), &e))?;
    let names: Vec<String> = known
        .iter()
        .filter_map(|p| Some(p.file_stem()?.to_str()?.to_owned()))
        .collect();
    let help = match nearest(recipe, names.iter().map(String::as_str)) {
        Some(near) => format!("the nearest one is `{near}`"),
        None => format!("the shop has: {}", names.join(", ")),
    };
    Err(AppError::new(format!(
        "there is no recipe `{recipe}`; {help}"
    )))
}

/// The instruments that can fill each role of a plan today.
///
/// # Errors
/// A role that nothing can fill, or a picked instrument that can't: with the reasons.
pub fn roles_of(
    open: &OpenShop,
    plan: &Plan,
    with: &IndexMap<String, String>,
    today: &str,
) -> Result<Vec<Choice>, AppError> {
    if let Some(role) = with.keys().find(|r| !plan.roles.contains_key(*r)) {
        let help = match nearest(role, plan.roles.keys().map(String::as_str)) {
            Some(near) => format!("the nearest one is `{near}`"),
            None => format!(
                "it has: {}",
                plan.roles.keys().cloned().collect::<Vec<_>>().join(", ")
            ),
        };
        return Err(AppError::new(format!(
            "the recipe has no instrument role `{role}`; {help}"
        )));
    }
    let ahead = limits_ahead(plan);
    let mut choices = Vec::new();
    for (name, role) in &plan.roles {
        let mut all = candidates(role, &open.instruments, today);
        for candidate in &mut all {
            let against = unfit(plan, &ahead, name, candidate.instrument);
            candidate.against.extend(against);
        }
        let (suitable, others): (Vec<Candidate<'_>>, Vec<Candidate<'_>>) =
            all.into_iter().partition(|c| c.against.is_empty());
        let mut suitable: Vec<Instrument> =
            suitable.into_iter().map(|c| c.instrument.clone()).collect();
        let picked = with.get(name).map(|typed| {
            let known = meant(open.instruments.iter(), typed, |i| &i.id);
            known.map_or(typed, |i| &i.id)
        });
        if let Some(picked) = picked {
            if let Some(refused) = others.iter().find(|c| c.instrument.id == *picked) {
                return Err(AppError::new(format!(
                    "`{picked}` can't fill the role `{name}`: {}",
                    refused.against.join("; ")
                )));
            }
            suitable.retain(|i| i.id == *picked);
            if suitable.is_empty() {
                let help = match nearest(picked, open.instruments.iter().map(|i| i.id.as_str())) {
                    Some(near) => format!("the nearest one is `{near}`"),
                    None => "see instruments.yaml".to_owned(),
                };
                return Err(AppError::new(format!(
                    "there is no instrument `{picked}`; {help}"
                )));
            }
        }
        if suitable.is_empty() {
            let reasons = others
                .iter()
                .map(|c| (c.instrument.id.clone(), c.against.join("; ")))
                .collect();
            let none = NoneSuitable {
                role: name.clone(),
                measures: role.measures.clone(),
                reasons,
            };
            return Err(AppError::new(none.to_string()));
        }
        choices.push(Choice {
            role: name.clone(),
            measures: role.measures.clone(),
            suitable,
        });
    }
    Ok(choices)
}

/// Begins a session with the instruments that were chosen for the roles.
///
/// # Errors
/// An unknown device or person, a device that the recipe is not for, and those of the system.
pub fn start<'h>(
    host: &'h dyn Host,
    open: &OpenShop,
    runnable: Runnable,
    start: &Start<'_>,
    instruments: IndexMap<String, Instrument>,
) -> Result<Session<'h>, AppError> {
    let Runnable { plan, approval, .. } = runnable;
    if plan.fragment {
        let name = &plan.recipe;
        return Err(AppError::new(format!(
            "`{name}` is a fragment: it is run as a part of the recipes that use it (`use: {name}@{}`)",
            plan.revision
        )));
    }
    let deed = if approval.is_some() {
        Deed::Run
    } else {
        Deed::Trial
    };
    let permit = permitted(host, open, start.by, deed)?;
    may_be_unsigned(&open.shop, &permit)?;
    let bench = &open.shop.bench;
    clock_is_right(host, &open.paths.ledger(bench), bench)?;
    let (device, occasion) = (device_of(open, start)?, occasion_of(open, start)?);
    known_fields(open, device, &occasion)?;
    let other_device = fits(&plan, device, start)?;
    let _beginning = beginning(host, open)?;
    if !start.beside {
        alone(host, open, &device.tag)?;
    }
    let started = host.now();
    let stamp: String = started
        .chars()
        .take(19)
        .filter(|c| c.is_ascii_digit() || *c == 'T')
        .collect();
    let wanted = format!("{}-{stamp}", open.shop.bench);
    let (session, lock) = free_session(host, open, &wanted)?;
    let head = Head {
        journal: 1,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        session,
        started,
        by: start.by.to_owned(),
        bench: open.shop.bench.clone(),
        decimal: open.shop.decimal.symbol().to_string(),
        decision: plan
            .decision
            .unwrap_or(open.shop.decision)
            .word()
            .to_owned(),
        occasion,
        trial: approval.is_none(),
        other_device,
        device: device.clone(),
        recipe: RecipeHead {
            id: plan.recipe.clone(),
            revision: plan.revision,
            digest: digest_bytes(plan.source.as_bytes()),
            source: plan.source.to_string(),
            approval: approval.and_then(|entry| serde_json::to_value(entry).ok()),
        },
        instruments,
    };
    Session::begin(host, open.paths.clone(), head, plan, lock)
}

/// What can be told before instruments are asked for: that the device is there, that the register has of it what the shop
/// asks for, and that the recipe is for it.
///
/// # Errors
/// As [`start`].
pub fn may_start(open: &OpenShop, plan: &Plan, start: &Start<'_>) -> Result<(), AppError> {
    let device = device_of(open, start)?;
    known_fields(open, device, &occasion_of(open, start)?)?;
    fits(plan, device, start).map(drop)
}

/// Why the recipe is not for the device, where that is not agreed to yet.
///
/// # Errors
/// An unknown device.
pub fn is_for_others(
    open: &OpenShop,
    plan: &Plan,
    start: &Start<'_>,
) -> Result<Option<String>, AppError> {
    let device = device_of(open, start)?;
    let agreed = start.other_device || start.trial;
    Ok(misfit(plan, device).filter(|_| !agreed))
}

fn occasion_of(open: &OpenShop, start: &Start<'_>) -> Result<String, AppError> {
    open.shop.occasion(start.occasion).map_err(AppError::new)
}

fn device_of<'o>(open: &'o OpenShop, start: &Start<'_>) -> Result<&'o Device, AppError> {
    registered(open, start.device)
}

/// The device of this tag in the register, whatever the letter case it was typed in.
///
/// # Errors
/// An unknown device.
pub fn registered<'o>(open: &'o OpenShop, tag: &str) -> Result<&'o Device, AppError> {
    let mut all = open.devices.iter().map(|d| &d.device);
    meant(all.clone(), tag, |d| &d.tag).ok_or_else(|| {
        let help = match nearest(tag, all.by_ref().map(|d| d.tag.as_str())) {
            Some(near) => format!("the nearest tag is `{near}`"),
            None => "add it to devices.csv".to_owned(),
        };
        AppError::new(format!(
            "there is no device `{tag}` in the register; {help}"
        ))
    })
}

/// Held until the journal is there: of two that begin at the same moment the second one sees the first.
fn beginning(host: &dyn Host, open: &OpenShop) -> Result<Lock, AppError> {
    let path = open.paths.beginning_lock();
    host.wait_lock(&path).map_err(|error| {
        if error.kind() == std::io::ErrorKind::WouldBlock {
            return AppError::new("another session is being begun in this shop; try again");
        }
        not_begun(&AppError::at(&path, &error))
    })
}

/// That no other session is under way on a device.
fn alone(host: &dyn Host, open: &OpenShop, tag: &str) -> Result<(), AppError> {
    let others = unfinished_on(host, &open.paths, tag)?;
    if others.is_empty() {
        return Ok(());
    }
    let others: Vec<String> = others.iter().map(ToString::to_string).collect();
    Err(AppError::new(format!(
        "`{tag}` has a session under way: {}\n`--beside` begins another one beside it",
        others.join("\n")
    )))
}

/// The fields of the register that the shop asks for on this occasion.
fn known_fields(open: &OpenShop, device: &Device, occasion: &str) -> Result<(), AppError> {
    let of = |field: &str| match field {
        "serial" => &device.serial,
        "maker" => &device.maker,
        "model" => &device.model,
        "category" => &device.category,
        _ => &device.location,
    };
    let asked = open.shop.required(occasion).flat_map(|r| &r.device);
    match asked.into_iter().find(|f| of(f).is_empty()) {
        Some(field) => Err(AppError::new(format!(
            "`{}` has no {field} in the register, which this shop asks for (`require` in shop.yaml)",
            device.tag
        ))),
        None => Ok(()),
    }
}

/// Why the recipe is not for the device, unless it is run on it all the same; with the way to do so.
fn fits(plan: &Plan, device: &Device, start: &Start<'_>) -> Result<bool, AppError> {
    match misfit(plan, device) {
        None => Ok(false),
        // A trial proves nothing about a device, whichever it is.
        Some(_) if start.other_device || start.trial => Ok(true),
        Some(why) => Err(AppError::new(format!(
            "{why}\n`--other-device` runs it all the same; the record says so, and does not count as the device's check"
        ))),
    }
}

/// An id that no session has or had, locked for this one: another process may begin in the same second, or have ended.
fn free_session(
    host: &dyn Host,
    open: &OpenShop,
    wanted: &str,
) -> Result<(String, Lock), AppError> {
    let folder = open.paths.sessions();
    host.make_folder(&folder)
        .map_err(|e| not_begun(&AppError::at(&folder, &e)))?;
    let mut number = 1;
    loop {
        let id = match number {
            1 => wanted.to_owned(),
            n => format!("{wanted}-{n}"),
        };
        let path = open.paths.session_lock(&id);
        match host.lock(&path) {
            Ok(lock) if !host.exists(&open.paths.journal(&id)) && !was_sealed(host, open, &id)? => {
                return Ok((id, lock));
            }
            Ok(_) => {}
            Err(error) if error.kind() == std::io::ErrorKind::WouldBlock => {}
            Err(error) => return Err(not_begun(&AppError::at(&path, &error))),
        }
        number += 1;
    }
}
