//! Who stands for a record and for its recipe: signatures and the approval, in words; and what a trial says on every page.
//!
//! Never in here: checking them. Changes when something else is signed.

use serde_json::Value as Json;

use crate::record::Record;
use crate::trust::Signature;

use super::beside::Beside;
use super::clean::prose;
use super::document::Fact;
use super::figure::time;

/// The roles in which a record is signed, with what stands before the name.
const ROLES: [(&str, &str); 2] = [
    ("technician", "Signed by technician"),
    ("reviewer", "Signed by reviewer"),
];

/// What stands on every page of a trial.
pub(super) const TRIAL: &str = "TRIAL: proves nothing about the device";

/// Who signed, as what and when; of a role that nobody signed in, that.
pub(super) fn facts(record: &Record, beside: &Beside) -> Vec<Fact> {
    let signatures = &record.seal.signatures;
    let mut facts = Vec::new();
    for (role, label) in ROLES {
        let of_role = signatures.iter().filter(|s| s.statement.role == role);
        let named: Vec<Fact> = of_role.map(|s| Fact::new(label, who(s))).collect();
        if named.is_empty() {
            facts.push(Fact::new(label, "not signed"));
        }
        facts.extend(named);
    }
    let known = |s: &&Signature| ROLES.iter().all(|(role, _)| s.statement.role != *role);
    let others = signatures.iter().filter(known);
    facts.extend(others.map(|s| {
        let label = format!("Signed as {}", prose(&s.statement.role));
        Fact::new(label, who(s))
    }));
    if !signatures.is_empty() {
        facts.push(Fact::new("Signatures", checked(beside)));
    }
    facts
}

/// What was found of the signatures.
pub(super) fn checked(beside: &Beside) -> String {
    let found = beside.signatures.as_deref().map(prose);
    found.unwrap_or_else(|| "not checked by this rendering".to_owned())
}

fn who(signature: &Signature) -> String {
    let statement = &signature.statement;
    format!(
        "{} ({}), {}",
        prose(&statement.name),
        prose(&statement.by),
        time(&statement.at)
    )
}

/// By whom and when the recipe's revision was approved.
pub(super) fn approval(record: &Record) -> String {
    let Some(line) = record.recipe.approval.as_ref().filter(|a| !a.is_null()) else {
        return match record.trial {
            true => "not asked for: a trial".to_owned(),
            false => "none in this record".to_owned(),
        };
    };
    let text = |pointer: &str| line.pointer(pointer).and_then(Json::as_str).map(prose);
    match (text("/act/by"), text("/at")) {
        (Some(by), Some(at)) => {
            let signed = match line.pointer("/act/signature/name").and_then(Json::as_str) {
                Some(name) => format!("signed as {}", prose(name)),
                None => "not signed".to_owned(),
            };
            format!("by {by}, {}, {signed}", time(&at))
        }
        _ => prose(&line.to_string()),
    }
}
