//! Digests: SHA-256 over bytes, and over the canonical form of JSON (RFC 8785).
//!
//! Never in here: what is digested. Changes never: old records rest on it.

use serde::Serialize;
use serde_json::Value;
use sha2::{Digest, Sha256};

use super::canonical::canonical_text;

/// `sha256:` and hexadecimal digits.
#[must_use]
pub fn digest_bytes(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let hash = Sha256::digest(bytes);
    let mut text = String::with_capacity("sha256:".len() + 2 * hash.len());
    text.push_str("sha256:");
    for byte in hash {
        text.push(char::from(DIGITS[usize::from(byte >> 4)]));
        text.push(char::from(DIGITS[usize::from(byte & 15)]));
    }
    text
}

/// The canonical JSON of a value (RFC 8785).
///
/// # Errors
/// What can't be written as JSON; numbers that the form can't hold.
pub fn canonical(value: &impl Serialize) -> Result<Vec<u8>, String> {
    canonical_without(value, None)
}

/// The canonical JSON of a value, without a member of its outermost object.
///
/// # Errors
/// What can't be written as JSON; numbers that the form can't hold.
pub fn canonical_without(value: &impl Serialize, member: Option<&str>) -> Result<Vec<u8>, String> {
    let text = serde_json::to_vec(value).map_err(|e| e.to_string())?;
    canonical_text(&text, member)
}

/// The digest of a JSON value in its canonical form.
///
/// # Errors
/// Numbers that the form can't hold.
pub fn digest_json(value: &Value) -> Result<String, String> {
    canonical(value).map(|bytes| digest_bytes(&bytes))
}
