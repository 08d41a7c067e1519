//! The registers on the screen: lists, single entries, additions, upkeep.
//!
//! Never in here: spreadsheets. Changes when a register is printed otherwise.

use std::path::Path;

use serde_json::{Map, Value, json};

use crate::app::{self, AppError, Calibrated, Done as WasDone, ForDevice, OfDevice};
use crate::host::RealHost;
use crate::shop::import::{Known, Register};
use crate::shop::{Paths, Upkeep};

use super::arguments::Form;
use super::commands::{Done, GOOD, print, warn};
use super::falling::{due_line, due_object};
use super::fitted::{in_columns, report};
use super::importing::import;
use super::keys::{export, give_key, take_key};
use super::registers::{Devices, Instruments, People};
use super::show::plain;

const INSTRUMENTS: Register = Register::Instruments;

/// Widest column of a list, in characters.
const WIDEST: usize = 32;

pub(super) fn people(host: &RealHost, root: &Path, what: People) -> Done {
    let register = Register::People;
    match what {
        People::List(how) => list(host, root, register, how.format),
        People::Show(which) => show(host, root, register, &which.id, which.format),
        People::Import(how) => import(host, root, register, &how),
        People::Add {
            id,
            name,
            roles,
            public_key,
            left,
            without_key,
            key,
        } => {
            let values = [
                ("name", Some(name)),
                ("roles", Some(roles)),
                ("public_key", public_key.clone()),
                ("left", left),
            ];
            add(host, root, register, &id, values)?;
            match public_key {
                None if !without_key && key.is_wanted() => give_key(host, root, &id, &key),
                _ => Ok(GOOD),
            }
        }
        People::Key { id, public, key } => match public {
            Some(file) => take_key(host, root, &id, &file),
            None => give_key(host, root, &id, &key),
        },
        People::Export { output } => export(host, root, output.as_deref()),
    }
}

pub(super) fn devices(host: &RealHost, root: &Path, what: Devices) -> Done {
    let register = Register::Devices;
    match what {
        Devices::List(how) => list(host, root, register, how.format),
        Devices::Show(which) => show(host, root, register, &which.id, which.format),
        Devices::Import(how) => import(host, root, register, &how),
        Devices::Add {
            tag,
            serial,
            maker,
            model,
            category,
            location,
            interval,
            last_done,
        } => {
            let values = [
                ("serial", serial),
                ("maker", maker),
                ("model", model),
                ("category", category),
                ("location", location),
                ("interval", interval),
                ("last-done", last_done),
            ];
            add(host, root, register, &tag, values)
        }
    }
}

pub(super) fn instruments(host: &RealHost, root: &Path, what: Instruments) -> Done {
    match what {
        Instruments::List(how) => list(host, root, INSTRUMENTS, how.format),
        Instruments::Show(which) => show(host, root, INSTRUMENTS, &which.id, which.format),
        Instruments::Import(how) => import(host, root, INSTRUMENTS, &how),
        Instruments::Add {
            id,
            kind,
            due,
            maker,
            model,
            serial,
            certificate,
            calibrated,
            measures,
        } => {
            let values = [
                ("kind", Some(kind)),
                ("maker", maker),
                ("model", model),
                ("serial", serial),
                ("certificate", certificate),
                ("calibrated", calibrated),
                ("due", Some(due)),
                ("measures", Some(measures.join(" | "))),
            ];
            add(host, root, INSTRUMENTS, &id, values)
        }
        Instruments::Done {
            id,
            what,
            by,
            on,
            note,
        } => {
            let done = WasDone {
                instrument: &id,
                by: &by,
                on: on.as_deref(),
                note: &note,
            };
            upkeep_done(host, root, &what, &done)
        }
        Instruments::Calibrated {
            id,
            certificate,
            on,
            due,
            by,
        } => {
            let done = WasDone {
                instrument: &id,
                by: &by,
                on: Some(&on),
                note: "",
            };
            calibrated(host, root, &certificate, &due, &done)
        }
    }
}

fn upkeep_done(host: &RealHost, root: &Path, what: &str, done: &WasDone<'_>) -> Done {
    let kept = app::upkeep_done(host, root, what, done)?;
    print(&report(&format!("{}\n", plain(&upkeep(&kept)))));
    in_use(host, &Paths::at(root), &kept.instrument)?;
    Ok(GOOD)
}

/// Tells which sessions under way have an instrument: what is read with it from now on, it reads after the upkeep.
pub(super) fn in_use(host: &RealHost, paths: &Paths, instrument: &str) -> Result<(), AppError> {
    for session in app::sessions_with(host, paths, instrument)? {
        warn(&format!(
            "{instrument} is in use in a session under way: {session}"
        ));
    }
    Ok(())
}

fn calibrated(
    host: &RealHost,
    root: &Path,
    certificate: &str,
    due: &str,
    done: &WasDone<'_>,
) -> Done {
    let new = Calibrated { certificate, due };
    let kept = app::calibrated(host, root, &new, done)?;
    print(&report(&format!("{}, due {due}\n", plain(&upkeep(&kept)))));
    in_use(host, &Paths::at(root), &kept.instrument)?;
    Ok(GOOD)
}

fn add<const N: usize>(
    host: &RealHost,
    root: &Path,
    register: Register,
    id: &str,
    values: [(&'static str, Option<String>); N],
) -> Done {
    let given = values
        .into_iter()
        .filter_map(|(field, text)| Some((field, text?)));
    let values: Vec<(&'static str, String)> = given.collect();
    let notices = app::add_entry(host, root, register, id, &values)?;
    print(&format!(
        "added to {}: {}\n",
        register.file(),
        plain(id.trim())
    ));
    for notice in notices {
        print(&format!("notice: {}\n", plain(&notice)));
    }
    Ok(GOOD)
}

/// A key of an entry as programs read it.
fn key(field: &str) -> String {
    field.replace('-', "_")
}

fn object(register: Register, known: &Known) -> Map<String, Value> {
    let id = (register.fields()[0].name.to_owned(), json!(known.id));
    let values = known.values.iter().map(|(field, text)| {
        let value = if *field == "former_keys" && text.is_empty() {
            json!([])
        } else if ["roles", "former_keys"].contains(field) {
            json!(text.split(", ").collect::<Vec<_>>())
        } else {
            json!(text)
        };
        (key(field), value)
    });
    std::iter::once(id).chain(values).collect()
}

fn list(host: &RealHost, root: &Path, register: Register, format: Form) -> Done {
    let open = app::open_register(host, &Paths::at(root), register)?;
    if format == Form::Json {
        let all: Vec<Value> = open
            .entries
            .iter()
            .map(|e| Value::Object(object(register, e)))
            .collect();
        print(&format!("{:#}\n", Value::Array(all)));
        return Ok(GOOD);
    }
    if open.entries.is_empty() {
        print(&format!(
            "{} has no entries yet; `stepwell {} add` adds one\n",
            register.file(),
            register.name()
        ));
        return Ok(GOOD);
    }
    // A key and what is measured take too much room; `show` has them. Of a key it is told whether there is one.
    let wide = ["public_key", "former_keys", "measures"];
    let is_filled = |field: &&str| open.entries.iter().any(|e| !e.values[*field].is_empty());
    let fields: Vec<&str> = open.entries[0]
        .values
        .keys()
        .copied()
        .filter(|f| !wide.contains(f) && is_filled(f))
        .collect();
    let keyed = register == Register::People;
    let mut rows = vec![
        std::iter::once(register.fields()[0].name)
            .chain(fields.iter().copied())
            .chain(keyed.then_some("key"))
            .map(str::to_owned)
            .collect(),
    ];
    rows.extend(open.entries.iter().map(|e| {
        let cells = fields.iter().map(|f| plain(&e.values[*f]));
        let has_key = || match e.values["public_key"].is_empty() {
            true => "no".to_owned(),
            false => "yes".to_owned(),
        };
        std::iter::once(plain(&e.id))
            .chain(cells)
            .chain(keyed.then(has_key))
            .collect::<Vec<String>>()
    }));
    print(&in_columns(&rows, WIDEST));
    Ok(GOOD)
}

fn show(host: &RealHost, root: &Path, register: Register, id: &str, format: Form) -> Done {
    let paths = Paths::at(root);
    let open = app::open_register(host, &paths, register)?;
    let known = open.entry(id)?;
    let id = known.id.as_str();
    let due = match register {
        Register::People => Vec::new(),
        _ => app::due(host, root)?.list,
    };
    let subject = super::falling::subject(register);
    let due: Vec<_> = due
        .into_iter()
        .filter(|d| d.id == id && Some(d.subject) == subject)
        .collect();
    let history = history(host, &paths, register, id)?;
    let records = match register {
        Register::Devices => app::records_of(host, &paths, id)?,
        _ => Vec::new(),
    };
    let recipes = match register {
        Register::Devices => {
            let shop = app::open_shop(host, root)?;
            app::recipes_for(host, &paths, app::registered(&shop, id)?)?
        }
        _ => Vec::new(),
    };
    if format == Form::Json {
        let mut shown = object(register, known);
        if register != Register::People {
            shown.insert("due_list".to_owned(), due.iter().map(due_object).collect());
        }
        if register == Register::Instruments {
            shown.insert(
                "history".to_owned(),
                history.iter().map(upkeep_object).collect(),
            );
        }
        if register == Register::Devices {
            shown.insert(
                "records".to_owned(),
                records.iter().map(record_object).collect(),
            );
            let ids = recipes.iter().map(|r| json!(r.recipe));
            shown.insert("recipes".to_owned(), ids.collect());
        }
        print(&format!("{:#}\n", Value::Object(shown)));
        return Ok(GOOD);
    }
    print(&format!("{}\n", plain(&known.id)));
    for (field, text) in known.values.iter().filter(|(_, t)| !t.is_empty()) {
        // A bare interval is in months.
        let bare = *field == "interval" && text.bytes().all(|b| b.is_ascii_digit());
        let unit = if bare { " months" } else { "" };
        print(&report(&format!(
            "  {:12}  {}{unit}\n",
            field.replace(['-', '_'], " "),
            plain(text)
        )));
    }
    for one in &due {
        print(&report(&format!("  {}\n", plain(&due_line(one)))));
    }
    for one in &recipes {
        print(&report(&format!("  {}\n", plain(&recipe_line(one)))));
    }
    for one in &history {
        print(&report(&format!("  {}\n", plain(&upkeep(one)))));
    }
    for one in &records {
        print(&report(&format!("  {}\n", plain(&record_line(one)))));
    }
    Ok(GOOD)
}

/// A recipe that is for a device.
pub(super) fn recipe_line(of: &ForDevice) -> String {
    let of_model = if of.of_model {
        ", for this model alone"
    } else {
        ""
    };
    format!("recipe {}: {}{of_model}", of.recipe, of.title)
}

/// A record of a device: id, day, recipe, verdict.
fn record_line(of: &OfDevice) -> String {
    let s = &of.stored;
    let trial = if s.trial { ", trial" } else { "" };
    let overruled = of.overruled.as_ref();
    let overruled = overruled.map_or_else(String::new, |why| format!(", {why}"));
    format!(
        "{}  {}  {}@{}  {}{trial}{overruled}",
        s.record,
        s.started.get(..10).unwrap_or_default(),
        of.recipe,
        s.revision,
        s.verdict
    )
}

fn record_object(of: &OfDevice) -> Value {
    let s = &of.stored;
    json!({
        "record": s.record, "started": s.started, "recipe": of.recipe, "revision": s.revision, "trial": s.trial,
        "verdict": s.verdict, "overruled": of.overruled.as_ref().map(ToString::to_string),
    })
}

fn history(
    host: &RealHost,
    paths: &Paths,
    register: Register,
    id: &str,
) -> Result<Vec<Upkeep>, AppError> {
    if register != Register::Instruments {
        return Ok(Vec::new());
    }
    let mut done = app::all_upkeep(host, paths)?.0;
    done.retain(|d| d.instrument == id);
    done.sort_by(|a, b| (a.on, &a.at).cmp(&(b.on, &b.at)));
    Ok(done)
}

/// What was done, in a line.
fn upkeep(done: &Upkeep) -> String {
    let Upkeep {
        instrument,
        what,
        by,
        on,
        note,
        ..
    } = done;
    let mut line = format!("{on} {instrument}: {what}, by {by}");
    if let Some(certificate) = &done.certificate {
        line.push_str(&format!(", certificate {certificate}"));
    }
    if let Some(former) = done.former_certificate.as_ref().filter(|f| !f.is_empty()) {
        line.push_str(&format!(" (before: {former})"));
    }
    if !note.is_empty() {
        line.push_str(&format!(" ({note})"));
    }
    line
}

fn upkeep_object(done: &Upkeep) -> Value {
    json!({
        "what": done.what, "by": done.by, "on": done.on.to_string(), "at": done.at, "note": done.note,
        "former_certificate": done.former_certificate, "certificate": done.certificate,
    })
}
