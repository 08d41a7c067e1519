//! `diff --replay`: its arguments, and what is told of records that were judged again.
//!
//! Never in here: judging them (see `app`). Changes when more is told of such a record.

use std::path::Path;

use clap::Args;
use indexmap::IndexMap;
use serde_json::{Value, json};

use crate::app::{
    self, AppError, Compared, Outcome, Overruled, Replay, ReplayCount, Replayed, Tally,
};
use crate::host::RealHost;
use crate::record::{RejudgedCriterion, RejudgedRecord};
use crate::render::{PastRecord, PastResults};
use crate::shop::Paths;

use super::commands::{here, print};
use super::looking::{day, note, ordered};

/// Most records that are told one by one on a page; JSON has all.
const MOST_RECORDS: usize = 500;
/// Most devices that are named.
const MOST_DEVICES: usize = 40;
/// Most criteria, or steps, of one record that are told on a page.
const MOST_STEPS: usize = 6;
/// How much text is printed at once, in bytes.
const AT_ONCE: usize = 64 * 1024;

/// Which records are judged again.
#[derive(Clone, Debug, Args)]
pub struct ReplayArguments {
    /// Judge the shop's records of OLD's recipe again under NEW, those of OLD's revision and of earlier ones
    #[arg(long)]
    pub replay: bool,
    /// Judge only records of this device
    #[arg(long, value_name = "TAG", requires = "replay")]
    pub device: Option<String>,
    /// Judge only records of devices of this model
    #[arg(long, value_name = "MODEL", requires = "replay")]
    pub model: Option<String>,
    /// Judge only records from this day on, as 2026-03-31
    #[arg(long, value_name = "DAY", value_parser = day, requires = "replay")]
    pub since: Option<String>,
    /// Judge only records up to this day
    #[arg(long, value_name = "DAY", value_parser = day, requires = "replay")]
    pub until: Option<String>,
    /// Judge trials too
    #[arg(long, requires = "replay")]
    pub trials: bool,
    /// Judge only records of OLD's own revision
    #[arg(long, requires = "replay")]
    pub only_old: bool,
}

impl ReplayArguments {
    fn asked(&self) -> Replay<'_> {
        Replay {
            device: self.device.as_deref(),
            model: self.model.as_deref(),
            since: self.since.as_deref(),
            until: self.until.as_deref(),
            trials: self.trials,
            only_old: self.only_old,
        }
    }
}

/// Records being judged again.
struct Records<'a> {
    host: &'a RealHost,
    paths: &'a Paths,
    compared: &'a Compared,
    asked: &'a ReplayArguments,
}

impl Records<'_> {
    /// Tells each record; what is to be known of all, and how many came to what.
    fn told(&self, tell: &mut dyn FnMut(Replayed)) -> Result<(Vec<String>, ReplayCount), AppError> {
        let (old, new) = (&self.compared.old, &self.compared.new);
        ordered(self.asked.since.as_deref(), self.asked.until.as_deref())?;
        let replaying = app::replay(self.host, self.paths, (old, new), self.asked.asked())?;
        note(&replaying.notes);
        let count = replaying.records(self.host, tell)?;
        let plan = old.plan();
        let which = if self.asked.only_old {
            ""
        } else {
            " and earlier ones"
        };
        let mut notes = vec![format!(
            "Records of {} revision {}{which}, each from its own entries under {}; signatures are left to `stepwell verify`.",
            plan.recipe, plan.revision, new.name
        )];
        if count.all.already > 0 {
            let n = count.all.already;
            notes.push(format!(
                "Of those with another verdict, that have it under revision {} already, so that this change does not bring it: {n}.",
                plan.revision
            ));
        }
        let failing: Vec<String> = count.would_fail().map(str::to_owned).collect();
        let devices = failing.len();
        if let Some(tags) = some_of(failing.into_iter(), ", ", MOST_DEVICES) {
            notes.push(format!(
                "Devices whose newest record among these would have failed: {devices} ({tags})."
            ));
        }
        if replaying.later > 0 {
            let n = replaying.later;
            notes.push(format!("Records of later revisions, left out: {n}."));
        }
        Ok((notes, count))
    }
}

/// What a revision does to past results, for a page.
pub(super) fn past(
    host: &RealHost,
    shop: Option<&Path>,
    compared: &Compared,
    asked: &ReplayArguments,
) -> Result<PastResults, AppError> {
    let paths = Paths::at(&here(host, shop)?);
    let records = Records {
        host,
        paths: &paths,
        compared,
        asked,
    };
    let mut past = PastResults::default();
    let mut more = 0usize;
    let (notes, count) = records.told(&mut |record| {
        if let Some(row) = row(&record) {
            if past.records.len() < MOST_RECORDS {
                past.records.push(row);
            } else {
                more += 1;
            }
        }
    })?;
    past.notes = notes;
    if more > 0 {
        past.notes.push(format!(
            "Records that are not told one by one here: {more}; `--format json` has all."
        ));
    }
    past.summary = summary(&count.all);
    let counts = |t: &Tally| {
        [
            t.records,
            t.same,
            t.would_fail,
            t.would_pass,
            t.otherwise,
            t.lacking,
            t.not_judged,
        ]
    };
    let models = count.models.iter().map(|(m, t)| (m.clone(), counts(t)));
    past.models = models.collect();
    Ok(past)
}

/// What a revision does to past results, as data behind that of the difference; records are printed as they are judged.
pub(super) fn print_json(
    host: &RealHost,
    shop: Option<&Path>,
    compared: &Compared,
    asked: &ReplayArguments,
    difference: &Value,
) -> Result<(), AppError> {
    let paths = Paths::at(&here(host, shop)?);
    let records = Records {
        host,
        paths: &paths,
        compared,
        asked,
    };
    let head = format!("{difference:#}");
    let head = head.trim_end_matches('}').trim_end();
    let mut text = format!("{head},\n  \"replay\": {{\n    \"records\": [");
    let mut told = 0;
    let (notes, count) = records.told(&mut |record| {
        if is_told(&record) {
            let before = if told == 0 { "\n" } else { ",\n" };
            text += &format!("{before}{}", record_json(&record));
            told += 1;
        }
        if text.len() >= AT_ONCE {
            print(&std::mem::take(&mut text));
        }
    })?;
    let devices: Vec<&str> = count.would_fail().collect();
    let models: serde_json::Map<String, Value> = count
        .models
        .iter()
        .map(|(model, tally)| (model.clone(), tally_json(tally)))
        .collect();
    text += &format!(
        "\n    ],\n    \"counts\": {},\n    \"models\": {},\n    \"devices\": {},\n    \"notes\": {}\n  }}\n}}\n",
        tally_json(&count.all),
        Value::Object(models),
        json!(devices),
        json!(notes)
    );
    print(&text);
    Ok(())
}

/// Whether there is something to tell of a record.
fn is_told(of: &Replayed) -> bool {
    !matches!(&of.outcome, Outcome::Judged(judged) if judged.is_unchanged())
}

fn summary(of: &Tally) -> String {
    let judged = of.records - of.not_judged - of.corrected - of.void;
    let mut parts = vec![format!("{} judged again", counted(judged))];
    let mut add = |n: usize, words: &str| {
        if n > 0 {
            parts.push(format!("{n} {words}"));
        }
    };
    add(of.would_fail, "would have failed");
    add(of.would_pass, "would have passed");
    add(of.otherwise, "would have another verdict");
    add(of.already, "of these under the older revision already");
    add(
        of.criteria_alone,
        "would have the same verdict by other criteria",
    );
    add(of.lacking, "lack a reading that is asked for now");
    add(of.left, "have readings that count for nothing any more");
    if judged > 0 && of.same == judged {
        parts.push("all with the same verdict".to_owned());
    }
    let mut text = format!("{}.", parts.join(", "));
    if of.not_judged > 0 {
        text += &format!(" Not judged, for they do not verify: {}.", of.not_judged);
    }
    if of.corrected > 0 {
        text += &format!(
            " Left out, for another record holds instead: {}.",
            of.corrected
        );
    }
    if of.void > 0 {
        text += &format!(" Left out, for they were declared void: {}.", of.void);
    }
    text
}

fn counted(records: usize) -> String {
    match records {
        1 => "1 record".to_owned(),
        n => format!("{n} records"),
    }
}

fn row(of: &Replayed) -> Option<PastRecord> {
    if !is_told(of) {
        return None;
    }
    let stored = &of.stored;
    let day = stored.started.get(..10).unwrap_or_default();
    let trial = if stored.trial { ", trial" } else { "" };
    let record = format!(
        "{} of {day}, {} ({}), revision {}{trial}",
        stored.record, stored.device, stored.model, stored.revision
    );
    let (was, now, why) = match &of.outcome {
        Outcome::Judged(judged) => {
            let already = of.is_so_already();
            let already = already.then(|| "so under the older revision already".to_owned());
            let why: Vec<String> = already.into_iter().chain(reasons(judged)).collect();
            (judged.was, judged.now, why.join("; "))
        }
        Outcome::NotJudged(why) => (&*stored.verdict, "not judged", why.clone()),
        // What another record holds instead of is counted in the summary.
        Outcome::Overruled(_) => return None,
    };
    Some(PastRecord {
        record,
        was: was.to_owned(),
        now: now.to_owned(),
        why,
    })
}

/// What of a record would be otherwise, in words.
fn reasons(of: &RejudgedRecord) -> Vec<String> {
    let reached = of.criteria.iter().filter(|c| !c.is_only_unreached());
    let mut all: Vec<String> = some(reached.map(criterion), "; ").into_iter().collect();
    let ends_at = of.ends_at.iter();
    all.extend(ends_at.map(|path| format!("the session would have ended at {path}")));
    let lacking = of.lacking.iter().map(|m| (m.why, m.path.clone()));
    all.extend(by_reason(lacking, "lacks"));
    let left = of.left.iter().map(|l| match l.readings {
        1 => (l.why, format!("1 reading of {}", l.path)),
        n => (l.why, format!("{n} readings of {}", l.path)),
    });
    all.extend(by_reason(left, "not counted:"));
    let again = some(of.again.iter().cloned(), ", ");
    all.extend(again.map(|paths| format!("would have been asked once more: {paths}")));
    all
}

fn criterion(of: &RejudgedCriterion) -> String {
    let values = match of.limits.as_slice() {
        [] if of.shown.is_empty() => String::new(),
        [] => format!(" ({})", of.shown),
        limits => format!(" ({})", limits.join(", ")),
    };
    let (path, that) = (&of.path, &of.that);
    format!("{path}: `{that}` {} → {}{values}", of.was, of.now)
}

/// What has the same reason, told together.
fn by_reason(all: impl Iterator<Item = (&'static str, String)>, word: &str) -> Vec<String> {
    let mut reasons: IndexMap<&str, Vec<String>> = IndexMap::new();
    for (why, what) in all {
        reasons.entry(why).or_default().push(what);
    }
    let told = |(why, what): (&str, Vec<String>)| {
        let what = some(what.into_iter(), ", ")?;
        Some(format!("{word} {what} ({why})"))
    };
    reasons.into_iter().filter_map(told).collect()
}

/// The first of many in one text; nothing of none.
fn some(all: impl Iterator<Item = String>, between: &str) -> Option<String> {
    some_of(all, between, MOST_STEPS)
}

/// The same with as many as are wanted.
fn some_of(all: impl Iterator<Item = String>, between: &str, most: usize) -> Option<String> {
    let all: Vec<String> = all.collect();
    let mut told: Vec<String> = all.iter().take(most).cloned().collect();
    if let more @ 1.. = all.len().saturating_sub(most) {
        told.push(format!("{more} more like these"));
    }
    (!told.is_empty()).then(|| told.join(between))
}

fn tally_json(of: &Tally) -> Value {
    json!({
        "records": of.records, "same": of.same, "would_fail": of.would_fail, "would_pass": of.would_pass,
        "otherwise": of.otherwise, "already": of.already, "criteria_alone": of.criteria_alone, "lacking": of.lacking, "left": of.left,
        "not_judged": of.not_judged, "corrected": of.corrected, "void": of.void,
    })
}

fn record_json(of: &Replayed) -> Value {
    let s = &of.stored;
    let mut json = json!({
        "record": s.record, "started": s.started, "device": s.device, "model": s.model, "revision": s.revision,
        "trial": s.trial, "was": s.verdict,
    });
    match &of.outcome {
        Outcome::NotJudged(why) => json["not_judged"] = json!(why),
        Outcome::Overruled(Overruled::By(by)) => json["corrected_by"] = json!(by),
        Outcome::Overruled(Overruled::Void(by)) => json["void_by"] = json!(by),
        Outcome::Judged(judged) => {
            let criteria = judged.criteria.iter().map(|c| {
                json!({"step": c.path, "that": c.that, "was": c.was, "now": c.now, "shown": c.shown, "limits": c.limits})
            });
            let lacking = judged
                .lacking
                .iter()
                .map(|m| json!({"step": m.path, "why": m.why}));
            let left = judged
                .left
                .iter()
                .map(|l| json!({"step": l.path, "readings": l.readings, "why": l.why}));
            json["now"] = json!(judged.now);
            json["already"] = json!(of.is_so_already());
            json["criteria"] = criteria.collect();
            json["lacking"] = lacking.collect();
            json["ends_at"] = json!(judged.ends_at);
            json["again"] = json!(judged.again);
            json["left"] = left.collect();
        }
    }
    json
}
