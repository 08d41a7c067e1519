//! Making a record from a journal that was run again, and sealing it.
//!
//! Never in here: the clock. Changes when a record tells something new.

use serde_json::{Value as Json, json};

use crate::engine::{
    Attempt as Tried, Bench, Conformance, DrawingsLeft, DrawnLimit, DrawnStep, Ended, Event,
    ItemState, Judged, Reading, Sizes, State, Status, Verdict, curves, draw,
};
use crate::journal::{Head, event_to_line};
use crate::plan::{Item, Plan, Section, Sources, Value, Verb};
use crate::quantity::Quantity as Measured;

use super::logged::{curve, logged_json, passed};
use super::remarks::{of_device, of_events, remarks};
use super::uncertain::{distance, uncertainties, uncertainty};
use super::wire::{
    Attachment, Attempt, Correction, Criterion, Curve, Heard, Limit, Note, Quantity, RECORD_FORMAT,
    Recipe, Record, Seal, Step,
};
use crate::trust::{canonical_without, digest_bytes};

/// Most values, and most distances to limits, of a record for which errors are drawn at random.
const MAX_DRAWINGS: usize = 100;

/// A session that was run.
#[derive(Clone, Copy, Debug)]
#[allow(missing_docs, reason = "the fields are named after what they hold")]
pub struct Ran<'a> {
    pub head: &'a Head,
    pub plan: &'a Plan,
    pub bench: &'a Bench,
    pub state: &'a State,
    pub events: &'a [Event],
}

/// Makes the record that a closed session gives; not sealed yet.
#[must_use]
pub fn make(session: &Ran<'_>, record: &str, finished: &str) -> Record {
    let Ran {
        head,
        plan,
        bench,
        state,
        events,
    } = *session;
    let decision = bench.decision;
    let mut left = DrawingsLeft {
        values: MAX_DRAWINGS,
        limits: MAX_DRAWINGS,
    };
    let mut undrawn = Vec::new();
    let mut steps = |section: Section| -> Vec<Step> {
        let all = plan.items.iter().enumerate();
        let indices = all.filter(|(_, i)| i.section == section).map(|(at, _)| at);
        let told = indices.map(|at| {
            let drawn = draw(plan, state, at, decision, &mut left);
            undrawn.extend(unknown(&plan.items[at].path, &drawn));
            step(head, plan, state, at, &drawn)
        });
        told.collect()
    };
    let (setup, steps) = (steps(Section::Setup), steps(Section::Steps));
    let all: Vec<&Step> = setup.iter().chain(&steps).collect();
    let mut remarks = remarks(plan, state, bench, &all);
    remarks.extend(undrawn);
    remarks.extend(of_device(head, plan));
    remarks.extend(of_events(head, events));
    let numbered = events.iter().cloned().zip(1u64..);
    let journal = numbered
        .map(|(event, n)| serde_json::from_str(&event_to_line(n, event)).unwrap_or(Json::Null));
    Record {
        format: RECORD_FORMAT,
        record: record.to_owned(),
        session: head.session.clone(),
        program: head.program.clone(),
        trial: head.trial,
        other_device: head.other_device,
        recipe: recipe(head, plan),
        device: head.device.clone(),
        occasion: head.occasion.clone(),
        by: head.by.clone(),
        bench: head.bench.clone(),
        decimal: head.decimal.clone(),
        started: head.started.clone(),
        finished: finished.to_owned(),
        instruments: head.instruments.clone(),
        cautions: plan.cautions.clone(),
        basis: plan.basis.clone(),
        decision: decision.word().to_owned(),
        setup,
        steps,
        verdict: state.verdict(plan).word().to_owned(),
        ended: ended(plan, state),
        remarks,
        attachments: attachments(plan, state),
        journal: journal.collect(),
        seal: Seal::default(),
    }
}

fn recipe(head: &Head, plan: &Plan) -> Recipe {
    Recipe {
        id: plan.recipe.clone(),
        revision: plan.revision,
        title: plan.title.clone(),
        category: plan.category.clone(),
        digest: head.recipe.digest.clone(),
        source: head.recipe.source.clone(),
        approval: head.recipe.approval.clone(),
    }
}

/// Who has a session at its end: the one who began it, or who went on with it last.
#[must_use]
pub fn closed_by<'a>(head: &'a Head, events: &'a [Event]) -> &'a str {
    let other = events.iter().rev().find_map(|e| match e {
        Event::Resume { by, .. } => by.as_deref(),
        _ => None,
    });
    other.unwrap_or(&head.by)
}

/// The text of a record's file.
///
/// # Errors
/// A record that can't be written as JSON.
pub fn record_text(record: &Record) -> Result<String, String> {
    serde_json::to_string_pretty(record)
        .map(|text| text + "\n")
        .map_err(|e| e.to_string())
}

/// Puts the digest of a record into its seal.
///
/// # Errors
/// A record that has no canonical form.
pub fn seal(record: &mut Record) -> Result<(), String> {
    let body = canonical_without(record, Some("seal"))?;
    record.seal.digest = digest_bytes(&body);
    Ok(())
}

fn ended(plan: &Plan, state: &State) -> Option<String> {
    match state.ended.as_ref()? {
        Ended::Complete => None,
        Ended::Failed(index) => Some(format!(
            "ended at `{}`, which failed",
            plan.items[*index].path
        )),
        Ended::Stopped(why) => Some(format!("stopped: {why}")),
    }
}

fn step(head: &Head, plan: &Plan, state: &State, index: usize, drawn: &DrawnStep) -> Step {
    let sources = state.sources.borrow();
    let (item, went) = (&plan.items[index], &state.items[index]);
    let is_computed = matches!(item.verb, Verb::Compute { .. });
    let sizes = is_computed.then_some(&drawn.sizes);
    let uncertainty = went_uncertain(went, &sources, drawn, sizes);
    let per_attempt = item.verb.entries().max(1);
    let attempts: Vec<Attempt> = went
        .attempts
        .iter()
        .enumerate()
        .map(|(n, tried)| {
            attempt(
                tried,
                went.readings.chunks(per_attempt).nth(n).unwrap_or_default(),
                item.verb.entries(),
            )
        })
        .collect();
    let (state_word, why) = match &went.status {
        Status::Done => ("done", None),
        Status::Skipped(why) => ("skipped", Some(why.clone())),
        Status::NotApplicable(why) => ("not applicable", Some(why.clone())),
        Status::Undone(why) => ("not done", Some(why.clone())),
        Status::Pending => ("not done", None),
    };
    let last = attempts.last();
    Step {
        path: item.path.clone(),
        verb: item.verb.word().to_owned(),
        title: item.title.clone(),
        within: item.trail.clone(),
        prompt: crate::engine::sentence(item, state),
        instrument: read_with(head, item, went),
        state: state_word.to_owned(),
        why: why.filter(|w| !w.is_empty()),
        entry: last.map_or(Json::Null, |a| a.entry.clone()),
        value: last.map_or(Json::Null, |a| a.value.clone()),
        at: last
            .and_then(|a| a.at.clone())
            .or_else(|| went.skipped.as_ref().map(|s| s.at.clone())),
        uncertainty,
        criteria: criteria(item, went, &sources, drawn),
        notes: went
            .notes
            .iter()
            .map(|n| Note {
                text: n.text.clone(),
                at: n.at.clone(),
            })
            .collect(),
        corrections: corrections(went),
        curves: curves_of(plan, state, index),
        passed: passed(plan, state, index),
        attempts,
    }
}

/// The instrument that a step's readings were taken with; none where the computer's own clock took them all.
fn read_with(head: &Head, item: &Item, went: &ItemState) -> Option<String> {
    let readings = &went.readings;
    if !readings.is_empty() && readings.iter().all(|r| r.timer.is_some()) {
        return None;
    }
    let instrument = head.instruments.get(item.verb.role()?)?;
    Some(instrument.id.clone())
}

/// The curves of a step, each once: a trumpet may be asked for by both of its sides.
fn curves_of(plan: &Plan, state: &State, index: usize) -> Vec<Curve> {
    let mut all: Vec<Curve> = Vec::new();
    for found in curves(plan, state, index).iter().map(curve) {
        if !all.contains(&found) {
            all.push(found);
        }
    }
    all
}

fn went_uncertain(
    went: &ItemState,
    sources: &Sources,
    drawn: &DrawnStep,
    sizes: Option<&Sizes>,
) -> Json {
    let value = went.value().zip(went.spread());
    value.map_or(Json::Null, |(value, spread)| {
        uncertainties(value, spread, sources, drawn.value.as_ref(), sizes)
    })
}

fn attempt(tried: &Tried, readings: &[Reading], entries: usize) -> Attempt {
    let entry = match (entries, readings) {
        (0, _) | (_, []) => Json::Null,
        (1, [only]) => json!(only.text),
        _ => readings.iter().map(|r| json!(r.text)).collect(),
    };
    let verdicts = tried.criteria.iter().map(|j| j.verdict);
    let verdict = if tried.criteria.is_empty() {
        Verdict::NotApplicable
    } else if let Some(worst) = worst(verdicts.clone()) {
        worst
    } else if verdicts.clone().any(|v| v == Verdict::NotJudged) {
        Verdict::NotJudged
    } else {
        Verdict::Pass
    };
    Attempt {
        entry,
        value: tried.value.as_ref().map_or(Json::Null, value_json),
        at: readings.last().map(|r| r.at.clone()),
        verdict: (!tried.criteria.is_empty()).then(|| verdict.word().to_owned()),
        heard: all_heard(readings),
        timed: all_timed(readings),
    }
}

/// For each entry the line that it was read from; nothing at all where every one was typed.
fn all_heard(readings: &[Reading]) -> Vec<Option<Heard>> {
    let all: Vec<Option<Heard>> = readings.iter().map(heard).collect();
    match all.iter().any(Option::is_some) {
        true => all,
        false => Vec::new(),
    }
}

/// For each entry whether the computer took the time; nothing at all where it took none.
fn all_timed(readings: &[Reading]) -> Vec<bool> {
    let all: Vec<bool> = readings.iter().map(|r| r.timer.is_some()).collect();
    match all.contains(&true) {
        true => all,
        false => Vec::new(),
    }
}

fn heard(reading: &Reading) -> Option<Heard> {
    let heard = reading.heard.as_ref()?;
    Some(Heard {
        instrument: heard.instrument.clone(),
        line: heard.line.clone(),
    })
}

/// The worst of the verdicts that stand against a plain pass.
fn worst(mut verdicts: impl Iterator<Item = Verdict> + Clone) -> Option<Verdict> {
    use Verdict::{ConditionalFail, ConditionalPass, Fail};
    let all = verdicts.clone();
    [Fail, ConditionalFail]
        .into_iter()
        .find(|v| all.clone().any(|f| f == *v))
        .or_else(|| verdicts.find(|v| *v == ConditionalPass))
}

/// The criteria of a step; of one that has no attempt, with the reason why they were not judged.
fn criteria(item: &Item, went: &ItemState, sources: &Sources, drawn: &DrawnStep) -> Vec<Criterion> {
    let unjudged = |verdict, why: &str| Judged {
        verdict,
        shown: why.to_owned(),
        limits: Vec::new(),
        close: false,
    };
    let missing = match &went.status {
        _ if !went.criteria().is_empty() => None,
        Status::NotApplicable(why) => Some(unjudged(Verdict::NotApplicable, why)),
        Status::Skipped(why) => Some(unjudged(Verdict::NotJudged, &format!("skipped: {why}"))),
        Status::Undone(why) => Some(unjudged(Verdict::NotJudged, why)),
        Status::Pending | Status::Done => Some(unjudged(Verdict::NotJudged, "not done")),
    };
    let all = item.criteria.iter().enumerate();
    all.map(|(n, c)| match &missing {
        Some(judged) => criterion(c, judged, sources, &[]),
        None => {
            let drawn = drawn.limits.get(n).map(Vec::as_slice).unwrap_or_default();
            criterion(c, &went.criteria()[n], sources, drawn)
        }
    })
    .collect()
}

fn criterion(
    criterion: &crate::plan::Criterion,
    judged: &Judged,
    sources: &Sources,
    drawn: &[DrawnLimit],
) -> Criterion {
    let that = criterion.that.as_ref().map_or_else(
        || "the answer is yes".to_owned(),
        |b| b.expression.text.clone(),
    );
    let limits = judged.limits.iter().enumerate();
    Criterion {
        that,
        shown: judged.shown.clone(),
        limits: limits
            .map(|(n, l)| limit(l.clone(), sources, drawn.get(n)))
            .collect(),
        basis: criterion.basis.clone(),
        severity: criterion.severity.word().to_owned(),
        verdict: judged.verdict.word().to_owned(),
        within_numerical_error: judged.close,
    }
}

pub(super) fn limit(
    mut l: crate::engine::Limit,
    sources: &Sources,
    drawn: Option<&DrawnLimit>,
) -> Limit {
    match drawn.map(|d| d.conformance) {
        Some(Conformance::Drawn(share, distance)) => {
            l.conformance = Some(share);
            l.distance.drawn = distance;
        }
        Some(Conformance::Unknown(_)) => l.conformance = None,
        Some(Conformance::AsJudged) | None => {}
    }
    let trials = drawn.and_then(|d| d.trials.as_ref());
    let known = l.value.as_ref().zip(l.number.as_ref());
    let sizes = drawn.map(|d| d.sizes.clone()).unwrap_or_default();
    Limit {
        uncertainty: known.and_then(|(v, n)| uncertainty(v, n, sources, trials, &sizes)),
        distance: distance(&l),
        conformance: l.conformance.map(|p| format!("{p}")),
        value: l.value.as_ref().map(quantity),
        low: l.low.as_ref().map(quantity),
        high: l.high.as_ref().map(quantity),
        strict: l.strict,
        of: l.of,
    }
}

/// What is remarked where no probability of conformity is told.
fn unknown(path: &str, drawn: &DrawnStep) -> Vec<String> {
    let all = drawn.limits.iter().flatten();
    let why = all.filter_map(|limit| match limit.conformance {
        Conformance::Unknown(why) => Some(format!(
            "`{path}`: no probability of conformity: first order is not enough for it, and {why}"
        )),
        _ => None,
    });
    why.collect()
}

fn corrections(went: &ItemState) -> Vec<Correction> {
    let mut all = Vec::new();
    for (n, correction) in went.corrections.iter().enumerate() {
        // What it was corrected to stands before the next correction of the same reading, or in the readings.
        let next = went.corrections[n + 1..]
            .iter()
            .find(|c| c.reading == correction.reading)
            .map(|c| &c.before);
        let after = next.or_else(|| went.readings.get(correction.reading.saturating_sub(1)));
        all.push(Correction {
            reading: correction.reading,
            before: correction.before.text.clone(),
            before_at: correction.before.at.clone(),
            before_heard: heard(&correction.before),
            after: after.map(|r| r.text.clone()).unwrap_or_default(),
            why: correction.why.clone(),
            at: correction.at.clone(),
        });
    }
    all
}

/// A quantity as data.
fn quantity(q: &Measured) -> Quantity {
    Quantity {
        value: q.value_text(),
        unit: q.unit().text().to_owned(),
        ucum: q.unit().ucum().to_owned(),
        exact: q.is_exact(),
    }
}

/// A value as data.
pub fn value_json(value: &Value) -> Json {
    match value {
        Value::Quantity(q) => serde_json::to_value(quantity(q)).unwrap_or(Json::Null),
        Value::Truth(t) => json!(t),
        Value::Text(t) => json!(t),
        Value::Absent(_) => Json::Null,
        Value::List(items) => items.iter().map(value_json).collect(),
        Value::Trace(logged) => logged_json(logged),
        Value::Series(..) => json!(value.to_string()),
    }
}

fn attachments(plan: &Plan, state: &State) -> Vec<Attachment> {
    let of = |(item, went): (&Item, &ItemState)| {
        let path = item.path.clone();
        went.files
            .iter()
            .map(move |f| Attachment {
                path: path.clone(),
                name: f.name.clone(),
                digest: f.digest.clone(),
                bytes: f.bytes,
                at: f.at.clone(),
            })
            .collect::<Vec<_>>()
    };
    plan.items.iter().zip(&state.items).flat_map(of).collect()
}
