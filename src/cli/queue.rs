//! `run` without a device: what is due first, a tag that is typed or scanned, and on to the next one.
//!
//! Never in here: a single session (see `begun`). Changes when devices are asked for otherwise.

use std::path::Path;

use crate::app::{self, AppError, OpenShop, Start};
use crate::host::RealHost;
use crate::plan::Plan;
use crate::recipe::schema::nearest;
use crate::record::misfit;
use crate::shop::{Due, Subject, Task};
use crate::text::counted;

use super::arguments::Walk;
use super::begun::{self, ended_by};
use super::commands::{Done, GOOD, complain};
use super::entries::recipe_line;
use super::falling::due_line;
use super::input::{Input, Line, Typed, Wanted};
use super::show::Screen;

/// Most devices of the list that are shown.
const SHOWN: usize = 8;

/// Tells which recipes are for a device, where none was named.
pub(super) fn which(host: &RealHost, root: &Path, device: Option<&str>) -> Done {
    let Some(tag) = device else {
        return Err(AppError::new(
            "name a recipe: `stepwell run RECIPE`; with `--device TAG` alone those for a device are listed",
        ));
    };
    let open = app::open_shop(host, root)?;
    let device = app::registered(&open, tag)?;
    let recipes = app::recipes_for(host, &open.paths, device)?;
    let all = recipes.iter().map(|r| format!("\n  {}", recipe_line(r)));
    let told = match recipes.is_empty() {
        true => format!("no recipe of the shop is for `{tag}`"),
        false => format!(
            "name a recipe; these are for `{tag}`:{}",
            all.collect::<String>()
        ),
    };
    Err(AppError::new(told))
}

/// Runs a recipe on one device after the other, until an empty line.
pub(super) fn run(
    host: &RealHost,
    root: &Path,
    recipe: &str,
    start: &Start<'_>,
    how: &Walk,
) -> Done {
    if how.answers.is_some() {
        return Err(AppError::new(
            "stored answers are for one device; name it with `--device TAG`",
        ));
    }
    let mut input = Typed::new();
    let mut worst = GOOD;
    // What can't be run at all is told before anybody is asked for a device.
    let open = app::open_shop(host, root)?;
    list(&waiting(
        host,
        root,
        &open,
        &plan_of(host, &open, recipe, start)?,
    )?);
    loop {
        let open = app::open_shop(host, root)?;
        let plan = plan_of(host, &open, recipe, start)?;
        let Some(tag) = asked(&open, &waiting(host, root, &open, &plan)?, &mut input) else {
            return Ok(worst);
        };
        let one = Start {
            device: &tag,
            ..start.clone()
        };
        let begun = begun::prepare(host, &open, recipe, &one, how)
            .and_then(|runnable| begun::begin(host, &open, runnable, &one, &mut input));
        let session = match begun {
            Ok(session) => session,
            // It was not begun: nothing is lost, and another device may do.
            Err(error) => {
                complain(&error);
                continue;
            }
        };
        worst = ended_by(worst, begun::walk_through(&open, session, &mut input, how)?);
        left(&waiting(host, root, &open, &plan)?);
    }
}

fn plan_of(
    host: &RealHost,
    open: &OpenShop,
    recipe: &str,
    start: &Start<'_>,
) -> Result<Plan, AppError> {
    Ok(app::runnable(host, open, recipe, start.trial)?.plan)
}

/// The checks of devices that the recipe is for, the most urgent first.
fn waiting(
    host: &RealHost,
    root: &Path,
    open: &OpenShop,
    plan: &Plan,
) -> Result<Vec<Due>, AppError> {
    let by_recipe = |d: &Due| match &d.task {
        Task::Check(None) => is_for(open, plan, &d.id),
        Task::Check(Some(name)) => *name == plan.recipe,
        _ => false,
    };
    let mut all = app::due(host, root)?.list;
    all.retain(|d| d.subject == Subject::Device && by_recipe(d));
    Ok(all)
}

fn is_for(open: &OpenShop, plan: &Plan, tag: &str) -> bool {
    let mut devices = open.devices.iter().map(|d| &d.device);
    let found = devices.find(|d| d.tag == tag);
    found.is_some_and(|device| misfit(plan, device).is_none())
}

/// The first of what is waiting.
fn list(waiting: &[Due]) {
    let mut screen = Screen::new();
    screen.gap();
    for due in waiting.iter().take(SHOWN) {
        screen.line(2, &due_line(due));
    }
    if waiting.len() > SHOWN {
        let more = waiting.len() - SHOWN;
        screen.line(2, &format!("and {more} more; see `stepwell due`"));
    }
    if waiting.is_empty() {
        screen.line(2, "no device that the recipe is for has an interval");
    }
}

/// How many are waiting today, in a line.
fn left(waiting: &[Due]) {
    let today = waiting.iter().filter(|d| d.days <= 0).count();
    let mut screen = Screen::new();
    screen.gap();
    screen.line(
        0,
        &format!("{} due by this recipe", counted(today, "device")),
    );
}

/// The tag of a device in the register; nothing where the work is over.
fn asked(open: &OpenShop, waiting: &[Due], input: &mut dyn Input) -> Option<String> {
    let mut screen = Screen::new();
    loop {
        input.leave_out_earlier();
        screen.raw("Tag of the next device; `?` lists what is due, Enter ends> ");
        let Line::Text(text) = input.line(&Wanted::Pick, None) else {
            screen.gap();
            return None;
        };
        if !input.echoes() {
            screen.raw("\n");
        }
        let typed = text.trim();
        let tags = || open.devices.iter().map(|d| d.device.tag.as_str());
        match tags().find(|tag| tag.eq_ignore_ascii_case(typed)) {
            _ if typed.is_empty() => return None,
            _ if matches!(typed, "?" | ":help") => list(waiting),
            Some(tag) => {
                // Scanners end a line in one way or two.
                input.forget_earlier();
                return Some(tag.to_owned());
            }
            None => {
                let help = match nearest(typed, tags()) {
                    Some(near) => format!("the nearest tag is `{near}`"),
                    None => "`stepwell devices add` adds one".to_owned(),
                };
                screen.line(
                    2,
                    &format!("there is no device `{typed}` in the register; {help}"),
                );
            }
        }
    }
}
