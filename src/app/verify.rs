//! `verify`: records one by one, and the shop's ledgers and approvals as a whole.
//!
//! Never in here: what a record says of itself (see the record room). Changes when something else can be wrong.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use crate::host::Host;
use crate::plan::Plan;
use crate::record::{Again, Answer, Check, Known, Record, verify_session};
use crate::shop::{ApprovalAct, Paths, RecordAct};
use crate::trust::{Act, Entry, Ledger, digest_bytes};

use super::AppError;
use super::along;
use super::amendments::{AMENDMENTS, KeptAmendment};
use super::open::read_source;
use super::proof::{Proof, check, shop_of, signatures_alone};
use super::records::{MAX_RECORD, RecordFile, all_records, locate};
use super::signers::Doubt;

/// How many records are held at once.
const AT_ONCE: usize = 256;

/// A record's checks; the reason where it can't be read at all.
#[derive(Debug)]
pub struct Verified {
    /// The file.
    pub path: PathBuf,
    /// The checks.
    pub outcome: Result<(Box<Record>, Vec<Check>), String>,
}

impl Verified {
    /// Whether something is wrong with it.
    #[must_use]
    pub fn is_bad(&self) -> bool {
        let bad = |checks: &[Check]| checks.iter().any(|c| c.answer == Answer::Bad);
        self.outcome
            .as_ref()
            .map_or(true, |(_, checks)| bad(checks))
    }
}

/// What a file of a shop is, besides a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// A ledger of records.
    Ledger,
    /// A ledger of approvals.
    Approvals,
    /// The text of an approved recipe.
    Text,
    /// An amendment of a record.
    Amendment,
}

/// A ledger or another file of the shop.
#[derive(Clone, Debug)]
pub struct FileCheck {
    /// What it is.
    pub kind: FileKind,
    /// The file.
    pub path: PathBuf,
    /// What it holds, in words.
    pub holds: String,
    /// What is wrong with it.
    pub faults: Vec<String>,
}

/// A record with its checks, and its session as it was run again for them.
pub(super) type Examined = (Box<Record>, Vec<Check>, Option<Again>);

/// A record's file, with what is around it.
#[derive(Clone, Copy)]
pub(super) struct Around<'a> {
    pub host: &'a dyn Host,
    pub proof: Option<&'a Proof>,
    pub known: &'a Known,
    /// Whether signatures are looked at.
    pub signatures: bool,
    /// Whether it is a PDF that carries a copy of the record, made at some time.
    pub copy: bool,
}

impl Around<'_> {
    fn verify(&self, path: &Path) -> Result<Verified, AppError> {
        Ok(self.held(path, &RecordFile::read(self.host, path)?))
    }

    fn held(&self, path: &Path, held: &RecordFile) -> Verified {
        let attached = |digest: &str| held.attached(self.host, path, digest);
        let around = Self {
            copy: held.is_pdf(),
            ..*self
        };
        let outcome = match std::str::from_utf8(&held.text) {
            Ok(text) => around.session(path, text, &attached),
            Err(_) => Err("not UTF-8 text".to_owned()),
        };
        Verified {
            path: path.to_owned(),
            outcome: outcome.map(|(record, mut checks, _)| {
                around.of_pdf(held, &record, &mut checks);
                (record, checks)
            }),
        }
    }

    /// The record of a file's text, its checks, and its session as it was run again for them.
    pub fn session(
        &self,
        path: &Path,
        text: &str,
        attached: &dyn Fn(&str) -> Option<Vec<u8>>,
    ) -> Result<Examined, String> {
        let (record, own, session) = verify_session(text, attached, self.known)?;
        let mut own = own.into_iter();
        let mut checks: Vec<Check> = own.by_ref().take(1).collect();
        let sealed = checks.iter().all(|seal| seal.answer == Answer::Ok);
        match self.shop_for(&record) {
            Some(proof) => {
                let signed = self.signatures.then(|| proof.signatures(&record));
                checks.extend(signed.map(|c| of_seal(c, &record, sealed)));
                checks.push(proof.ledger(&record, text.as_bytes(), self.copy));
                checks.extend(own.map(in_shop));
                checks.push(proof.approval(&record));
                checks.extend(proof.session(&record));
                checks.extend(proof.amended(&record.record));
            }
            None => {
                let outside = self.strange();
                let signed = self.signatures.then(|| signatures_alone(&record));
                checks.extend(signed.map(|c| of_seal(c, &record, sealed)));
                checks.push(check("ledger", Answer::NotKnown, outside));
                checks.extend(own);
                checks.push(check("approval", Answer::NotKnown, outside));
            }
        }
        checks.push(self.own_name(path, &record));
        Ok((Box::new(record), checks, session))
    }

    /// The shop that a record is held against. A PDF may be of another one than that which one stands in.
    fn shop_for(&self, record: &Record) -> Option<&Proof> {
        self.proof
            .filter(|proof| !self.copy || proof.has_bench(&record.bench))
    }

    /// What a copy is that no shop here knows.
    fn strange(&self) -> &'static str {
        match self.proof {
            Some(_) => "a copy from another shop, whose bench this one does not know",
            None => "a copy outside a shop's folder",
        }
    }

    /// Whether a record in a shop's folder lies under its own name: a copy under another one stands for a test that never was.
    fn own_name(&self, path: &Path, record: &Record) -> Check {
        let year = record.record.rsplit('-').nth(1);
        let folder = path.parent().and_then(Path::file_name);
        let file = path.display();
        let (answer, reason) = match path.file_stem() {
            _ if shop_of(path).is_none() => {
                let known = self.shop_for(record).is_some();
                let what = match known {
                    true => "a copy, not the file in the shop's records",
                    false => self.strange(),
                };
                (Answer::NotKnown, what.to_owned())
            }
            Some(stem) if stem == record.record.as_str() => {
                if folder.and_then(|f| f.to_str()) == year {
                    (Answer::Ok, "the file is named after the record".to_owned())
                } else {
                    (
                        Answer::Bad,
                        format!("{file} lies in the folder of another year"),
                    )
                }
            }
            _ => (
                Answer::Bad,
                format!("{file} holds the record {}", record.record),
            ),
        };
        check("name", answer, reason)
    }

    /// What is to be said of a PDF besides the record that it carries.
    fn of_pdf(&self, held: &RecordFile, record: &Record, checks: &mut Vec<Check>) {
        if !held.is_pdf() {
            return;
        }
        let mut added = along::added(held, record);
        if let Some(why) = held.astray(&record.attachments, added.len()) {
            checks.retain(|c| c.what != "attachments");
            checks.push(check("attachments", Answer::Bad, why));
        }
        if let Some(proof) = self.shop_for(record) {
            let own: Vec<String> = proof
                .amendments_of(&record.record)
                .map(KeptAmendment::name)
                .collect();
            added.retain(|kept| !own.contains(&kept.name()));
        }
        checks.extend(along::alone(&added));
        if let Some(title) = held.strange_title(&record.record) {
            let why = format!("they are not of this record: their title is `{title}`");
            checks.push(check("pages", Answer::Bad, why));
            return;
        }
        checks.push(match held.is_cut() {
            true => check(
                "pages",
                Answer::Bad,
                "the PDF is damaged: its end is missing; the record in it is told of above, and `render` makes the pages anew",
            ),
            false => check(
                "pages",
                Answer::NotKnown,
                "not compared with the record that the PDF carries, which alone counts; `render` makes them anew",
            ),
        });
    }
}

/// What was found of signatures; of a record whose seal does not fit, that they are about the seal and not about what it holds.
fn of_seal(found: Check, record: &Record, sealed: bool) -> Check {
    if sealed || found.answer == Answer::Bad || record.seal.signatures.is_empty() {
        return found;
    }
    let signs = match record.seal.signatures.len() {
        1 => "the signature fits the seal",
        _ => "the signatures fit the seal",
    };
    Check {
        answer: Answer::Bad,
        reason: format!("{signs}, but not this content: {}", found.reason),
        ..found
    }
}

/// Verifies records named by id or path, in their order; `tell` gets each as soon as it is known.
///
/// # Errors
/// Those of the system.
pub fn verify_records(
    host: &dyn Host,
    shop: Option<&Paths>,
    records: &[String],
    tell: &mut dyn FnMut(Verified),
) -> Result<(), AppError> {
    let known = Known::default();
    let mut proof: Option<(PathBuf, Proof)> = None;
    for record in records {
        let path = locate(host, shop, record);
        let held = RecordFile::read(host, &path)?;
        let absolute = std::path::absolute(&path).unwrap_or_else(|_| path.clone());
        // A PDF lies anywhere; it is held against the shop that one stands in.
        let standing = shop.filter(|_| held.is_pdf()).map(|s| s.root.as_path());
        let root = shop_of(&absolute).or(standing);
        match root.filter(|root| host.exists(&root.join("shop.yaml"))) {
            Some(root) if proof.as_ref().is_none_or(|(of, _)| of != root) => {
                proof = Some((root.to_owned(), Proof::read(host, &Paths::at(root))?));
            }
            Some(_) => {}
            None => proof = None,
        }
        let around = Around {
            host,
            proof: proof.as_ref().map(|(_, p)| p),
            known: &known,
            signatures: true,
            copy: false,
        };
        tell(around.held(&path, &held));
    }
    Ok(())
}

/// Verifies all of a shop: its ledgers and approvals, then each record; `tell` gets each record in the order of their
/// names. No more than some hundred are held at once.
///
/// # Errors
/// Those of the system.
pub fn verify_shop(
    host: &dyn Host,
    paths: &Paths,
    tell: &mut dyn FnMut(Verified),
) -> Result<Vec<FileCheck>, AppError> {
    let proof = Proof::read(host, paths)?;
    let known = Known::default();
    let around = Around {
        host,
        proof: Some(&proof),
        known: &known,
        signatures: true,
        copy: false,
    };
    let records = all_records(host, paths)?;
    for some in records.chunks(AT_ONCE) {
        let verified: Vec<Result<Verified, AppError>> =
            some.par_iter().map(|path| around.verify(path)).collect();
        for one in verified {
            tell(one?);
        }
    }
    files(host, &proof)
}

/// The shop's ledgers, and the texts that were approved.
fn files(host: &dyn Host, proof: &Proof) -> Result<Vec<FileCheck>, AppError> {
    let paths = &proof.paths;
    let mut all = Vec::new();
    let mut gone = proof.missing_numbers(host)?;
    for ledger in &proof.ledgers {
        let mut of = of_ledger(FileKind::Ledger, &paths.ledger(&ledger.bench), ledger);
        of.faults.extend(missing_records(host, paths, ledger));
        let (own, others) = gone
            .into_iter()
            .partition(|(bench, _)| *bench == ledger.bench);
        gone = others;
        let own: Vec<(&str, String)> = own;
        of.faults
            .extend(own.into_iter().map(|(_, id)| no_line(&id)));
        all.push(of);
    }
    all.extend(gone.into_iter().map(|(bench, id)| FileCheck {
        kind: FileKind::Ledger,
        path: paths.ledger(bench),
        holds: "nothing".to_owned(),
        faults: vec![no_line(&id)],
    }));
    let mut cut = proof.cut_approvals();
    for ledger in &proof.approval_ledgers {
        let mut of = of_ledger(FileKind::Approvals, &paths.approvals(&ledger.bench), ledger);
        of.faults
            .extend(cut.remove(ledger.bench.as_str()).map(was_cut));
        for entry in &ledger.entries {
            let about = entry.act.of();
            let line = entry.number;
            if let Err(Doubt::Bad(why)) = proof.signers.approval(entry)
                && !proof.approved_again(entry)
            {
                of.faults.push(format!("line {line}: {why}"));
            }
            if let Some(why) = proof.other_text(entry) {
                of.faults.push(format!("line {line}: {why}"));
            }
            if let Some(why) = by_its_author(host, paths, entry)? {
                of.faults.push(format!("line {line}: {why}"));
            }
            let kept = paths.approved_text(&about.digest);
            if !host.exists(&kept) {
                of.faults.push(format!(
                    "line {line}: the text that it is about is gone: {}",
                    kept.display()
                ));
            }
        }
        all.push(of);
    }
    all.extend(cut.into_iter().map(|(bench, record)| FileCheck {
        kind: FileKind::Approvals,
        path: paths.approvals(bench),
        holds: "nothing".to_owned(),
        faults: vec![was_cut(record)],
    }));
    all.extend(approved_texts(host, paths)?);
    all.extend(proof.amendments.iter().map(KeptAmendment::check));
    Ok(all)
}

/// Of a ledger of records.
fn no_line(record: &str) -> String {
    format!(
        "no line is about {record}, though records with later numbers were sealed: it was removed"
    )
}

/// Why an approval is not one of four eyes.
fn by_its_author(
    host: &dyn Host,
    paths: &Paths,
    line: &Entry<ApprovalAct>,
) -> Result<Option<String>, AppError> {
    let ApprovalAct::Approve(of) = &line.act else {
        return Ok(None);
    };
    let path = paths.approved_text(&of.digest);
    if !host.exists(&path) {
        return Ok(None);
    }
    // A text that can't be read is named at its own file.
    let Ok(source) = read_source(host, &path)? else {
        return Ok(None);
    };
    let plan = crate::recipe::read(source).plan;
    let author = plan.as_ref().and_then(Plan::author);
    Ok((author == Some(&of.by)).then(|| {
        format!(
            "`{}` wrote revision {} of `{}` and approved it",
            of.by, of.revision, of.recipe
        )
    }))
}

/// Of a ledger of approvals.
fn was_cut(record: &str) -> String {
    format!("was cut: a line is gone that stood here when {record} was sealed")
}

/// In a shop everything that a record rests on has to be there.
fn in_shop(check: Check) -> Check {
    match check.answer {
        Answer::NotKnown if check.what == "attachments" => Check {
            answer: Answer::Bad,
            ..check
        },
        _ => check,
    }
}

fn of_ledger<A: Act>(kind: FileKind, path: &Path, ledger: &Ledger<A>) -> FileCheck {
    let mut faults: Vec<String> = ledger.faults.iter().map(ToString::to_string).collect();
    if ledger.torn {
        faults.push("the last line is cut short".to_owned());
    }
    let head = ledger.entries.last().map_or("empty", |e| e.entry.as_str());
    let holds = match ledger.entries.len() {
        1 => format!("1 line: {head}"),
        n => format!("{n} lines, the last one is {head}"),
    };
    FileCheck {
        kind,
        path: path.to_owned(),
        holds,
        faults,
    }
}

/// Records that were sealed and are not there any longer.
fn missing_records(host: &dyn Host, paths: &Paths, ledger: &Ledger<RecordAct>) -> Vec<String> {
    let sealed = ledger.entries.iter().filter_map(|e| match &e.act {
        RecordAct::Seal { record, .. } => Some((e.number, record)),
        _ => None,
    });
    let gone = sealed.filter(|(_, record)| !host.exists(&paths.record(record)));
    gone.map(|(line, record)| {
        let path = paths.record(record);
        format!(
            "line {line}: the record {record} was removed: {} is not there",
            path.display()
        )
    })
    .collect()
}

/// The texts that were approved, each against the digest that names it.
fn approved_texts(host: &dyn Host, paths: &Paths) -> Result<Vec<FileCheck>, AppError> {
    let folder = paths.approved();
    let files = host.list(&folder).map_err(|e| AppError::at(&folder, &e))?;
    let texts = files
        .into_iter()
        .filter(|f| f.extension().is_some_and(|e| e == "yaml"));
    texts
        .map(|path| {
            let bytes = host
                .read(&path, MAX_RECORD)
                .map_err(|e| AppError::at(&path, &e))?;
            let digest = digest_bytes(&bytes);
            let faults = if paths.approved_text(&digest) == path {
                Vec::new()
            } else {
                vec!["was altered after it was approved".to_owned()]
            };
            Ok(FileCheck {
                kind: FileKind::Text,
                path,
                holds: "the text of an approved recipe".to_owned(),
                faults,
            })
        })
        .collect()
}

/// Why a record does not verify; empty if it does.
///
/// # Errors
/// Those of the system.
pub fn doubts(host: &dyn Host, path: &Path) -> Result<Vec<String>, AppError> {
    let mut all = Vec::new();
    let named = [path.display().to_string()];
    verify_records(host, None, &named, &mut |verified| match verified.outcome {
        Err(error) => all.push(error),
        Ok((_, checks)) => {
            // What was added to it says nothing against the record itself.
            let own = checks.into_iter().filter(|c| c.what != AMENDMENTS);
            let bad = own.filter(|c| c.answer == Answer::Bad);
            all.extend(bad.map(|c| format!("{}: {}", c.what, c.reason)));
        }
    })?;
    Ok(all)
}
