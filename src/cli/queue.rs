//! `run` without a device: what is due first, a tag that is typed or scanned, and on to the next one.
//!
//! Never in here: a single session (see `begun`). Changes when devices are asked for otherwise.

use std::path::Path;

use crate::app::{self, AppError, OpenShop, Start};
use crate::host::RealHost;
use crate::recipe::schema::nearest;
use crate::shop::{Due, Subject, Task};

use super::arguments::Walk;
use super::begun::{self, ended_by};
use super::commands::{Done, GOOD, complain};
use super::falling::due_line;
use super::input::{Input, Line, Typed, Wanted};
use super::show::Screen;

/// Most devices of the list that are shown.
const SHOWN: usize = 8;

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
    app::runnable(host, &open, recipe, start.trial)?;
    loop {
        let open = app::open_shop(host, root)?;
        show(host, root, recipe)?;
        let Some(tag) = asked(&open, &mut input) else {
            return Ok(worst);
        };
        let one = Start {
            device: &tag,
            ..start.clone()
        };
        let begun = begun::prepare(host, &open, recipe, &one, how)
            .and_then(|ready| begun::begin(host, &open, ready, &one, &mut input));
        let session = match begun {
            Ok(session) => session,
            // It was not begun: nothing is lost, and another device may do.
            Err(error) => {
                complain(&error);
                continue;
            }
        };
        worst = ended_by(worst, begun::walk_through(&open, session, &mut input, how)?);
    }
}

/// What is due by the recipe, the most urgent first.
fn show(host: &RealHost, root: &Path, recipe: &str) -> Result<(), AppError> {
    let mut screen = Screen::new();
    let all = app::due(host, root)?.list;
    let by_recipe = |d: &Due| match &d.task {
        Task::Check(None) => true,
        Task::Check(Some(name)) => name == recipe,
        _ => false,
    };
    let mine: Vec<Due> = all
        .into_iter()
        .filter(|d| d.subject == Subject::Device && by_recipe(d))
        .collect();
    screen.gap();
    for due in mine.iter().take(SHOWN) {
        screen.line(2, &due_line(due));
    }
    if mine.len() > SHOWN {
        screen.line(
            2,
            &format!("and {} more; see `stepwell due`", mine.len() - SHOWN),
        );
    }
    Ok(())
}

/// The tag of a device in the register; nothing where the work is over.
fn asked(open: &OpenShop, input: &mut dyn Input) -> Option<String> {
    let mut screen = Screen::new();
    loop {
        screen.raw("Tag of the next device, typed or scanned; Enter ends> ");
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
