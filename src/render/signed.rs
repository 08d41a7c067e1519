//! Who stands for a record and for its recipe: signatures and the approval, in words; and what a trial says on every page.
//!
//! Never in here: checking them. Changes when something else is signed.

use serde_json::Value as Json;

use crate::record::{Amendment, Record};
use crate::trust::Signature;

use super::beside::{self, Beside};
use super::clean::{brief, prose};
use super::document::Fact;
use super::figure::time;
use super::long::shortened;
use super::words::{fixed, said, say};

/// The roles in which a record is signed, with what stands before the name.
const ROLES: [(&str, &str); 2] = [
    ("technician", fixed!("Signed by technician")),
    ("reviewer", fixed!("Signed by reviewer")),
];

/// What stands at the head and the foot of every page: of a trial, of a record that does not verify, and of one that does
/// not count any longer.
pub(super) fn running(record: &Record, beside: &Beside) -> Option<String> {
    let doubtful = !beside.doubts.is_empty();
    let doubts = doubtful.then(|| say!("NOT VALID: this record does not verify"));
    let trial = record
        .trial
        .then(|| say!("TRIAL: proves nothing about the device"));
    let overruled = beside::overruled(beside).map(|why| why.running);
    let words: Vec<String> = doubts.into_iter().chain(overruled).chain(trial).collect();
    (!words.is_empty()).then(|| words.join("; "))
}

/// The same for the first page, where long names are shortened.
pub(super) fn in_brief(record: &Record, beside: &Beside) -> Vec<Fact> {
    let place = say!("Signatures");
    let place = say!("in full under “{place}”", place = place);
    let mut facts = facts(record, beside);
    for fact in &mut facts {
        fact.label = brief(&fact.label);
        fact.text = shortened(&fact.text, &place);
    }
    facts
}

/// Who tested; with the name by the shop's register where none was signed.
pub(super) fn tested_by(record: &Record, beside: &Beside) -> String {
    let mut signatures = record.seal.signatures.iter();
    match signatures.find(|s| s.statement.by == record.by) {
        Some(own) => format!("{} ({})", brief(&own.statement.name), brief(&record.by)),
        None => by_register(&record.by, beside),
    }
}

/// A person by their id, with the name by the shop's register where that has one.
fn by_register(id: &str, beside: &Beside) -> String {
    match beside.names.get(id) {
        Some(name) => say!(
            "{name} ({id}), name by the shop's register",
            name = brief(name),
            id = brief(id)
        ),
        None => brief(id),
    }
}

/// Who wrote an amendment, and whether it is signed.
pub(super) fn by_whom(amendment: &Amendment) -> String {
    let signed = if amendment.seal.signatures.is_empty() {
        say!("not signed")
    } else {
        say!("signed")
    };
    format!(
        "{} ({}), {}, {signed}",
        prose(&amendment.name),
        prose(&amendment.by),
        time(&amendment.at)
    )
}

/// Who signed, as what and when, and what was found of it.
pub(super) fn facts(record: &Record, beside: &Beside) -> Vec<Fact> {
    let mut facts = by_role(record, &|_| String::new());
    if !record.seal.signatures.is_empty() {
        facts.push(Fact::new(say!("Signatures"), checked(record, beside)));
    }
    facts
}

/// Who signed, with the fingerprint of the key as `ssh-keygen -l` shows it.
pub(super) fn by_keys(record: &Record) -> Vec<Fact> {
    by_role(record, &|s| match s.key() {
        Some(key) => say!("key {fingerprint}", fingerprint = key.fingerprint()),
        None => say!("no key can be read in it"),
    })
}

/// A fact a signature, with something beside it; of a role that nobody signed in, that.
fn by_role(record: &Record, aside: &dyn Fn(&Signature) -> String) -> Vec<Fact> {
    let signatures = &record.seal.signatures;
    let fact = |label: String, s: &Signature| Fact::new(label, who(s)).aside(aside(s));
    let mut facts = Vec::new();
    for (role, label) in ROLES {
        let of_role = signatures.iter().filter(|s| s.statement.role == role);
        let named: Vec<Fact> = of_role.map(|s| fact(said(label, &[]), s)).collect();
        if named.is_empty() {
            facts.push(Fact::new(said(label, &[]), say!("not signed")));
        }
        facts.extend(named);
    }
    let known = |s: &&Signature| ROLES.iter().all(|(role, _)| s.statement.role != *role);
    let others = signatures.iter().filter(known);
    facts.extend(others.map(|s| {
        let label = say!("Signed as {role}", role = prose(&s.statement.role));
        fact(label, s)
    }));
    facts
}

/// What was found of the signatures.
pub(super) fn checked(record: &Record, beside: &Beside) -> String {
    let count = record.seal.signatures.len();
    if !beside.doubts.is_empty() && !beside.good.contains(&"seal") {
        return match count {
            1 => say!("it signs another content than this one"),
            _ => say!("they sign another content than this one"),
        };
    }
    let found = beside.signatures.as_deref().map(prose);
    if !beside.good.contains(&"signatures") {
        return found.unwrap_or_else(|| say!("not checked by this rendering"));
    }
    match count {
        1 => say!("valid, by the shop's register of keys"),
        2 => say!("both valid, by the shop's register of keys"),
        _ => say!("all valid, by the shop's register of keys"),
    }
}

/// What was found of the record otherwise, as far as it was looked for; how one finds it oneself.
pub(super) fn trust(record: &Record, beside: &Beside) -> Vec<Fact> {
    let good = |what: &str| beside.good.contains(&what);
    let with = !record.instruments.is_empty();
    let found = [
        (good("seal")).then(|| say!("unchanged since it was sealed")),
        good("values and verdicts").then(|| say!("recomputed from its entries: agrees")),
        (with && good("instruments")).then(|| say!("instruments in calibration that day")),
        good("ledger").then(|| say!("entered in the shop's ledger")),
    ];
    let found: Vec<String> = found.into_iter().flatten().collect();
    let digest = Fact::new(say!("Digest"), prose(&record.seal.digest)).literal();
    let mut facts = Vec::new();
    if !found.is_empty() {
        let found = found.join("; ");
        facts.push(Fact::new(
            say!("Checked"),
            say!("when these pages were made: {found}", found = found),
        ));
    }
    facts.push(digest.aside(say!("how to check it: at the end")));
    facts
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
pub(super) fn approval(record: &Record, beside: &Beside) -> String {
    let Some(line) = record.recipe.approval.as_ref().filter(|a| !a.is_null()) else {
        return match record.trial {
            true => say!("not asked for: a trial"),
            false => say!("none in this record"),
        };
    };
    let text = |pointer: &str| line.pointer(pointer).and_then(Json::as_str).map(prose);
    match (text("/act/by"), text("/at")) {
        (Some(by), Some(at)) => {
            let name = line.pointer("/act/signature/name").and_then(Json::as_str);
            let (whom, signed) = match name {
                Some(name) => (by, say!("signed as {name}", name = prose(name))),
                None => (by_register(&by, beside), say!("not signed")),
            };
            say!(
                "by {whom}, {time}, {signed}",
                whom = whom,
                time = time(&at),
                signed = signed
            )
        }
        _ => prose(&line.to_string()),
    }
}
