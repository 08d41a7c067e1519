//! A record as one line of JSON with what the shop knows beside it, for programs that take in many.
//!
//! Never in here: what a record holds (see `record::wire`). Changes only with the version and `schema/export.schema.json`,
//! or by fields that may be missing.

use serde::Serialize;

use crate::record::Record;

use super::beside::{Addition, Beside};

/// Version of the export's form.
pub const EXPORT_FORMAT: u32 = 1;

/// A line.
#[derive(Serialize)]
struct Exported<'r> {
    export: u32,
    verifies: bool,
    doubts: &'r [String],
    signatures: Option<&'r str>,
    amendments: &'r [Addition],
    corrects: &'r [Addition],
    record: &'r Record,
}

/// The line of a record, with its line feed. The record stands in it unchanged.
#[must_use]
pub fn json_line(record: &Record, beside: &Beside) -> Vec<u8> {
    let line = Exported {
        export: EXPORT_FORMAT,
        verifies: beside.doubts.is_empty(),
        doubts: &beside.doubts,
        signatures: beside.signatures.as_deref(),
        amendments: &beside.amendments,
        corrects: &beside.corrects,
        record,
    };
    let mut out = serde_json::to_vec(&line).expect("a record has a form as data");
    out.push(b'\n');
    out
}
