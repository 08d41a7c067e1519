//! `render` and `label`: their arguments, and what is rendered of one record.
//!
//! Never in here: what is told and how it looks (see the render room). Changes when `render` takes another option.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use clap::Args;

use crate::app::{self, AppError, KeptAmendment, OfDevice, Surroundings};
use crate::host::{Host, RealHost};
use crate::record::{Record, is_pdf};
use crate::render::pdf::Paper;
use crate::render::{Addition, Beside, Format, House, Label, NextDue, csv_head, csv_rows};
use crate::shop::{Paths, Task, is_after_incident};

use super::commands::{Done, GOOD, NO, here, print, print_bytes};
use super::looking::day;
use super::show::plain;
use super::{house, many};

/// What is rendered, and how.
#[derive(Clone, Debug, Args)]
pub struct RenderArguments {
    /// The record's id, or a path to it
    #[arg(required_unless_present_any = ["all", "words", "starter"])]
    pub record: Option<String>,
    /// The form
    #[arg(long, default_value = "text", value_parser = ["text", "md", "html", "pdf", "csv", "json"])]
    pub to: String,
    /// The paper of a PDF: a4 or letter
    #[arg(long, default_value = "a4", value_parser = ["a4", "letter"])]
    pub paper: String,
    /// A template of the shop's own (minijinja), instead of templates/record.txt, .md or .html of the shop's folder
    #[arg(long, value_name = "FILE")]
    pub template: Option<PathBuf>,
    /// The program's own form, although the shop has a template
    #[arg(long, conflicts_with = "template")]
    pub built_in: bool,
    /// Write to a file instead; with --all to a folder, a file a record, but csv and json into one file
    #[arg(long, short, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Many records
    #[command(flatten)]
    pub many: ManyArguments,
    /// Print what a template sees of the record, as JSON
    #[arg(long, requires = "record", conflicts_with_all = ["all", "template"])]
    pub context: bool,
    /// Print the program's own template of the form, to begin one from
    #[arg(long, conflicts_with_all = ["record", "all", "words"])]
    pub starter: bool,
    /// Print the fixed texts of renderings, to say them in another language in templates/words.yaml
    #[arg(long, conflicts_with_all = ["record", "all"])]
    pub words: bool,
}

/// Which of the shop's records.
#[derive(Clone, Debug, Args)]
pub struct ManyArguments {
    /// All records of the shop
    #[arg(long, conflicts_with = "record")]
    pub all: bool,
    /// First day on which a record was finished, as 2026-03-31
    #[arg(long, value_name = "DAY", value_parser = day, requires = "all", conflicts_with = "record")]
    pub since: Option<String>,
    /// Last day
    #[arg(long, value_name = "DAY", value_parser = day, requires = "all", conflicts_with = "record")]
    pub until: Option<String>,
    /// Records of this recipe alone
    #[arg(long, value_name = "ID", requires = "all", conflicts_with = "record")]
    pub recipe: Option<String>,
    /// Records of this device alone
    #[arg(long, value_name = "TAG", requires = "all", conflicts_with = "record")]
    pub device: Option<String>,
}

/// How a record is written: a page with or without a template of the shop's own, or as data.
pub(super) enum Form {
    /// A page by the program's own template.
    Page(Format),
    /// A page by another template: its name and its text.
    Template(Format, String, String),
    /// Pages on paper of that size.
    Pdf(Paper),
    /// Rows for a spreadsheet.
    Csv,
    /// The record itself; of many, a line each.
    Json,
}

impl Form {
    /// The form that is asked for.
    fn of(host: &RealHost, root: Option<&Path>, asked: &RenderArguments) -> Result<Self, AppError> {
        let to = asked.to.as_str();
        let Some(format) = Format::from_name(to) else {
            if asked.template.is_some() {
                return Err(AppError::new(format!(
                    "`--to {to}` takes no template; leave `--template` or `--to` out"
                )));
            }
            let paper = Paper::from_name(&asked.paper).unwrap_or_default();
            return Ok(match to {
                "pdf" => Self::Pdf(paper),
                "csv" => Self::Csv,
                _ => Self::Json,
            });
        };
        let own = || house::template(host, root, format).filter(|_| !asked.built_in);
        let Some(file) = asked.template.clone().or_else(own) else {
            return Ok(Self::Page(format));
        };
        let source = app::read_source(host, &file)?;
        let source = source.map_err(|finding| AppError::Findings(vec![finding]))?;
        let name = file.display().to_string();
        Ok(Self::Template(format, name, source.text.to_string()))
    }

    /// The end of the name of a file in this form.
    pub(super) fn extension(&self) -> &'static str {
        match self {
            Self::Page(format) | Self::Template(format, ..) => match format {
                Format::Text => ".txt",
                Format::Markdown => ".md",
                Format::Html => ".html",
            },
            Self::Pdf(_) => ".pdf",
            Self::Csv => ".csv",
            Self::Json => ".json",
        }
    }

    /// A record in this form.
    pub(super) fn write(&self, record: &Record, beside: &Beside) -> Result<Vec<u8>, AppError> {
        let failed = |e: crate::render::RenderError| AppError::new(e.to_string());
        match self {
            Self::Page(format) => crate::render::render(record, beside, *format)
                .map(String::into_bytes)
                .map_err(failed),
            Self::Template(_, name, text) => crate::render::render_with(record, beside, text)
                .map(String::into_bytes)
                .map_err(|e| AppError::new(e.within(name, text))),
            Self::Pdf(paper) => crate::render::render_pdf(record, beside, *paper).map_err(failed),
            Self::Csv => Ok([csv_head(), csv_rows(record, beside)].concat()),
            Self::Json => serde_json::to_vec_pretty(record)
                .map(|mut bytes| {
                    bytes.push(b'\n');
                    bytes
                })
                .map_err(|e| AppError::new(e.to_string())),
        }
    }
}

/// Renders one record or many, or prints what helps to shape renderings.
pub(super) fn render(host: &RealHost, shop: Option<&Path>, asked: &RenderArguments) -> Done {
    if asked.words {
        return hand_over(
            host,
            asked.output.as_deref(),
            house::empty_words().as_bytes(),
        );
    }
    if asked.starter {
        let format = Format::from_name(&asked.to);
        let format = format.ok_or_else(|| {
            AppError::new(format!(
                "`--to {}` has no template; take text, md or html",
                asked.to
            ))
        })?;
        return hand_over(host, asked.output.as_deref(), format.template().as_bytes());
    }
    let root = match asked.many.all {
        true => Some(here(host, shop)?),
        false => here(host, shop).ok(),
    };
    let form = Form::of(host, root.as_deref(), asked)?;
    let house = house::house(host, root.as_deref())?;
    match (&root, &asked.record) {
        (Some(root), None) => many::render(host, &Paths::at(root), &form, &house, asked),
        (root, record) => {
            let record = record.as_deref().unwrap_or_default();
            one(host, root.as_deref(), record, &form, house, asked)
        }
    }
}

fn one(
    host: &RealHost,
    root: Option<&Path>,
    record: &str,
    form: &Form,
    house: House,
    asked: &RenderArguments,
) -> Done {
    let (path, record) = app::read_record(host, root.map(Paths::at).as_ref(), record)?;
    let beside = beside(host, &path, house)?;
    let bytes = if asked.context {
        let seen = crate::render::context(&record, &beside);
        format!("{seen:#}\n").into_bytes()
    } else {
        form.write(&record, &beside)?
    };
    let good = told(&beside, "this record");
    hand_over(host, asked.output.as_deref(), &bytes)?;
    Ok(if good { GOOD } else { NO })
}

/// Says on the side what does not verify; gives whether all does.
pub(super) fn told(beside: &Beside, record: &str) -> bool {
    if let Some(first) = beside.doubts.first() {
        eprintln!("stepwell: {record} does not verify: {}", plain(first));
    }
    let doubtful = beside.amendments.iter().find(|a| !a.doubts.is_empty());
    if let Some(addition) = doubtful {
        let (id, doubt) = (plain(&addition.id), plain(&addition.doubts[0]));
        eprintln!("stepwell: the amendment {id} does not verify: {doubt}");
    }
    beside.doubts.is_empty() && doubtful.is_none()
}

/// Writes bytes into a file, or to whoever reads the program's output.
pub(super) fn hand_over(host: &RealHost, output: Option<&Path>, bytes: &[u8]) -> Done {
    if output.is_none() && is_pdf(bytes) && std::io::stdout().is_terminal() {
        return Err(AppError::new(
            "a PDF can't be read on a terminal; say where it goes with `--output FILE`",
        ));
    }
    match output {
        Some(file) => host
            .write(file, bytes)
            .map_err(|e| AppError::at(file, &e))?,
        None => print_bytes(bytes),
    }
    Ok(GOOD)
}

/// The label of a device after its test.
pub(super) fn label(
    host: &RealHost,
    shop: Option<&Path>,
    record: &str,
    to: &str,
    output: Option<&Path>,
) -> Done {
    let root = here(host, shop).ok();
    let paths = root.as_deref().map(Paths::at);
    let (path, record) = app::read_record(host, paths.as_ref(), record)?;
    let beside = beside(host, &path, house::house(host, root.as_deref())?)?;
    let id = plain(&record.record);
    let refused = |why: String| Err(AppError::new(format!("{id} gets no label: {why}")));
    if record.trial {
        return refused("it was a trial, which proves nothing about the device".to_owned());
    }
    if record.other_device {
        return refused("its recipe is for other devices".to_owned());
    }
    if let Some(doubt) = beside.doubts.first() {
        return refused(format!("it does not verify: {}", plain(doubt)));
    }
    let amendments = beside
        .amendments
        .iter()
        .filter_map(|a| a.amendment.as_ref());
    if let Some(void) = amendments.clone().find(|a| a.void) {
        return refused(format!("{} declares it void", plain(&void.amendment)));
    }
    if let Some(other) = amendments.filter_map(|a| a.correction.as_ref()).next() {
        let other = plain(&other.record);
        return refused(format!("{other} holds instead; `stepwell label {other}`"));
    }
    let passed = matches!(record.verdict.as_str(), "pass" | "pass with remarks");
    let overtaken = match passed {
        true => app::overtaken(host, paths.as_ref(), &path, &record)?,
        false => None,
    };
    if let Some(newer) = overtaken {
        return refused(by_newer(&newer));
    }
    let next = match &root {
        Some(root) if passed => app::due_again(host, root, &record.device.tag)?,
        _ => None,
    };
    let next = next.map(|due| NextDue {
        day: due.day.to_string(),
        recipe: match due.task {
            Task::Check(recipe) => recipe,
            Task::Calibration | Task::Upkeep(_) => None,
        },
        overdue: due.days < 0,
    });
    let kept = is_after_incident(&record.occasion);
    let label = Label::of(&record, &Beside { kept, ..beside }, next.as_ref());
    if to == "pdf" {
        let page = crate::render::pdf::label(&label, &record.finished);
        let page = page.map_err(|e| AppError::new(e.to_string()))?;
        return hand_over(host, output, &page);
    }
    match output {
        Some(file) => hand_over(host, Some(file), label.text().as_bytes()),
        None => {
            print(&label.text());
            Ok(GOOD)
        }
    }
}

/// Why a newer record of the device leaves an older pass no label.
fn by_newer(newer: &OfDevice) -> String {
    let (id, recipe) = (plain(&newer.stored.record), plain(&newer.recipe));
    let verdict = &newer.stored.verdict;
    format!(
        "{id} of the same device is newer (`{recipe}`, {verdict}), and the device does not pass by it; `stepwell label {id}` prints its label, and a later pass by `{recipe}` frees this one"
    )
}

/// A page of a record.
pub(super) fn page(record: &Record, beside: &Beside, format: Format) -> Result<Vec<u8>, AppError> {
    Form::Page(format).write(record, beside)
}

/// What the shop knows beside a record.
pub(super) fn beside(host: &dyn Host, record: &Path, house: House) -> Result<Beside, AppError> {
    Ok(known(app::surroundings(host, record)?, house))
}

/// The same, where it was found already.
pub(super) fn known(around: Surroundings, house: House) -> Beside {
    let additions = |all: Vec<KeptAmendment>| all.into_iter().map(addition).collect();
    Beside {
        kept: false,
        doubts: around.doubts,
        signatures: around.signatures,
        good: around.good,
        text: around.text,
        files: around.files,
        amendments: additions(around.amendments),
        corrects: additions(around.corrects),
        holds: around.holds,
        names: around.names,
        house,
    }
}

fn addition(kept: KeptAmendment) -> Addition {
    let stem = kept.path.file_stem();
    Addition {
        id: stem.map_or_else(String::new, |s| s.to_string_lossy().into_owned()),
        doubts: kept.doubts(),
        text: kept.text,
        amendment: kept.amendment,
    }
}
