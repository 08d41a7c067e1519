//! Digests: SHA-256 over bytes, and over the canonical form of JSON (RFC 8785).
//!
//! Never in here: what is digested. Changes never: old records rest on it.

use serde::Serialize;
use serde_json::Value;
use sha2::{Digest, Sha256};

/// Whole numbers up to this size are written alike by every rule (RFC 8785, 3.2.2.3: numbers are IEEE 754 doubles).
const WHOLE: u64 = 1 << 53;

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
/// What we store has texts, truths and small whole numbers only, for which the form is: keys in order, no blanks, texts
/// escaped as serde_json does. That is written here, since the library, which forms each level anew, took two thirds of
/// the time of verifying a record; other numbers are left to the library.
///
/// # Errors
/// Numbers that the form can't hold.
pub fn canonical(value: &impl Serialize) -> Result<Vec<u8>, String> {
    let tree = serde_json::to_value(value).map_err(|e| e.to_string())?;
    of_tree(&tree)
}

fn of_tree(tree: &Value) -> Result<Vec<u8>, String> {
    let mut out = Vec::with_capacity(1024);
    match write(tree, &mut out) {
        Ok(()) => Ok(out),
        Err(OtherNumber) => serde_json_canonicalizer::to_vec(tree).map_err(|e| e.to_string()),
    }
}

/// A number that is no small whole one.
struct OtherNumber;

fn write(value: &Value, out: &mut Vec<u8>) -> Result<(), OtherNumber> {
    match value {
        Value::Object(map) => {
            let mut entries: Vec<(&String, &Value)> = map.iter().collect();
            entries.sort_unstable_by(|(a, _), (b, _)| order(a, b));
            out.push(b'{');
            for (index, (key, value)) in entries.into_iter().enumerate() {
                if index > 0 {
                    out.push(b',');
                }
                write_text(key, out);
                out.push(b':');
                write(value, out)?;
            }
            out.push(b'}');
        }
        Value::Array(items) => {
            out.push(b'[');
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    out.push(b',');
                }
                write(item, out)?;
            }
            out.push(b']');
        }
        Value::String(text) => write_text(text, out),
        Value::Number(number) => {
            let small = number.as_u64().is_some_and(|n| n <= WHOLE);
            if !small {
                return Err(OtherNumber);
            }
            out.extend_from_slice(number.to_string().as_bytes());
        }
        Value::Bool(true) => out.extend_from_slice(b"true"),
        Value::Bool(false) => out.extend_from_slice(b"false"),
        Value::Null => out.extend_from_slice(b"null"),
    }
    Ok(())
}

/// Keys are in the order of their UTF-16 code units (RFC 8785, 3.2.3).
fn order(a: &str, b: &str) -> std::cmp::Ordering {
    if a.is_ascii() && b.is_ascii() {
        return a.cmp(b);
    }
    a.encode_utf16().cmp(b.encode_utf16())
}

/// serde_json escapes what RFC 8785 (3.2.2.2) asks for, and nothing else.
fn write_text(text: &str, out: &mut Vec<u8>) {
    serde_json::to_writer(out, text).expect("memory takes all that is written");
}

/// The digest of a JSON value in its canonical form.
///
/// # Errors
/// Numbers that the form can't hold.
pub fn digest_json(value: &Value) -> Result<String, String> {
    of_tree(value).map(|bytes| digest_bytes(&bytes))
}
