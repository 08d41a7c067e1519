//! The stored form of an amendment: what is added to a sealed record, which itself is never changed.
//!
//! Never in here: files, keys, ledgers. Changes only with the version, or by fields that may be missing.

use serde::{Deserialize, Serialize};
use serde_json::Value as Json;

use crate::trust::{canonical_text, canonical_without, digest_bytes};

use super::wire::Seal;

/// Version of the form.
pub const AMENDMENT_FORMAT: u32 = 1;

/// An amendment.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Amendment {
    pub format: u32,
    /// Its id: bench, year, `A` and number.
    pub amendment: String,
    /// What it is about.
    pub of: Pointed,
    pub by: String,
    /// Name of the person, as on records.
    pub name: String,
    pub at: String,
    pub why: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The record that holds instead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correction: Option<Pointed>,
    /// Whether the record is void: it holds no longer, and no other one instead.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub void: bool,
    /// The bench where it was written.
    pub bench: String,
    pub program: String,
    pub seal: Seal,
}

/// A record that is pointed at.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Pointed {
    pub record: String,
    /// The digest in its seal.
    pub digest: String,
}

impl Amendment {
    /// Seals it: its digest over everything but the seal.
    ///
    /// # Errors
    /// What has no canonical form.
    pub fn seal(&mut self) -> Result<(), String> {
        let body = canonical_without(&*self, Some("seal"))?;
        self.seal.digest = digest_bytes(&body);
        Ok(())
    }

    /// The text of its file.
    ///
    /// # Errors
    /// What can't be written as JSON.
    pub fn text(&self) -> Result<String, String> {
        let text = serde_json::to_string_pretty(self).map_err(|e| e.to_string())?;
        Ok(text + "\n")
    }

    /// Reads a file; with the digest of all that stands in it but the seal.
    ///
    /// # Errors
    /// What is no amendment, or was written by a newer program.
    pub fn read(bytes: &[u8]) -> Result<(Self, String), String> {
        let tree: Json =
            serde_json::from_slice(bytes).map_err(|e| format!("not an amendment: {e}"))?;
        let format = tree.get("format").and_then(Json::as_u64);
        if let Some(format) = format.filter(|f| *f > u64::from(AMENDMENT_FORMAT)) {
            return Err(format!(
                "written in format {format} by a newer program; this one reads up to {AMENDMENT_FORMAT}"
            ));
        }
        let body =
            canonical_text(bytes, Some("seal")).map_err(|e| format!("not an amendment: {e}"))?;
        let amendment =
            serde_json::from_value(tree).map_err(|e| format!("not an amendment: {e}"))?;
        Ok((amendment, digest_bytes(&body)))
    }
}
