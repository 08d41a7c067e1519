//! `trace` and `trend`: their arguments, and how what is found is printed.
//!
//! Never in here: finding it (see `app`). Changes when looking back gets an option.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::app::{self, AppError, History, TraceCount, Traced, Trend};
use crate::engine::Misreading;
use crate::host::{Host, RealHost};
use crate::index::{Chosen, Known};
use crate::render::Format;
use crate::shop::Paths;
use crate::shop::import::Register;
use crate::text::is_day;

use super::arguments::Form;
use super::commands::{Done, GOOD, NO, here, print, warn};
use super::drifts::drifts;
use super::fitted::report;
use super::history::{history_json, history_page, values_json};
use super::show::plain;
use super::traced::{Asked, traced_json, traced_text};

/// How much text is printed at once, in bytes.
const AT_ONCE: usize = 64 * 1024;

/// What is asked of an instrument.
#[derive(Clone, Debug, Args)]
pub struct TraceArguments {
    /// Id of the instrument
    pub instrument: String,
    /// First day, as 2026-03-31; without it the calibration before the present one, if one is known
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub since: Option<String>,
    /// Last day; with --error and without it the present calibration, if one before it is known
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub until: Option<String>,
    /// How far its readings may have been off, both ways: judge the records again
    #[arg(long, value_name = "ERROR", allow_hyphen_values = true)]
    pub error: Option<String>,
    /// How to print the records
    #[arg(long, value_enum, default_value = "text")]
    pub format: Form,
}

/// Which value of which records.
#[derive(Clone, Debug, Args)]
pub struct TrendArguments {
    /// Tag of the device
    #[arg(long, value_name = "TAG")]
    pub device: Option<String>,
    /// Model of the devices
    #[arg(long, value_name = "MODEL")]
    pub model: Option<String>,
    /// Id of the recipe
    #[arg(long, value_name = "ID")]
    pub recipe: Option<String>,
    /// Path of the value's step; without it, those that can be had are listed
    #[arg(long, value_name = "PATH")]
    pub value: Option<String>,
    /// List the values that run towards a limit and meet it within a year; also where no device, model or recipe is named
    #[arg(long, conflicts_with = "value")]
    pub drifting: bool,
    /// First day, as 2026-03-31
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub since: Option<String>,
    /// Last day
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub until: Option<String>,
    /// Let trials count too
    #[arg(long)]
    pub trials: bool,
    /// How to print the history
    #[arg(long, value_enum, default_value = "text")]
    pub format: TrendForm,
    /// Write to a file instead
    #[arg(long, short, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

impl TrendArguments {
    /// Whether a device, a model or a recipe is named.
    fn is_narrowed(&self) -> bool {
        let named = [&self.device, &self.model, &self.recipe];
        named.iter().any(|n| n.is_some())
    }
}

/// How a history is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum TrendForm {
    /// For a person, with a plot in characters
    Text,
    /// For a program
    Json,
    /// A page with a drawing
    Html,
}

/// A day of the calendar.
pub(super) fn day(text: &str) -> Result<String, String> {
    if is_day(text) {
        Ok(text.to_owned())
    } else {
        Err("not a day of the calendar; write it as 2026-03-31".to_owned())
    }
}

/// That a first day is not after a last one.
pub(super) fn ordered(since: Option<&str>, until: Option<&str>) -> Result<(), AppError> {
    match (since, until) {
        (Some(since), Some(until)) if since > until => Err(AppError::new(format!(
            "`--since {since}` is after `--until {until}`; change the two over"
        ))),
        _ => Ok(()),
    }
}

/// The records that rest on an instrument.
pub(super) fn trace(host: &RealHost, shop: Option<&Path>, asked: &TraceArguments) -> Done {
    let paths = Paths::at(&here(host, shop)?);
    ordered(asked.since.as_deref(), asked.until.as_deref())?;
    let error = asked.error.as_deref().map(Misreading::parse).transpose();
    let error = error.map_err(|e| AppError::new(format!("--error: {e}")))?;
    let instrument = app::as_registered(host, &paths, Register::Instruments, &asked.instrument);
    let question = Traced {
        instrument: &instrument,
        since: asked.since.as_deref(),
        until: asked.until.as_deref(),
        error: error.as_ref(),
    };
    let tracing = app::trace(host, &paths, question)?;
    note(&tracing.notes);
    let asked = Asked {
        instrument: &asked.instrument,
        is_default: asked.since.is_none(),
        since: tracing.since.as_deref(),
        until: tracing.until.as_deref(),
        ends: tracing.ends().is_some(),
        calibrated: tracing.calibrated.as_deref(),
        error: error.as_ref().map(Misreading::text),
        form: asked.format,
    };
    let mut told = 0;
    let mut text = asked.head();
    let mut doubted = Vec::new();
    let count: TraceCount = tracing.records(host, &mut |record| {
        if record.is_doubted() {
            doubted.push(record.resting.record.clone());
        }
        match asked.form {
            Form::Text => text += &traced_text(&record),
            Form::Json => {
                let before = if told == 0 { "\n" } else { ",\n" };
                text += &format!("{before}{}", traced_json(&record));
            }
        }
        told += 1;
        if text.len() >= AT_ONCE {
            asked.print(&std::mem::take(&mut text));
        }
    })?;
    asked.print(&(text + &asked.foot(count, &doubted)));
    Ok(if count.doubted == 0 { GOOD } else { NO })
}

/// The history of a value.
pub(super) fn trend(host: &RealHost, shop: Option<&Path>, asked: &TrendArguments) -> Done {
    let paths = Paths::at(&here(host, shop)?);
    ordered(asked.since.as_deref(), asked.until.as_deref())?;
    let device = asked.device.as_deref();
    let device = device.map(|typed| app::as_registered(host, &paths, Register::Devices, typed));
    let chosen = Chosen {
        device: device.as_deref(),
        model: asked.model.as_deref(),
        recipe: asked.recipe.as_deref(),
        since: asked.since.as_deref(),
        until: asked.until.as_deref(),
        trials: asked.trials,
    };
    if asked.value.is_some() && !asked.is_narrowed() {
        return Err(AppError::new(
            "`--value` needs a device, a model or a recipe; name one with `--device`, `--model` or `--recipe`",
        ));
    }
    if asked.drifting || !asked.is_narrowed() {
        let (all, notes) = app::drifting(host, &paths, chosen)?;
        note(&notes);
        return handed(host, asked, &drifts(&all, asked.format)?);
    }
    let text = match app::trend(host, &paths, chosen, asked.value.as_deref())? {
        Trend::Values(known, notes) => {
            note(&notes);
            match asked.format {
                TrendForm::Json => format!("{:#}\n", values_json(&known)),
                _ => report(&values_text(&known)),
            }
        }
        Trend::History(history) => {
            note(&history.notes);
            written(&history, &of(asked), asked.format)?
        }
    };
    handed(host, asked, &text)
}

/// Prints what was found, or writes it to a file.
fn handed(host: &RealHost, asked: &TrendArguments, text: &str) -> Done {
    match &asked.output {
        Some(file) => host
            .write(file, text.as_bytes())
            .map_err(|e| AppError::at(file, &e))?,
        None => print(text),
    }
    Ok(GOOD)
}

/// Says on standard error what is to be known.
pub(super) fn note(notes: &[String]) {
    for note in notes {
        warn(note);
    }
}

/// What the records are of, in words.
fn of(asked: &TrendArguments) -> String {
    let given = [
        ("device", &asked.device),
        ("model", &asked.model),
        ("recipe", &asked.recipe),
    ];
    let said = |(what, of): (&str, &Option<String>)| of.as_ref().map(|of| format!("{what} {of}"));
    let all: Vec<String> = given.into_iter().filter_map(said).collect();
    all.join(", ")
}

fn written(history: &History, of: &str, form: TrendForm) -> Result<String, AppError> {
    let format = match form {
        TrendForm::Json => return Ok(format!("{:#}\n", history_json(history))),
        TrendForm::Text => Format::Text,
        TrendForm::Html => Format::Html,
    };
    crate::render::trend(&history_page(history, of), format)
        .map_err(|e| AppError::new(e.to_string()))
}

fn values_text(known: &[Known]) -> String {
    if known.is_empty() {
        return "no record is chosen, or none has a value with a number\n".to_owned();
    }
    let mut text = String::new();
    let mut recipe = "";
    for k in known {
        if k.recipe != recipe {
            recipe = &k.recipe;
            text += &format!("{}\n", plain(recipe));
        }
        let unit = if k.unit == "1" { "number" } else { &k.unit };
        let title = if k.title.is_empty() {
            String::new()
        } else {
            format!("  {}", k.title)
        };
        let records = if k.records == 1 { "record " } else { "records" };
        let line = format!(
            "  {:40} {:8} {:>6} {records}{title}",
            k.name, unit, k.records
        );
        text += &format!("{}\n", plain(line.trim_end()));
    }
    text + "Name one with `--value`.\n"
}
