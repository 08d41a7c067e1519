//! Signatures: who stands for what, in which role, and when; in the form of OpenSSH (`ssh-keygen -Y verify` accepts them).
//!
//! Never in here: who may sign. Changes only with the form of what is signed: old signatures rest on it.

use serde::{Deserialize, Serialize};
use ssh_key::{HashAlg, LineEnding, SshSig};

use super::digest::canonical;
use super::key::{KeyFault, PublicKey, SecretKey};

/// The namespace of signatures on records, and on what is added to them.
pub const RECORD: &str = "stepwell-record";
/// The namespace of signatures on approvals.
pub const APPROVAL: &str = "stepwell-approval";

/// What is signed: its canonical JSON (RFC 8785) is the message.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Statement {
    /// When it was signed.
    pub at: String,
    /// Id of the person.
    pub by: String,
    /// `sha256:` of what is signed.
    pub digest: String,
    /// Name of the person.
    pub name: String,
    /// As what: `technician`, `reviewer`, `approver`.
    pub role: String,
}

/// A statement with its signature.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signature {
    /// What was signed.
    #[serde(flatten)]
    pub statement: Statement,
    /// The armoured signature.
    pub signature: String,
}

impl Statement {
    /// The bytes that are signed.
    #[must_use]
    pub fn message(&self) -> Vec<u8> {
        // Texts only: their canonical form always exists.
        canonical(self).unwrap_or_default()
    }

    /// Signs.
    ///
    /// # Errors
    /// Those of the library.
    pub fn sign(self, key: &SecretKey, namespace: &str) -> Result<Signature, KeyFault> {
        let unreadable = |e: ssh_key::Error| KeyFault::Unreadable(e.to_string());
        let sig = key
            .0
            .sign(namespace, HashAlg::Sha512, &self.message())
            .map_err(unreadable)?;
        let signature = sig.to_pem(LineEnding::LF).map_err(unreadable)?;
        Ok(Signature {
            statement: self,
            signature,
        })
    }
}

impl Signature {
    /// Checks it against the keys that the person has or had.
    ///
    /// # Errors
    /// Why it does not hold.
    pub fn check(&self, keys: &[PublicKey], namespace: &str) -> Result<(), String> {
        let sig = self.read()?;
        let data = sig.public_key();
        let Some(key) = keys.iter().find(|k| k.0.key_data() == data) else {
            return Err(format!("not made with a key of `{}`", self.statement.by));
        };
        self.fits(key, namespace, &sig)
    }

    /// Checks it against the key that it carries itself, whoever that key belongs to; gives the key.
    ///
    /// # Errors
    /// Why it does not hold.
    pub fn sound(&self, namespace: &str) -> Result<PublicKey, String> {
        let sig = self.read()?;
        let key = PublicKey(ssh_key::PublicKey::from(sig.public_key().clone()));
        self.fits(&key, namespace, &sig).map(|()| key)
    }

    /// The key that it carries; nothing where it is no signature.
    #[must_use]
    pub fn key(&self) -> Option<PublicKey> {
        let data = self.read().ok()?.public_key().clone();
        Some(PublicKey(ssh_key::PublicKey::from(data)))
    }

    fn read(&self) -> Result<SshSig, String> {
        let sig = SshSig::from_pem(&self.signature).map_err(|e| format!("not a signature: {e}"))?;
        let canonical_text = sig
            .to_pem(LineEnding::LF)
            .is_ok_and(|t| t == self.signature);
        match canonical_text {
            true => Ok(sig),
            false => Err("the text of the signature was altered".to_owned()),
        }
    }

    fn fits(&self, key: &PublicKey, namespace: &str, sig: &SshSig) -> Result<(), String> {
        key.0
            .verify(namespace, &self.statement.message(), sig)
            .map_err(|_| "does not fit what it stands under".to_owned())
    }
}
