//! What falls due, on the screen.
//!
//! Never in here: which day that is. Changes when it is printed otherwise.

use std::io::IsTerminal;
use std::path::Path;

use serde_json::{Value, json};

use crate::app;
use crate::host::RealHost;
use crate::shop::import::Register;
use crate::shop::{Due, Subject, Task};

use super::arguments::Form;
use super::commands::{Done, GOOD, NO, print, warn};
use super::fitted::report;
use super::show::plain;

/// Most lines of the list that are shown at a terminal.
const SHOWN: usize = 10;

/// What the entries of a register are to `due`.
pub(super) fn subject(register: Register) -> Option<Subject> {
    match register {
        Register::People => None,
        Register::Devices => Some(Subject::Device),
        Register::Instruments => Some(Subject::Instrument),
    }
}

/// How much of what is due is told, and how.
pub(super) struct Telling {
    pub(super) within: u32,
    pub(super) all: bool,
    pub(super) format: Form,
}

pub(super) fn due(host: &RealHost, root: &Path, how: &Telling) -> Done {
    let Telling {
        within,
        all: whole,
        format,
    } = *how;
    let all = app::due(host, root)?;
    let days = i32::try_from(within).unwrap_or(i32::MAX);
    // What failed last waits for a repair, whatever its day.
    let is_told = |d: &&Due| d.days <= days || d.failed.is_some();
    let those: Vec<&Due> = all.list.iter().filter(is_told).collect();
    if format == Form::Json {
        let list: Vec<Value> = those.iter().map(|d| due_object(d)).collect();
        print(&format!(
            "{:#}\n",
            json!({"within": within, "due": list, "without_interval": all.without, "unread_records": all.unread})
        ));
    } else {
        list(&those, days, whole || !std::io::stdout().is_terminal());
        if those.is_empty() {
            let when = match within {
                0 => "today".to_owned(),
                1 => "until tomorrow".to_owned(),
                _ => format!("within {within} days"),
            };
            print(&format!("nothing is due {when}\n"));
            if let Some(next) = all.list.first() {
                print(&report(&format!("next: {}\n", plain(&due_line(next)))));
            }
        }
        if those.iter().any(|d| d.task == Task::Check(None)) {
            print(&report(
                "`stepwell devices show TAG` lists the recipes that are for a device\n",
            ));
        }
        if !all.without.is_empty() {
            let more = if all.without.len() > 5 { " …" } else { "" };
            let named = all
                .without
                .iter()
                .take(5)
                .cloned()
                .collect::<Vec<_>>()
                .join(", ");
            print(&report(&format!(
                "without an interval, so never due: {}{more}\n",
                plain(&named)
            )));
        }
    }
    for record in &all.unread {
        warn(&format!(
            "{record}: this record can't be read and doesn't count; see `stepwell verify`"
        ));
    }
    Ok(if those.is_empty() { GOOD } else { NO })
}

/// How many there are, then what failed last and the most urgent first; all of them, or as many as a screen takes.
fn list(those: &[&Due], days: i32, all: bool) {
    if those.is_empty() {
        return;
    }
    let count = |of: &dyn Fn(&Due) -> bool| those.iter().filter(|d| of(d)).count();
    let (never, overdue) = (count(&is_new), count(&|d| !is_new(d) && d.days < 0));
    let failed = count(&|d| d.failed.is_some());
    let later = count(&|d| !is_new(d) && (0..=days).contains(&d.days));
    print(&format!(
        "{overdue} overdue, {later} due, {never} never done; {failed} failed last\n"
    ));
    let shown = if all { those.len() } else { SHOWN };
    let mut those = those.to_vec();
    those.sort_by_key(|d| d.failed.is_none());
    for one in those.iter().take(shown) {
        print(&report(&format!("{}\n", plain(&due_line(one)))));
    }
    if those.len() > shown {
        let more = those.len() - shown;
        print(&format!("and {more} more; `--all` lists them\n"));
    }
}

/// Whether it was never done, as far as is known.
fn is_new(due: &Due) -> bool {
    due.last.is_none() && due.task != Task::Calibration
}

/// A line: when, what for, what.
pub(super) fn due_line(due: &Due) -> String {
    let count = |n: i32| {
        if n == 1 {
            "1 day".to_owned()
        } else {
            format!("{n} days")
        }
    };
    let when = match (due.last, due.days) {
        (None, _) if due.task != Task::Calibration => "never done, due at once".to_owned(),
        (_, days) if days < 0 => format!(
            "OVERDUE since {} ({})",
            due.day,
            count(days.saturating_neg())
        ),
        (_, 0) => format!("due today, {}", due.day),
        (_, days) => format!("due {} (in {})", due.day, count(days)),
    };
    let task = match &due.task {
        Task::Check(None) => "check".to_owned(),
        Task::Check(Some(recipe)) => format!("check by {recipe}"),
        Task::Calibration => "calibration".to_owned(),
        Task::Upkeep(what) => what.clone(),
    };
    let about = if due.about.is_empty() {
        String::new()
    } else {
        format!(" ({})", due.about)
    };
    let last = due.last.map_or_else(String::new, |day| {
        let named = matches!(due.task, Task::Check(Some(_)));
        let by = due.by.as_ref().filter(|_| !named);
        let by = by.map_or_else(String::new, |recipe| format!(" by {recipe}"));
        format!(", last {day}{by}")
    });
    let failed = due
        .failed
        .map_or_else(String::new, |day| format!(", FAILED {day}"));
    format!("{when}: {}{about}: {task}{last}{failed}", due.id)
}

pub(super) fn due_object(due: &Due) -> Value {
    let (kind, task) = match &due.task {
        Task::Check(recipe) => ("check", recipe.clone()),
        Task::Calibration => ("calibration", None),
        Task::Upkeep(what) => ("upkeep", Some(what.clone())),
    };
    let subject = match due.subject {
        Subject::Device => "device",
        Subject::Instrument => "instrument",
    };
    json!({
        subject: due.id, "about": due.about, "kind": kind, "task": task,
        "last": due.last.map(|d| d.to_string()), "due": due.day.to_string(),
        "days": due.days, "overdue": due.days < 0, "never": is_new(due),
        "last_by": due.by, "failed": due.failed.map(|d| d.to_string()),
    })
}
