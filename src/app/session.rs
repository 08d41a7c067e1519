//! A session: every event onto the disk before anything else is asked, and the record at its end.
//!
//! Never in here: prompts. Changes when a session is kept otherwise.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use crate::engine::{Bench, Ended, Event, Refusal, State, apply, begin, read_entry, read_log};
use crate::host::{Host, Lock};
use crate::journal::{Head, RecipeHead, event_to_line, head_to_line, recover, replay};
use crate::plan::{Item, Plan, Value, Verb};
use crate::record::closed_by;
use crate::shop::{Paths, Standing};
use crate::text::Source;
use crate::trust::digest_bytes;

use super::AppError;
use super::beneath::withdrawal;
use super::elsewhere::not_sealed_elsewhere;
use super::ledgers::approvals;
use super::open::OpenShop;
use super::underway::{is_nothing, list_sessions};

/// Largest journal that is read, in bytes.
pub(super) const MAX_JOURNAL: u64 = 256 * 1024 * 1024;
/// Largest file that is attached, in bytes.
const MAX_ATTACHMENT: u64 = 64 * 1024 * 1024;

/// Held while an event is written, and for good when an empty session is removed by an interrupt.
pub(super) static WRITING: Mutex<()> = Mutex::new(());

/// A session under way.
pub struct Session<'h> {
    pub(super) host: &'h dyn Host,
    pub(super) paths: Paths,
    /// The first line of its journal.
    pub head: Head,
    /// The procedure.
    pub plan: Arc<Plan>,
    /// Where it stands.
    pub state: State,
    /// What has happened.
    pub events: Vec<Event>,
    bench: Bench,
    /// A line could not be written, or only in part: one behind it would not be found again.
    torn: bool,
    _lock: Lock,
}

/// Why an event did not go through.
#[derive(Debug)]
pub enum Held {
    /// It does not fit; nothing was kept.
    Refused(Refusal),
    /// It could not be written; the session can't go on.
    Unwritten(AppError),
}

impl Held {
    pub(super) fn into_error(self) -> AppError {
        match self {
            Self::Refused(refusal) => AppError::new(refusal.to_string()),
            Self::Unwritten(error) => error,
        }
    }
}

pub(super) fn lock(host: &dyn Host, paths: &Paths, session: &str) -> Result<Lock, AppError> {
    let path = paths.session_lock(session);
    host.lock(&path).map_err(|error| {
        if error.kind() == io::ErrorKind::WouldBlock {
            return AppError::new(format!(
                "the session `{session}` is open in another window\nclose it there first"
            ));
        }
        AppError::at(&path, &error)
    })
}

pub(super) fn not_begun(cause: &AppError) -> AppError {
    AppError::new(format!("the session was not begun: {cause}"))
}

impl<'h> Session<'h> {
    /// Begins a session, whose lock is held: writes the first line of its journal.
    ///
    /// # Errors
    /// Those of the system.
    pub fn begin(
        host: &'h dyn Host,
        paths: Paths,
        head: Head,
        plan: Plan,
        lock: Lock,
    ) -> Result<Self, AppError> {
        let path = paths.journal(&head.session);
        host.create(&path, head_to_line(&head).as_bytes())
            .map_err(|e| not_begun(&AppError::at(&path, &e)))?;
        let bench = head.bench();
        let state = begin(&plan, &bench);
        Ok(Self {
            host,
            paths,
            head,
            plan: Arc::new(plan),
            state,
            events: Vec::new(),
            bench,
            torn: false,
            _lock: lock,
        })
    }

    /// Where the journal lies.
    #[must_use]
    pub fn journal(&self) -> PathBuf {
        self.paths.journal(&self.head.session)
    }

    /// The time now.
    #[must_use]
    pub fn now(&self) -> String {
        self.host.now()
    }

    /// The host.
    #[must_use]
    pub fn host(&self) -> &'h dyn Host {
        self.host
    }

    /// Applies an event and keeps it on the disk.
    ///
    /// # Errors
    /// An event that does not fit, or that could not be written.
    pub fn keep(&mut self, event: Event) -> Result<(), Held> {
        apply(&self.plan, &self.bench, &mut self.state, &event).map_err(Held::Refused)?;
        self.write(event).map_err(Held::Unwritten)
    }

    /// What the session knows of its bench.
    #[must_use]
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// Reads an entry for an item, as the engine will.
    ///
    /// # Errors
    /// As [`read_entry`].
    pub fn read(&self, item: &Item, text: &str) -> Result<Value, Refusal> {
        let index = self.plan.items.iter().position(|i| i.path == item.path);
        let files = index.map(|i| self.state.items[i].files.as_slice());
        read_entry(item, text, files.unwrap_or_default(), &self.bench)
    }

    /// Attaches the logger's file that was named for a `trace` step, and gives the entry that stands for it. The path is
    /// looked up from here, then from the shop's folder. Other steps' entries stay as they are.
    ///
    /// # Errors
    /// Those of the system; an event that could not be written.
    pub fn take_log(&mut self, item: &Item, typed: &str) -> Result<String, Held> {
        let Verb::Trace { mapping, .. } = &item.verb else {
            return Ok(typed.to_owned());
        };
        let refused = |error: AppError| Held::Refused(Refusal(error.to_string()));
        let typed = Path::new(typed.trim().trim_matches(['"', '\'']));
        let in_shop = self.paths.file(&typed.to_string_lossy());
        let file = if !self.host.exists(typed) && self.host.exists(&in_shop) {
            in_shop
        } else {
            typed.to_owned()
        };
        let bytes = self.read_to_keep(&file).map_err(refused)?;
        // A file that can't be read is not to be kept.
        let name = file.display().to_string();
        let trace = read_log((item, mapping), &name, &bytes, &self.bench).map_err(Held::Refused)?;
        let (name, digest, size) = self.keep_bytes(&file, &bytes).map_err(refused)?;
        // One file at a time is held: what was read of the others is in the state.
        self.bench.logs.clear();
        drop(bytes);
        let key = (item.path.clone(), digest.clone());
        self.bench.logs.insert(key, Arc::new(trace.unpacked()));
        self.keep(Event::File {
            path: item.path.clone(),
            name: name.clone(),
            digest,
            bytes: size,
            at: self.now(),
        })?;
        Ok(name)
    }

    fn write(&mut self, event: Event) -> Result<(), AppError> {
        let _held = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
        let line = event_to_line(self.events.len() as u64 + 1, event.clone());
        let path = self.journal();
        let written = if self.torn {
            Err(io::Error::other("a line before could not be written"))
        } else {
            self.host.append(&path, line.as_bytes())
        };
        written.map_err(|error| {
            self.torn = true;
            let cause = AppError::at(&path, &error);
            AppError::new(format!(
                "the last entry could not be written: {cause}\nall that was entered before it is safe; go on with `stepwell resume {}` once that is mended",
                self.head.session
            ))
        })?;
        self.events.push(event);
        Ok(())
    }

    /// Keeps a copy of a file under its digest, and gives name, digest and size.
    ///
    /// # Errors
    /// Those of the system; a file that is too large.
    pub fn keep_file(&self, file: &Path) -> Result<(String, String, u64), AppError> {
        self.keep_bytes(file, &self.read_to_keep(file)?)
    }

    /// The bytes of a file that is to be kept; a pipe could be waited for without end.
    fn read_to_keep(&self, file: &Path) -> Result<Vec<u8>, AppError> {
        if self.host.is_special(file) {
            let told =
                "is a pipe or a device; save what comes out of it in a file, and attach that";
            return Err(AppError::new(format!("{}: {told}", file.display())));
        }
        let read = self.host.read(file, MAX_ATTACHMENT);
        read.map_err(|e| AppError::at(file, &e))
    }

    fn keep_bytes(&self, file: &Path, bytes: &[u8]) -> Result<(String, String, u64), AppError> {
        let digest = digest_bytes(bytes);
        let folder = self.paths.attachments();
        self.host
            .make_folder(&folder)
            .map_err(|e| AppError::at(&folder, &e))?;
        let target = folder.join(digest.trim_start_matches("sha256:"));
        if !self.host.exists(&target) {
            self.host
                .write(&target, bytes)
                .map_err(|e| AppError::at(&target, &e))?;
        }
        let name = file
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default();
        Ok((name, digest, bytes.len() as u64))
    }

    /// The bytes of an attached file, if it is at hand.
    pub(super) fn attached(&self, digest: &str) -> Option<Vec<u8>> {
        attached(self.host, &self.paths, digest)
    }

    /// Whether it was stopped before anything was entered, written or attached: nobody would miss a record of it.
    #[must_use]
    pub fn is_abandoned(&self) -> bool {
        let stopped = matches!(self.state.ended, Some(Ended::Stopped(_)));
        stopped && self.events.iter().all(is_nothing)
    }

    /// Removes a session that was stopped before anything was entered; it leaves no record.
    ///
    /// # Errors
    /// A session with entries, and those of the system.
    pub fn discard(self) -> Result<(), AppError> {
        if !self.is_abandoned() {
            return Err(AppError::new(format!(
                "the session `{}` has entries: it is closed, not removed",
                self.head.session
            )));
        }
        let journal = self.journal();
        self.host
            .remove(&journal)
            .map_err(|e| AppError::at(&journal, &e))?;
        self.remove_lock();
        Ok(())
    }

    pub(super) fn remove_lock(&self) {
        // A lock file that stays behind does no harm.
        let _ = self
            .host
            .remove(&self.paths.session_lock(&self.head.session));
    }

    /// Who goes on with it now.
    #[must_use]
    pub fn by(&self) -> &str {
        closed_by(&self.head, &self.events)
    }
}

/// The bytes of an attached file, if it is at hand.
fn attached(host: &dyn Host, paths: &Paths, digest: &str) -> Option<Vec<u8>> {
    let file = paths
        .attachments()
        .join(digest.trim_start_matches("sha256:"));
    host.read(&file, MAX_ATTACHMENT).ok()
}

/// A session that was taken up again.
pub struct Resumed<'h> {
    /// The session.
    pub session: Session<'h>,
    /// What of a torn last line was lost.
    pub lost: Option<String>,
    /// That its recipe was withdrawn meanwhile: when, by whom and why.
    pub withdrawn: Option<String>,
}

/// Takes a session up again, `by` somebody else where it is given.
///
/// # Errors
/// Those of the system; a journal that is damaged, or that does not fit its recipe.
pub fn resume<'h>(
    host: &'h dyn Host,
    open: &OpenShop,
    session: &str,
    by: Option<&str>,
) -> Result<Resumed<'h>, AppError> {
    let paths = open.paths.clone();
    let path = paths.journal(session);
    if !host.exists(&path) {
        let open = list_sessions(host, &paths)?;
        let help = if open.is_empty() {
            "no session is open".to_owned()
        } else {
            format!("open are: {}", open.join(", "))
        };
        return Err(AppError::new(format!(
            "there is no session `{session}`; {help}"
        )));
    }
    let lock = lock(host, &paths, session)?;
    let bytes = host
        .read(&path, MAX_JOURNAL)
        .map_err(|e| AppError::at(&path, &e))?;
    let damaged = |error: &dyn std::fmt::Display| {
        AppError::new(format!(
            "{}: {error}; the file is left as it is",
            path.display()
        ))
    };
    let recovered = recover(&bytes).map_err(|e| damaged(&e))?;
    not_sealed_elsewhere(host, &paths, session, &recovered)?;
    let source = Source::new(
        &format!("{} (recipe)", path.display()),
        &recovered.head.recipe.source,
    );
    if digest_bytes(recovered.head.recipe.source.as_bytes()) != recovered.head.recipe.digest {
        return Err(damaged(
            &"line 1: the recipe in it is not the one that it names",
        ));
    }
    let reading = crate::recipe::read(source);
    let plan = reading.plan.ok_or(AppError::Findings(reading.findings))?;
    let of_file = |digest: &str| attached(host, &paths, digest);
    let mut bench = recovered.head.bench();
    let state = replay(&plan, &mut bench, &recovered.events, &of_file).map_err(|e| damaged(&e))?;
    if recovered.length < bytes.len() as u64 {
        host.truncate(&path, recovered.length).map_err(|e| {
            let cause = AppError::at(&path, &e);
            AppError::new(format!(
                "the torn last line could not be removed: {cause}\nall before it is safe; go on with `stepwell resume {session}` once that is mended"
            ))
        })?;
    }
    let plan = Arc::new(plan);
    let mut session = Session {
        host,
        paths,
        head: recovered.head,
        plan,
        state,
        events: recovered.events,
        bench,
        torn: false,
        _lock: lock,
    };
    let other = by.filter(|by| *by != session.by()).map(str::to_owned);
    if let (Some(record), Some(other)) = (&session.state.closed, &other)
        && session.permit(open).is_ok()
    {
        return Err(AppError::new(format!(
            "`{0}` closed the session as {record}, and its record is to be sealed in their name; `{other}` can't take it over: `stepwell resume {1}`, by `{0}`, seals it",
            session.by(),
            session.head.session
        )));
    }
    let withdrawn = withdrawn(host, &session);
    let lost = recovered.lost;
    let goes_on = session.state.closed.is_none() || (other.is_some() && !session.is_written());
    if goes_on {
        let event = Event::Resume {
            lost: lost.clone(),
            by: other,
            withdrawn: withdrawn.clone(),
            at: host.now(),
        };
        session.keep(event).map_err(Held::into_error)?;
    }
    Ok(Resumed {
        session,
        lost,
        withdrawn,
    })
}

/// Whether the recipe of a session was withdrawn since it was begun. Approvals that can't be read keep nobody from what was
/// entered: `verify` names them.
fn withdrawn(host: &dyn Host, session: &Session<'_>) -> Option<String> {
    let RecipeHead { id, revision, .. } = &session.head.recipe;
    let known = approvals(host, &session.paths).ok()?;
    match known.standing(id, *revision) {
        Standing::Withdrawn(line) if !session.head.trial => {
            Some(format!("`{id}` revision {revision} {}", withdrawal(&line)))
        }
        _ => None,
    }
}
