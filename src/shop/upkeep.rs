//! What was done for instruments: one line each in `upkeep-BENCH.jsonl`, so that two folders merge by copying.
//!
//! Never in here: how often it is to be done. Changes only with the version, or by fields that may be missing.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::text::{Code, Finding, Source, Span};

use super::interval::read_day;

/// Version of the lines.
const VERSION: u32 = 1;

/// The task whose lines tell of a new certificate.
pub const CALIBRATION: &str = "calibration";

/// Something that was done for an instrument.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Upkeep {
    /// The instrument.
    pub instrument: String,
    /// What was done: a task of its upkeep, or [`CALIBRATION`].
    pub what: String,
    /// Who did it, or entered it.
    pub by: String,
    /// The day on which it was done.
    pub on: Date,
    /// When it was entered.
    pub at: String,
    /// A remark; empty where there is none.
    pub note: String,
    /// The certificate before a calibration.
    pub former_certificate: Option<String>,
    /// The certificate of a calibration.
    pub certificate: Option<String>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    upkeep: u32,
    instrument: String,
    what: String,
    by: String,
    on: String,
    at: String,
    #[serde(default)]
    note: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    former_certificate: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    certificate: Option<String>,
}

/// The line that is kept of something done: canonical JSON (RFC 8785) and a line feed.
///
/// # Errors
/// None that text can bring about.
pub fn upkeep_line(done: &Upkeep) -> Result<String, String> {
    let line = Line {
        upkeep: VERSION,
        instrument: done.instrument.clone(),
        what: done.what.clone(),
        by: done.by.clone(),
        on: done.on.to_string(),
        at: done.at.clone(),
        note: done.note.clone(),
        former_certificate: done.former_certificate.clone(),
        certificate: done.certificate.clone(),
    };
    serde_json_canonicalizer::to_string(&line)
        .map(|text| text + "\n")
        .map_err(|e| e.to_string())
}

/// Reads a file of lines; one that can't be read is a finding, and the others count.
#[must_use]
pub fn read_upkeep(source: &Source) -> (Vec<Upkeep>, Vec<Finding>) {
    let (mut done, mut findings) = (Vec::new(), Vec::new());
    let mut start = 0;
    for line in source.text.split_inclusive('\n') {
        let text = line.trim();
        let read = if text.is_empty() {
            None
        } else {
            Some(read(text))
        };
        match read {
            Some(Ok(one)) => done.push(one),
            Some(Err(message)) => findings.push(Finding {
                code: Code::ShopFault,
                message,
                help: "mend the line, or remove it and enter what was done again".to_owned(),
                source: source.clone(),
                span: Span {
                    start,
                    end: start + line.trim_end().len(),
                },
                path: String::new(),
                chain: Vec::new(),
            }),
            None => {}
        }
        start += line.len();
    }
    (done, findings)
}

fn read(text: &str) -> Result<Upkeep, String> {
    let line: Line = serde_json::from_str(text)
        .map_err(|e| format!("this line is not of something done: {}", plain(&e)))?;
    if line.upkeep != VERSION {
        return Err(format!(
            "this line is of version {}; this program reads version {VERSION}",
            line.upkeep
        ));
    }
    let on = read_day(&line.on).map_err(|e| e.message)?;
    Ok(Upkeep {
        instrument: line.instrument,
        what: line.what,
        by: line.by,
        on,
        at: line.at,
        note: line.note,
        former_certificate: line.former_certificate,
        certificate: line.certificate,
    })
}

/// The reader's words without the place, which the finding has.
fn plain(error: &serde_json::Error) -> String {
    let text = error.to_string();
    text.split(" at line").next().unwrap_or_default().to_owned()
}
