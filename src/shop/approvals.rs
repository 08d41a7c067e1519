//! Which revisions of recipes may be run, by the ledgers of approvals of all benches.
//!
//! Never in here: files. Changes when an approval comes to mean something else.

use crate::trust::{Entry, Ledger};

use super::acts::{Approval, ApprovalAct};

/// The approvals of a shop, in the order of their times.
#[derive(Clone, Debug, Default)]
pub struct Approvals {
    entries: Vec<Entry<ApprovalAct>>,
}

/// Where a revision stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Standing {
    /// Nobody approved it.
    Unapproved,
    /// It may be run: the line that says so.
    Approved(Box<Entry<ApprovalAct>>),
    /// It was withdrawn: the line that says so.
    Withdrawn(Box<Entry<ApprovalAct>>),
}

impl Approvals {
    /// Those of all ledgers together.
    #[must_use]
    pub fn of(ledgers: &[Ledger<ApprovalAct>]) -> Self {
        let all = ledgers.iter().flat_map(|l| &l.entries);
        let mut entries: Vec<Entry<ApprovalAct>> = all.cloned().collect();
        entries.sort_by_key(|e| e.at.parse::<jiff::Timestamp>().ok());
        Self { entries }
    }

    /// All lines.
    #[must_use]
    pub fn entries(&self) -> &[Entry<ApprovalAct>] {
        &self.entries
    }

    /// The line of that digest.
    #[must_use]
    pub fn entry(&self, digest: &str) -> Option<&Entry<ApprovalAct>> {
        self.entries.iter().find(|e| e.entry == digest)
    }

    /// Where a revision stands now.
    #[must_use]
    pub fn standing(&self, recipe: &str, revision: u32) -> Standing {
        let last = self.entries.iter().rfind(|e| {
            let of = e.act.of();
            of.recipe == recipe && of.revision == revision
        });
        match last {
            None => Standing::Unapproved,
            Some(entry) => match entry.act {
                ApprovalAct::Approve(_) => Standing::Approved(Box::new(entry.clone())),
                ApprovalAct::Withdraw { .. } => Standing::Withdrawn(Box::new(entry.clone())),
            },
        }
    }

    /// An approval of a revision with another text than this one, as long as the revision may be run.
    #[must_use]
    pub fn other_text(
        &self,
        recipe: &str,
        revision: u32,
        digest: &str,
    ) -> Option<&Entry<ApprovalAct>> {
        if !matches!(self.standing(recipe, revision), Standing::Approved(_)) {
            return None;
        }
        self.entries.iter().find(|e| {
            matches!(&e.act, ApprovalAct::Approve(of)
                if of.recipe == recipe && of.revision == revision && of.digest != digest)
        })
    }

    /// The newest revision of a recipe that may be run.
    #[must_use]
    pub fn newest(&self, recipe: &str) -> Option<&Entry<ApprovalAct>> {
        let approved = self.entries.iter().filter(|e| {
            let of = e.act.of();
            of.recipe == recipe
                && matches!(self.standing(recipe, of.revision), Standing::Approved(now) if now.entry == e.entry)
        });
        approved.max_by_key(|e| e.act.of().revision)
    }

    /// The recipes that were ever approved, each once, in the order of their first approval.
    #[must_use]
    pub fn revisions(&self) -> Vec<&Approval> {
        let mut seen = std::collections::HashSet::new();
        let all = self.entries.iter().map(|e| e.act.of());
        all.filter(|of| seen.insert((&of.recipe, of.revision)))
            .collect()
    }

    /// Whether an approval held at a time: given before, not withdrawn since. The reason where it did not.
    ///
    /// # Errors
    /// Why it did not hold.
    pub fn held(
        &self,
        approval: &str,
        recipe_digest: &str,
        at: &str,
    ) -> Result<&Entry<ApprovalAct>, String> {
        let entry = self
            .entry(approval)
            .ok_or("the approval that it names is not in the ledgers of approvals")?;
        let ApprovalAct::Approve(of) = &entry.act else {
            return Err("what it names as its approval is a withdrawal".to_owned());
        };
        if of.digest != recipe_digest {
            return Err("the approval is of another text of the recipe".to_owned());
        }
        let time = |text: &str| text.parse::<jiff::Timestamp>().ok();
        if time(&entry.at) > time(at) {
            return Err(format!(
                "approved only on {}, after it had begun",
                day(&entry.at)
            ));
        }
        let withdrawn = self.entries.iter().find(|e| {
            matches!(&e.act, ApprovalAct::Withdraw { of: w, .. } if w.recipe == of.recipe && w.revision == of.revision)
                && time(&e.at) >= time(&entry.at)
                && time(&e.at) <= time(at)
        });
        match withdrawn {
            Some(w) => Err(format!("withdrawn on {}, before it had begun", day(&w.at))),
            None => Ok(entry),
        }
    }
}

fn day(at: &str) -> &str {
    at.get(..10).unwrap_or(at)
}
