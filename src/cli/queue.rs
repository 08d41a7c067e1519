//! `run` without a device: what is due first, a tag that is typed or scanned, and on to the next one.
//!
//! Never in here: a single session (see `begun`). Changes when devices are asked for otherwise.

use std::path::Path;

use crate::app::{self, AppError, OfDevice, OpenShop, Start, Unfinished};
use crate::host::{Host, RealHost};
use crate::plan::Plan;
use crate::recipe::schema::nearest;
use crate::record::misfit;
use crate::shop::{Due, Subject, Task};
use crate::text::{counted, meant};

use super::arguments::Walk;
use super::begun::{self, ended_by};
use super::commands::{Done, GOOD, complain};
use super::entries::recipe_line;
use super::falling::due_line;
use super::input::{Input, Line, Typed, Wanted};
use super::show::filled;
use super::show::{Screen, plain};

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
    let all = recipes
        .iter()
        .map(|r| format!("\n{}", filled(&recipe_line(r), "  ", "    ")));
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
    let plan = plan_of(host, &open, recipe, start)?;
    list(&Waiting::of(host, root, &open, &plan)?);
    loop {
        let open = app::open_shop(host, root)?;
        let plan = plan_of(host, &open, recipe, start)?;
        let waiting = Waiting::of(host, root, &open, &plan)?;
        let Some(tag) = asked(host, &open, &plan, &waiting, &mut input)? else {
            return Ok(worst);
        };
        if let Some(paused) = paused_on(host, &open, &tag)?
            && goes_on(&paused, &mut input)
        {
            match begun::resume(host, root, Some(&paused.session), None, how) {
                Ok(code) => worst = ended_by(worst, code),
                Err(error) => complain(&error),
            }
            left(&Waiting::of(host, root, &open, &plan)?);
            continue;
        }
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
        left(&Waiting::of(host, root, &open, &plan)?);
    }
}

/// The one session under way on a device that no other window has open.
fn paused_on(host: &RealHost, open: &OpenShop, tag: &str) -> Result<Option<Unfinished>, AppError> {
    let mut all = app::unfinished_on(host, &open.paths, tag)?;
    Ok(all.pop().filter(|one| all.is_empty() && !one.held))
}

/// Asks whether a paused session goes on; who says no is asked about another one beside it next.
fn goes_on(paused: &Unfinished, input: &mut dyn Input) -> bool {
    let mut screen = Screen::new();
    let begun = paused.since.get(..16).unwrap_or(&paused.since);
    screen.line(
        0,
        &format!(
            "session {}, by {}, begun {}, is paused on it",
            paused.session,
            paused.by,
            begun.replace('T', " ")
        ),
    );
    input.leave_out_earlier();
    screen.raw("Go on with it, yes or no (yes)> ");
    let Line::Text(text) = input.line(&Wanted::Pick, None) else {
        return false;
    };
    if !input.echoes() {
        screen.raw(&format!("{}\n", plain(&text)));
    }
    matches!(text.trim().to_lowercase().as_str(), "" | "y" | "yes")
}

fn plan_of(
    host: &RealHost,
    open: &OpenShop,
    recipe: &str,
    start: &Start<'_>,
) -> Result<Plan, AppError> {
    Ok(app::runnable(host, open, recipe, start.trial)?.plan)
}

/// The checks of devices that the recipe is for.
struct Waiting {
    /// Those that are to be done, the most urgent first.
    due: Vec<Due>,
    /// How many failed today: they wait for a repair, not for another test.
    failed_today: usize,
}

impl Waiting {
    fn of(host: &RealHost, root: &Path, open: &OpenShop, plan: &Plan) -> Result<Self, AppError> {
        let by_recipe = |d: &Due| match &d.task {
            Task::Check(None) => is_for(open, plan, &d.id),
            Task::Check(Some(name)) => *name == plan.recipe,
            _ => false,
        };
        let mut due = app::due(host, root)?.list;
        due.retain(|d| d.subject == Subject::Device && by_recipe(d));
        let all = due.len();
        let today = host.today();
        due.retain(|d| d.failed.is_none_or(|day| day.to_string() != today));
        Ok(Self {
            failed_today: all - due.len(),
            due,
        })
    }
}

/// What stands of a device's test of today by this recipe; nothing where there was none.
fn tested_today(
    host: &RealHost,
    open: &OpenShop,
    plan: &Plan,
    tag: &str,
) -> Result<Option<String>, AppError> {
    let today = host.today();
    let records = app::records_of(host, &open.paths, tag)?;
    let counts = |of: &&OfDevice| {
        let of_today = of.stored.started.starts_with(&today);
        of_today && of.recipe == plan.recipe && !of.stored.trial && of.overruled.is_none()
    };
    Ok(records.iter().find(counts).map(|of| {
        format!(
            "`{tag}` was tested today by this recipe: {}, {}",
            of.stored.record, of.stored.verdict
        )
    }))
}

fn is_for(open: &OpenShop, plan: &Plan, tag: &str) -> bool {
    let mut devices = open.devices.iter().map(|d| &d.device);
    let found = devices.find(|d| d.tag == tag);
    found.is_some_and(|device| misfit(plan, device).is_none())
}

/// The first of what is waiting.
fn list(waiting: &Waiting) {
    let mut screen = Screen::new();
    screen.gap();
    let due = &waiting.due;
    for due in due.iter().take(SHOWN) {
        screen.line(2, &due_line(due));
    }
    if due.len() > SHOWN {
        let more = due.len() - SHOWN;
        screen.line(2, &format!("and {more} more; see `stepwell due`"));
    }
    if waiting.failed_today > 0 {
        let failed = counted(waiting.failed_today, "device");
        screen.line(2, &format!("left out: {failed} that failed today"));
    } else if due.is_empty() {
        screen.line(2, "no device that the recipe is for has an interval");
    }
}

/// How many are waiting today, in a line.
fn left(waiting: &Waiting) {
    let today = waiting.due.iter().filter(|d| d.days <= 0).count();
    let mut screen = Screen::new();
    screen.gap();
    screen.line(
        0,
        &format!("{} due by this recipe", counted(today, "device")),
    );
}

/// The tag of a device in the register; nothing where the work is over. One that was tested today is taken once its tag is
/// typed a second time.
fn asked(
    host: &RealHost,
    open: &OpenShop,
    plan: &Plan,
    waiting: &Waiting,
    input: &mut dyn Input,
) -> Result<Option<String>, AppError> {
    let mut screen = Screen::new();
    let mut told: Option<String> = None;
    loop {
        input.leave_out_earlier();
        screen.raw("Tag of the next device; `?` lists what is due, Enter ends> ");
        let Line::Text(text) = input.line(&Wanted::Pick, None) else {
            screen.gap();
            return Ok(None);
        };
        if !input.echoes() {
            screen.raw("\n");
        }
        let typed = text.trim();
        let tags = || open.devices.iter().map(|d| d.device.tag.as_str());
        match meant(tags(), typed, |tag| tag) {
            _ if typed.is_empty() => return Ok(None),
            _ if matches!(typed, "?" | ":help") => list(waiting),
            Some(tag) => {
                // Scanners end a line in one way or two.
                input.forget_earlier();
                let again = told.as_deref() == Some(tag);
                match tested_today(host, open, plan, tag)?.filter(|_| !again) {
                    None => return Ok(Some(tag.to_owned())),
                    Some(why) => {
                        screen.line(2, &format!("{why}; its tag once more tests it again"));
                        told = Some(tag.to_owned());
                    }
                }
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
