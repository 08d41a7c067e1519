//! What a record is held against besides itself: people's keys, the ledgers, the approvals.
//!
//! Never in here: what a record says of itself (see the record room). Changes when a record rests on something new.

use std::collections::{HashMap, HashSet};
use std::path::Path;

use crate::host::Host;
use crate::record::{Answer, Check, Record};
use crate::shop::{ApprovalAct, Approvals, Paths, Person, RecordAct};
use crate::trust::{APPROVAL, Entry, Ledger, PublicKey, RECORD, Signature, digest_bytes};

use super::amendments::{self, KeptAmendment};
use super::ledgers::{approval_ledgers, record_ledgers};
use super::open::read_people_of;
use super::{AppError, TECHNICIAN, list_sessions};

/// The role in which somebody signs after the technician.
pub const REVIEWER: &str = "reviewer";

/// What the shop has for proving its records.
#[derive(Debug)]
pub struct Proof {
    pub(super) paths: Paths,
    people: HashMap<String, Person>,
    pub(super) ledgers: Vec<Ledger<RecordAct>>,
    pub(super) approval_ledgers: Vec<Ledger<ApprovalAct>>,
    approvals: Approvals,
    /// What was added to records.
    pub(super) amendments: Vec<KeptAmendment>,
    /// Sessions under way.
    open: HashSet<String>,
    /// The lines about each record: ledger and line.
    about: HashMap<String, Vec<(usize, usize)>>,
}

impl Proof {
    /// Reads what the shop has.
    ///
    /// # Errors
    /// Those of the system; people.yaml that can't be read.
    pub fn read(host: &dyn Host, paths: &Paths) -> Result<Self, AppError> {
        let people = read_people_of(host, paths)?;
        let ledgers = record_ledgers(host, paths)?;
        let approval_ledgers = approval_ledgers(host, paths)?;
        let mut about: HashMap<String, Vec<(usize, usize)>> = HashMap::new();
        for (l, ledger) in ledgers.iter().enumerate() {
            for (e, entry) in ledger.entries.iter().enumerate() {
                let record = entry.act.record().to_owned();
                about.entry(record).or_default().push((l, e));
            }
        }
        let mut proof = Self {
            paths: paths.clone(),
            people: people.into_iter().map(|p| (p.id.clone(), p)).collect(),
            approvals: Approvals::of(&approval_ledgers),
            open: list_sessions(host, paths)?.into_iter().collect(),
            amendments: Vec::new(),
            ledgers,
            approval_ledgers,
            about,
        };
        proof.amendments = amendments::read(host, &proof)?;
        Ok(proof)
    }

    /// The lines of all ledgers about a record.
    pub(super) fn about<'p>(
        &'p self,
        record: &str,
    ) -> impl Iterator<Item = &'p Entry<RecordAct>> + use<'p> {
        let lines = self.about.get(record).map(Vec::as_slice);
        lines
            .unwrap_or_default()
            .iter()
            .map(|(l, e)| &self.ledgers[*l].entries[*e])
    }

    /// Whether a signature is that of the person it names, by a key that they have or had.
    pub(super) fn holds(&self, signature: &Signature, namespace: &str) -> Result<(), Doubt> {
        let by = &signature.statement.by;
        let Some(person) = self.people.get(by) else {
            return Err(Doubt::Unknown(format!("`{by}` is not in people.yaml")));
        };
        let keys: Vec<PublicKey> = person.keys();
        if keys.is_empty() {
            return Err(Doubt::Unknown(format!("people.yaml has no key of `{by}`")));
        }
        signature
            .check(&keys, namespace)
            .map_err(|why| Doubt::Bad(format!("the signature of `{by}`: {why}")))?;
        let at = signature.statement.at.get(..10).unwrap_or_default();
        match &person.left {
            Some(left) if left.as_str() <= at => Err(Doubt::Bad(format!(
                "`{by}` signed on {at}, after they left on {left}"
            ))),
            _ => Ok(()),
        }
    }

    /// Signatures against people's keys.
    pub(super) fn signatures(&self, record: &Record) -> Check {
        let what = "signatures";
        let signatures = &record.seal.signatures;
        if signatures.is_empty() {
            return check(what, Answer::NotKnown, "not signed");
        }
        let mut unknown = Vec::new();
        let mut good = Vec::new();
        for signature in signatures {
            let statement = &signature.statement;
            if let Err(why) = fits(record, signature) {
                return check(what, Answer::Bad, why);
            }
            match self.holds(signature, RECORD) {
                Ok(()) => good.push(format!("{} ({})", statement.by, statement.role)),
                Err(Doubt::Bad(why)) => return check(what, Answer::Bad, why),
                Err(Doubt::Unknown(why)) => unknown.push(why),
            }
        }
        if unknown.is_empty() {
            return check(what, Answer::Ok, good.join(", "));
        }
        check(what, Answer::NotKnown, unknown.join("; "))
    }

    /// The record's lines in the ledgers; `bytes` are those of its file.
    pub(super) fn ledger(&self, record: &Record, bytes: &[u8]) -> Check {
        let what = "ledger";
        let bad = |why: String| check(what, Answer::Bad, why);
        let lines: Vec<&Entry<RecordAct>> = self.about(&record.record).collect();
        let seals = lines
            .iter()
            .filter(|e| matches!(e.act, RecordAct::Seal { .. }));
        match seals.count() {
            0 if self.open.contains(&record.session) => {
                let session = &record.session;
                let waits = format!("not completed yet: `stepwell resume {session}`");
                return check(what, Answer::NotKnown, waits);
            }
            0 => return bad("no ledger has it".to_owned()),
            1 => {}
            n => return bad(format!("it was sealed {n} times")),
        }
        let file = digest_bytes(bytes);
        let mut newest: Option<&Entry<RecordAct>> = None;
        for entry in &lines {
            let (digest, of_file) = match &entry.act {
                RecordAct::Seal { digest, file, .. }
                | RecordAct::Countersign { digest, file, .. } => (digest, Some(file)),
                RecordAct::Amend { digest, .. } => (digest, None),
            };
            if *digest != record.seal.digest {
                return bad(format!(
                    "the ledger of {} has another digest of it (line {})",
                    entry.bench, entry.number
                ));
            }
            if let RecordAct::Countersign { signature, .. } = &entry.act
                && !record.seal.signatures.contains(signature)
            {
                let by = &signature.statement.by;
                return bad(format!(
                    "the countersignature of `{by}` is missing (ledger of {}, line {}); it can be given again",
                    entry.bench, entry.number
                ));
            }
            if of_file == Some(&file) {
                newest = Some(entry);
            }
        }
        match newest {
            Some(entry) => check(
                what,
                Answer::Ok,
                format!("ledger of {}, line {}", entry.bench, entry.number),
            ),
            None => bad("the file was altered after it was entered".to_owned()),
        }
    }

    /// Whether the recipe was approved when the session began.
    pub(super) fn approval(&self, record: &Record) -> Check {
        let what = "approval";
        if record.trial {
            return check(
                what,
                Answer::NotKnown,
                "a trial: the recipe was not approved",
            );
        }
        let Some(approval) = &record.recipe.approval else {
            return check(
                what,
                Answer::Bad,
                "the record names no approval of its recipe",
            );
        };
        let Ok(entry) = serde_json::from_value::<Entry<ApprovalAct>>(approval.clone()) else {
            return check(
                what,
                Answer::Bad,
                "what the record names as its approval can't be read",
            );
        };
        let held = self
            .approvals
            .held(&entry.entry, &record.recipe.digest, &record.started);
        match held {
            Err(why) => check(what, Answer::Bad, why),
            Ok(line) if *line != entry => check(what, Answer::Bad, "the ledger has it otherwise"),
            Ok(line) => self.approver(line),
        }
    }

    fn approver(&self, line: &Entry<ApprovalAct>) -> Check {
        let (what, of) = ("approval", line.act.of());
        let day = line.at.get(..10).unwrap_or_default();
        let by = format!("by {} on {day}", of.by);
        match &of.signature {
            None => check(what, Answer::Ok, format!("{by}, not signed")),
            Some(signature) => match self.signed_approval(signature, line) {
                Ok(()) => check(what, Answer::Ok, format!("{by}, signed")),
                Err(Doubt::Bad(why)) => check(what, Answer::Bad, why),
                Err(Doubt::Unknown(why)) => check(what, Answer::NotKnown, why),
            },
        }
    }

    pub(super) fn signed_approval(
        &self,
        signature: &Signature,
        line: &Entry<ApprovalAct>,
    ) -> Result<(), Doubt> {
        let (statement, of) = (&signature.statement, line.act.of());
        if statement.digest != of.digest || statement.by != of.by {
            return Err(Doubt::Bad(
                "the signature is about something else".to_owned(),
            ));
        }
        self.holds(signature, APPROVAL)
    }
}

/// Why a signature does not hold.
pub(super) enum Doubt {
    /// It is wrong.
    Bad(String),
    /// It can't be told.
    Unknown(String),
}

pub(super) fn check(what: &'static str, answer: Answer, reason: impl Into<String>) -> Check {
    Check {
        what,
        answer,
        reason: reason.into(),
    }
}

/// Whether a signature is about this record, by somebody who may sign it in that role.
fn fits(record: &Record, signature: &Signature) -> Result<(), String> {
    let statement = &signature.statement;
    if statement.digest != record.seal.digest {
        return Err(format!(
            "the signature of `{}` is about something else",
            statement.by
        ));
    }
    let closed_by = closed_by(record);
    match statement.role.as_str() {
        TECHNICIAN if statement.by == closed_by => Ok(()),
        TECHNICIAN => Err(format!(
            "signed by `{}`; the session was closed by `{closed_by}`",
            statement.by
        )),
        REVIEWER if statement.by != closed_by && statement.by != record.by => Ok(()),
        REVIEWER => Err(format!("`{}` countersigned their own record", statement.by)),
        other => Err(format!(
            "signed as `{other}`, which is no role for a record"
        )),
    }
}

/// Who closed the session that a record was made from.
pub(super) fn closed_by(record: &Record) -> String {
    let text = |line: &serde_json::Value, key: &str| Some(line.get(key)?.as_str()?.to_owned());
    let resumed = |line: &&serde_json::Value| text(line, "event").as_deref() == Some("resume");
    let mut resumed = record.journal.iter().rev().filter(resumed);
    let other = resumed.find_map(|line| text(line, "by"));
    other.unwrap_or_else(|| record.by.clone())
}

/// Whether a file lies in the records of a shop; that shop's folder.
pub(super) fn shop_of(record: &Path) -> Option<&Path> {
    let records = record.parent()?.parent()?;
    let named = records.file_name().is_some_and(|n| n == "records");
    named.then(|| records.parent()).flatten()
}
