//! `diff --replay`: the shop's stored records of a recipe, judged again under another revision from their entries.
//!
//! Never in here: how records are found (see the index), how one is judged again (see the record room). Changes when records
//! are chosen or counted otherwise.

use std::collections::{BTreeMap, HashMap};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use rayon::prelude::*;

use crate::diff::{Partners, Revision, partners};
use crate::host::Host;
use crate::index::{Chosen, Index, Revisions, Stored};
use crate::plan::{Decision, Plan};
use crate::record::{Again, Answer, Known, RejudgedRecord, Under, rejudged};
use crate::shop::Paths;

use super::AppError;
use super::amendments::{AMENDMENTS, Overruled, overruled};
use super::open::read_shop_of;
use super::proof::Proof;
use super::records::{MAX_RECORD, attachment_of};
use super::trace::{notes, open_index};
use super::trend::known;
use super::verify::Around;

/// How many records are held at once.
const AT_ONCE: usize = 256;
/// Most texts of the recipe whose steps are kept matched with those of the newer revision.
const MAX_TEXTS: usize = 256;
/// The name of the check for which a session is run again.
const SESSION: &str = "values and verdicts";

/// Which records are judged again.
#[derive(Clone, Copy, Debug, Default)]
pub struct Replay<'a> {
    /// Tag of the device.
    pub device: Option<&'a str>,
    /// Model of the devices.
    pub model: Option<&'a str>,
    /// The first day.
    pub since: Option<&'a str>,
    /// The last day.
    pub until: Option<&'a str>,
    /// Whether trials count too.
    pub trials: bool,
    /// Whether records of revisions before the older one are left out.
    pub only_old: bool,
}

/// A record of the recipe.
#[derive(Debug)]
pub struct Replayed {
    /// What the index knows of it.
    pub stored: Stored,
    /// What came of it.
    pub outcome: Outcome,
    /// Its verdict under the older of the two revisions, where it is of an earlier one yet and its verdict would be another.
    pub under_old: Option<&'static str>,
}

impl Replayed {
    /// Whether its verdict would be another already under the older of the two revisions.
    #[must_use]
    pub fn is_so_already(&self) -> bool {
        matches!(&self.outcome, Outcome::Judged(judged) if self.under_old == Some(judged.now))
    }
}

/// What came of a record.
#[derive(Debug)]
pub enum Outcome {
    /// It was judged again.
    Judged(RejudgedRecord),
    /// It does not verify, or can't be judged again: why.
    NotJudged(String),
    /// It does not hold any longer.
    Overruled(Overruled),
}

/// How many records came to what.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// All.
    pub records: usize,
    /// The verdict is the same.
    pub same: usize,
    /// A verdict other than a fail would be a fail.
    pub would_fail: usize,
    /// A fail, or an incomplete record, would be a pass, with remarks or without.
    pub would_pass: usize,
    /// The verdict would be another one: open for want of a reading, or with remarks now and without before.
    pub otherwise: usize,
    /// Of all with another verdict, those that have it under the older of the two revisions already.
    pub already: usize,
    /// The verdict is the same, that of a criterion is not.
    pub criteria_alone: usize,
    /// Of all, those that lack a reading.
    pub lacking: usize,
    /// Of all, those with readings that count for nothing any more.
    pub left: usize,
    /// Not judged: they don't verify.
    pub not_judged: usize,
    /// Left out: another record holds instead.
    pub corrected: usize,
    /// Left out: declared void.
    pub void: usize,
}

/// The tallies of all records.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ReplayCount {
    /// Of all.
    pub all: Tally,
    /// By model.
    pub models: BTreeMap<String, Tally>,
    /// Of each device, whether its newest record would be a fail and was none.
    pub devices: BTreeMap<String, bool>,
}

impl ReplayCount {
    fn add(&mut self, of: &Replayed) {
        let stored = &of.stored;
        self.all.add(of);
        self.models.entry(stored.model.clone()).or_default().add(of);
        if let Outcome::Judged(judged) = &of.outcome {
            let fails = judged.now == "fail" && judged.was != "fail" && !of.is_so_already();
            self.devices.insert(stored.device.clone(), fails);
        }
    }

    /// The devices whose newest record would be a fail and was none.
    pub fn would_fail(&self) -> impl Iterator<Item = &str> {
        let devices = self.devices.iter().filter(|(_, fails)| **fails);
        devices.map(|(device, _)| device.as_str())
    }
}

impl Tally {
    fn add(&mut self, of: &Replayed) {
        self.records += 1;
        self.already += usize::from(of.is_so_already());
        let judged = match &of.outcome {
            Outcome::Judged(judged) => judged,
            Outcome::NotJudged(_) => return self.not_judged += 1,
            Outcome::Overruled(Overruled::By(_)) => return self.corrected += 1,
            Outcome::Overruled(Overruled::Void(_)) => return self.void += 1,
        };
        let passes = |word: &str| word.starts_with("pass");
        if judged.was == judged.now {
            self.same += 1;
            self.criteria_alone += usize::from(!judged.criteria.is_empty());
        } else if judged.now == "fail" {
            self.would_fail += 1;
        } else if passes(judged.now) && !passes(judged.was) {
            self.would_pass += 1;
        } else {
            self.otherwise += 1;
        }
        self.lacking += usize::from(!judged.lacking.is_empty());
        self.left += usize::from(!judged.left.is_empty());
    }
}

/// The shop's records of a recipe, before they are judged again.
#[derive(Debug)]
pub struct Replaying<'a> {
    index: Index,
    paths: &'a Paths,
    asked: Replay<'a>,
    old: &'a Revision,
    new: &'a Revision,
    default: Decision,
    /// Records of revisions behind the older one, which are left out.
    pub later: usize,
    /// What is to be known of the index: files that are no records, an index in memory.
    pub notes: Vec<String>,
}

/// Finds the records of a recipe's older revision and those before it.
///
/// # Errors
/// Those of the system and of the index; a `shop.yaml` that can't be read; a device or model that nothing has.
pub fn replay<'a>(
    host: &dyn Host,
    paths: &'a Paths,
    (old, new): (&'a Revision, &'a Revision),
    asked: Replay<'a>,
) -> Result<Replaying<'a>, AppError> {
    let index = open_index(host, paths)?;
    let mut replaying = Replaying {
        default: read_shop_of(host, paths)?.decision,
        notes: notes(&index)?,
        index,
        paths,
        asked,
        old,
        new,
        later: 0,
    };
    let named = Chosen {
        recipe: None,
        ..replaying.chosen()
    };
    known(host, paths, &replaying.index, named)?;
    let after = Revisions::After(old.plan().revision);
    replaying.later = replaying.index.count_stored(replaying.chosen(), after)?;
    Ok(replaying)
}

impl Replaying<'_> {
    fn chosen(&self) -> Chosen<'_> {
        Chosen {
            device: self.asked.device,
            model: self.asked.model,
            recipe: Some(&self.old.plan().recipe),
            since: self.asked.since,
            until: self.asked.until,
            trials: self.asked.trials,
        }
    }

    /// Tells each record, in order of time; no more than some hundred are held at once.
    ///
    /// # Errors
    /// Those of the system and of the index.
    pub fn records(
        &self,
        host: &dyn Host,
        tell: &mut dyn FnMut(Replayed),
    ) -> Result<ReplayCount, AppError> {
        let proof = Proof::read(host, self.paths)?;
        let judging = Judging {
            around: Around {
                host,
                proof: Some(&proof),
                known: &Known::default(),
                signatures: false,
                copy: false,
            },
            paths: self.paths,
            matching: Matching::to(self.new),
            matching_old: Matching::to(self.old),
            default: self.default,
            overruled: overruled(host, self.paths)?,
        };
        let mut count = ReplayCount::default();
        let mut told = |waiting: &mut Vec<Stored>| {
            let all: Vec<Replayed> = std::mem::take(waiting)
                .into_par_iter()
                .map(|stored| judging.replayed(stored))
                .collect();
            for record in all {
                count.add(&record);
                tell(record);
            }
        };
        let revision = self.old.plan().revision;
        let revisions = if self.asked.only_old {
            Revisions::Only(revision)
        } else {
            Revisions::UpTo(revision)
        };
        let mut waiting = Vec::new();
        self.index.stored(self.chosen(), revisions, &mut |stored| {
            waiting.push(stored);
            if waiting.len() == AT_ONCE {
                told(&mut waiting);
            }
            Ok::<(), AppError>(())
        })?;
        told(&mut waiting);
        Ok(count)
    }
}

/// The steps of the recipe's older texts, matched with those of the newer revision.
struct Matching<'a> {
    new: &'a Revision,
    known: Mutex<HashMap<Arc<str>, Arc<Partners>>>,
}

impl<'a> Matching<'a> {
    fn to(new: &'a Revision) -> Self {
        Self {
            new,
            known: Mutex::default(),
        }
    }

    fn of(&self, plan: &Plan) -> Result<Arc<Partners>, String> {
        let lock = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = lock().get(&plan.source) {
            return Ok(Arc::clone(known));
        }
        let old = Revision::new("recipe in the record", plan.clone())
            .map_err(|_| "the embedded recipe has errors".to_owned())?;
        let found = Arc::new(partners(&old, self.new));
        let mut known = lock();
        if known.len() == MAX_TEXTS {
            known.clear();
        }
        known.insert(Arc::clone(&plan.source), Arc::clone(&found));
        Ok(found)
    }
}

/// What records are judged again with.
struct Judging<'a> {
    around: Around<'a>,
    paths: &'a Paths,
    matching: Matching<'a>,
    /// The same of the older of the two revisions.
    matching_old: Matching<'a>,
    default: Decision,
    overruled: BTreeMap<String, Overruled>,
}

impl Judging<'_> {
    fn replayed(&self, stored: Stored) -> Replayed {
        let (outcome, under_old) = match self.overruled.get(&stored.record) {
            Some(why) => (Outcome::Overruled(why.clone()), None),
            None => match self.judged(&stored) {
                Ok((judged, under_old)) => (Outcome::Judged(judged), under_old),
                Err(why) => (Outcome::NotJudged(why), None),
            },
        };
        Replayed {
            stored,
            outcome,
            under_old,
        }
    }

    /// A record judged under the newer revision; and its verdict under the older one, where that may be what changes it.
    fn judged(&self, stored: &Stored) -> Result<(RejudgedRecord, Option<&'static str>), String> {
        let path = self.paths.records().join(&stored.file);
        let session = self.verified(&path)?;
        let now = self.under(&self.matching, &session, &path)?;
        let earlier = session.plan().revision < self.matching_old.new.plan().revision;
        let under_old = match earlier && now.was != now.now {
            true => Some(self.under(&self.matching_old, &session, &path)?.now),
            false => None,
        };
        Ok((now, under_old))
    }

    fn under(
        &self,
        matching: &Matching<'_>,
        session: &Again,
        path: &Path,
    ) -> Result<RejudgedRecord, String> {
        let partners = matching.of(session.plan())?;
        let under = Under {
            plan: matching.new.plan(),
            items: &partners.items,
            criteria: &partners.criteria,
            default: self.default,
        };
        let attached = |digest: &str| attachment_of(self.around.host, path, digest);
        Ok(rejudged(session, &under, &attached))
    }

    /// The session of a record that verifies, signatures left aside.
    fn verified(&self, path: &Path) -> Result<Again, String> {
        let attached = |digest: &str| attachment_of(self.around.host, path, digest);
        let bytes = self.around.host.read(path, MAX_RECORD);
        let bytes = bytes.map_err(|e| e.to_string())?;
        let text = std::str::from_utf8(&bytes).map_err(|_| "not UTF-8 text".to_owned())?;
        let (_, checks, session) = self.around.session(path, text, &attached)?;
        // What was added to it says nothing against the record itself.
        let own = || checks.iter().filter(|c| c.what != AMENDMENTS);
        let doubt = own().find(|c| c.answer == Answer::Bad);
        match (doubt, session) {
            (Some(doubt), _) => Err(format!("{}: {}", doubt.what, doubt.reason)),
            (None, Some(session)) => Ok(session),
            (None, None) => {
                let open = own().find(|c| c.what == SESSION);
                Err(open.map_or_else(String::new, |c| c.reason.clone()))
            }
        }
    }
}
