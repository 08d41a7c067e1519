//! A procedure laid out flat: one item a leaf step and row, in the order in which it is walked.
//!
//! Never in here: how it was read, or what was entered. Changes when a step can carry something new.

use std::sync::Arc;

use indexmap::IndexMap;

use crate::quantity::{Kind, Quantity, Unit};
use crate::trace::Mapping;

use super::{DeviceField, Expression, Value};

/// A procedure that can be run: there were no errors in its recipe.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The recipe's id.
    pub recipe: String,
    /// Its revision.
    pub revision: u32,
    /// Its title.
    pub title: String,
    /// Whether it is there to be used by other recipes, and not run by itself.
    pub fragment: bool,
    /// The category of pump.
    pub category: Category,
    /// Which devices it is for.
    pub applies_to: Option<AppliesTo>,
    /// Where limits come from, by the key that criteria cite.
    pub basis: IndexMap<String, String>,
    /// The history of revisions.
    pub changes: Vec<Change>,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// How values are decided upon; the shop's default where it is not said.
    pub decision: Option<Decision>,
    /// The recipe's constants.
    pub settings: IndexMap<String, Quantity>,
    /// Instrument roles.
    pub roles: IndexMap<String, Role>,
    /// The steps, setup first.
    pub items: Vec<Item>,
    /// The effective text.
    pub source: Arc<str>,
}

impl Plan {
    /// Who wrote this revision, by its entry in `changes`.
    #[must_use]
    pub fn author(&self) -> Option<&str> {
        let entry = self.changes.iter().find(|c| c.revision == self.revision)?;
        entry.by.as_deref()
    }

    /// The item that somebody names: by its path, its number, the last part of its path, or its
    /// title.
    ///
    /// # Errors
    /// Why there is none, or which ones there are.
    pub fn find_step(&self, name: &str, entered: &dyn Fn(usize) -> bool) -> Result<usize, String> {
        let name = name.trim();
        let lower = name.to_lowercase();
        let position = |test: &dyn Fn(&Item) -> bool| -> Vec<usize> {
            self.items
                .iter()
                .enumerate()
                .filter(|(_, i)| test(i))
                .map(|(n, _)| n)
                .collect()
        };
        let asks = |i: &Item| !matches!(i.verb, Verb::Compute { .. } | Verb::Judge);
        let ways: [&dyn Fn(&Item) -> bool; 4] = [
            &|i| i.path == name,
            &|i| asks(i) && name.parse() == Ok(i.number),
            &|i| i.path.rsplit('.').next() == Some(&lower.replace(' ', "_")),
            &|i| i.title.as_ref().is_some_and(|t| t.to_lowercase() == lower),
        ];
        for way in ways {
            match position(way)[..] {
                [] => {}
                [only] => return Ok(only),
                ref several => {
                    let with_entries: Vec<usize> =
                        several.iter().copied().filter(|i| entered(*i)).collect();
                    if let [only] = with_entries[..] {
                        return Ok(only);
                    }
                    let paths: Vec<&str> = several
                        .iter()
                        .take(6)
                        .map(|i| self.items[*i].path.as_str())
                        .collect();
                    return Err(format!(
                        "several steps are called `{name}`; type the path: {}{}",
                        paths.join(", "),
                        if several.len() > paths.len() {
                            " …"
                        } else {
                            ""
                        }
                    ));
                }
            }
        }
        let near = self
            .items
            .iter()
            .map(|i| (strsim::damerau_levenshtein(name, &i.path), &i.path))
            .min();
        match near.filter(|(distance, _)| *distance <= name.len().div_ceil(3).max(1)) {
            Some((_, near)) => Err(format!(
                "there is no step `{name}`; the nearest one is `{near}`"
            )),
            None => Err(format!(
                "there is no step `{name}`; `:where` lists those behind you"
            )),
        }
    }
}

/// A category of pump; own ones are allowed.
pub type Category = String;

/// The devices that a recipe is written for. An empty list means any.
#[derive(Clone, Debug, Default)]
pub struct AppliesTo {
    /// The maker.
    pub maker: Option<String>,
    /// Its models.
    pub models: Vec<String>,
}

/// An entry of the history.
#[derive(Clone, Debug)]
pub struct Change {
    /// The revision that it led to.
    pub revision: u32,
    /// The day, as written.
    pub date: String,
    /// The reason.
    pub why: String,
    /// Who made it, where it is said.
    pub by: Option<String>,
}

/// How a value near its limit is decided upon (ILAC-G8).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decision {
    /// The value against the limit.
    Simple,
    /// Inside the limit by at least the expanded uncertainty.
    Guarded,
    /// Pass, conditional pass, conditional fail, fail.
    Banded,
}

impl Decision {
    /// The word that recipes use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Simple => "simple",
            Self::Guarded => "guarded",
            Self::Banded => "banded",
        }
    }

    /// The decision rule of this word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Simple, Self::Guarded, Self::Banded]
            .into_iter()
            .find(|d| d.word() == word)
    }
}

/// An instrument role.
#[derive(Clone, Debug)]
pub struct Role {
    /// The kinds of quantity that it must measure, by name.
    pub measures: Vec<String>,
    /// What it must be, as the register says of it (`Barometer`); letter case does not count.
    pub kind: Option<String>,
}

/// Setup, or the steps proper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Section {
    /// Must hold before the first step.
    Setup,
    /// The steps.
    Steps,
}

/// Where the value of a name comes from.
#[derive(Clone, Debug)]
pub enum Slot {
    /// It is known before the run: a setting or a field of a row.
    Constant(Value),
    /// The value of the item at this index.
    Item(usize),
    /// The values of these items, as a list.
    Items(Vec<usize>),
    /// A column of the log at this item.
    Column(usize, usize),
    /// What the register says of the device: known when a session begins.
    Device(DeviceField),
}

/// An expression with the places its names read from.
#[derive(Clone, Debug)]
pub struct Bound {
    /// The expression, shared by the rows.
    pub expression: Arc<Expression>,
    /// A slot for each of its names.
    pub slots: Vec<Slot>,
}

impl Bound {
    /// The items that it reads, in the order of its names.
    pub fn items(&self) -> impl Iterator<Item = usize> {
        let of = |slot: &Slot| match slot {
            Slot::Item(item) | Slot::Column(item, _) => vec![*item],
            Slot::Items(items) => items.clone(),
            Slot::Constant(_) | Slot::Device(_) => Vec::new(),
        };
        self.slots.iter().flat_map(of)
    }

    /// An expression that reads nothing and is true.
    #[must_use]
    pub fn nothing() -> Self {
        let expression = Expression {
            text: String::new(),
            root: super::Node::Truth(true),
            names: Vec::new(),
            result: super::Type::Truth,
        };
        Self {
            expression: Arc::new(expression),
            slots: Vec::new(),
        }
    }
}

/// A `when`.
pub type Condition = Bound;

/// How much a failed criterion weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the words of the trade")]
pub enum CriterionSeverity {
    Minor,
    Major,
    Critical,
}

impl CriterionSeverity {
    /// The word that recipes use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Minor => "minor",
            Self::Major => "major",
            Self::Critical => "critical",
        }
    }

    /// The severity of this word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Minor, Self::Major, Self::Critical]
            .into_iter()
            .find(|s| s.word() == word)
    }
}

/// What a value must meet. Without an expression: the answer must be yes.
#[derive(Clone, Debug)]
pub struct Criterion {
    /// The expression; `None` for the implied one of a `confirm`.
    pub that: Option<Bound>,
    /// The key of the basis.
    pub basis: Option<String>,
    /// How much a fail weighs.
    pub severity: CriterionSeverity,
}

/// What happens when a step has failed and may not be done again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Then {
    /// The session goes on.
    Continue,
    /// It ends where a critical criterion failed, else it goes on: what holds where a recipe says nothing.
    StopIfCritical,
    /// It ends.
    Stop,
    /// It is asked again until it holds: what holds in a setup that says nothing. Minor fails pass with a remark.
    AskAgain,
}

/// What happens when a criterion fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OnFail {
    /// How often the step may be done again.
    pub retries: u32,
    /// And then.
    pub then: Then,
}

/// What a leaf step asks for.
#[derive(Clone, Debug)]
pub enum Verb {
    /// An acknowledgement.
    Tell,
    /// Yes or no.
    Confirm,
    /// One of these words.
    Choose(Vec<String>),
    /// Free text, with the pattern it must match.
    Enter(Option<regex::Regex>),
    /// A whole number.
    Count {
        /// How many.
        repeat: u32,
        /// The instrument role.
        with: Option<String>,
        /// What is plausible.
        range: Option<(Quantity, Quantity)>,
    },
    /// A reading.
    Measure {
        /// The unit that is asked for.
        unit: Unit,
        /// The instrument role.
        with: Option<String>,
        /// How many readings.
        repeat: u32,
        /// What is plausible.
        range: Option<(Quantity, Quantity)>,
        /// The step of the display.
        resolution: Option<Quantity>,
    },
    /// A duration.
    Time {
        /// The instrument role.
        with: Option<String>,
        /// How many.
        repeat: u32,
        /// What is plausible.
        range: Option<(Quantity, Quantity)>,
    },
    /// Nothing; the value of an expression.
    Compute {
        /// The expression.
        expression: Bound,
        /// The unit that it is shown in.
        unit: Option<Unit>,
    },
    /// Nothing; only its criteria.
    Judge,
    /// A file with a logged series.
    Trace {
        /// What is wanted of it.
        mapping: Box<Mapping>,
        /// The instrument role.
        with: Option<String>,
    },
}

impl Verb {
    /// The word that recipes and records use.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Tell => "tell",
            Self::Confirm => "confirm",
            Self::Choose(_) => "choose",
            Self::Enter(_) => "enter",
            Self::Count { .. } => "count",
            Self::Measure { .. } => "measure",
            Self::Time { .. } => "time",
            Self::Compute { .. } => "compute",
            Self::Judge => "judge",
            Self::Trace { .. } => "trace",
        }
    }

    /// How many entries one attempt takes.
    #[must_use]
    pub fn entries(&self) -> usize {
        match self {
            Self::Count { repeat, .. }
            | Self::Measure { repeat, .. }
            | Self::Time { repeat, .. } => *repeat as usize,
            Self::Compute { .. } | Self::Judge => 0,
            _ => 1,
        }
    }

    /// The instrument role that it reads from.
    #[must_use]
    pub fn role(&self) -> Option<&str> {
        match self {
            Self::Count { with, .. }
            | Self::Measure { with, .. }
            | Self::Time { with, .. }
            | Self::Trace { with, .. } => with.as_deref(),
            _ => None,
        }
    }

    /// The plausible range of an entry.
    #[must_use]
    pub fn range(&self) -> Option<&(Quantity, Quantity)> {
        match self {
            Self::Count { range, .. } | Self::Measure { range, .. } | Self::Time { range, .. } => {
                range.as_ref()
            }
            _ => None,
        }
    }

    /// The unit that an entry is taken in.
    #[must_use]
    pub fn unit(&self) -> Option<Unit> {
        match self {
            Self::Measure { unit, .. } => Some(unit.clone()),
            Self::Count { .. } => Some(Unit::one()),
            Self::Time { .. } => Some(Unit::si(time_kind())),
            _ => None,
        }
    }
}

/// The kind of a duration.
fn time_kind() -> Kind {
    Kind::of(crate::quantity::Dimension::from_name("time").unwrap_or_default())
}

/// A leaf step, in one row where it stands in an `each`.
#[derive(Clone, Debug)]
pub struct Item {
    /// Its path: `accuracy.2.delivered`.
    pub path: String,
    /// Where its step stands in the recipe: a JSON pointer (RFC 6901), the same for all rows.
    pub place: Arc<str>,
    /// Which of all steps it is, from 1: the same on the screen, on paper and in the record.
    pub number: usize,
    /// Setup or steps.
    pub section: Section,
    /// What it asks for.
    pub verb: Verb,
    /// The titles of the groups and rows around it, outermost first.
    pub trail: Vec<String>,
    /// Its title.
    pub title: Option<String>,
    /// The sentence that the technician reads, as a template.
    pub prompt: String,
    /// The names that the sentence uses, with their values.
    pub prompt_slots: Vec<(String, Slot)>,
    /// Cautions of groups that begin here, then its own.
    pub cautions: Vec<String>,
    /// Why it is done.
    pub why: Option<String>,
    /// What to do when it doesn't go well.
    pub help: Option<String>,
    /// A picture's path.
    pub picture: Option<String>,
    /// What must be true for it to apply; those of the groups around it first.
    pub conditions: Vec<Condition>,
    /// What its value must meet.
    pub criteria: Vec<Criterion>,
    /// What happens when it is not met.
    pub on_fail: OnFail,
    /// Whether it may be skipped without a reason.
    pub optional: bool,
    /// Whether it is asked where a fail has stopped the session before it: its own word, or that of a group around it.
    pub after_stop: bool,
}
