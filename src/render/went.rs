//! The steps in order, each with what was asked, entered, computed, judged, corrected and noted.
//!
//! Never in here: the look of it. Changes when a step tells something new.

use serde_json::Value as Json;

use crate::record::{Criterion, Record, Step};

use super::clean::{brief, prose, typed};
use super::document::{Block, Cell, Column, Fact, Mark, section};
use super::figure::{as_quantity, capital, day_and_zone, entry, has_quantity, time_since, value};
use super::judged::{self, plain_yes};
use super::uncertain::{in_words, of_value};
use super::words::{counted, fixed, said, say};
use super::{digits, graphs, logs, tried};

/// Most plots of a record.
const MOST_PLOTS: usize = 12;

pub(super) fn blocks(record: &Record) -> Vec<Block> {
    let mut blocks = Vec::new();
    let (mut number, mut plots) = (0, 0);
    for (steps, title) in [
        (&record.setup, say!("Preparation")),
        (&record.steps, say!("Steps")),
    ] {
        if steps.is_empty() {
            continue;
        }
        blocks.push(section(&title));
        if number == 0 {
            blocks.push(Block::Paragraph {
                text: how_to_read(record),
            });
        }
        let (mut trail, mut level): (&[String], u8) = (&[], 3);
        let mut at = 0;
        while let Some(step) = steps.get(at) {
            let (blank, behind) = untouched(&steps[at..]);
            if !blank.is_empty() {
                blocks.extend(not_begun((blank, behind), number));
                number += blank.len();
                at += blank.len();
                (trail, level) = (&[], 3);
                continue;
            }
            (at, number) = (at + 1, number + 1);
            if step.within != trail {
                trail = &step.within;
                blocks.push(heading(3, &part(trail)));
                level = 4;
            }
            blocks.push(item(record, step, number, level));
            let of_step = graphs::repeats(step, number).into_iter();
            for plot in of_step.chain(logs::plots(record, step, number)) {
                plots += 1;
                if plots <= MOST_PLOTS {
                    let plot = Box::new(plot);
                    blocks.push(Block::Plot { plot });
                }
            }
        }
    }
    if plots > MOST_PLOTS {
        let more = counted(
            plots - MOST_PLOTS,
            fixed!("more plot"),
            fixed!("more plots"),
        );
        blocks.push(Block::Paragraph {
            text: say!(
                "{more} could be drawn; {most} plots are the most of a record.",
                more = more,
                most = MOST_PLOTS
            ),
        });
    }
    blocks
}

/// Fewest steps that were not begun, one behind the other, that are told in a list.
const LEAST_LEFT: usize = 3;

/// The steps from here on that were not begun, of which nothing is to be told one by one; and those behind them.
fn untouched(steps: &[Step]) -> (&[Step], &[Step]) {
    let blank = |s: &&Step| {
        s.state == "not done"
            && s.why.is_none()
            && s.attempts.is_empty()
            && s.notes.is_empty()
            && s.corrections.is_empty()
    };
    let n = steps.iter().take_while(blank).count();
    steps.split_at(if n < LEAST_LEFT { 0 } else { n })
}

/// Steps that were not begun, in a list; `before` is how many steps are before them.
fn not_begun((steps, behind): (&[Step], &[Step]), before: usize) -> Option<Block> {
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    let mut trail: &[String] = &[];
    for (step, number) in steps.iter().zip(before + 1..) {
        if step.within != trail {
            trail = &step.within;
            rows.push(vec![Cell::new(part(trail))]);
        }
        let title = format!("{number}. {}", own_name(step));
        rows.push(vec![Cell::new(title), Cell::new(prose(&step.path))]);
    }
    (!rows.is_empty()).then(|| Block::Table {
        caption: match behind.is_empty() {
            true => say!("Not done: the session ended before these steps"),
            false => say!("Not done: passed over after the fail"),
        },
        header: Column::all([(fixed!("Step"), 68), (fixed!("Path"), 32)]),
        rows,
        dense: true,
    })
}

/// The heading of steps: that of their groups; of steps behind a group that stand in none, one that ends it.
fn part(trail: &[String]) -> String {
    let words: Vec<String> = trail.iter().map(|t| prose(t)).collect();
    match words.is_empty() {
        true => say!("Further steps"),
        false => words.join(" · "),
    }
}

fn heading(level: u8, text: &str) -> Block {
    Block::Heading {
        level,
        text: text.to_owned(),
    }
}

fn how_to_read(record: &Record) -> String {
    let mut text = say!(
        "Entries stand as they were typed. The sign ≈ stands before a number that is rounded here or was computed with \
                    rounding; the record's JSON file holds all digits."
    );
    text.push(' ');
    text.push_str(&say!(
        "In the drawing of a limit the grey band is what is allowed, a tick at its end a limit, a diamond a value that meets it, a cross one that does not, and the whisker through it reaches from value − U to value + U."
    ));
    if record.decimal == "," {
        text.push(' ');
        text.push_str(&say!(
            "Entries have a decimal comma, values a decimal point."
        ));
    }
    if let Some((day, zone)) = day_and_zone(&record.started) {
        text.push(' ');
        text.push_str(&say!(
            "A time without a date is of {day}, {zone}.",
            day = day,
            zone = zone
        ));
    }
    text
}

fn item(record: &Record, step: &Step, number: usize, level: u8) -> Block {
    Block::Item {
        level,
        number,
        title: own_name(step),
        path: prose(&step.path),
        mark: Mark::of(outcome(step)),
        facts: facts(record, step),
    }
}

/// The word for how a step ended: its state, or the worst of its verdicts.
fn outcome(step: &Step) -> &str {
    if step.state != "done" {
        return &step.state;
    }
    let worst = [
        "fail",
        "conditional fail",
        "not judged",
        "conditional pass",
        "pass",
    ];
    let given = |word: &&str| step.criteria.iter().any(|c| c.verdict == **word);
    worst.into_iter().find(given).unwrap_or("done")
}

/// The steps with their numbers.
pub(super) fn numbered(record: &Record) -> impl Iterator<Item = (&Step, usize)> {
    record.setup.iter().chain(&record.steps).zip(1..)
}

/// What a step is called by itself.
pub(super) fn own_name(step: &Step) -> String {
    let candidates = [
        step.title.as_deref().unwrap_or_default(),
        &step.prompt,
        &step.path,
    ];
    let first = candidates.into_iter().map(prose).find(|t| !t.is_empty());
    first.unwrap_or_else(|| say!("unnamed"))
}

/// What a step is called, with the groups that it stands in.
pub(super) fn name(step: &Step) -> String {
    let mut words: Vec<String> = step.within.iter().map(|t| brief(t)).collect();
    words.push(brief(&own_name(step)));
    words.join(" · ")
}

/// How a record says that a fail ended the session.
const _: &str = fixed!("ended at {step}, which failed");

/// How a record says that the technician ended the session, and with which reason.
const STOPPED: &str = "stopped: ";

/// Why a session ended before its time, as a sentence without its full stop.
pub(super) fn ended(record: &Record, sentence: &str) -> String {
    match sentence.strip_prefix(STOPPED) {
        Some(why) => say!("Stopped: {why}", why = prose(why)),
        None => capital(&named(record, sentence)),
    }
}

/// A sentence of the record in which a step's path in backticks becomes its number and name.
pub(super) fn named(record: &Record, sentence: &str) -> String {
    let sentence = prose(sentence);
    let Some((before, rest)) = sentence.split_once('`') else {
        return sentence;
    };
    let Some((path, after)) = rest.split_once('`') else {
        return sentence;
    };
    let steps = record.setup.iter().chain(&record.steps);
    match steps.zip(1usize..).find(|(s, _)| s.path == path) {
        Some((step, number)) => {
            let known = said(&format!("{before}{{step}}{after}"), &[]);
            let step = say!("step {number}, {name}", number = number, name = name(step));
            known.replacen("{step}", &format!("{step} ({path})"), 1)
        }
        None => sentence.clone(),
    }
}

fn facts(record: &Record, step: &Step) -> Vec<Fact> {
    let mut facts = Vec::new();
    let prompt = prose(&step.prompt);
    if !prompt.is_empty() && prompt != own_name(step) {
        facts.push(Fact::new(say!("Asked"), prompt));
    }
    if let Some(why) = &step.why {
        let told = match step.state.as_str() {
            "not applicable" => say!("only where {condition}", condition = prose(why)),
            _ => prose(why),
        };
        facts.push(Fact::new(say!("Reason"), told));
    } else if step.state != "done" {
        facts.push(Fact::new(say!("Reason"), unsaid(record, step)));
    }
    facts.extend(entries(record, step));
    if let Some(instrument) = &step.instrument {
        facts.push(Fact::new(say!("Instrument"), prose(instrument)));
    }
    // Of a step that does not apply the reason says all.
    let told = |c: &&Criterion| {
        step.state != "not applicable" && (!is_entered_once(step) || plain_yes(record, c).is_none())
    };
    let criteria = step.criteria.iter().filter(told);
    facts.extend(criteria.map(|c| judged::fact(record, step, c)));
    for correction in &step.corrections {
        facts.push(tried::corrected(record, step, correction));
    }
    for note in &step.notes {
        facts.push(Fact::new(say!("Note"), prose(&note.text)).aside(clock(record, &note.at)));
    }
    let files = record.attachments.iter().filter(|f| f.path == step.path);
    let names: Vec<String> = files.map(|f| typed(&f.name)).collect();
    let label = match names.len() {
        0 => return facts,
        1 => say!("Attachment"),
        _ => say!("Attachments"),
    };
    facts.push(Fact::new(label, names.join("; ")).literal());
    facts
}

/// Why a step is open where the record gives no reason of its own.
fn unsaid(record: &Record, step: &Step) -> String {
    match (step.state.as_str(), &record.ended) {
        ("skipped", _) => say!("none given; the step is optional"),
        ("not done", Some(_)) => say!("the session ended before this step"),
        _ => say!("none given"),
    }
}

pub(super) fn clock(record: &Record, at: &str) -> String {
    time_since(at, &record.started)
}

/// Entries and values: of the only attempt, or of each.
fn entries(record: &Record, step: &Step) -> Vec<Fact> {
    let many = step.attempts.len() > 1;
    let mut facts = Vec::new();
    if many {
        let count = step.attempts.len();
        for (attempt, n) in step.attempts.iter().zip(1..) {
            facts.push(tried::attempt(record, step, attempt, (n, count)));
        }
    } else if is_entered_once(step) {
        let at = step.at.as_deref().map(|at| clock(record, at));
        let heard = step
            .attempts
            .first()
            .map_or(String::new(), tried::read_from);
        let mut fact = Fact::new(say!("Entered"), entry(&step.entry)).literal();
        fact = fact.aside(heard).aside(at.unwrap_or_default());
        let required = step.criteria.iter().filter_map(|c| plain_yes(record, c));
        facts.push(required.fold(fact, Fact::aside));
    }
    let typed = is_typed_with_unit(step);
    if tells_more(&step.value, &step.entry) && !typed {
        facts.push(Fact::new(say!("Value"), beside_own(step)).aside(beside_value(step)));
    }
    facts
}

/// The value, to the digits of its own uncertainty where it is not shown whole.
fn beside_own(step: &Step) -> String {
    match (as_quantity(&step.value), &of_value(&step.uncertainty)[..]) {
        (Some(q), [only]) => digits::beside(&q, Some(only)),
        _ => value(&step.value),
    }
}

/// What is said of the uncertainty beside a value; nothing where a criterion says it of the same value.
fn beside_value(step: &Step) -> String {
    let limits = step.criteria.iter().flat_map(|c| &c.limits);
    let shown: Vec<&str> = limits
        .filter_map(|l| l.uncertainty.as_ref().map(|u| u.shown.as_str()))
        .collect();
    match &of_value(&step.uncertainty)[..] {
        [only] if shown.contains(&only.shown.as_str()) => String::new(),
        _ => in_words(step),
    }
}

/// Whether a time was typed with its unit, so that nothing is gained by telling it in seconds.
fn is_typed_with_unit(step: &Step) -> bool {
    let letters = |e: &Json| matches!(e, Json::String(t) if t.contains(char::is_alphabetic));
    step.verb == "time" && step.attempts.len() <= 1 && letters(&step.entry)
}

/// Whether there is one entry, beside which a plain criterion can stand.
fn is_entered_once(step: &Step) -> bool {
    step.attempts.len() <= 1 && !entry(&step.entry).is_empty()
}

/// Whether a value says anything that the entry doesn't.
fn tells_more(value_of: &Json, entry_of: &Json) -> bool {
    match value_of {
        Json::Null => false,
        Json::Bool(_) => !matches!(entry_of, Json::String(t) if matches!(t.as_str(), "yes" | "no")),
        other => has_quantity(other) || value(other) != entry(entry_of),
    }
}
