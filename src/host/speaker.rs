//! Instruments that print lines: a serial line, a TCP socket, or a command, listened to beside everything else.
//!
//! What is kept is bounded whatever comes in: a part of a line, and the newest whole line of each kind that was asked for.
//! Never in here: what lines mean. Changes when an instrument can be reached otherwise.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::connection::{Connection, Got};

/// Longest line that is taken, in bytes; a longer one is left out whole.
const MAX_LINE: usize = 256;
/// How long it is waited before a broken connection is tried again.
const TRY_AGAIN: Duration = Duration::from_secs(1);
/// How often it is looked whether a command is wanted, or nothing any more.
const LOOK: Duration = Duration::from_millis(20);

/// A serial line and how it is set; one stop bit.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Line {
    pub path: PathBuf,
    pub baud: u32,
    /// 7 or 8.
    pub bits: u32,
    pub parity: Parity,
}

/// The parity of a serial line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the usual words")]
pub enum Parity {
    None,
    Even,
    Odd,
}

/// Where an instrument's lines come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Speaker {
    /// A serial line.
    Serial(Line),
    /// `HOST:PORT`.
    Tcp(String),
    /// A program with its arguments; it is run when a reading is asked for.
    Command(Vec<String>),
}

impl std::fmt::Display for Speaker {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Serial(line) => write!(f, "{}", line.path.display()),
            Self::Tcp(address) => f.write_str(address),
            Self::Command(words) => f.write_str(&words.join(" ")),
        }
    }
}

/// Tells whether a line is one of those that are waited for.
pub type Wanted = Box<dyn Fn(&str) -> bool + Send>;

/// A whole line that was heard.
#[derive(Clone, Debug)]
pub struct HeardLine {
    /// Its text; where it is no UTF-8, each byte is a character (Latin-1).
    pub text: String,
    /// How long ago it came.
    pub ago: Duration,
    /// Which line it was since the program listens, from 1.
    pub number: u64,
}

/// What is known of a speaker now.
#[derive(Clone, Debug, Default)]
pub struct Hearing {
    /// For every wanted kind of line the newest.
    pub newest: Vec<Option<HeardLine>>,
    /// The newest whole line of any kind.
    pub last: Option<HeardLine>,
    /// Why there is no connection; nothing while there is one.
    pub silent: Option<String>,
    /// Nothing more comes unless it is asked for: a command has ended.
    pub gave_up: bool,
}

#[derive(Default)]
struct Kept {
    newest: Vec<Option<(String, Instant, u64)>>,
    last: Option<(String, Instant, u64)>,
    silent: Option<String>,
    count: u64,
    /// A command is to be run.
    asked: bool,
    gave_up: bool,
}

/// A speaker that is listened to, until it is dropped.
pub struct Listening {
    kept: Arc<Mutex<Kept>>,
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Listening {
    /// Begins to listen; `folder` is where commands run.
    #[must_use]
    pub fn to(speaker: Speaker, folder: &Path, wanted: Vec<Wanted>) -> Self {
        let kept = Kept {
            newest: vec![None; wanted.len()],
            silent: Some("not connected yet".to_owned()),
            ..Kept::default()
        };
        let mut listening = Self {
            kept: Arc::new(Mutex::new(kept)),
            over: Arc::default(),
            thread: None,
        };
        let is_command = matches!(speaker, Speaker::Command(_));
        let ear = Ear {
            kept: Arc::clone(&listening.kept),
            over: Arc::clone(&listening.over),
            wanted,
        };
        let folder = folder.to_owned();
        let thread = std::thread::spawn(move || ear.listen(&speaker, &folder));
        // A command is ended with the session; other connections end with the program.
        listening.thread = is_command.then_some(thread);
        listening
    }

    /// Asks for a reading: a command that is not running is run, and what it printed before counts no more.
    pub fn ask(&self) {
        let mut kept = lock(&self.kept);
        if kept.gave_up {
            kept.newest.fill(None);
            kept.last = None;
            kept.gave_up = false;
        }
        kept.asked = true;
    }

    /// What is known now.
    #[must_use]
    pub fn now(&self) -> Hearing {
        let kept = lock(&self.kept);
        let told = |line: &Option<(String, Instant, u64)>| {
            line.as_ref().map(|(text, at, number)| HeardLine {
                text: text.clone(),
                ago: at.elapsed(),
                number: *number,
            })
        };
        Hearing {
            newest: kept.newest.iter().map(told).collect(),
            last: told(&kept.last),
            silent: kept.silent.clone(),
            gave_up: kept.gave_up,
        }
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // It ended its command, or has come to its own end before.
            let _ = thread.join();
        }
    }
}

/// What a listener left behind is still whole: each change of it is one assignment.
fn lock(kept: &Mutex<Kept>) -> MutexGuard<'_, Kept> {
    kept.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The thread's side.
struct Ear {
    kept: Arc<Mutex<Kept>>,
    over: Arc<AtomicBool>,
    wanted: Vec<Wanted>,
}

impl Ear {
    fn is_over(&self) -> bool {
        self.over.load(Ordering::Relaxed)
    }

    fn listen(&self, speaker: &Speaker, folder: &Path) {
        let is_command = matches!(speaker, Speaker::Command(_));
        while !self.is_over() {
            if is_command && !lock(&self.kept).asked {
                std::thread::sleep(LOOK);
                continue;
            }
            let why = match Connection::open(speaker, folder) {
                Ok(mut connection) => self.follow(&mut connection, is_command),
                Err(error) => Some(error.to_string()),
            };
            let mut kept = lock(&self.kept);
            kept.silent = why;
            (kept.asked, kept.gave_up) = (false, is_command);
            drop(kept);
            if !is_command {
                self.wait(TRY_AGAIN);
            }
        }
    }

    fn wait(&self, long: Duration) {
        let begun = Instant::now();
        while begun.elapsed() < long && !self.is_over() {
            std::thread::sleep(LOOK);
        }
    }

    /// Takes lines until the connection ends; gives why, where that is a fault.
    fn follow(&self, connection: &mut Connection, from_its_start: bool) -> Option<String> {
        lock(&self.kept).silent = None;
        let mut lines = Lines::new(from_its_start);
        let mut bytes = [0; 4096];
        while !self.is_over() {
            match connection.read(&mut bytes) {
                Ok(Got::Bytes(n)) => lines.take(&bytes[..n], |line| self.keep(line)),
                Ok(Got::Nothing) => {}
                Ok(Got::End(why)) => return why,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Some(error.to_string()),
            }
        }
        None
    }

    fn keep(&self, line: &[u8]) {
        let text = match std::str::from_utf8(line) {
            Ok(text) => text.to_owned(),
            Err(_) => line.iter().map(|byte| char::from(*byte)).collect(),
        };
        let text = text.trim();
        if text.is_empty() {
            return;
        }
        let matching: Vec<bool> = self.wanted.iter().map(|wanted| wanted(text)).collect();
        let mut kept = lock(&self.kept);
        kept.count += 1;
        let heard = (text.to_owned(), Instant::now(), kept.count);
        for (slot, _) in kept.newest.iter_mut().zip(matching).filter(|(_, m)| *m) {
            *slot = Some(heard.clone());
        }
        kept.last = Some(heard);
    }
}

/// Bytes put together to lines.
struct Lines {
    part: Vec<u8>,
    /// Whether the line that is under way is left out: half of it may be missing, or it is too long.
    left_out: bool,
}

impl Lines {
    /// What comes before the first end of a line is half a line, unless it is read from its start.
    fn new(from_its_start: bool) -> Self {
        Self {
            part: Vec::with_capacity(MAX_LINE),
            left_out: !from_its_start,
        }
    }

    fn take(&mut self, bytes: &[u8], mut keep: impl FnMut(&[u8])) {
        for byte in bytes {
            if matches!(byte, b'\n' | b'\r') {
                if !self.left_out {
                    keep(&self.part);
                }
                self.part.clear();
                self.left_out = false;
            } else if self.part.len() == MAX_LINE {
                self.left_out = true;
            } else {
                self.part.push(*byte);
            }
        }
    }
}
