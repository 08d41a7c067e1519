//! What past records tell for the next one: which instruments somebody took last, what was
//! chosen on the last device, and how long the rest takes.
//!
//! Never in here: what is done with it. Changes when something else is remembered.

use std::collections::{HashMap, HashSet};

use indexmap::IndexMap;
use serde::Deserialize;

use crate::engine::Event;
use crate::host::{Host, milliseconds_between};
use crate::journal::{Head, event_from_json};
use crate::plan::{Item, Plan, Verb};
use crate::shop::occasion_of;

use super::records::MAX_RECORD;
use super::trace::open_index;
use super::{AppError, OpenShop};

/// Past records that are looked at.
const LOOKED_AT: u32 = 30;
/// Less than this for each answer is no work at the bench, in milliseconds.
const LEAST_MS: i64 = 1_000;
/// Fewer times tell nothing.
const LEAST_TIMES: usize = 3;

/// What is read of a past record.
#[derive(Deserialize)]
struct Past {
    bench: String,
    #[serde(default)]
    ended: Option<String>,
    started: String,
    instruments: IndexMap<String, Taken>,
    device: Tested,
    journal: Vec<serde_json::Value>,
}

#[derive(Deserialize)]
struct Taken {
    id: String,
}

#[derive(Deserialize)]
struct Tested {
    maker: String,
    model: String,
}

/// What was chosen on the last device of the same maker and model by this recipe at this bench: the options that were
/// picked, by the paths of their steps. Nothing of a recipe for one occasion alone, as after a repair: there each choice is
/// a finding of its own.
///
/// # Errors
/// Those of the system and of the index.
pub fn chosen_last(
    host: &dyn Host,
    open: &OpenShop,
    head: &Head,
    plan: &Plan,
) -> Result<HashMap<String, String>, AppError> {
    if occasion_of(&plan.recipe).is_some() {
        return Ok(HashMap::new());
    }
    let files = open_index(host, &open.paths)?.newest_of_recipe(&plan.recipe, LOOKED_AT)?;
    let (maker, model) = (&head.device.maker, &head.device.model);
    let alike = |p: &Past| {
        p.bench == open.shop.bench && p.device.maker == *maker && p.device.model == *model
    };
    let Some(past) = read(host, open, &files).into_iter().find(alike) else {
        return Ok(HashMap::new());
    };
    // What is judged is looked at each time anew.
    let is_setting = |i: &&Item| matches!(i.verb, Verb::Choose(_)) && i.criteria.is_empty();
    let settings: HashSet<&str> = plan
        .items
        .iter()
        .filter(is_setting)
        .map(|i| i.path.as_str())
        .collect();
    let mut chosen = HashMap::new();
    for event in past.journal.iter().filter_map(|l| event_from_json(l).ok()) {
        if let Event::Entry { path, text, .. } | Event::Fix { path, text, .. } = event
            && settings.contains(path.as_str())
        {
            chosen.insert(path, text);
        }
    }
    Ok(chosen)
}

/// The instruments that somebody took last at this bench, by role.
///
/// # Errors
/// Those of the system and of the index.
pub fn taken_last(
    host: &dyn Host,
    open: &OpenShop,
    by: &str,
) -> Result<IndexMap<String, String>, AppError> {
    let files = open_index(host, &open.paths)?.newest_by(by, LOOKED_AT)?;
    let mut taken = IndexMap::new();
    for past in read(host, open, &files) {
        if past.bench == open.shop.bench {
            for (role, instrument) in past.instruments {
                taken.entry(role).or_insert(instrument.id);
            }
        }
    }
    Ok(taken)
}

/// How many seconds it took from each step's question to the end, pauses left out: the median of past records of a
/// recipe that came to their end; only of steps that were asked at least three times.
///
/// # Errors
/// Those of the system and of the index.
pub fn time_left(
    host: &dyn Host,
    open: &OpenShop,
    recipe: &str,
) -> Result<HashMap<String, i64>, AppError> {
    let files = open_index(host, &open.paths)?.newest_of_recipe(recipe, LOOKED_AT)?;
    let mut times: HashMap<String, Vec<i64>> = HashMap::new();
    let whole = read(host, open, &files)
        .into_iter()
        .filter(|p| p.ended.is_none());
    for (path, ms) in whole.flat_map(|past| left(&past)) {
        times.entry(path).or_default().push(ms);
    }
    times.retain(|_, all| all.len() >= LEAST_TIMES);
    Ok(times
        .into_iter()
        .map(|(path, all)| (path, median(all) / 1_000))
        .collect())
}

/// Records that can't be read any more tell nothing; `verify` names them.
fn read(host: &dyn Host, open: &OpenShop, files: &[String]) -> Vec<Past> {
    let read = |file: &String| {
        let path = open.paths.records().join(file);
        serde_json::from_slice(&host.read(&path, MAX_RECORD).ok()?).ok()
    };
    files.iter().filter_map(read).collect()
}

/// The milliseconds from the question of each step, asked for the first time, to the end.
fn left(past: &Past) -> Vec<(String, i64)> {
    let mut asked: IndexMap<String, i64> = IndexMap::new();
    let (mut worked, mut before, mut paused) = (0, past.started.clone(), false);
    for event in past.journal.iter().filter_map(|l| event_from_json(l).ok()) {
        if let Event::Entry { path, .. }
        | Event::TimerStarted { path, .. }
        | Event::Skip { path, .. } = &event
        {
            asked.entry(path.clone()).or_insert(worked);
        }
        let gone = milliseconds_between(&before, event.at()).unwrap_or(0);
        // A session that was killed was not paused; what went by until it was taken up was no work either.
        if !paused && !matches!(event, Event::Resume { .. }) {
            worked += gone.max(0);
        }
        paused = matches!(event, Event::Pause { .. });
        event.at().clone_into(&mut before);
    }
    // Nobody answers so fast: the answers were stored ones.
    let answers = i64::try_from(asked.len()).unwrap_or(i64::MAX);
    if worked < answers.saturating_mul(LEAST_MS) {
        return Vec::new();
    }
    asked
        .into_iter()
        .map(|(path, at)| (path, worked - at))
        .collect()
}

/// The middle one; of an even number, the lower of both in the middle.
fn median(mut all: Vec<i64>) -> i64 {
    all.sort_unstable();
    all.get(all.len().saturating_sub(1) / 2)
        .copied()
        .unwrap_or(0)
}
