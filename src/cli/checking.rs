//! `check`: once, or again whenever a file changes.
//!
//! Never in here: the checks. Changes when findings are printed otherwise.

use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::app::{self, AppError, Checked, Seen};
use crate::host::{Host, RealHost};
use crate::text::{
    Severity, counted, findings_as_github, findings_as_json, findings_as_sarif, findings_as_text,
};

use super::arguments::CheckForm;
use super::commands::{Done, GOOD, NO, colour, complain, current, here, print};
use super::shaping;

/// How often files are looked at for a change.
const PAUSE: Duration = Duration::from_millis(300);

/// How a check is asked for.
pub(super) struct Checking<'a> {
    pub format: CheckForm,
    pub deny: Option<&'a str>,
    pub watch: bool,
}

/// Checks what is named; without anything, the whole shop.
pub(super) fn check(
    host: &RealHost,
    shop: Option<&Path>,
    paths: Vec<PathBuf>,
    asked: &Checking<'_>,
) -> Done {
    let paths = match paths.is_empty() {
        true => vec![as_named(here(host, shop)?)?],
        false => paths,
    };
    if asked.watch {
        return watch(host, &paths);
    }
    let checked = shaping::check(host, &paths)?;
    let findings = &checked.findings;
    match asked.format {
        CheckForm::Json => print(&format!("{:#}\n", findings_as_json(findings))),
        CheckForm::Sarif => print(&format!("{:#}\n", findings_as_sarif(findings))),
        CheckForm::Github => print(&findings_as_github(findings)),
        CheckForm::Text => print(&in_words(&checked)),
    }
    let denied = match asked.deny {
        Some("hints") => count(&checked, Severity::Warning) + count(&checked, Severity::Hint),
        Some(_) => count(&checked, Severity::Warning),
        None => 0,
    };
    let faults = count(&checked, Severity::Error) + denied;
    Ok(if faults == 0 { GOOD } else { NO })
}

/// A folder as the user would name it: who reviews findings elsewhere has the shop in another folder.
fn as_named(folder: PathBuf) -> Result<PathBuf, AppError> {
    Ok(match folder == current()? {
        true => PathBuf::from("."),
        false => folder,
    })
}

fn count(checked: &Checked, severity: Severity) -> usize {
    let of = checked.findings.iter().filter(|f| f.severity() == severity);
    of.count()
}

fn in_words(checked: &Checked) -> String {
    let mut text = findings_as_text(&checked.findings, colour(&std::io::stdout()));
    let found = [
        counted(count(checked, Severity::Error), "error"),
        counted(count(checked, Severity::Warning), "warning"),
        counted(count(checked, Severity::Hint), "hint"),
    ];
    let files = counted(checked.files.len(), "file");
    text.push_str(&format!("{files}: {}\n", found.join(", ")));
    if let Some(first) = checked.findings.first() {
        text.push_str(&format!(
            "`stepwell explain {}` tells more of the first one\n",
            first.code.name()
        ));
    }
    text
}

/// Checks again whenever a file changes, until it is interrupted.
fn watch(host: &RealHost, paths: &[PathBuf]) -> Done {
    // What was asked for is done whenever somebody has seen enough.
    ctrlc::set_handler(|| std::process::exit(i32::from(GOOD)))
        .map_err(|e| AppError::new(format!("can't be interrupted, and so does not begin: {e}")))?;
    let mut before: Option<Seen> = None;
    loop {
        // Looked at before the check: what changes while it runs is checked again.
        let seen = app::seen(host, paths)?;
        if before.as_ref() != Some(&seen) {
            print(&format!("{}\n", told_at(&host.now())));
            match shaping::check(host, paths) {
                Ok(checked) => print(&in_words(&checked)),
                // A file that is being saved may be gone for a moment.
                Err(error) if before.is_some() => complain(&error),
                Err(error) => return Err(error),
            }
            before = Some(seen);
        }
        std::thread::sleep(PAUSE);
    }
}

/// Day and time of a check.
fn told_at(now: &str) -> String {
    let (day, time) = (now.get(..10), now.get(11..19));
    format!(
        "checked on {} at {}; Ctrl-C ends",
        day.unwrap_or(now),
        time.unwrap_or_default()
    )
}
