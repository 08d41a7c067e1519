//! A disk that is not waited for, and a clock of its own: for making many records in a short time.
//!
//! Never in here: anything that a user runs. Changes when the trait does.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Duration;

use stepwell::host::{Host, Lock, RealHost, Stamp};

/// The real outside without waiting for the disk; the clock stands where it was set.
pub struct Hurried {
    real: RealHost,
    now: Mutex<String>,
}

impl Hurried {
    /// With a clock that is not set yet.
    pub fn new() -> Self {
        Self {
            real: RealHost::default(),
            now: Mutex::new(String::new()),
        }
    }

    /// Sets the clock.
    pub fn set(&self, now: String) {
        *self.now.lock().expect("one thread") = now;
    }
}

impl Host for Hurried {
    fn read(&self, path: &Path, limit: u64) -> io::Result<Vec<u8>> {
        self.real.read(path, limit)
    }

    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        std::fs::write(path, bytes)
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
        self.now.lock().expect("one thread").clone()
    }

    fn monotonic(&self) -> Duration {
        self.real.monotonic()
    }
}
