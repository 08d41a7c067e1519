//! The outside: disk, clock and instruments that print lines behind one trait, with the real one and one that fails on demand.
//!
//! Never in here: what files mean. Changes when the program needs something new from outside.

mod connection;
mod failing;
mod git;
mod hurried;
mod real;
#[cfg(unix)]
mod serial;
mod speaker;
mod typed;

use std::io;
use std::path::{Path, PathBuf};

pub use failing::FailingHost;
pub use hurried::HurriedHost;
pub use real::RealHost;
pub use speaker::{HeardLine, Hearing, Line, Listening, Parity, Speaker, Wanted};
pub use typed::{forget_typed, has_typed, screen_size};

/// A lock on a file; given back when it is dropped.
#[derive(Debug)]
pub struct Lock(#[allow(dead_code, reason = "held for as long as the lock")] Option<std::fs::File>);

/// Size and time of the last change of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Size in bytes.
    pub bytes: u64,
    /// Nanoseconds since 1970, as far as the file system tells them.
    pub changed_ns: i64,
}

/// What the program needs from outside.
pub trait Host: Send + Sync {
    /// Reads a whole file of at most `limit` bytes.
    ///
    /// # Errors
    /// Those of the system; a file that is larger.
    fn read(&self, path: &Path, limit: u64) -> io::Result<Vec<u8>>;

    /// Writes a whole file: the old content stays until the new one is safe.
    ///
    /// # Errors
    /// Those of the system; the file is then as it was.
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;

    /// Writes a whole file as [`Host::write`] does, piece by piece, so that it is never held as a whole.
    ///
    /// # Errors
    /// Those of the system and of `fill`; the file is then as it was.
    fn write_with(
        &self,
        path: &Path,
        fill: &mut dyn FnMut(&mut dyn io::Write) -> io::Result<()>,
    ) -> io::Result<()>;

    /// Writes a file that must not exist yet, whole or not at all.
    ///
    /// # Errors
    /// `AlreadyExists`, and those of the system.
    fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;

    /// Writes a file as [`Host::create`] does, readable by its owner alone where the system knows owners.
    ///
    /// # Errors
    /// As [`Host::create`].
    fn create_secret(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;

    /// Appends to a file and waits until it is on the disk.
    ///
    /// # Errors
    /// Those of the system; part of the bytes may have been written.
    fn append(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;

    /// Cuts a file to a length.
    ///
    /// # Errors
    /// Those of the system.
    fn truncate(&self, path: &Path, length: u64) -> io::Result<()>;

    /// Removes a file.
    ///
    /// # Errors
    /// Those of the system.
    fn remove(&self, path: &Path) -> io::Result<()>;

    /// Makes a folder and those above it.
    ///
    /// # Errors
    /// Those of the system.
    fn make_folder(&self, path: &Path) -> io::Result<()>;

    /// The files and folders in a folder, sorted; nothing for one that does not exist.
    ///
    /// # Errors
    /// Those of the system.
    fn list(&self, folder: &Path) -> io::Result<Vec<PathBuf>>;

    /// Whether there is a file or folder of this name.
    fn exists(&self, path: &Path) -> bool;

    /// Whether there is a folder of this name.
    fn is_folder(&self, path: &Path) -> bool;

    /// Whether something of this name is neither a file nor a folder: a pipe, say, that nobody may ever write to.
    fn is_special(&self, path: &Path) -> bool;

    /// Locks a file, making it if need be.
    ///
    /// # Errors
    /// `WouldBlock` where another process holds it, and those of the system.
    fn lock(&self, path: &Path) -> io::Result<Lock>;

    /// Locks a file as [`Host::lock`] does, waiting up to some seconds for another process to be done.
    ///
    /// # Errors
    /// `WouldBlock` where another process still holds it, and those of the system.
    fn wait_lock(&self, path: &Path) -> io::Result<Lock>;

    /// Size and time of the last change of a file, to tell whether it is the one that was read before.
    ///
    /// # Errors
    /// Those of the system.
    fn stamp(&self, path: &Path) -> io::Result<Stamp>;

    /// Fills a buffer with bytes that nobody can guess.
    ///
    /// # Errors
    /// Those of the system.
    fn random(&self, bytes: &mut [u8]) -> io::Result<()>;

    /// A file as git keeps it, named `REVISION:PATH`, of at most `limit` bytes; git looks from this folder.
    ///
    /// # Errors
    /// No git; what git says where it knows no such file; a file that is larger.
    fn git_show(&self, folder: &Path, named: &str, limit: u64) -> io::Result<Vec<u8>>;

    /// Listens to an instrument that prints lines, beside everything else; commands run in this folder.
    fn listen(&self, speaker: &Speaker, folder: &Path, wanted: Vec<Wanted>) -> Listening {
        Listening::to(speaker.clone(), folder, wanted)
    }

    /// The time now as RFC 3339 text in UTC with the local offset kept, to the millisecond.
    fn now(&self) -> String;

    /// Time since some fixed moment; unlike `now` it never jumps.
    fn monotonic(&self) -> std::time::Duration;

    /// What the surroundings of the process say under a name; nothing where that is empty.
    fn variable(&self, name: &str) -> Option<String> {
        std::env::var(name).ok().filter(|text| !text.is_empty())
    }

    /// The day now, as `2026-11-25`.
    fn today(&self) -> String {
        self.now().chars().take(10).collect()
    }
}

/// The milliseconds from one RFC 3339 time to another; nothing where either can't be read.
#[must_use]
pub fn milliseconds_between(from: &str, to: &str) -> Option<i64> {
    let read = |text: &str| {
        text.parse::<jiff::Timestamp>()
            .ok()
            .map(jiff::Timestamp::as_millisecond)
    };
    Some(read(to)? - read(from)?)
}
