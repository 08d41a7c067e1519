//! The end of a session: its record sealed, signed, written, and entered into the ledger; each part once, whatever fails.
//!
//! Never in here: what a record tells. Changes when a record is kept otherwise.

use std::path::{Path, PathBuf};

use crate::engine::Event;
use crate::record::{Ran, Record, make, record_text, seal};
use crate::shop::{Deed, Permit, RecordAct};
use crate::trust::{Statement, digest_bytes};

use super::AppError;
use super::approve::permitted;
use super::ledgers::{Held as Ledger, approvals_known};
use super::open::OpenShop;
use super::require::missing;
use super::session::{Held, MAX_JOURNAL, Session};
use super::sign::{Sign, may_be_unsigned};
use super::underway::promised;

/// The role in which the person signs who closes a session.
pub const TECHNICIAN: &str = "technician";

/// Most records of a bench and year.
const MAX_NUMBER: u32 = 999_999;

impl Session<'_> {
    /// Closes the session: seals and signs the record, writes it, enters it into the ledger, and removes the journal,
    /// whose lines are in it.
    ///
    /// # Errors
    /// Those of the system, a person who may not (any longer), something that the shop asks for and that is missing, a
    /// signature that could not be made; the session can then be resumed, and closes again.
    pub fn close(
        mut self,
        open: &OpenShop,
        sign: &mut Sign<'_>,
    ) -> Result<(Record, PathBuf), AppError> {
        // What was signed and written before needs nobody's name to be entered.
        let permit = match self.is_written() {
            true => None,
            false => Some(self.permit(open)?),
        };
        let name = permit.as_ref().map_or("", |p| &p.person().name);
        self.complete(open)?;
        let bench = &open.shop.bench;
        let (id, at) = match self.events.last() {
            Some(Event::Close { record, at }) => {
                self.of_this_bench(record, bench)?;
                (record.clone(), at.clone())
            }
            _ => {
                let at = self.host.now();
                // Held until the number stands in the journal: another process must not take it meanwhile.
                let ledger = self.held_ledger(bench).map_err(|e| self.unsealed(&e))?;
                let id = match self.promised_before() {
                    Some(record) => {
                        self.of_this_bench(&record, bench)?;
                        record
                    }
                    None => self.free_number(bench, at.get(..4).unwrap_or("0000"), &ledger)?,
                };
                let event = Event::Close {
                    record: id.clone(),
                    at: at.clone(),
                };
                self.keep(event).map_err(Held::into_error)?;
                (id, at)
            }
        };
        let path = self.paths.record(&id);
        let (record, text) = match self.written(&path)? {
            // A crash after the record was written and before the journal was removed.
            Some(written) => written,
            None => self.write_record(&path, &id, &at, name, sign)?,
        };
        self.sweep(&path);
        self.enter(bench, &record, &text)
            .map_err(|error| self.unfinished(&path, "is not in the ledger yet", &error))?;
        let journal = self.journal();
        self.host.remove(&journal).map_err(|e| {
            let cause = AppError::at(&journal, &e);
            self.unfinished(
                &path,
                "is entered, but its journal could not be removed",
                &cause,
            )
        })?;
        self.remove_lock();
        Ok((record, path))
    }

    /// Whether its record was written already: what is left needs no signature.
    #[must_use]
    pub fn is_written(&self) -> bool {
        let record = self.state.closed.as_ref().map(|id| self.paths.record(id));
        record.is_some_and(|path| self.host.exists(&path))
    }

    /// The record as which somebody closed it who could not seal it any more.
    fn promised_before(&self) -> Option<String> {
        self.events.iter().find_map(|event| match event {
            Event::Close { record, .. } => Some(record.clone()),
            _ => None,
        })
    }

    /// That the person who has the session now may close it.
    ///
    /// # Errors
    /// Why not.
    pub fn permit(&self, open: &OpenShop) -> Result<Permit, AppError> {
        let deed = if self.head.trial {
            Deed::Trial
        } else {
            Deed::Run
        };
        let permit = permitted(self.host, open, self.by(), deed)
            .and_then(|permit| may_be_unsigned(&open.shop, &permit).map(|()| permit));
        permit.map_err(|error| {
            let other = match &self.state.closed {
                Some(record) => format!(
                    "`{}` closed the session as {record}; somebody else seals it with `stepwell resume {} --by PERSON`",
                    self.by(),
                    self.head.session
                ),
                None => format!(
                    "somebody else goes on with `stepwell resume {} --by PERSON`",
                    self.head.session
                ),
            };
            AppError::new(format!("{error}\n{other}"))
        })
    }

    /// Nothing that the shop asks for is missing.
    fn complete(&self, open: &OpenShop) -> Result<(), AppError> {
        if self.state.closed.is_some() {
            return Ok(());
        }
        let missing = missing(&open.shop, self);
        match missing.first() {
            Some(first) => Err(AppError::new(format!(
                "{first}\nthe session waits: `stepwell resume {}`",
                self.head.session
            ))),
            None => Ok(()),
        }
    }

    /// Makes, signs and writes the record.
    fn write_record(
        &self,
        path: &Path,
        id: &str,
        at: &str,
        name: &str,
        sign: &mut Sign<'_>,
    ) -> Result<(Record, String), AppError> {
        let session = Ran {
            head: &self.head,
            plan: &self.plan,
            bench: self.bench(),
            state: &self.state,
            events: &self.events,
        };
        let mut record = make(&session, id, at);
        seal(&mut record).map_err(AppError::new)?;
        let statement = Statement {
            at: self.host.now(),
            by: self.by().to_owned(),
            digest: record.seal.digest.clone(),
            name: name.to_owned(),
            role: TECHNICIAN.to_owned(),
        };
        let signature = sign(statement).map_err(|e| self.unsealed(&e))?;
        record.seal.signatures.extend(signature);
        let text = record_text(&record).map_err(AppError::new)?;
        if let Some(folder) = path.parent() {
            self.host
                .make_folder(folder)
                .map_err(|e| self.unsealed(&AppError::at(folder, &e)))?;
        }
        self.host
            .create(path, text.as_bytes())
            .map_err(|e| self.unsealed(&AppError::at(path, &e)))?;
        Ok((record, text))
    }

    /// The record of this session, if it was written already.
    fn written(&self, path: &Path) -> Result<Option<(Record, String)>, AppError> {
        if !self.host.exists(path) {
            return Ok(None);
        }
        let bytes = self
            .host
            .read(path, MAX_JOURNAL)
            .map_err(|e| AppError::at(path, &e))?;
        let text = String::from_utf8_lossy(&bytes).into_owned();
        match serde_json::from_str::<Record>(&text) {
            Ok(record) if record.session == self.head.session => Ok(Some((record, text))),
            _ => Err(AppError::new(format!(
                "{}: is the record of another session; move it away, then `stepwell resume {}` writes this one",
                path.display(),
                self.head.session
            ))),
        }
    }

    /// A bench writes its own ledger only.
    fn of_this_bench(&self, record: &str, bench: &str) -> Result<(), AppError> {
        let own = record.rsplitn(3, '-').nth(2) == Some(bench);
        if own {
            return Ok(());
        }
        Err(AppError::new(format!(
            "the session was closed as record {record} on another bench, and this is bench {bench}; complete it there with `stepwell resume {}`, or with STEPWELL_BENCH set if this computer took that bench's place",
            self.head.session
        )))
    }

    fn held_ledger(&self, bench: &str) -> Result<Ledger<'_, RecordAct>, AppError> {
        Ledger::open(self.host, &self.paths.ledger(bench), bench)
    }

    /// Enters the record into the ledger of the bench, once.
    fn enter(&self, bench: &str, record: &Record, text: &str) -> Result<(), AppError> {
        let approvals = approvals_known(self.host, &self.paths)?;
        let mut ledger = self.held_ledger(bench)?;
        let act = RecordAct::Seal {
            record: record.record.clone(),
            digest: record.seal.digest.clone(),
            file: digest_bytes(text.as_bytes()),
            session: record.session.clone(),
            approvals,
        };
        if ledger.holds(&record.seal.digest) {
            return Ok(());
        }
        ledger.enter(act, &self.host.now()).map(|_| ())
    }

    fn unfinished(&self, path: &Path, what: &str, cause: &AppError) -> AppError {
        AppError::new(format!(
            "the record is safe in {}, but {what}: {cause}\n`stepwell resume {}` completes it once that is mended",
            path.display(),
            self.head.session
        ))
    }

    /// Removes what a killed process left of the record; the record itself is whole by now.
    fn sweep(&self, record: &Path) {
        let name = |p: &Path| p.file_name().map(|n| n.to_string_lossy().into_owned());
        let begins = format!(".{}.", name(record).unwrap_or_default());
        let files = record.parent().map(|folder| self.host.list(folder));
        for file in files.into_iter().flatten().flatten() {
            let is_part = |n: String| n.starts_with(&begins) && n.ends_with(".part");
            if name(&file).is_some_and(is_part) {
                // One that stays behind does no harm.
                let _ = self.host.remove(&file);
            }
        }
    }

    /// What is said where the record could not be made.
    #[must_use]
    pub fn unsealed(&self, cause: &AppError) -> AppError {
        AppError::new(format!(
            "the record could not be written: {cause}\nall entries are safe; `stepwell resume {}` writes it once that is mended",
            self.head.session
        ))
    }

    /// The next free record id of the bench: `B1-2026-0042`.
    fn free_number(
        &self,
        bench: &str,
        year: &str,
        ledger: &Ledger<'_, RecordAct>,
    ) -> Result<String, AppError> {
        let folder = self.paths.records().join(year);
        let files = self
            .host
            .list(&folder)
            .map_err(|e| AppError::at(&folder, &e))?;
        let prefix = format!("{bench}-{year}-");
        let numbers = files.iter().filter_map(|f| {
            f.file_stem()?
                .to_str()?
                .strip_prefix(&prefix)?
                .parse::<u32>()
                .ok()
        });
        let mut next = numbers.max().unwrap_or(0) + 1;
        // A record that was removed keeps its number.
        while ledger.holds(&format!("\"record\":\"{prefix}{next:04}\"")) {
            next += 1;
        }
        // A session that was closed but whose record is not written yet holds its number.
        let promised = promised(self.host, &self.paths)?;
        while next <= MAX_NUMBER && promised.contains(&format!("{prefix}{next:04}")) {
            next += 1;
        }
        Ok(format!("{prefix}{next:04}"))
    }
}
