//! Digests: SHA-256 over bytes, and over the canonical form of JSON (RFC 8785).
//!
//! Never in here: what is digested. Changes never: old records rest on it.

use serde::Serialize;
use serde_json::Value;
use sha2::{Digest, Sha256};

/// `sha256:` and hexadecimal digits.
#[must_use]
pub fn digest_bytes(bytes: &[u8]) -> String {
    let hash = Sha256::digest(bytes);
    let digits: String = hash.iter().map(|b| format!("{b:02x}")).collect();
    format!("sha256:{digits}")
}

/// The canonical JSON of a value (RFC 8785).
///
/// # Errors
/// Numbers that the form can't hold.
pub fn canonical(value: &impl Serialize) -> Result<Vec<u8>, String> {
    serde_json_canonicalizer::to_vec(value).map_err(|e| e.to_string())
}

/// The digest of a JSON value in its canonical form.
///
/// # Errors
/// Numbers that the form can't hold.
pub fn digest_json(value: &Value) -> Result<String, String> {
    canonical(value).map(|bytes| digest_bytes(&bytes))
}
