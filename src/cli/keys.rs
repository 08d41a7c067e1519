//! `people key`, `people export`: keys to sign with.
//!
//! Never in here: signing (see `signing`). Changes when a key is made otherwise.

use std::io::IsTerminal;
use std::path::Path;

use crate::app::{self, AppError};
use crate::host::{Host, RealHost};
use crate::text::counted;
use crate::trust::PublicKey;

use super::commands::{Done, GOOD, print};
use super::registers::NewKey;
use super::show::plain;
use super::signing::{Signing, key_file, passphrase_in};

/// Largest public key file, in bytes.
const MAX_PUBLIC: u64 = 16 * 1024;
/// The shortest passphrase of a new key, in characters.
const SHORTEST: usize = 8;
/// How often the two passphrases may differ.
const TRIES: usize = 3;

/// Makes a key for a person.
pub(super) fn give_key(host: &RealHost, root: &Path, person: &str, how: &NewKey) -> Done {
    // Whether the person is known is told before a passphrase is asked for.
    app::open_register(
        host,
        &crate::shop::Paths::at(root),
        crate::shop::import::Register::People,
    )?
    .entry(person)?;
    let signing = Signing::by_key(how.key.clone());
    let file = key_file(&signing, person)?;
    if !how.new {
        app::is_free(host, &file)?;
    }
    let passphrase = match &how.passphrase_file {
        Some(given) => {
            let passphrase = passphrase_in(host, given)?;
            long_enough(&passphrase).map_err(AppError::new)?;
            passphrase
        }
        None => asked(person)?,
    };
    let aside = match how.new {
        true => app::put_aside(host, &file)?,
        false => None,
    };
    let public = app::make_key(host, &file, person, &passphrase)?;
    app::give_key(host, root, person, &public)?;
    print(&format!(
        "key of {}: {}\n  {}{}\n",
        plain(person),
        public.fingerprint(),
        file.display(),
        if passphrase.is_empty() {
            " (not locked: whoever can read the file can sign)"
        } else {
            ""
        }
    ));
    if let Some(aside) = aside {
        print(&format!(
            "  the one before lies in {}; what it signed stays good\n",
            aside.display()
        ));
    }
    Ok(GOOD)
}

/// Whether a passphrase keeps anybody out; none at all leaves the key unlocked, which is said.
fn long_enough(passphrase: &str) -> Result<(), String> {
    match passphrase.chars().count() {
        0 | SHORTEST.. => Ok(()),
        short => Err(format!(
            "the passphrase has {}; take at least {SHORTEST}",
            counted(short, "character")
        )),
    }
}

fn asked(person: &str) -> Result<String, AppError> {
    if !std::io::stdin().is_terminal() {
        return Err(AppError::new(
            "there is nobody to ask for a passphrase; `--passphrase-file FILE` gives it",
        ));
    }
    let ask = |question: &str| {
        rpassword::prompt_password(question)
            .map_err(|e| AppError::new(format!("the passphrase could not be read: {e}")))
    };
    eprintln!("  at least {SHORTEST} characters; Enter alone leaves the key unlocked");
    for _ in 0..TRIES {
        let first = ask(&format!("Passphrase for the key of {}: ", plain(person)))?;
        if let Err(why) = long_enough(&first) {
            eprintln!("  {why}");
            continue;
        }
        if first == ask("The same again: ")? {
            return Ok(first);
        }
        eprintln!("  the two are not the same");
    }
    Err(AppError::new("no key was made"))
}

/// Takes a key that a person has.
pub(super) fn take_key(host: &RealHost, root: &Path, person: &str, file: &Path) -> Done {
    let bytes = host
        .read(file, MAX_PUBLIC)
        .map_err(|e| AppError::at(file, &e))?;
    let key = PublicKey::parse(&String::from_utf8_lossy(&bytes))
        .map_err(|fault| AppError::new(format!("{}: {fault}", file.display())))?;
    app::give_key(host, root, person, &key)?;
    print(&format!(
        "key of {}: {}\n",
        plain(person),
        key.fingerprint()
    ));
    Ok(GOOD)
}

/// Writes everybody's public keys.
pub(super) fn export(host: &RealHost, root: &Path, output: Option<&Path>) -> Done {
    let text = app::allowed_signers(host, root)?;
    match output {
        Some(file) => host
            .write(file, text.as_bytes())
            .map_err(|e| AppError::at(file, &e))?,
        None => print(&text),
    }
    Ok(GOOD)
}
