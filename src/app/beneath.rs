//! What approved recipes rest on: which of it was withdrawn, and which recipes rest on something.
//!
//! Never in here: putting recipes together. Changes when a withdrawal reaches further.

use crate::host::Host;
use crate::recipe::{MAX_LEVELS, Name, rests_on};
use crate::shop::{ApprovalAct, Approvals, Paths, Standing};
use crate::trust::Entry;

use super::open::read_source;

/// When, by whom and why an approval was withdrawn, in words.
pub(super) fn withdrawal(entry: &Entry<ApprovalAct>) -> String {
    let day = entry.at.get(..10).unwrap_or_default();
    match &entry.act {
        ApprovalAct::Withdraw { of, why } => format!("was withdrawn on {day} by {}: {why}", of.by),
        ApprovalAct::Approve(_) => "is approved".to_owned(),
    }
}

/// What is to be said where a base or fragment was withdrawn.
pub(super) fn withdrawn(known: &Approvals, name: &Name) -> Option<String> {
    match known.standing(&name.id, name.revision) {
        Standing::Withdrawn(entry) => Some(format!("`{name}` {}", withdrawal(&entry))),
        _ => None,
    }
}

/// All bases and fragments that an effective text names, and those of their own texts as far as these are kept.
pub(super) fn beneath(host: &dyn Host, paths: &Paths, text: &str) -> Vec<Name> {
    let mut found: Vec<Name> = Vec::new();
    let mut texts = vec![text.to_owned()];
    for _ in 0..MAX_LEVELS {
        let mut next = Vec::new();
        for (name, digest) in texts.iter().flat_map(|text| rests_on(text)) {
            if found.contains(&name) {
                continue;
            }
            found.push(name);
            // A base need not have been approved itself: then its own parts can't be told.
            let path = paths.approved_text(&digest);
            if host.exists(&path)
                && let Ok(Ok(source)) = read_source(host, &path)
            {
                next.push(source.text.to_string());
            }
        }
        texts = next;
    }
    found
}

/// The approved revisions that rest on one, by their names.
pub(super) fn resting_on(
    host: &dyn Host,
    paths: &Paths,
    known: &Approvals,
    on: &Name,
) -> Vec<Name> {
    let rests = |digest: &str| {
        let text = read_source(host, &paths.approved_text(digest));
        matches!(text, Ok(Ok(source)) if beneath(host, paths, &source.text).contains(on))
    };
    let mut found = Vec::new();
    for of in known.revisions() {
        let name = Name {
            id: of.recipe.clone(),
            revision: of.revision,
        };
        let stands = matches!(
            known.standing(&name.id, name.revision),
            Standing::Approved(_)
        );
        if stands && rests(&of.digest) && !found.contains(&name) {
            found.push(name);
        }
    }
    found
}
