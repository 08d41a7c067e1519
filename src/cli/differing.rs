//! `diff`: its arguments, and how a difference is printed.
//!
//! Never in here: weighing changes. Changes when a difference is printed otherwise.

use std::path::Path;

use clap::{Args, ValueEnum};
use serde_json::{Value, json};

use crate::app::{self, AppError, Around, Compared, GitDifference, GitFile};
use crate::diff::{Change, Difference};
use crate::host::RealHost;
use crate::plan::CriterionSeverity;
use crate::render::{DifferencePage, DifferencePart, Format, PastResults, difference};
use crate::text::findings_as_text;

use super::commands::{Done, GOOD, NO, current, print};
use super::replaying::{ReplayArguments, past, print_json};
use super::show::plain;

/// Which revisions.
#[derive(Clone, Debug, Args)]
pub struct DiffArguments {
    /// OLD and NEW: files, RECIPE@REV from the ledger of approvals, or GITREV:PATH; or the seven or nine words that git
    /// gives its external diff
    #[arg(required = true, num_args = 2..=9, value_names = ["OLD", "NEW"], allow_hyphen_values = false)]
    pub revisions: Vec<String>,
    /// How to print what differs
    #[arg(long, value_enum, default_value = "text")]
    pub format: DiffForm,
    /// Judging past records again
    #[command(flatten)]
    pub replay: ReplayArguments,
}

/// How a difference is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DiffForm {
    /// For a person
    Text,
    /// For a program
    Json,
    /// A page of Markdown
    Md,
    /// A page with both revisions side by side
    Html,
}

/// Compares two revisions; from git never with an exit code that makes it stop.
pub(super) fn diff(host: &RealHost, shop: Option<&Path>, asked: &DiffArguments) -> Done {
    if let [old, new] = &asked.revisions[..] {
        let here = current()?;
        let around = Around {
            host,
            shop,
            here: &here,
        };
        let compared = app::diff(around, old, new)?;
        let replay = &asked.replay;
        if replay.replay && asked.format == DiffForm::Json {
            print_json(host, shop, &compared, replay, &as_json(&compared))?;
        } else {
            let past = || past(host, shop, &compared, replay);
            let past = replay.replay.then(past).transpose()?;
            print(&shown(&compared, asked.format, (None, past))?);
        }
        let same = compared.difference.changes.is_empty();
        return Ok(if same { GOOD } else { NO });
    }
    if asked.replay.replay {
        return Err(AppError::new(
            "`diff --replay` takes two revisions, not the words that git gives; name OLD and NEW",
        ));
    }
    let Some(file) = GitFile::from_arguments(&asked.revisions) else {
        let n = asked.revisions.len();
        return Err(AppError::new(format!(
            "`diff` takes two revisions, or the seven or nine words that git gives; there are {n}"
        )));
    };
    print(&from_git(host, file, asked.format)?);
    Ok(GOOD)
}

fn from_git(host: &RealHost, file: GitFile<'_>, form: DiffForm) -> Result<String, AppError> {
    let renamed = file
        .renamed
        .map_or_else(String::new, |to| format!(", renamed to {to}"));
    let name = format!("{}{renamed}", file.path);
    Ok(match app::git_diff(host, file)? {
        GitDifference::Compared(compared) => shown(&compared, form, (Some(&name), None))?,
        GitDifference::Alone { added, what } => {
            let word = if added {
                "new recipe"
            } else {
                "recipe removed"
            };
            format!("{}\n  {word}: {}\n", plain(&name), plain(&what))
        }
        GitDifference::Lines(lines, findings) => {
            let told = findings_as_text(&findings, false);
            format!("{}\n{told}{lines}", plain(&name))
        }
    })
}

fn shown(
    compared: &Compared,
    form: DiffForm,
    (file, past): (Option<&str>, Option<PastResults>),
) -> Result<String, AppError> {
    let format = match form {
        DiffForm::Json => return Ok(format!("{:#}\n", as_json(compared))),
        DiffForm::Text => Format::Text,
        DiffForm::Md => Format::Markdown,
        DiffForm::Html => Format::Html,
    };
    let page = DifferencePage {
        past,
        ..page(compared, file)
    };
    difference(&page, format).map_err(|e| AppError::new(e.to_string()))
}

fn page(compared: &Compared, file: Option<&str>) -> DifferencePage {
    let difference = &compared.difference;
    let title = match file {
        Some(file) => format!("What changed in {file}"),
        None => format!(
            "What changed from {} to {}",
            compared.old.name, compared.new.name
        ),
    };
    DifferencePage {
        title,
        summary: format!("Summary: {}.", difference.summary()),
        warnings: difference
            .warnings
            .iter()
            .map(|w| format!("{}: {}", w.path, w.message))
            .collect(),
        parts: parts(difference),
        past: None,
    }
}

/// The changes under one heading each weight, in the order in which they are told.
fn parts(difference: &Difference) -> Vec<DifferencePart> {
    let mut parts: Vec<(u8, DifferencePart)> = Vec::new();
    for change in &difference.changes {
        let (first, weight, _) = change.rank();
        let heading = match first {
            1 => format!("{}: eased", weight.word()),
            _ => weight.word().to_owned(),
        };
        let row = row(change);
        match parts.last_mut() {
            Some((_, part)) if part.heading == heading => part.rows.push(row),
            _ => parts.push((
                first,
                DifferencePart {
                    heading,
                    rows: vec![row],
                },
            )),
        }
    }
    parts.into_iter().map(|(_, part)| part).collect()
}

fn row(change: &Change) -> [String; 4] {
    let or = |text: &str, other: &str| {
        if text.is_empty() {
            other.to_owned()
        } else {
            text.to_owned()
        }
    };
    [
        or(&change.path, "the whole"),
        or(&change.old, "–"),
        or(&change.new, "–"),
        change.why.clone(),
    ]
}

fn as_json(compared: &Compared) -> Value {
    let difference = &compared.difference;
    let change = |c: &Change| json!({"path": c.path, "weight": c.weight.word(), "old": c.old, "new": c.new, "why": c.why, "lean": c.lean_word(), "severity": c.severity.map(CriterionSeverity::word)});
    let counts: serde_json::Map<String, Value> = difference
        .counts()
        .iter()
        .map(|(w, n)| (w.word().to_owned(), json!(n)))
        .collect();
    json!({
        "old": compared.old.name,
        "new": compared.new.name,
        "summary": difference.summary(),
        "counts": counts,
        "warnings": difference.warnings.iter().map(|w| json!({"path": w.path, "message": w.message})).collect::<Vec<_>>(),
        "changes": difference.changes.iter().map(change).collect::<Vec<_>>(),
    })
}
