//! A disk that is not waited for, and a clock of its own: for making many records in a short time.
//!
//! Never in here: what keeps a real shop's records; a crash could cost them. Changes when the trait does.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};

use super::{Host, Lock, RealHost, Stamp};

/// The real outside without waiting for the disk; the clock stands where it was set.
#[derive(Debug, Default)]
pub struct HurriedHost {
    real: RealHost,
    now: Mutex<Timestamp>,
}

impl HurriedHost {
    /// With a clock that stands at the beginning of 1970.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// With the clock of the machine, from where it stands still.
    #[must_use]
    pub fn at_present() -> Self {
        Self {
            now: Mutex::new(Timestamp::now()),
            ..Self::default()
        }
    }

    /// Sets the clock to an RFC 3339 time.
    ///
    /// # Panics
    /// What is no time.
    pub fn set(&self, now: &str) {
        *self.clock() = now.parse().expect("an RFC 3339 time");
    }

    /// Lets some time go by.
    pub fn pass(&self, time: Duration) {
        let mut now = self.clock();
        let gone = SignedDuration::try_from(time).ok();
        *now = gone.and_then(|g| now.checked_add(g).ok()).unwrap_or(*now);
    }

    fn clock(&self) -> MutexGuard<'_, Timestamp> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Host for HurriedHost {
    fn read(&self, path: &Path, limit: u64) -> io::Result<Vec<u8>> {
        self.real.read(path, limit)
    }

    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        std::fs::write(path, bytes)
    }

    fn write_with(
        &self,
        path: &Path,
        fill: &mut dyn FnMut(&mut dyn io::Write) -> io::Result<()>,
    ) -> io::Result<()> {
        fill(&mut std::fs::File::create(path)?)
    }

    fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        std::fs::write(path, bytes)
    }

    fn create_secret(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        std::fs::write(path, bytes)
    }

    fn append(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        use std::io::Write;
        let mut file = std::fs::OpenOptions::new().append(true).open(path)?;
        file.write_all(bytes)
    }

    fn truncate(&self, path: &Path, length: u64) -> io::Result<()> {
        self.real.truncate(path, length)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        std::fs::remove_file(path)
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        self.real.make_folder(path)
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<PathBuf>> {
        self.real.list(folder)
    }

    fn exists(&self, path: &Path) -> bool {
        self.real.exists(path)
    }

    fn is_folder(&self, path: &Path) -> bool {
        self.real.is_folder(path)
    }

    fn is_special(&self, path: &Path) -> bool {
        self.real.is_special(path)
    }

    fn lock(&self, path: &Path) -> io::Result<Lock> {
        self.real.lock(path)
    }

    fn wait_lock(&self, path: &Path) -> io::Result<Lock> {
        self.real.wait_lock(path)
    }

    fn stamp(&self, path: &Path) -> io::Result<Stamp> {
        self.real.stamp(path)
    }

    fn git_show(&self, folder: &Path, named: &str, limit: u64) -> io::Result<Vec<u8>> {
        self.real.git_show(folder, named, limit)
    }

    fn random(&self, bytes: &mut [u8]) -> io::Result<()> {
        self.real.random(bytes)
    }

    fn now(&self) -> String {
        self.clock()
            .strftime("%Y-%m-%dT%H:%M:%S%.3f+00:00")
            .to_string()
    }

    fn monotonic(&self) -> Duration {
        self.real.monotonic()
    }
}
