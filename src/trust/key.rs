//! Keys of persons: ed25519 in the form of OpenSSH, so that `ssh-keygen` reads and checks them.
//!
//! Never in here: where they lie. Changes when another kind of key is taken.

use std::fmt;

use ssh_key::private::{Ed25519Keypair, KeypairData};
use ssh_key::{Algorithm, Cipher, Kdf, LineEnding};

/// Rounds of the key derivation (bcrypt_pbkdf), as `ssh-keygen` takes them.
const ROUNDS: u32 = 16;

/// How many random bytes the making of a key takes: seed, salt, check number.
const SEED: usize = 32 + SALT + 4;
const SALT: usize = 16;

/// Random bytes for the making of a key.
pub type KeySeed = [u8; SEED];

/// Why a key can't be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeyFault {
    /// It can't be read as an OpenSSH key.
    Unreadable(String),
    /// It is of another kind than ed25519.
    OtherKind(String),
    /// It is locked, and there is no passphrase.
    Locked,
    /// The passphrase is wrong.
    WrongPassphrase,
}

impl fmt::Display for KeyFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable(why) => write!(f, "not an OpenSSH key: {why}"),
            Self::OtherKind(kind) => write!(
                f,
                "a key of kind {kind}; ed25519 is wanted: `ssh-keygen -t ed25519` makes one"
            ),
            Self::Locked => write!(f, "the key is locked by a passphrase, and none was given"),
            Self::WrongPassphrase => write!(f, "the passphrase does not open the key"),
        }
    }
}

fn unreadable(error: impl fmt::Display) -> KeyFault {
    KeyFault::Unreadable(error.to_string())
}

/// A public key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PublicKey(pub(super) ssh_key::PublicKey);

impl PublicKey {
    /// Reads a line as in `id_ed25519.pub`.
    ///
    /// # Errors
    /// What is no such line, or a key of another kind.
    pub fn parse(text: &str) -> Result<Self, KeyFault> {
        let key = ssh_key::PublicKey::from_openssh(text.trim()).map_err(unreadable)?;
        match key.algorithm() {
            Algorithm::Ed25519 => Ok(Self(key)),
            other => Err(KeyFault::OtherKind(other.to_string())),
        }
    }

    /// The line as it was read, with its comment.
    #[must_use]
    pub fn text(&self) -> String {
        // A key that was read or made can always be written.
        self.0
            .to_openssh()
            .unwrap_or_default()
            .trim_end()
            .to_owned()
    }

    /// The line without its comment: `ssh-ed25519 AAAA…`.
    #[must_use]
    pub fn line(&self) -> String {
        let mut bare = self.0.clone();
        bare.set_comment("");
        Self(bare).text()
    }

    /// Its SHA-256 fingerprint, as `ssh-keygen -l` shows it.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        self.0.fingerprint(ssh_key::HashAlg::Sha256).to_string()
    }
}

/// A secret key, unlocked.
#[derive(Clone)]
pub struct SecretKey(pub(super) ssh_key::PrivateKey);

impl fmt::Debug for SecretKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SecretKey({})", self.public().fingerprint())
    }
}

impl SecretKey {
    /// Makes a key from random bytes.
    ///
    /// # Errors
    /// Those of the library.
    pub fn make(random: &KeySeed, comment: &str) -> Result<Self, KeyFault> {
        let mut seed = [0u8; 32];
        seed.copy_from_slice(&random[..32]);
        let pair = KeypairData::from(Ed25519Keypair::from_seed(&seed));
        ssh_key::PrivateKey::new(pair, comment)
            .map(Self)
            .map_err(unreadable)
    }

    /// The text of the key's file, locked by the passphrase (AES-256 in counter mode, bcrypt_pbkdf), or open without one.
    ///
    /// # Errors
    /// Those of the library.
    pub fn to_text(&self, random: &KeySeed, passphrase: &str) -> Result<String, KeyFault> {
        let key = if passphrase.is_empty() {
            self.0.clone()
        } else {
            let (salt, check) = random[32..].split_at(SALT);
            let kdf = Kdf::Bcrypt {
                salt: salt.to_vec(),
                rounds: ROUNDS,
            };
            let check = check.iter().fold(0, |sum, b| (sum << 8) | u32::from(*b));
            let locked = self
                .0
                .encrypt_with(Cipher::Aes256Ctr, kdf, check, passphrase);
            locked.map_err(unreadable)?
        };
        let text = key.to_openssh(LineEnding::LF).map_err(unreadable)?;
        Ok(text.to_string())
    }

    /// Reads a key file; `passphrase` is asked only where the key is locked.
    ///
    /// # Errors
    /// What is no such file, a key of another kind, no passphrase or a wrong one.
    pub fn open(text: &str, passphrase: impl FnOnce() -> Option<String>) -> Result<Self, KeyFault> {
        let key = ssh_key::PrivateKey::from_openssh(text.trim()).map_err(unreadable)?;
        if key.algorithm() != Algorithm::Ed25519 {
            return Err(KeyFault::OtherKind(key.algorithm().to_string()));
        }
        if !key.is_encrypted() {
            return Ok(Self(key));
        }
        let passphrase = passphrase().ok_or(KeyFault::Locked)?;
        let open = key
            .decrypt(passphrase)
            .map_err(|_| KeyFault::WrongPassphrase)?;
        Ok(Self(open))
    }

    /// The public part of a key file, which stands in it in clear: no passphrase is needed.
    ///
    /// # Errors
    /// What is no such file, or a key of another kind.
    pub fn public_in(text: &str) -> Result<PublicKey, KeyFault> {
        let key = ssh_key::PrivateKey::from_openssh(text.trim()).map_err(unreadable)?;
        match key.algorithm() {
            Algorithm::Ed25519 => Ok(PublicKey(key.public_key().clone())),
            other => Err(KeyFault::OtherKind(other.to_string())),
        }
    }

    /// The public key that belongs to it.
    #[must_use]
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.public_key().clone())
    }
}
