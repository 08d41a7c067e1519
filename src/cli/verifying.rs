//! `verify`: what came of it, a line a record, or the whole report.
//!
//! Never in here: what is verified (see `app`). Changes when the report does.

use std::path::Path;

use serde_json::{Value, json};

use crate::app::{self, AMENDMENTS, FileCheck, FileKind, Verified};
use crate::host::RealHost;
use crate::record::{Answer, Check};
use crate::shop::Paths;

use super::arguments::Form;
use super::begun::trial;
use super::commands::{Done, GOOD, NO, here, print};
use super::fitted::report;
use super::show::plain;

/// Verifies records, or a whole shop.
pub(super) fn verify(
    host: &RealHost,
    shop: Option<&Path>,
    records: &[String],
    full: bool,
    format: Form,
) -> Done {
    let found = here(host, shop).map(|root| Paths::at(&root));
    let mut report = Report {
        full: full || records.len() == 1,
        format,
        good: true,
        told: 0,
        records: 0,
        bad: 0,
        bad_files: Vec::new(),
    };
    let mut tell = |verified: Verified| report.record(&verified);
    if records.is_empty() {
        let files = app::verify_shop(host, &found?, &mut tell)?;
        files.iter().for_each(|file| report.file(file));
        report.count();
    } else {
        app::verify_records(host, found.ok().as_ref(), records, &mut tell)?;
    }
    report.end();
    Ok(if report.good { GOOD } else { NO })
}

/// How the check of the pages of a PDF is called.
const PAGES: &str = "pages";

/// What a reader of one line must know: what is bad first, what was added, and what could not be told. Each once.
fn notes(checks: &[Check]) -> Vec<String> {
    let bad = checks.iter().find(|c| c.answer == Answer::Bad);
    let added = |c: &&Check| c.what == AMENDMENTS;
    let unknown = |c: &&Check| c.answer == Answer::NotKnown;
    let mut notes: Vec<String> = bad
        .map(|c| format!("{}: {}", c.what, c.reason))
        .into_iter()
        .collect();
    for check in checks
        .iter()
        .filter(|c| c.what != PAGES)
        .filter(added)
        .chain(
            checks
                .iter()
                .filter(|c| c.what != PAGES)
                .filter(unknown)
                .filter(|_| bad.is_none()),
        )
    {
        if !notes.contains(&check.reason) {
            notes.push(check.reason.clone());
        }
    }
    notes
}

/// What is printed as it becomes known.
struct Report {
    full: bool,
    format: Form,
    good: bool,
    /// How many objects JSON has so far.
    told: usize,
    records: usize,
    /// Those among them that are bad.
    bad: usize,
    /// What else is bad: each file once.
    bad_files: Vec<FileKind>,
}

/// What files are called, one and several.
const FILES: [(FileKind, &str, &str); 4] = [
    (FileKind::Ledger, "ledger", "ledgers"),
    (
        FileKind::Approvals,
        "ledger of approvals",
        "ledgers of approvals",
    ),
    (FileKind::Text, "approved text", "approved texts"),
    (FileKind::Amendment, "amendment", "amendments"),
];

impl Report {
    fn record(&mut self, verified: &Verified) {
        self.records += 1;
        let bad = verified.is_bad();
        self.good &= !bad;
        self.bad += usize::from(bad);
        let file = verified.path.display().to_string();
        let (text, json) = match &verified.outcome {
            Err(error) => (
                format!("bad  {file}: {error}\n"),
                json!({"file": file, "ok": false, "error": error, "checks": []}),
            ),
            Ok((record, checks)) => {
                let word = if bad { "bad" } else { "ok " };
                let (id, tag) = (&record.record, plain(&record.device.tag));
                let verdict = format!("({}{})", record.verdict, trial(record));
                // Of a PDF nothing but what it carries was looked at.
                let mut text = match checks.iter().any(|c| c.what == PAGES) {
                    false => format!("{word}  {id} {tag} {verdict}"),
                    true => format!(
                        "{word}  {id} {tag} {verdict}, the record that the PDF carries; its pages were NOT compared with it"
                    ),
                };
                for note in notes(checks) {
                    text += &format!("; {}", plain(&note));
                }
                text.push('\n');
                for check in checks
                    .iter()
                    .filter(|c| self.full || c.answer == Answer::Bad)
                {
                    let (answer, reason) = (check.answer.word(), plain(&check.reason));
                    text += &format!("     {:20} {answer:10} {reason}\n", check.what);
                }
                let checks: Vec<Value> = checks
                    .iter()
                    .map(|c| json!({"what": c.what, "answer": c.answer.word(), "reason": c.reason}))
                    .collect();
                (
                    text,
                    json!({"file": file, "record": id, "verdict": record.verdict, "ok": !bad, "checks": checks}),
                )
            }
        };
        self.tell(&text, &json);
    }

    fn file(&mut self, of: &FileCheck) {
        self.good &= of.faults.is_empty();
        if !of.faults.is_empty() {
            self.bad_files.push(of.kind);
        }
        let file = of.path.display().to_string();
        let text = match &of.faults[..] {
            [] if self.full => format!("ok   {file}: {}\n", of.holds),
            [] => String::new(),
            faults => faults
                .iter()
                .map(|f| format!("bad  {file}: {}\n", plain(f)))
                .collect(),
        };
        let json = json!({"file": file, "ok": of.faults.is_empty(), "holds": of.holds, "faults": of.faults});
        self.tell(&text, &json);
    }

    /// How much of a shop is good: what is bad may have gone off the screen.
    fn count(&self) {
        if self.format != Form::Text || (self.records == 0 && self.bad_files.is_empty()) {
            return;
        }
        let (all, bad) = (self.records, self.bad);
        let records = if all == 1 { "record" } else { "records" };
        let files = FILES.iter().filter_map(|(kind, one, several)| {
            match self.bad_files.iter().filter(|k| *k == kind).count() {
                0 => None,
                1 => Some(format!("1 {one}")),
                n => Some(format!("{n} {several}")),
            }
        });
        let files: Vec<String> = files.collect();
        let files = match files.is_empty() {
            true => String::new(),
            false => format!("; {} bad", files.join(", ")),
        };
        print(&format!("{all} {records}, {bad} bad{files}\n"));
    }

    fn tell(&mut self, text: &str, json: &Value) {
        match self.format {
            Form::Text => print(&report(text)),
            Form::Json => {
                let before = if self.told == 0 { "[\n" } else { ",\n" };
                print(&format!("{before}{json}"));
            }
        }
        self.told += 1;
    }

    fn end(&self) {
        match (self.format, self.told) {
            (Form::Json, 0) => print("[]\n"),
            (Form::Json, _) => print("\n]\n"),
            (Form::Text, _) if self.records == 0 && self.bad_files.is_empty() => {
                print("no records yet\n");
            }
            (Form::Text, _) => {}
        }
    }
}
