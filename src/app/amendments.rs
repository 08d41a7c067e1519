//! What was added to sealed records, read and held against the ledgers, people's keys and the records themselves.
//!
//! Never in here: writing them (see `amend`). Changes when an amendment rests on something new.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::host::Host;
use crate::record::{Amendment, Answer, Attachment, Check, Pointed, Record};
use crate::shop::{Deed, Paths, RecordAct};
use crate::trust::{Entry, RECORD, digest_bytes};

use super::AppError;
use super::proof::{Proof, check, shop_of};
use super::records::RecordFile;
use super::signers::Doubt;
use super::verify::{FileCheck, FileKind, Verified, verify_records};

/// The role in which somebody signs what they add.
pub const AMENDMENT: &str = "amendment";
/// The name of the check of a record's amendments.
pub const AMENDMENTS: &str = "amendments";
/// Largest file, in bytes.
pub(super) const MAX_AMENDMENT: u64 = 1024 * 1024;

/// An amendment's file, with what is wrong with it.
#[derive(Clone, Debug)]
pub struct KeptAmendment {
    /// The file.
    pub path: PathBuf,
    /// What it holds; nothing where it is gone or can't be read.
    pub amendment: Option<Amendment>,
    /// The record that it is about, as far as that is known.
    pub record: Option<String>,
    /// What is wrong, besides a line that the ledger does not have.
    pub faults: Vec<String>,
    /// Whether a ledger has it.
    pub entered: bool,
}

impl KeptAmendment {
    /// All that is wrong.
    #[must_use]
    pub fn doubts(&self) -> Vec<String> {
        let mut all = self.faults.clone();
        if !self.entered {
            all.push(
                "is not in the ledger; where a fault kept it out, the same `stepwell amend` again completes it"
                    .to_owned(),
            );
        }
        all
    }

    pub(super) fn check(&self) -> FileCheck {
        let about = self.record.as_deref().unwrap_or("a record");
        FileCheck {
            kind: FileKind::Amendment,
            path: self.path.clone(),
            holds: format!("an amendment of {about}"),
            faults: self.doubts(),
        }
    }

    fn name(&self) -> String {
        let stem = self.path.file_stem();
        stem.map_or_else(String::new, |n| n.to_string_lossy().into_owned())
    }
}

/// The lines of the ledgers about amendments, by their ids.
type Lines<'p> = BTreeMap<&'p str, Vec<&'p Entry<RecordAct>>>;

fn lines(proof: &Proof) -> Lines<'_> {
    let mut lines = Lines::new();
    for entry in proof.ledgers.iter().flat_map(|l| &l.entries) {
        if let RecordAct::Amend { amendment, .. } = &entry.act {
            lines.entry(amendment).or_default().push(entry);
        }
    }
    lines
}

/// Reads and judges all amendments of a shop, with those that a ledger has and that are gone.
pub(super) fn read(host: &dyn Host, proof: &Proof) -> Result<Vec<KeptAmendment>, AppError> {
    let lines = lines(proof);
    let mut all = Vec::new();
    for path in files(host, &proof.paths)? {
        let bytes = host
            .read(&path, MAX_AMENDMENT)
            .map_err(|e| AppError::at(&path, &e))?;
        all.push(judged(proof, &lines, path, &bytes));
    }
    let gone = lines.iter().filter_map(|(id, lines)| {
        let path = proof.paths.amendment(id);
        let line = lines.first().filter(|_| !host.exists(&path))?;
        Some(KeptAmendment {
            path,
            amendment: None,
            record: Some(line.act.record().to_owned()),
            faults: vec![format!("was removed ({})", place(line))],
            entered: true,
        })
    });
    all.extend(gone);
    all.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(all)
}

/// The files of all amendments, by year and id.
pub(super) fn files(host: &dyn Host, paths: &Paths) -> Result<Vec<PathBuf>, AppError> {
    let root = paths.amendments();
    let mut all = Vec::new();
    for year in host.list(&root).map_err(|e| AppError::at(&root, &e))? {
        if host.is_folder(&year) {
            let files = host.list(&year).map_err(|e| AppError::at(&year, &e))?;
            let json = |f: &PathBuf| f.extension().is_some_and(|e| e == "json");
            all.extend(files.into_iter().filter(json));
        }
    }
    Ok(all)
}

/// Why a record does not count any longer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Overruled {
    /// This record holds instead.
    By(String),
    /// This amendment declares it void.
    Void(String),
}

impl std::fmt::Display for Overruled {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::By(record) => write!(f, "corrected by {record}, which holds instead"),
            Self::Void(amendment) => write!(f, "declared void by {amendment}"),
        }
    }
}

/// Records that don't count any longer, and why. What is wrong with an amendment `verify` says.
///
/// # Errors
/// Those of the system.
pub fn overruled(host: &dyn Host, paths: &Paths) -> Result<BTreeMap<String, Overruled>, AppError> {
    let mut corrected: BTreeMap<String, String> = BTreeMap::new();
    let mut all = BTreeMap::new();
    for path in files(host, paths)? {
        let bytes = host
            .read(&path, MAX_AMENDMENT)
            .map_err(|e| AppError::at(&path, &e))?;
        let Ok((amendment, _)) = Amendment::read(&bytes) else {
            continue;
        };
        if let Some(by) = amendment.correction {
            corrected.insert(amendment.of.record.clone(), by.record);
        }
        if amendment.void {
            all.insert(amendment.of.record, Overruled::Void(amendment.amendment));
        }
    }
    // Of a chain, the one at its end holds.
    let last = |record: &String| {
        let mut holds = record;
        for _ in 0..corrected.len() {
            holds = corrected.get(holds).unwrap_or(holds);
        }
        holds.clone()
    };
    for (of, by) in &corrected {
        all.entry(of.clone()).or_insert(Overruled::By(last(by)));
    }
    Ok(all)
}

fn place(line: &Entry<RecordAct>) -> String {
    format!("ledger of {}, line {}", line.bench, line.number)
}

fn judged(proof: &Proof, lines: &Lines<'_>, path: PathBuf, bytes: &[u8]) -> KeptAmendment {
    let stem = path.file_stem().and_then(|s| s.to_str());
    let named = stem.and_then(|s| lines.get(s));
    let (amendment, digest) = match Amendment::read(bytes) {
        Ok(read) => read,
        Err(why) => {
            let line = named.and_then(|l| l.first());
            return KeptAmendment {
                record: line.map(|l| l.act.record().to_owned()),
                entered: line.is_some(),
                amendment: None,
                faults: vec![why],
                path,
            };
        }
    };
    let mut faults: Vec<String> = own_name(&path, &amendment).into_iter().collect();
    if digest != amendment.seal.digest {
        faults.push("was altered after it was sealed".to_owned());
    }
    faults.extend(signed(proof, &amendment));
    faults.extend(points_at(proof, &amendment.of));
    let correction = amendment.correction.as_ref();
    faults.extend(correction.and_then(|c| points_at(proof, c)));
    let own = lines.get(amendment.amendment.as_str());
    let own = own.map(Vec::as_slice).unwrap_or_default();
    faults.extend(in_ledger(own, &amendment, bytes));
    KeptAmendment {
        record: Some(amendment.of.record.clone()),
        entered: !own.is_empty(),
        amendment: Some(amendment),
        faults,
        path,
    }
}

/// Whether it lies under its own name, in the folder of its year.
fn own_name(path: &Path, amendment: &Amendment) -> Option<String> {
    let id = &amendment.amendment;
    let year = path.parent().and_then(Path::file_name);
    let own = path.file_stem().is_some_and(|s| s == id.as_str())
        && year.and_then(|y| y.to_str()) == id.rsplit('-').nth(1);
    (!own).then(|| format!("the file holds the amendment {id}"))
}

fn signed(proof: &Proof, amendment: &Amendment) -> Option<String> {
    if amendment.seal.signatures.is_empty() && proof.signers.must_sign(&amendment.at) {
        return Some("not signed, and this shop requires it".to_owned());
    }
    amendment.seal.signatures.iter().find_map(|signature| {
        let statement = &signature.statement;
        let own = statement.digest == amendment.seal.digest
            && statement.by == amendment.by
            && statement.role == AMENDMENT;
        if !own {
            return Some("the signature is about something else".to_owned());
        }
        let held = proof.signers.holds(signature, RECORD);
        let held = held.and_then(|()| proof.signers.may(&amendment.by, Deed::Amend));
        match proof.signers.strictly(&amendment.at, held) {
            Err(Doubt::Bad(why)) => Some(why),
            Ok(()) | Err(Doubt::Unknown(_)) => None,
        }
    })
}

/// Whether the record that is pointed at was sealed with that digest.
fn points_at(proof: &Proof, of: &Pointed) -> Option<String> {
    let mut seals = proof.about(&of.record).filter_map(|e| match &e.act {
        RecordAct::Seal { digest, .. } => Some(digest),
        _ => None,
    });
    match seals.next() {
        None => Some(format!("points at {}, which no ledger has", of.record)),
        Some(digest) if *digest == of.digest => None,
        Some(_) => Some(format!("points at {} with another digest", of.record)),
    }
}

fn in_ledger(lines: &[&Entry<RecordAct>], amendment: &Amendment, bytes: &[u8]) -> Option<String> {
    if lines.len() > 1 {
        return Some(format!("was entered {} times", lines.len()));
    }
    let line = lines.first()?;
    let RecordAct::Amend {
        record,
        digest,
        file,
        ..
    } = &line.act
    else {
        return None;
    };
    if *file != digest_bytes(bytes) {
        return Some("the file was altered after it was entered".to_owned());
    }
    let same = *record == amendment.of.record
        && *digest == amendment.of.digest
        && line.bench == amendment.bench;
    (!same).then(|| format!("the {} has it otherwise", place(line)))
}

impl Proof {
    /// Those of a record.
    pub(super) fn amendments_of<'p>(
        &'p self,
        record: &'p str,
    ) -> impl Iterator<Item = &'p KeptAmendment> {
        let of = move |k: &&KeptAmendment| k.record.as_deref() == Some(record);
        self.amendments.iter().filter(of)
    }

    /// The check of a record's amendments, if it has any.
    pub(super) fn amended(&self, record: &str) -> Option<Check> {
        let mut told = Vec::new();
        for kept in self.amendments_of(record) {
            let name = kept.name();
            if let Some(doubt) = kept.doubts().first() {
                return Some(check(AMENDMENTS, Answer::Bad, format!("{name}: {doubt}")));
            }
            let correction = kept.amendment.as_ref().and_then(|a| a.correction.as_ref());
            let by = kept.amendment.as_ref().map_or("?", |a| a.by.as_str());
            let void = kept.amendment.as_ref().is_some_and(|a| a.void);
            told.push(match correction {
                _ if void => format!("declared void ({name} by {by})"),
                Some(other) => format!("corrected by {} ({name} by {by})", other.record),
                None => format!("amended ({name} by {by})"),
            });
        }
        (!told.is_empty()).then(|| check(AMENDMENTS, Answer::Ok, told.join(", ")))
    }
}

/// What the shop has about a record that its rendering tells.
#[derive(Clone, Debug, Default)]
pub struct Surroundings {
    /// Why it does not verify.
    pub doubts: Vec<String>,
    /// What was found of its signatures; nothing where none could be checked.
    pub signatures: Option<String>,
    /// What was checked and is good.
    pub good: Vec<&'static str>,
    /// What was added to it.
    pub amendments: Vec<KeptAmendment>,
    /// The amendments by which it corrects other records.
    pub corrects: Vec<KeptAmendment>,
    /// The bytes of its own file.
    pub text: Arc<Vec<u8>>,
    /// The bytes of what was attached to it, in the record's order; nothing where a file is gone.
    pub files: Vec<Option<Arc<Vec<u8>>>>,
}

/// Verifies a record, and finds what was added to it.
///
/// # Errors
/// Those of the system.
pub fn surroundings(host: &dyn Host, path: &Path) -> Result<Surroundings, AppError> {
    let mut around = Surroundings::default();
    let (mut id, mut attached) = (None, Vec::new());
    verify_records(host, None, &[path.display().to_string()], &mut |verified| {
        if let Some(record) = around.take(verified) {
            attached = record.attachments;
            id = Some(record.record);
        }
    })?;
    around.hold(host, path, RecordFile::read(host, path)?, &attached);
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let root = shop_of(&absolute).filter(|root| host.exists(&root.join("shop.yaml")));
    if let (Some(root), Some(id)) = (root, id) {
        around.add(&Proof::read(host, &Paths::at(root))?, &id);
    }
    Ok(around)
}

impl Surroundings {
    /// Takes over what was found; gives the record.
    fn take(&mut self, verified: Verified) -> Option<Record> {
        let (record, checks) = match verified.outcome {
            Ok(found) => found,
            Err(error) => {
                self.doubts.push(error);
                return None;
            }
        };
        self.heed(&checks);
        Some(*record)
    }

    /// Keeps the bytes of a record's own file and of what was attached to it.
    pub(super) fn hold(
        &mut self,
        host: &dyn Host,
        path: &Path,
        file: RecordFile,
        attached: &[Attachment],
    ) {
        let bytes = |of: &Attachment| file.attached(host, path, &of.digest).map(Arc::new);
        self.files = attached.iter().map(bytes).collect();
        self.text = Arc::new(file.text);
    }

    /// Takes over what checks found.
    pub(super) fn heed(&mut self, checks: &[Check]) {
        for check in checks.iter().filter(|c| c.what != AMENDMENTS) {
            self.good
                .extend((check.answer == Answer::Ok).then_some(check.what));
            match check.answer {
                Answer::Bad => self
                    .doubts
                    .push(format!("{}: {}", check.what, check.reason)),
                Answer::Ok if check.what == "signatures" => {
                    self.signatures = Some("checked against the keys of people.yaml".to_owned());
                }
                Answer::NotKnown if check.what == "signatures" => {
                    self.signatures = Some(format!("could not be checked: {}", check.reason));
                }
                _ => {}
            }
        }
    }

    /// Takes over what was added to a record, and what it corrects.
    pub(super) fn add(&mut self, proof: &Proof, id: &str) {
        let corrects = |k: &&KeptAmendment| {
            let amendment = k.amendment.as_ref();
            let correction = amendment.and_then(|a| a.correction.as_ref());
            correction.is_some_and(|c| c.record == id)
        };
        self.corrects = proof.amendments.iter().filter(corrects).cloned().collect();
        self.amendments = proof.amendments_of(id).cloned().collect();
    }
}
