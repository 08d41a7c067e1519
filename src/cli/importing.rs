//! A spreadsheet at the terminal: what its columns are, and what came of it.
//!
//! Never in here: reading it. Changes when something else is asked or told of an import.

use std::fmt::Write;
use std::path::Path;

use serde_json::{Map, Value, json};

use crate::app::{self, AppError, Import, Imported, Told};
use crate::host::RealHost;
use crate::shop::import::{Change, DateForm, Encoding, Fault, Register};
use crate::text::counted;

use super::arguments::Form;
use super::commands::{Done, GOOD, NO, print};
use super::fitted::report;
use super::input::{Input, Line, Typed, Wanted};
use super::registers::Importing;
use super::show::{Screen, plain};

/// Longest part of a first value that is shown, in characters.
const SHOWN: usize = 40;

pub(super) fn import(host: &RealHost, root: &Path, register: Register, how: &Importing) -> Done {
    let told = told(how)?;
    let mut import = app::begin_import(host, root, register, &how.file, &told)?;
    ask(&mut import)?;
    let imported = app::import(host, root, &import, how.dry_run, how.leave_out_faulty)?;
    match how.format {
        Form::Json => print(&format!("{:#}\n", as_json(register, how, &imported))),
        Form::Text => print(&report(&plain(&as_text(register, how, &imported)))),
    }
    let refused = !imported.faults.is_empty() && !how.leave_out_faulty;
    Ok(if refused { NO } else { GOOD })
}

fn told(how: &Importing) -> Result<Told, AppError> {
    let pair = |text: &String| match text.split_once('=') {
        Some((field, heading)) if !field.trim().is_empty() && !heading.trim().is_empty() => {
            Ok((field.trim().to_owned(), heading.trim().to_owned()))
        }
        _ => Err(AppError::new(format!(
            "`--column {text}`: write it as FIELD=HEADING"
        ))),
    };
    Ok(Told {
        encoding: how.encoding.as_deref().and_then(Encoding::from_name),
        columns: how.column.iter().map(pair).collect::<Result<_, _>>()?,
        dates: how.dates.as_deref().and_then(DateForm::from_name),
    })
}

/// Asks at a terminal what is not known; elsewhere nobody can answer.
fn ask(import: &mut Import) -> Result<(), AppError> {
    use std::io::IsTerminal;
    let terminal = std::io::stdin().is_terminal() && std::io::stdout().is_terminal();
    if !terminal || (import.unknown().is_empty() && import.open_dates().is_none()) {
        return Ok(());
    }
    let (mut input, mut screen) = (Typed::new(), Screen::new());
    ask_columns(import, &mut input, &mut screen)?;
    ask_dates(import, &mut input, &mut screen)
}

fn ended() -> AppError {
    AppError::new("the columns were not told; nothing was imported")
}

fn ask_columns(
    import: &mut Import,
    input: &mut Typed,
    screen: &mut Screen,
) -> Result<(), AppError> {
    let unknown = import.unknown();
    if unknown.is_empty() {
        return Ok(());
    }
    screen.line(
        0,
        "Some columns are not known. The answers are kept for files with the same headings.",
    );
    for (index, heading, first) in unknown {
        screen.line(
            0,
            &format!(
                "Fields: {}. Enter alone passes over the column.",
                import.open_fields().join(", ")
            ),
        );
        let short: String = first.chars().take(SHOWN).collect();
        loop {
            let value = if short.is_empty() {
                "all empty".to_owned()
            } else {
                format!("first value `{short}`")
            };
            screen.raw(&plain(&format!(
                "column {} `{heading}` ({value}) is: ",
                index + 1
            )));
            let Line::Text(word) = input.line(&Wanted::Pick, None) else {
                return Err(ended());
            };
            let word = if word.trim().is_empty() {
                "-"
            } else {
                word.trim()
            };
            match import.tell_column(index, word) {
                Ok(()) => break,
                Err(why) => screen.line(2, &why),
            }
        }
    }
    Ok(())
}

fn ask_dates(import: &mut Import, input: &mut Typed, screen: &mut Screen) -> Result<(), AppError> {
    let Some(day) = import.open_dates() else {
        return Ok(());
    };
    screen.line(
        0,
        &format!(
            "Days such as `{day}` can be read in more than one way. 31 March 2026 is written:"
        ),
    );
    let forms = import.date_forms();
    for (number, form) in (1..).zip(&forms) {
        screen.line(2, &format!("{number} {} ({})", form.example(), form.name()));
    }
    loop {
        screen.raw("1 to 3> ");
        let Line::Text(text) = input.line(&Wanted::Pick, None) else {
            return Err(ended());
        };
        let by_number = text
            .trim()
            .parse::<usize>()
            .ok()
            .and_then(|n| forms.get(n.checked_sub(1)?).copied());
        if let Some(form) = by_number.or(DateForm::from_name(text.trim())) {
            import.tell_dates(form);
            return Ok(());
        }
        screen.line(2, "type the number of one of these");
    }
}

fn as_text(register: Register, how: &Importing, done: &Imported) -> String {
    let mut text = String::new();
    let mut line = |said: String| {
        // Writing into a text can't fail.
        let _ = writeln!(text, "{said}");
    };
    for fault in &done.faults {
        line(fault.to_string());
    }
    let (added, changed): (Vec<&Change>, Vec<&Change>) =
        done.changes.list.iter().partition(|c| c.added);
    if how.dry_run {
        added.iter().for_each(|c| line(format!("new {}", one(c))));
        changed
            .iter()
            .for_each(|c| line(format!("changed {}", one(c))));
    }
    for notice in &done.notices {
        line(format!("notice: {notice}"));
    }
    for heading in &done.passed_over {
        line(format!(
            "notice: nothing was taken from the column `{heading}`; `--column FIELD='{heading}'` says what it is"
        ));
    }
    line(format!(
        "{}: {} new, {} changed, {} unchanged, {} faulty; {} in {} and not in the file stay",
        counted(done.rows, "row"),
        added.len(),
        changed.len(),
        done.changes.unchanged,
        done.faulty,
        done.changes.absent,
        register.file()
    ));
    if done.kept {
        line("imports.yaml keeps what was told of the columns".to_owned());
    }
    line(outcome(register, how, done));
    text
}

fn outcome(register: Register, how: &Importing, done: &Imported) -> String {
    if how.dry_run {
        format!(
            "nothing was written to {}: this was a dry run",
            register.file()
        )
    } else if done.written {
        format!("{} is written", register.file())
    } else if !done.faults.is_empty() && !how.leave_out_faulty {
        "nothing was written: mend the faulty rows, or import the others with `--leave-out-faulty`"
            .to_owned()
    } else {
        format!(
            "{} is as it was: there is nothing to change",
            register.file()
        )
    }
}

/// A change in a line: fields of a new entry, old and new of those of another.
fn one(change: &Change) -> String {
    let fields = change.fields.iter().map(|f| {
        if change.added {
            format!("{} `{}`", f.field, f.new)
        } else {
            format!("{} `{}` → `{}`", f.field, f.old, f.new)
        }
    });
    format!("{}: {}", change.id, fields.collect::<Vec<_>>().join(", "))
}

fn as_json(register: Register, how: &Importing, done: &Imported) -> Value {
    let new = |c: &Change| {
        let fields: Map<String, Value> = c
            .fields
            .iter()
            .map(|f| (f.field.to_owned(), json!(f.new)))
            .collect();
        json!({"id": c.id, "fields": fields})
    };
    let changed = |c: &Change| {
        let fields = c
            .fields
            .iter()
            .map(|f| json!({"field": f.field, "old": f.old, "new": f.new}));
        json!({"id": c.id, "fields": fields.collect::<Vec<_>>()})
    };
    let (added, others): (Vec<&Change>, Vec<&Change>) =
        done.changes.list.iter().partition(|c| c.added);
    json!({
        "register": register.name(), "file": how.file.display().to_string(), "dry_run": how.dry_run,
        "written": done.written, "rows": done.rows,
        "new": added.into_iter().map(new).collect::<Vec<_>>(),
        "changed": others.into_iter().map(changed).collect::<Vec<_>>(),
        "unchanged": done.changes.unchanged, "kept": done.changes.absent, "faulty_rows": done.faulty,
        "faults": done.faults.iter().map(fault).collect::<Vec<_>>(),
        "notices": done.notices, "passed_over": done.passed_over, "way_kept": done.kept,
    })
}

fn fault(fault: &Fault) -> Value {
    let (column, heading) = fault.column.clone().unzip();
    json!({
        "line": fault.line, "column": column, "heading": heading, "cell": fault.cell,
        "message": fault.message, "help": fault.help,
    })
}
