//! Keys of people: giving a person a key, keeping the one before, and the file that `ssh-keygen -Y verify` reads.
//!
//! Never in here: where secret keys lie (see `cli`). Changes when a person's key comes to mean more.

use std::path::{Path, PathBuf};

use crate::host::Host;
use crate::shop::Paths;
use crate::shop::import::{Change, Changed, Register};
use crate::trust::{APPROVAL, KeySeed, PublicKey, RECORD, SecretKey};

use super::AppError;
use super::open::read_people_of;
use super::registers::{lock_registers, open_register};

/// Largest key file, in bytes.
const MAX_KEY: u64 = 64 * 1024;

/// Makes a key, and writes its two files: the secret one locked by the passphrase, beside it the public one in `.pub`.
///
/// # Errors
/// A file that is there already, and those of the system.
pub fn make_key(
    host: &dyn Host,
    file: &Path,
    comment: &str,
    passphrase: &str,
) -> Result<PublicKey, AppError> {
    let mut random: KeySeed = [0; size_of::<KeySeed>()];
    host.random(&mut random)
        .map_err(|e| AppError::at(file, &e))?;
    let fault = |f: crate::trust::KeyFault| AppError::new(f.to_string());
    let key = SecretKey::make(&random, comment).map_err(fault)?;
    let text = key.to_text(&random, passphrase).map_err(fault)?;
    if let Some(folder) = file.parent() {
        host.make_folder(folder)
            .map_err(|e| AppError::at(folder, &e))?;
    }
    host.create_secret(file, text.as_bytes()).map_err(|error| {
        if error.kind() == std::io::ErrorKind::AlreadyExists {
            return taken(file);
        }
        AppError::at(file, &error)
    })?;
    let public = key.public();
    let beside = public_of(file);
    host.write(&beside, format!("{} {comment}\n", public.line()).as_bytes())
        .map_err(|e| AppError::at(&beside, &e))?;
    Ok(public)
}

/// That no key lies in a file yet: said before a passphrase is asked for.
///
/// # Errors
/// One that lies there, with what can be done.
pub fn is_free(host: &dyn Host, file: &Path) -> Result<(), AppError> {
    if host.exists(file) {
        return Err(taken(file));
    }
    Ok(())
}

fn taken(file: &Path) -> AppError {
    AppError::new(format!(
        "{0}: there is a key already; `--new` puts it aside and makes a new one, `--public {0}.pub` enters this one, `--key FILE` names another file for the new one",
        file.display()
    ))
}

/// Most keys of a person that are kept aside.
const MAX_ASIDE: usize = 1_000;

/// Puts a key's two files aside, to make room for a new key; gives the new name of the secret one. Without a key nothing
/// is done.
///
/// # Errors
/// Those of the system: the key is then where it was.
pub fn put_aside(host: &dyn Host, file: &Path) -> Result<Option<PathBuf>, AppError> {
    if !host.exists(file) {
        return Ok(None);
    }
    let read = |path: &Path| host.read(path, MAX_KEY).map_err(|e| AppError::at(path, &e));
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let free = (1..=MAX_ASIDE)
        .map(|n| file.with_file_name(format!("{name}.former-{n}")))
        .find(|aside| !host.exists(aside));
    let aside = free.ok_or_else(|| {
        AppError::new(format!(
            "{}: too many former keys lie beside it; move some away",
            file.display()
        ))
    })?;
    host.create_secret(&aside, &read(file)?)
        .map_err(|e| AppError::at(&aside, &e))?;
    let (public, beside) = (public_of(file), public_of(&aside));
    if host.exists(&public) {
        host.write(&beside, &read(&public)?)
            .map_err(|e| AppError::at(&beside, &e))?;
    }
    // Both are safe elsewhere by now.
    host.remove(file).map_err(|e| AppError::at(file, &e))?;
    Ok(Some(aside))
}

/// The file of the public key beside a secret one.
fn public_of(file: &Path) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(".pub");
    PathBuf::from(name)
}

/// Gives a person a key in people.yaml; the one before becomes a former one.
///
/// # Errors
/// An unknown person, a register that can't be changed, and those of the system.
pub fn give_key(
    host: &dyn Host,
    root: &Path,
    person: &str,
    key: &PublicKey,
) -> Result<(), AppError> {
    let paths = Paths::at(root);
    let _lock = lock_registers(host, &paths)?;
    let open = open_register(host, &paths, Register::People)?;
    let known = open.entry(person)?;
    let value = |field: &str| known.values.get(field).cloned().unwrap_or_default();
    let (old, former) = (value("public_key"), value("former_keys"));
    let mut fields = vec![changed("public_key", old.clone(), key.line())];
    if let Ok(before) = PublicKey::parse(&old) {
        if before.line() == key.line() {
            return Ok(());
        }
        let all = [former.clone(), before.line()];
        let all: Vec<String> = all.into_iter().filter(|k| !k.is_empty()).collect();
        fields.push(changed("former_keys", former, all.join(", ")));
    }
    let change = Change {
        id: person.to_owned(),
        added: false,
        fields,
    };
    open.write(host, &[change])
}

fn changed(field: &'static str, old: String, new: String) -> Changed {
    Changed { field, old, new }
}

/// The people's keys as `ssh-keygen -Y verify -f` reads them: a line a key, with the namespaces it is for.
///
/// # Errors
/// Those of the system; findings in people.yaml.
pub fn allowed_signers(host: &dyn Host, root: &Path) -> Result<String, AppError> {
    let people = read_people_of(host, &Paths::at(root))?;
    let lines = people.iter().flat_map(|person| {
        let keys = person.keys();
        keys.into_iter().map(|key| {
            let until = person.left.as_deref().unwrap_or_default().replace('-', "");
            let until = if until.is_empty() {
                until
            } else {
                format!(",valid-before=\"{until}\"")
            };
            let (id, line) = (&person.id, key.line());
            format!("{id} namespaces=\"{RECORD},{APPROVAL}\"{until} {line}\n")
        })
    });
    Ok(lines.collect())
}
