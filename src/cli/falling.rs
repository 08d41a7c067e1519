//! What falls due, on the screen.
//!
//! Never in here: which day that is. Changes when it is printed otherwise.

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

/// What the entries of a register are to `due`.
pub(super) fn subject(register: Register) -> Option<Subject> {
    match register {
        Register::People => None,
        Register::Devices => Some(Subject::Device),
        Register::Instruments => Some(Subject::Instrument),
    }
}

pub(super) fn due(host: &RealHost, root: &Path, within: u32, format: Form) -> Done {
    let all = app::due(host, root)?;
    let days = i32::try_from(within).unwrap_or(i32::MAX);
    let those: Vec<&Due> = all.list.iter().filter(|d| d.days <= days).collect();
    if format == Form::Json {
        let list: Vec<Value> = those.iter().map(|d| due_object(d)).collect();
        print(&format!(
            "{:#}\n",
            json!({"within": within, "due": list, "without_interval": all.without, "unread_records": all.unread})
        ));
    } else {
        for one in &those {
            print(&report(&format!("{}\n", plain(&due_line(one)))));
        }
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
    let last = due
        .last
        .map_or_else(String::new, |day| format!(", last {day}"));
    format!("{when}: {}{about}: {task}{last}", due.id)
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
        "days": due.days, "overdue": due.days < 0, "never": due.last.is_none() && due.task != Task::Calibration,
    })
}
