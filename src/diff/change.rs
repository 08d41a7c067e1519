//! A change between two revisions, and how much it weighs.
//!
//! Never in here: finding changes. Changes when another weight is told apart.

use std::cmp::Reverse;

use crate::plan::CriterionSeverity;

/// What a change comes to. The order is that in which changes are told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Weight {
    Loosened,
    CriterionRemoved,
    StepRemoved,
    Undecided,
    Shifted,
    Severity,
    Flow,
    Tightened,
    CriterionAdded,
    StepAdded,
    StepMoved,
    StepRenamed,
    Setting,
    Instrument,
    Identity,
    Wording,
    Notation,
}

impl Weight {
    /// All, in the order in which they are told.
    pub const ALL: [Self; 17] = [
        Self::Loosened,
        Self::CriterionRemoved,
        Self::StepRemoved,
        Self::Undecided,
        Self::Shifted,
        Self::Severity,
        Self::Flow,
        Self::Tightened,
        Self::CriterionAdded,
        Self::StepAdded,
        Self::StepMoved,
        Self::StepRenamed,
        Self::Setting,
        Self::Instrument,
        Self::Identity,
        Self::Wording,
        Self::Notation,
    ];

    /// The word that is printed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Loosened => "loosened",
            Self::CriterionRemoved => "criterion removed",
            Self::StepRemoved => "step removed",
            Self::Undecided => "undecided",
            Self::Shifted => "shifted",
            Self::Severity => "severity",
            Self::Flow => "flow",
            Self::Tightened => "tightened",
            Self::CriterionAdded => "criterion added",
            Self::StepAdded => "step added",
            Self::StepMoved => "step moved",
            Self::StepRenamed => "step renamed",
            Self::Setting => "setting",
            Self::Instrument => "instrument",
            Self::Identity => "identity",
            Self::Wording => "wording",
            Self::Notation => "notation",
        }
    }

    /// Whether a change with this weight always eases the procedure.
    #[must_use]
    pub fn eases(self) -> bool {
        matches!(
            self,
            Self::Loosened | Self::CriterionRemoved | Self::StepRemoved
        )
    }

    /// What a change with this weight is, seen from the other side.
    #[must_use]
    pub fn mirrored(self) -> Self {
        match self {
            Self::Loosened => Self::Tightened,
            Self::Tightened => Self::Loosened,
            Self::CriterionRemoved => Self::CriterionAdded,
            Self::CriterionAdded => Self::CriterionRemoved,
            Self::StepRemoved => Self::StepAdded,
            Self::StepAdded => Self::StepRemoved,
            other => other,
        }
    }
}

/// Whether a change lets more pass, or less.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Lean {
    /// More passes, or less is looked at.
    Looser,
    /// Less passes, or more is looked at.
    Tighter,
    /// Neither, or nobody can tell.
    #[default]
    Neither,
}

/// One change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Where: the path of a step (`accuracy.2.delivered`, of all rows `accuracy.delivered`), or a key (`settings.tolerance`).
    /// That of the new revision, but for what is no more.
    pub path: String,
    /// How much it weighs.
    pub weight: Weight,
    /// What it was; empty where there was nothing.
    pub old: String,
    /// What it is; empty where there is nothing.
    pub new: String,
    /// What follows from it.
    pub why: String,
    /// Whether it eases the procedure.
    pub lean: Lean,
    /// How much a fail of the criterion weighs that it is about, if it is about one.
    pub severity: Option<CriterionSeverity>,
    /// Words by which the history may speak of it.
    pub about: String,
}

impl Change {
    /// A change that leans neither way, but for what its weight says.
    pub fn new(
        path: impl Into<String>,
        weight: Weight,
        old: impl Into<String>,
        new: impl Into<String>,
        why: impl Into<String>,
    ) -> Self {
        let lean = match weight {
            _ if weight.eases() => Lean::Looser,
            Weight::Tightened | Weight::CriterionAdded | Weight::StepAdded => Lean::Tighter,
            _ => Lean::Neither,
        };
        Self {
            path: path.into(),
            weight,
            old: old.into(),
            new: new.into(),
            why: why.into(),
            lean,
            severity: None,
            about: String::new(),
        }
    }

    /// With words by which the history may speak of it.
    #[must_use]
    pub fn about(mut self, words: impl Into<String>) -> Self {
        self.about = words.into();
        self
    }

    /// With how much a fail weighs of the criterion that it is about.
    #[must_use]
    pub fn of(mut self, severity: CriterionSeverity) -> Self {
        self.severity = Some(severity);
        self
    }

    /// With what it does to the procedure said first.
    #[must_use]
    pub fn leaning(mut self, lean: Lean) -> Self {
        self.lean = lean;
        let word = match lean {
            Lean::Looser => "looser: ",
            Lean::Tighter => "tighter: ",
            Lean::Neither => "",
        };
        self.why.insert_str(0, word);
        self
    }

    /// The word for what it does to the procedure.
    #[must_use]
    pub fn lean_word(&self) -> &'static str {
        match self.lean {
            Lean::Looser => "looser",
            Lean::Tighter => "tighter",
            Lean::Neither => "neither",
        }
    }

    /// Where it is told: loosened limits and what is no more come first, then what eases the procedure otherwise; of the same
    /// weight what weighs most when it fails.
    #[must_use]
    pub fn rank(&self) -> (u8, Weight, Reverse<Option<CriterionSeverity>>) {
        let eased = self.lean == Lean::Looser;
        let first = match self.weight {
            _ if self.weight.eases() => 0,
            Weight::Undecided | Weight::Shifted => 2,
            _ if eased => 1,
            _ => 3,
        };
        (first, self.weight, Reverse(self.severity))
    }
}

/// What `changes` of the newer recipe leaves unsaid.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warning {
    /// Where.
    pub path: String,
    /// What, and how to mend it.
    pub message: String,
}

/// All that differs between two revisions.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Difference {
    /// The changes, in the order in which they are told.
    pub changes: Vec<Change>,
    /// What should be looked into besides.
    pub warnings: Vec<Warning>,
}

impl Difference {
    /// How many changes have each weight, none left out that has any.
    #[must_use]
    pub fn counts(&self) -> Vec<(Weight, usize)> {
        let count = |w: &Weight| self.changes.iter().filter(|c| c.weight == *w).count();
        let all = Weight::ALL.iter().map(|w| (*w, count(w)));
        all.filter(|(_, n)| *n > 0).collect()
    }

    /// One line that says what matters most.
    #[must_use]
    pub fn summary(&self) -> String {
        if self.changes.is_empty() {
            return "no change but in comments and layout, if at all".to_owned();
        }
        let one = |(weight, n): (Weight, usize)| {
            let eases = |c: &&Change| c.weight == weight && c.lean == Lean::Looser;
            let eased = self.changes.iter().filter(eases).count();
            // Of the first ones their words say it.
            match weight.eases() || eased == 0 {
                true => format!("{n} {}", weight.word()),
                false if eased == n => format!("{n} {} (eased)", weight.word()),
                false => format!("{n} {} ({eased} eased)", weight.word()),
            }
        };
        let all: Vec<String> = self.counts().into_iter().map(one).collect();
        all.join(", ")
    }
}
