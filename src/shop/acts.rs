//! What the ledgers of a shop enter: records that were sealed, and recipes that were approved.
//!
//! Never in here: the lines' form and links (see `trust`), files. Changes only by acts that are added: old ledgers rest on them.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::trust::{Act, Signature, canonical, digest_bytes};

use super::policy::Deed;

/// What was done with a record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case", deny_unknown_fields)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub enum RecordAct {
    /// It was sealed.
    Seal {
        record: String,
        /// The digest in its seal.
        digest: String,
        /// The digest of its file.
        file: String,
        /// The session that it was made from.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        session: String,
        /// The last line of each bench's ledger of approvals, as far as it was known here: a ledger that is cut later lacks it.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        approvals: BTreeMap<String, String>,
    },
    /// A reviewer signed it too.
    Countersign {
        record: String,
        digest: String,
        /// The digest of its file with the signature in it.
        file: String,
        signature: Signature,
    },
    /// Something was added that points at it.
    Amend {
        record: String,
        digest: String,
        amendment: String,
        /// The digest of the amendment's file.
        file: String,
    },
}

impl Act for RecordAct {}

impl RecordAct {
    /// The record that it is about.
    #[must_use]
    pub fn record(&self) -> &str {
        match self {
            Self::Seal { record, .. }
            | Self::Countersign { record, .. }
            | Self::Amend { record, .. } => record,
        }
    }
}

/// What was done with a revision of a recipe.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub enum ApprovalAct {
    /// It may be run.
    Approve(Approval),
    /// It may not be run any longer.
    Withdraw {
        #[serde(flatten)]
        of: Approval,
        why: String,
    },
}

impl Act for ApprovalAct {}

/// An act in its place.
#[derive(Serialize)]
struct Placed<'a> {
    act: &'a ApprovalAct,
    bench: &'a str,
    previous: Option<&'a str>,
}

/// Whose word a revision has.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Approval {
    pub recipe: String,
    pub revision: u32,
    /// The digest of the effective text.
    pub digest: String,
    pub by: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signature: Option<Signature>,
}

impl ApprovalAct {
    /// What it is about.
    #[must_use]
    pub fn of(&self) -> &Approval {
        match self {
            Self::Approve(of) | Self::Withdraw { of, .. } => of,
        }
    }

    fn of_mut(&mut self) -> &mut Approval {
        match self {
            Self::Approve(of) | Self::Withdraw { of, .. } => of,
        }
    }

    /// What the person has to be allowed to do.
    #[must_use]
    pub fn deed(&self) -> Deed {
        match self {
            Self::Approve(_) => Deed::Approve,
            Self::Withdraw { .. } => Deed::Withdraw,
        }
    }

    /// The role in which the person signs.
    #[must_use]
    pub fn role(&self) -> &'static str {
        match self {
            Self::Approve(_) => "approver",
            Self::Withdraw { .. } => "withdrawal",
        }
    }

    /// The act with its signature.
    #[must_use]
    pub fn with(mut self, signature: Option<Signature>) -> Self {
        self.of_mut().signature = signature;
        self
    }

    /// The digest that is signed: of the act without its signature, its bench and the line that it follows, so that a
    /// signature holds for one act in one place.
    ///
    /// # Errors
    /// None for what can be entered.
    pub fn signed_digest(&self, bench: &str, previous: Option<&str>) -> Result<String, String> {
        let act = &self.clone().with(None);
        let placed = Placed {
            act,
            bench,
            previous,
        };
        canonical(&placed).map(|bytes| digest_bytes(&bytes))
    }
}
