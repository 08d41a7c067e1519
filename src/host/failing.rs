//! An outside whose n-th write fails, for tests of what is left behind.
//!
//! Never in here: anything that a user runs. Changes when the trait does.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use super::{Host, Lock, RealHost, Stamp};

/// The real outside until the n-th write, which fails as on a full disk, as do all after it.
#[derive(Debug)]
pub struct FailingHost {
    real: RealHost,
    writes: AtomicUsize,
    fails_at: usize,
}

impl FailingHost {
    /// Fails from the n-th write on, counted from 1.
    #[must_use]
    pub fn new(fails_at: usize) -> Self {
        Self {
            real: RealHost::default(),
            writes: AtomicUsize::new(0),
            fails_at,
        }
    }

    /// How many writes were asked for.
    #[must_use]
    pub fn writes(&self) -> usize {
        self.writes.load(Ordering::SeqCst)
    }

    fn counted(&self) -> io::Result<()> {
        let number = self.writes.fetch_add(1, Ordering::SeqCst) + 1;
        if number >= self.fails_at {
            Err(io::Error::new(io::ErrorKind::StorageFull, "no space left"))
        } else {
            Ok(())
        }
    }
}

impl Host for FailingHost {
    fn read(&self, path: &Path, limit: u64) -> io::Result<Vec<u8>> {
        self.real.read(path, limit)
    }

    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        self.counted()?;
        self.real.write(path, bytes)
    }

    fn write_with(
        &self,
        path: &Path,
        fill: &mut dyn FnMut(&mut dyn io::Write) -> io::Result<()>,
    ) -> io::Result<()> {
        self.counted()?;
        self.real.write_with(path, fill)
    }

    fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        self.counted()?;
        self.real.create(path, bytes)
    }

    fn create_secret(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        self.counted()?;
        self.real.create_secret(path, bytes)
    }

    fn append(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        if let Err(error) = self.counted() {
            // A full disk takes a part.
            self.real.append(path, &bytes[..bytes.len() / 2])?;
            return Err(error);
        }
        self.real.append(path, bytes)
    }

    fn truncate(&self, path: &Path, length: u64) -> io::Result<()> {
        self.counted()?;
        self.real.truncate(path, length)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        self.counted()?;
        self.real.remove(path)
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        self.counted()?;
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

    fn random(&self, bytes: &mut [u8]) -> io::Result<()> {
        self.real.random(bytes)
    }

    fn git_show(&self, folder: &Path, named: &str, limit: u64) -> io::Result<Vec<u8>> {
        self.real.git_show(folder, named, limit)
    }

    fn now(&self) -> String {
        self.real.now()
    }

    fn monotonic(&self) -> std::time::Duration {
        self.real.monotonic()
    }
}
