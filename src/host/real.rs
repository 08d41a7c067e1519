//! The real outside.
//!
//! Never in here: what files mean. Changes when a system behaves otherwise.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use jiff::{Timestamp, ZonedDateTime, tz::TimeZone};

use super::{Host, Lock, Stamp};

/// How long another process may hold a ledger before it is said, and how often it is looked.
const PATIENCE: std::time::Duration = std::time::Duration::from_secs(10);
const LOOK_AGAIN: std::time::Duration = std::time::Duration::from_millis(20);

/// Disk and clock of the machine.
#[derive(Clone, Debug)]
pub struct RealHost {
    zone: TimeZone,
    begun: std::time::Instant,
}

impl Default for RealHost {
    fn default() -> Self {
        Self {
            zone: TimeZone::system(),
            begun: std::time::Instant::now(),
        }
    }
}

fn folder_of(path: &Path) -> &Path {
    path.parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

/// A file beside `path` that nobody else writes to.
fn beside(path: &Path) -> PathBuf {
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    folder_of(path).join(format!(".{name}.{}.part", std::process::id()))
}

/// Makes a rename or a new file lasting; folders can't be synced everywhere, so that it is done where it can be.
fn sync_folder(path: &Path) {
    if let Ok(folder) = File::open(folder_of(path)) {
        let _ = folder.sync_all();
    }
}

/// What fills a file.
type Fill<'f> = dyn FnMut(&mut dyn Write) -> io::Result<()> + 'f;

fn write_part(part: &Path, bytes: &[u8]) -> io::Result<()> {
    fill_part(part, &mut |file| file.write_all(bytes))
}

fn fill_part(part: &Path, fill: &mut Fill<'_>) -> io::Result<()> {
    let mut file = File::create(part)?;
    fill(&mut file)?;
    file.sync_all()
}

/// Writes a file that only its owner may read, from its first moment on.
fn write_secret(part: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    let mut file = options.open(part)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// Gives a whole file its name, if the name is free: the name never shows half a file.
fn name_once(part: &Path, path: &Path) -> io::Result<()> {
    match fs::hard_link(part, path) {
        // Sticks and some shared folders have no links; what is left is to look first.
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::Unsupported | io::ErrorKind::PermissionDenied
            ) =>
        {
            if path.exists() {
                return Err(io::ErrorKind::AlreadyExists.into());
            }
            fs::rename(part, path)
        }
        linked => linked,
    }
}

impl Host for RealHost {
    fn read(&self, path: &Path, limit: u64) -> io::Result<Vec<u8>> {
        let file = File::open(path)?;
        // Room for the whole at once: a buffer that grows is held twice each time that it does.
        let length = file.metadata()?.len().min(limit);
        let mut bytes = Vec::with_capacity(usize::try_from(length).unwrap_or(0) + 1);
        file.take(limit + 1).read_to_end(&mut bytes)?;
        if bytes.len() as u64 > limit {
            return Err(io::Error::new(
                io::ErrorKind::FileTooLarge,
                format!("larger than {limit} bytes"),
            ));
        }
        Ok(bytes)
    }

    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        self.write_with(path, &mut |file| file.write_all(bytes))
    }

    fn write_with(&self, path: &Path, fill: &mut Fill<'_>) -> io::Result<()> {
        // A link stays a link; what is no file (a device, a pipe) is written to, never replaced.
        let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let before = fs::metadata(&target);
        match &before {
            Ok(found) if found.is_dir() => return Err(io::ErrorKind::IsADirectory.into()),
            Ok(found) if !found.is_file() => {
                return fill(&mut OpenOptions::new().write(true).open(&target)?);
            }
            Ok(found) if found.permissions().readonly() => {
                return Err(io::ErrorKind::PermissionDenied.into());
            }
            _ => {}
        }
        let part = beside(&target);
        // Who may read a file stays who may.
        let keep = || match &before {
            Ok(found) => fs::set_permissions(&part, found.permissions()),
            Err(_) => Ok(()),
        };
        let filled = fill_part(&part, fill).and_then(|()| keep());
        let written = filled.and_then(|()| fs::rename(&part, &target));
        if written.is_err() {
            let _ = fs::remove_file(&part);
        }
        sync_folder(&target);
        written
    }

    fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let part = beside(path);
        let written = write_part(&part, bytes).and_then(|()| name_once(&part, path));
        // After a link the part is a second name; after a fault it is of no use.
        let _ = fs::remove_file(&part);
        sync_folder(path);
        written
    }

    fn create_secret(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let part = beside(path);
        let written = write_secret(&part, bytes).and_then(|()| name_once(&part, path));
        let _ = fs::remove_file(&part);
        sync_folder(path);
        written
    }

    fn append(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let mut file = OpenOptions::new().append(true).open(path)?;
        file.write_all(bytes)?;
        file.sync_data()
    }

    fn truncate(&self, path: &Path, length: u64) -> io::Result<()> {
        let file = OpenOptions::new().write(true).open(path)?;
        file.set_len(length)?;
        file.sync_all()
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)?;
        sync_folder(path);
        Ok(())
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        fs::create_dir_all(path)
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<PathBuf>> {
        let entries = match fs::read_dir(folder) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            other => other?,
        };
        let mut paths = entries
            .map(|e| e.map(|e| e.path()))
            .collect::<io::Result<Vec<_>>>()?;
        paths.sort();
        Ok(paths)
    }

    fn exists(&self, path: &Path) -> bool {
        path.exists()
    }

    fn is_folder(&self, path: &Path) -> bool {
        path.is_dir()
    }

    fn is_special(&self, path: &Path) -> bool {
        fs::metadata(path).is_ok_and(|found| !found.is_file() && !found.is_dir())
    }

    fn lock(&self, path: &Path) -> io::Result<Lock> {
        let file = OpenOptions::new()
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)?;
        match file.try_lock() {
            Ok(()) => Ok(Lock(Some(file))),
            Err(TryLockError::WouldBlock) => Err(io::ErrorKind::WouldBlock.into()),
            Err(TryLockError::Error(error)) => Err(error),
        }
    }

    fn wait_lock(&self, path: &Path) -> io::Result<Lock> {
        let begun = std::time::Instant::now();
        loop {
            match self.lock(path) {
                Err(error)
                    if error.kind() == io::ErrorKind::WouldBlock && begun.elapsed() < PATIENCE =>
                {
                    std::thread::sleep(LOOK_AGAIN);
                }
                other => return other,
            }
        }
    }

    fn stamp(&self, path: &Path) -> io::Result<Stamp> {
        let found = fs::metadata(path)?;
        let since = found.modified()?.duration_since(std::time::UNIX_EPOCH);
        let changed_ns = since.map_or(0, |d| i64::try_from(d.as_nanos()).unwrap_or(i64::MAX));
        Ok(Stamp {
            bytes: found.len(),
            changed_ns,
        })
    }

    fn random(&self, bytes: &mut [u8]) -> io::Result<()> {
        getrandom::fill(bytes).map_err(|e| io::Error::other(e.to_string()))
    }

    fn git_show(&self, folder: &Path, named: &str, limit: u64) -> io::Result<Vec<u8>> {
        super::git::show(folder, named, limit)
    }

    fn now(&self) -> String {
        let now = ZonedDateTime::new(Timestamp::now(), self.zone.clone());
        now.strftime("%Y-%m-%dT%H:%M:%S%.3f%:z").to_string()
    }

    fn monotonic(&self) -> std::time::Duration {
        self.begun.elapsed()
    }
}
