//! Keys of persons on this computer, and passphrases.
//!
//! Never in here: what is signed. Changes when keys lie elsewhere.

use std::cell::OnceCell;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use clap::Args;

use crate::app::{self, AppError};
use crate::host::Host;
use crate::shop::Permit;
use crate::trust::{KeyFault, SecretKey, Signature, Statement};

use super::show::plain;

/// Largest key file, in bytes.
const MAX_KEY: u64 = 64 * 1024;
/// How often a passphrase may be mistyped.
const TRIES: usize = 3;

/// Where the key is, and how it is opened.
#[derive(Clone, Debug, Default, Args)]
pub struct Signing {
    /// The key to sign with; without it, the one of that person on this computer
    #[arg(long, value_name = "FILE")]
    pub key: Option<PathBuf>,
    /// A file whose first line is the passphrase; without it, it is asked for
    #[arg(long, value_name = "FILE")]
    pub passphrase_file: Option<PathBuf>,
    /// What stands in that file.
    #[arg(skip)]
    read: OnceRead,
}

/// A passphrase that was read from its file; a pipe gives it once only.
#[derive(Clone, Default)]
struct OnceRead(OnceCell<String>);

impl std::fmt::Debug for OnceRead {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a passphrase, or none yet")
    }
}

impl Signing {
    /// Another one with a key of its own.
    pub(super) fn by_key(key: Option<PathBuf>) -> Self {
        Self {
            key,
            ..Self::default()
        }
    }

    /// The passphrase in the file that was named for it.
    fn passphrase(&self, host: &dyn Host, file: &Path) -> Result<String, AppError> {
        if let Some(read) = self.read.0.get() {
            return Ok(read.clone());
        }
        let read = passphrase_in(host, file)?;
        Ok(self.read.0.get_or_init(|| read).clone())
    }
}

/// The folder of keys on this computer: `STEPWELL_KEYS`, or `.stepwell/keys` in the home folder.
pub(super) fn keys_folder() -> Result<PathBuf, AppError> {
    if let Some(folder) = std::env::var_os("STEPWELL_KEYS").filter(|f| !f.is_empty()) {
        return Ok(PathBuf::from(folder));
    }
    let home = std::env::home_dir().filter(|h| !h.as_os_str().is_empty());
    home.map(|h| h.join(".stepwell").join("keys")).ok_or_else(|| {
        AppError::new("there is no home folder for keys; name one in STEPWELL_KEYS, or the key with `--key FILE`")
    })
}

/// The key of a person, where it is wanted.
pub(super) fn key_file(how: &Signing, person: &str) -> Result<PathBuf, AppError> {
    match &how.key {
        Some(file) => Ok(file.clone()),
        None => Ok(keys_folder()?.join(person)),
    }
}

/// Signs in the name of whom the permit is for; nothing where the person has no key. The key is opened once.
pub(super) fn signer<'s>(
    host: &'s dyn Host,
    permit: &'s Permit,
    namespace: &'s str,
    how: &'s Signing,
) -> impl FnMut(Statement) -> Result<Option<Signature>, AppError> + 's {
    let mut opened = None;
    move |statement| {
        if permit.person().public_key.is_none() {
            return Ok(None);
        }
        let key = match opened.take() {
            Some(key) => key,
            None => {
                let path = key_file(how, &permit.person().id)?;
                open_key(host, &path, &permit.person().id, how)?
            }
        };
        let key = opened.insert(key);
        app::sign_with(permit, key, statement, namespace).map(Some)
    }
}

/// Signs with a key that is opened at once: for what is signed while a ledger is held, and others would wait for a
/// passphrase.
pub(super) fn ready_signer<'s>(
    host: &dyn Host,
    permit: &'s Permit,
    namespace: &'s str,
    how: &Signing,
) -> Result<impl FnMut(Statement) -> Result<Option<Signature>, AppError> + 's, AppError> {
    let key = match &permit.person().public_key {
        None => None,
        Some(_) => {
            let path = key_file(how, &permit.person().id)?;
            Some(open_key(host, &path, &permit.person().id, how)?)
        }
    };
    Ok(move |statement: Statement| {
        let signed = key
            .as_ref()
            .map(|key| app::sign_with(permit, key, statement, namespace));
        signed.transpose()
    })
}

/// Whether the key of a person is at hand and theirs, and opened by the passphrase of a file, said before an hour of work rather than after it.
pub(super) fn at_hand(host: &dyn Host, permit: &Permit, how: &Signing) -> Result<(), AppError> {
    if permit.person().public_key.is_none() {
        return Ok(());
    }
    let person = &permit.person().id;
    let path = key_file(how, person)?;
    let fault = |why: String| AppError::new(format!("{}: {why}", path.display()));
    let key = SecretKey::public_in(&read_key(host, &path, person)?);
    let key = key.map_err(|e| fault(e.to_string()))?;
    app::own_key(permit, &key).map_err(|e| fault(e.to_string()))?;
    match how.passphrase_file {
        // Nobody types it again at the end.
        Some(_) => open_key(host, &path, person, how).map(drop),
        None => Ok(()),
    }
}

fn read_key(host: &dyn Host, path: &Path, person: &str) -> Result<String, AppError> {
    let bytes = host.read(path, MAX_KEY).map_err(|error| {
        if error.kind() == std::io::ErrorKind::NotFound {
            return AppError::new(format!(
                "{}: the key of `{person}` is not on this computer; name it with `--key FILE`",
                path.display()
            ));
        }
        AppError::at(path, &error)
    })?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Opens a key; a passphrase is asked for where it needs one.
pub(super) fn open_key(
    host: &dyn Host,
    path: &Path,
    person: &str,
    how: &Signing,
) -> Result<SecretKey, AppError> {
    let text = read_key(host, path, person)?;
    let fault = |fault: KeyFault| AppError::new(format!("{}: {fault}", path.display()));
    if let Some(file) = &how.passphrase_file {
        let passphrase = how.passphrase(host, file)?;
        return SecretKey::open(&text, || Some(passphrase)).map_err(fault);
    }
    let terminal = std::io::stdin().is_terminal();
    let question = format!("Passphrase of {}: ", plain(person));
    for _ in 0..TRIES {
        let asked = || {
            terminal
                .then(|| rpassword::prompt_password(&question).ok())
                .flatten()
        };
        match SecretKey::open(&text, asked) {
            Err(KeyFault::WrongPassphrase) => eprintln!("  {}", KeyFault::WrongPassphrase),
            Err(KeyFault::Locked) if terminal => {
                return Err(AppError::new("no passphrase was typed: nothing was signed"));
            }
            Err(KeyFault::Locked) => {
                return Err(AppError::new(format!(
                    "{}: {}; `--passphrase-file FILE` gives it",
                    path.display(),
                    KeyFault::Locked
                )));
            }
            other => return other.map_err(fault),
        }
    }
    Err(fault(KeyFault::WrongPassphrase))
}

/// The first line of a file.
pub(super) fn passphrase_in(host: &dyn Host, file: &Path) -> Result<String, AppError> {
    let bytes = host
        .read(file, MAX_KEY)
        .map_err(|e| AppError::at(file, &e))?;
    let text = String::from_utf8_lossy(&bytes);
    Ok(text.lines().next().unwrap_or_default().to_owned())
}
