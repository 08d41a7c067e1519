//! `render`: a completed record for a reader.
//!
//! Never in here: what is told and how it looks (see the render room). Changes when `render` takes another option.

use std::path::Path;

use crate::app::{self, AppError, KeptAmendment};
use crate::host::{Host, RealHost};
use crate::record::Record;
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
    output: Option<&Path>,
) -> Done {
    let paths = here(host, shop).ok().map(|root| Paths::at(&root));
    let (path, record) = app::read_record(host, paths.as_ref(), record)?;
    let beside = beside(host, &path)?;
    let text = match template {
        Some(file) => {
            let source = app::read_source(host, file)?
                .map_err(|finding| AppError::Findings(vec![finding]))?;
            crate::render::render_with(&record, &beside, &source.text)
                .map_err(|e| AppError::new(format!("{}: {e}", file.display())))?
        }
        None => rendered(&record, &beside, to)?,
    };
    if let Some(first) = beside.doubts.first() {
        eprintln!("stepwell: this record does not verify: {}", plain(first));
    }
    let doubtful = beside.amendments.iter().find(|a| !a.doubts.is_empty());
    if let Some(addition) = doubtful {
        let (id, doubt) = (plain(&addition.id), plain(&addition.doubts[0]));
        eprintln!("stepwell: the amendment {id} does not verify: {doubt}");
    }
    match output {
        Some(file) => host
            .write(file, text.as_bytes())
            .map_err(|e| AppError::at(file, &e))?,
        None => print(&text),
    }
    let good = beside.doubts.is_empty() && doubtful.is_none();
    Ok(if good { GOOD } else { NO })
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
