//! `render`: a completed record for a reader.
//!
//! Never in here: what is told and how it looks (see the render room). Changes when `render` takes another option.

use std::io::{IsTerminal, Write};
use std::path::Path;

use crate::app::{self, AppError, KeptAmendment, RecordFile};
use crate::host::{Host, RealHost};
use crate::record::Record;
use crate::render::pdf::Paper;
use crate::render::{Addition, Beside};
use crate::shop::Paths;

use super::commands::{Done, GOOD, NO, here, print};
use super::show::plain;

/// Renders a record.
pub(super) fn render(
    host: &RealHost,
    shop: Option<&Path>,
    record: &str,
    to: &str,
    template: Option<&Path>,
    paper: &str,
    output: Option<&Path>,
) -> Done {
    let paths = here(host, shop).ok().map(|root| Paths::at(&root));
    let (path, record) = app::read_record(host, paths.as_ref(), record)?;
    let beside = beside(host, &path)?;
    if to == "pdf" {
        let pages = pages(host, (&path, &record), &beside, paper)?;
        out(host, output, &pages)?;
        return Ok(told(&beside));
    }
    let text = match template {
        Some(file) => {
            let source = app::read_source(host, file)?
                .map_err(|finding| AppError::Findings(vec![finding]))?;
            crate::render::render_with(&record, &beside, &source.text)
                .map_err(|e| AppError::new(format!("{}: {e}", file.display())))?
        }
        None => rendered(&record, &beside, to)?,
    };
    match output {
        Some(file) => host
            .write(file, text.as_bytes())
            .map_err(|e| AppError::at(file, &e))?,
        None => print(&text),
    }
    Ok(told(&beside))
}

/// Says what is doubtful of a record; whether nothing is.
fn told(beside: &Beside) -> u8 {
    if let Some(first) = beside.doubts.first() {
        eprintln!("stepwell: this record does not verify: {}", plain(first));
    }
    let doubtful = beside.amendments.iter().find(|a| !a.doubts.is_empty());
    if let Some(addition) = doubtful {
        let (id, doubt) = (plain(&addition.id), plain(&addition.doubts[0]));
        eprintln!("stepwell: the amendment {id} does not verify: {doubt}");
    }
    let good = beside.doubts.is_empty() && doubtful.is_none();
    if good { GOOD } else { NO }
}

/// The pages of a record, with its file attached.
fn pages(
    host: &dyn Host,
    (path, record): (&Path, &Record),
    beside: &Beside,
    paper: &str,
) -> Result<Vec<u8>, AppError> {
    let paper = Paper::from_name(paper)
        .ok_or_else(|| AppError::new(format!("there is no paper `{paper}`")))?;
    let held = RecordFile::read(host, path)?;
    let mut carried = vec![(format!("{}.json", record.record), held.text)];
    for (file, bytes) in record.attachments.iter().zip(&beside.files) {
        carried.extend(bytes.iter().map(|b| (file.name.clone(), b.to_vec())));
    }
    crate::render::render_pdf(record, beside, carried, paper)
        .map_err(|e| AppError::new(e.to_string()))
}

/// Writes pages into a file, or to a program that takes them.
pub(super) fn out(host: &RealHost, output: Option<&Path>, pages: &[u8]) -> Result<(), AppError> {
    if let Some(file) = output {
        return host.write(file, pages).map_err(|e| AppError::at(file, &e));
    }
    if std::io::stdout().is_terminal() {
        return Err(AppError::new(
            "a PDF can't be read on a terminal; say where it goes with `--output FILE`".to_owned(),
        ));
    }
    std::io::stdout()
        .write_all(pages)
        .map_err(|e| AppError::new(format!("the PDF could not be written: {e}")))
}

/// The text of a rendering.
pub(super) fn rendered(record: &Record, beside: &Beside, to: &str) -> Result<String, AppError> {
    if to == "json" {
        return serde_json::to_string_pretty(record)
            .map(|t| t + "\n")
            .map_err(|e| AppError::new(e.to_string()));
    }
    let format = crate::render::Format::from_name(to)
        .ok_or_else(|| AppError::new(format!("there is no form `{to}`")))?;
    crate::render::render(record, beside, format).map_err(|e| AppError::new(e.to_string()))
}

/// What the shop knows beside a record.
pub(super) fn beside(host: &dyn Host, record: &Path) -> Result<Beside, AppError> {
    let around = app::surroundings(host, record)?;
    let additions = |all: Vec<KeptAmendment>| all.into_iter().map(addition).collect();
    Ok(Beside {
        doubts: around.doubts,
        signatures: around.signatures,
        amendments: additions(around.amendments),
        corrects: additions(around.corrects),
        files: around.files,
    })
}

fn addition(kept: KeptAmendment) -> Addition {
    let stem = kept.path.file_stem();
    Addition {
        id: stem.map_or_else(String::new, |s| s.to_string_lossy().into_owned()),
        doubts: kept.doubts(),
        amendment: kept.amendment,
    }
}
