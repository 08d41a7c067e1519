//! What a record is held against besides itself: people's keys, the ledgers, the approvals.
//!
//! Never in here: what a record says of itself (see the record room). Changes when a record rests on something new.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::Path;

use crate::host::Host;
use crate::record::{Answer, Check, Record};
use crate::shop::{ApprovalAct, Approvals, Deed, Paths, RecordAct};
use crate::trust::{Entry, Ledger, RECORD, Signature, digest_bytes};

use super::amendments::{self, KeptAmendment};
use super::ledgers::{approval_ledgers, record_ledgers};
use super::signers::{Doubt, Signers, sound};
use super::underway::promised;
use super::{AppError, TECHNICIAN, list_sessions};

/// The role in which somebody signs after the technician.
pub const REVIEWER: &str = "reviewer";

/// Most missing numbers that are told.
const MAX_GONE: usize = 1000;

/// What the shop has for proving its records.
#[derive(Debug)]
pub struct Proof {
    pub(super) paths: Paths,
    pub(super) signers: Signers,
    pub(super) ledgers: Vec<Ledger<RecordAct>>,
    pub(super) approval_ledgers: Vec<Ledger<ApprovalAct>>,
    approvals: Approvals,
    /// What was added to records.
    pub(super) amendments: Vec<KeptAmendment>,
    /// Sessions under way.
    open: HashSet<String>,
    /// The lines about each record: ledger and line.
    about: HashMap<String, Vec<(usize, usize)>>,
    /// The records that were made from each session.
    made_from: HashMap<String, Vec<String>>,
}

impl Proof {
    /// Reads what the shop has.
    ///
    /// # Errors
    /// Those of the system; people.yaml that can't be read.
    pub fn read(host: &dyn Host, paths: &Paths) -> Result<Self, AppError> {
        let signers = Signers::read(host, paths)?;
        let ledgers = record_ledgers(host, paths)?;
        let approval_ledgers = approval_ledgers(host, paths)?;
        let mut about: HashMap<String, Vec<(usize, usize)>> = HashMap::new();
        let mut made_from: HashMap<String, Vec<String>> = HashMap::new();
        for (l, ledger) in ledgers.iter().enumerate() {
            for (e, entry) in ledger.entries.iter().enumerate() {
                let record = entry.act.record().to_owned();
                if let RecordAct::Seal { session, .. } = &entry.act {
                    let records = made_from.entry(session.clone()).or_default();
                    records.push(record.clone());
                }
                about.entry(record).or_default().push((l, e));
            }
        }
        let mut proof = Self {
            paths: paths.clone(),
            signers,
            approvals: Approvals::of(&approval_ledgers),
            open: list_sessions(host, paths)?.into_iter().collect(),
            amendments: Vec::new(),
            ledgers,
            approval_ledgers,
            about,
            made_from,
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

    /// Signatures against people's keys.
    pub(super) fn signatures(&self, record: &Record) -> Check {
        let what = "signatures";
        let signatures = &record.seal.signatures;
        if signatures.is_empty() {
            return if self.signers.must_sign(&record.finished) {
                let why = "not signed, and this shop requires it; `required since DAY` in shop.yaml spares what was done before that day";
                check(what, Answer::Bad, why)
            } else {
                check(what, Answer::NotKnown, "not signed")
            };
        }
        let mut unknown = Vec::new();
        let mut good = Vec::new();
        if signatures.iter().all(|s| s.statement.role != TECHNICIAN) {
            unknown.push(format!("`{}` did not sign", closed_by(record)));
        }
        for signature in signatures {
            let statement = &signature.statement;
            if let Err(why) = fits(record, signature) {
                return check(what, Answer::Bad, why);
            }
            match self.signed(signature) {
                Ok(()) => good.push(format!("{} ({})", statement.by, statement.role)),
                Err(Doubt::Bad(why)) => return check(what, Answer::Bad, why),
                Err(Doubt::Unknown(why)) => unknown.push(why),
            }
        }
        if unknown.is_empty() {
            return check(what, Answer::Ok, good.join(", "));
        }
        let answer = match self.signers.must_sign(&record.finished) {
            true => Answer::Bad,
            false => Answer::NotKnown,
        };
        if !good.is_empty() {
            unknown.push(format!("signed by {}", good.join(", ")));
        }
        check(what, answer, unknown.join("; "))
    }

    /// Whether a signature holds, and whether a reviewer may be one.
    fn signed(&self, signature: &Signature) -> Result<(), Doubt> {
        let statement = &signature.statement;
        self.signers.holds(signature, RECORD)?;
        match statement.role.as_str() {
            REVIEWER => self.signers.may(&statement.by, Deed::Countersign),
            _ => Ok(()),
        }
    }

    /// Whether the record is the only one that was made from its session.
    pub(super) fn session(&self, record: &Record) -> Option<Check> {
        let made = self.made_from.get(&record.session)?;
        let other = made.iter().find(|made| **made != record.record)?;
        let why = format!("{other} was made from the session {} too", record.session);
        Some(check("session", Answer::Bad, why))
    }

    /// Whether a bench of this name seals records here.
    pub(super) fn has_bench(&self, bench: &str) -> bool {
        self.ledgers.iter().any(|l| l.bench == bench)
    }

    /// The record's lines in the ledgers; `bytes` are those of its file. A copy may be older than what was added since.
    pub(super) fn ledger(&self, record: &Record, bytes: &[u8], copy: bool) -> Check {
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
        let mut since = Vec::new();
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
                if copy {
                    since.push(format!("`{by}`"));
                    continue;
                }
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
            Some(_) if !since.is_empty() => {
                let by = since.join(", ");
                let why = format!("a copy from before the countersignature of {by}");
                check(what, Answer::NotKnown, why)
            }
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
                "a trial: it rests on no approval, whether its recipe had one or not",
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
        let signed = match &of.signature {
            Some(_) => "signed",
            None => "not signed",
        };
        match self.signers.approval(line) {
            Ok(()) => {
                let reason = format!("by {} on {day}, {signed}", of.by);
                check(what, Answer::Ok, reason)
            }
            Err(Doubt::Bad(why)) => check(what, Answer::Bad, why),
            Err(Doubt::Unknown(why)) => check(what, Answer::NotKnown, why),
        }
    }

    /// Whether the same text was approved later as it has to be: nothing rests on the line any longer.
    pub(super) fn approved_again(&self, line: &Entry<ApprovalAct>) -> bool {
        let same = |e: &&Entry<ApprovalAct>| {
            matches!(&e.act, ApprovalAct::Approve(of) if of.digest == line.act.of().digest)
                && crate::trust::is_before(&line.at, &e.at)
        };
        let later = self.approvals.entries().iter().filter(same);
        later.into_iter().any(|e| self.signers.approval(e).is_ok())
    }

    /// Why a revision stands for two texts.
    pub(super) fn other_text(&self, line: &Entry<ApprovalAct>) -> Option<String> {
        let of = line.act.of();
        let other = self
            .approvals
            .other_text(&of.recipe, of.revision, &of.digest)?;
        Some(format!(
            "revision {} of `{}` was approved with another text too (ledger of {}, line {}): withdraw it, and raise the number of one of them",
            of.revision, of.recipe, other.bench, other.number
        ))
    }

    /// Numbers of a bench and year that no line of the ledgers is about, though later ones are sealed: by bench. Those that
    /// an open session was promised are not among them.
    pub(super) fn missing_numbers(&self, host: &dyn Host) -> Result<Vec<(&str, String)>, AppError> {
        let mut highest: BTreeMap<(&str, &str), u32> = BTreeMap::new();
        for record in self.about.keys() {
            let mut parts = record.rsplitn(3, '-');
            let number = parts.next().and_then(|n| n.parse::<u32>().ok());
            if let (Some(number), Some(year), Some(bench)) = (number, parts.next(), parts.next()) {
                let most = highest.entry((bench, year)).or_default();
                *most = number.max(*most);
            }
        }
        let all = highest.into_iter().flat_map(|((bench, year), most)| {
            (1..=most).map(move |n| (bench, format!("{bench}-{year}-{n:04}")))
        });
        let gone: Vec<(&str, String)> = all
            .filter(|(_, id)| !self.about.contains_key(id))
            .take(MAX_GONE)
            .collect();
        if gone.is_empty() {
            return Ok(gone);
        }
        let promised = promised(host, &self.paths)?;
        Ok(gone
            .into_iter()
            .filter(|(_, id)| !promised.contains(id))
            .collect())
    }

    /// The lines of approvals that records were sealed after and that no ledger has: by bench, the first record of each.
    pub(super) fn cut_approvals(&self) -> BTreeMap<&str, &str> {
        let lines = self.approval_ledgers.iter().flat_map(|l| &l.entries);
        let known: HashSet<&str> = lines.map(|e| e.entry.as_str()).collect();
        let mut cut = BTreeMap::new();
        for entry in self.ledgers.iter().flat_map(|l| &l.entries) {
            let RecordAct::Seal {
                record, approvals, ..
            } = &entry.act
            else {
                continue;
            };
            let gone = approvals
                .iter()
                .filter(|(_, e)| !known.contains(e.as_str()));
            for (bench, _) in gone {
                cut.entry(bench.as_str()).or_insert(record.as_str());
            }
        }
        cut
    }
}

pub(super) fn check(what: &'static str, answer: Answer, reason: impl Into<String>) -> Check {
    Check {
        what,
        answer,
        reason: reason.into(),
    }
}

/// Signatures where no shop's keys are at hand: each against the key that it carries.
pub(super) fn signatures_alone(record: &Record) -> Check {
    let (what, signatures) = ("signatures", &record.seal.signatures);
    if signatures.is_empty() {
        return check(what, Answer::NotKnown, "not signed");
    }
    let one = |s: &Signature| fits(record, s).and_then(|()| sound(s, RECORD));
    match signatures.iter().map(one).collect::<Result<Vec<_>, _>>() {
        Ok(told) => check(what, Answer::NotKnown, told.join("; ")),
        Err(why) => check(what, Answer::Bad, why),
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
    let took_part = took_part(record);
    match statement.role.as_str() {
        TECHNICIAN if statement.by == closed_by => Ok(()),
        TECHNICIAN => Err(format!(
            "signed by `{}`; the session was closed by `{closed_by}`",
            statement.by
        )),
        REVIEWER if !took_part.contains(&statement.by) => Ok(()),
        REVIEWER => Err(format!("`{}` countersigned their own record", statement.by)),
        other => Err(format!(
            "signed as `{other}`, which is no role for a record"
        )),
    }
}

/// Everybody who had the session that a record was made from.
pub(super) fn took_part(record: &Record) -> Vec<String> {
    let resumed = record
        .journal
        .iter()
        .filter(|line| line["event"] == "resume");
    let others = resumed.filter_map(|line| Some(line.get("by")?.as_str()?.to_owned()));
    std::iter::once(record.by.clone()).chain(others).collect()
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
