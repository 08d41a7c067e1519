//! What the first page says of single steps: the record's remarks, shortened, and the notes of the technician.
//!
//! Never in here: which remarks there are (see the record room). Changes when a remark is told otherwise.

use crate::record::{Attempt, Record, Step};

use super::clean::{prose, typed};
use super::document::{Block, section};
use super::figure::{self, capital};
use super::judged::Told;
use super::long::shortened;
use super::went::{name, named, numbered};
use super::words::{counted, fixed, said, say};

/// How remarks of a record begin that say of a criterion what stands in a table of the first page.
const IN_TABLES: [&str; 4] = [
    "inside the limit by less than its expanded uncertainty",
    "outside the limit by no more than its expanded uncertainty",
    "a minor criterion failed",
    "a criterion could not be judged",
];
/// How a record says on what a probability of conformity rests, which stands with the uncertainty.
const DRAWN: &str = "the probability of conformity rests on errors drawn at random";
/// How a record says that an optional step was skipped without a reason.
const OPTIONAL: &str = "`: skipped: optional";
/// How remarks of a record begin, up to a colon, or what they say as a whole; with `skipped` and `not done`, which are states.
const BEGUN: [&str; 6] = [
    fixed!("decided through an inexact number that lies within its numerical error of the limit"),
    fixed!("timed by the computer, not with an instrument"),
    fixed!("run on a device that the recipe is not for"),
    fixed!(
        "no uncertainty is known for what was judged: the value itself was held against the limit"
    ),
    "skipped",
    "not done",
];
/// What is said of a number of entries.
const OF_ENTRIES: [&str; 2] = [
    fixed!("entry outside the plausible range, confirmed"),
    fixed!("entries outside the plausible range, confirmed"),
];
/// Most attempts and most corrections of a step that are told one by one.
const MOST: usize = 4;

/// The remarks of a record, those that other parts of the first page tell left out.
pub(super) fn remarks(record: &Record) -> Vec<Block> {
    let is_pass = record.verdict == "pass";
    let told = record.remarks.iter();
    let told = told.filter(|r| !r.contains(DRAWN) && !stands_in_table(record, r));
    let told: Vec<&String> = told.collect();
    // A pass has no remarks; that something optional was left out is said at its step.
    if told.is_empty() || is_pass && told.iter().all(|r| r.ends_with(OPTIONAL)) {
        return Vec::new();
    }
    let heading = match is_pass {
        true => say!("Notes on the run"),
        false => say!("Remarks"),
    };
    let items = told.into_iter().map(|r| remark(record, r)).collect();
    vec![section(&heading), Block::List { items }]
}

/// Whether a table of the first page tells a remark: of a criterion, or why a step with criteria was skipped.
fn stands_in_table(record: &Record, remark: &str) -> bool {
    let of_path = remark.strip_prefix('`').and_then(|r| r.split_once("`: "));
    let Some((path, text)) = of_path else {
        return false;
    };
    let of_skipped = || {
        let step = numbered(record).find(|(step, _)| step.path == path);
        step.is_some_and(|(step, _)| step.criteria.iter().any(|c| c.verdict == "not judged"))
    };
    IN_TABLES.iter().any(|begun| text.starts_with(begun))
        || text.starts_with("skipped: ") && of_skipped()
}

/// What the record says of probabilities of conformity: it belongs to the uncertainty.
pub(super) fn of_drawing(record: &Record) -> Vec<String> {
    let told = record.remarks.iter().filter(|r| r.contains(DRAWN));
    told.map(|r| capital(&named(record, r))).collect()
}

fn remark(record: &Record, remark: &str) -> String {
    let of_path = remark.strip_prefix('`').and_then(|r| r.split_once("`: "));
    let step = of_path.and_then(|(path, text)| {
        let mut steps = numbered(record);
        let (step, number) = steps.find(|(s, _)| s.path == path)?;
        Some((step, number, text))
    });
    let Some((step, number, text)) = step else {
        let place = say!("Texts in full");
        let place = say!("in full under “{place}”", place = place);
        return shortened(&capital(&named(record, &in_language(remark))), &place);
    };
    let text = of_attempts(step, text)
        .or_else(|| of_corrections(step, text))
        .or_else(|| of_criterion(record, step, text))
        .unwrap_or_else(|| in_language(text));
    let text = shortened(&text, &say!("in full at step {number}", number = number));
    capital(&named(record, &format!("`{}`: {text}", step.path)))
}

/// A remark in the language of the rendering, as far as it is a fixed text.
fn in_language(remark: &str) -> String {
    let remark = prose(remark);
    if BEGUN.contains(&remark.as_str()) {
        return said(&remark, &[]);
    }
    if let Some((number, rest)) = remark
        .split_once(' ')
        .filter(|(_, r)| OF_ENTRIES.contains(r))
    {
        return format!("{number} {}", said(rest, &[]));
    }
    match remark
        .split_once(": ")
        .filter(|(begun, _)| BEGUN.contains(begun))
    {
        Some((begun, rest)) => format!("{}: {rest}", said(begun, &[])),
        None => remark,
    }
}

/// With what each attempt ended.
fn of_attempts(step: &Step, text: &str) -> Option<String> {
    if !text.ends_with("attempts, the last one decides") {
        return None;
    }
    let one = |(n, attempt): (usize, &Attempt)| {
        let value = match figure::value(&attempt.value) {
            none if none.is_empty() => figure::entry(&attempt.entry),
            value => value,
        };
        let verdict = attempt.verdict.as_deref().map(|v| said(v, &[]));
        let told = [verdict, Some(cut(&value))].into_iter().flatten();
        let told = told.filter(|t| !t.is_empty()).collect::<Vec<_>>();
        say!(
            "attempt {n}: {outcome}",
            n = n + 1,
            outcome = told.join(", ")
        )
    };
    let before = step.attempts.len().saturating_sub(MOST);
    let attempts = step.attempts.iter().enumerate().skip(before);
    let told: Vec<String> = attempts.map(one).collect();
    (!told.is_empty()).then(|| {
        let last = say!("the last one decides");
        format!("{}; {last}", told.join("; "))
    })
}

/// From what to what entries were corrected, and why.
fn of_corrections(step: &Step, text: &str) -> Option<String> {
    let count = step.corrections.len();
    if count == 0 || !(text.ends_with("entry corrected") || text.ends_with("entries corrected")) {
        return None;
    }
    let told = step.corrections.iter().take(MOST).map(|c| {
        say!(
            "“{before}” to “{after}” ({reason})",
            before = cut(&typed(&c.before)),
            after = cut(&typed(&c.after)),
            reason = prose(&c.why)
        )
    });
    let told: Vec<String> = told.collect();
    let entries = counted(
        count,
        fixed!("entry corrected"),
        fixed!("entries corrected"),
    );
    let more = if count > MOST { ", …" } else { "" };
    Some(format!("{entries}: {}{more}", told.join(", ")))
}

/// A remark about a criterion with its value and its limit instead of the expression, which stands at the step.
fn of_criterion(record: &Record, step: &Step, text: &str) -> Option<String> {
    step.criteria.iter().find_map(|criterion| {
        let before = text.strip_suffix(criterion.shown.as_str())?;
        let before = before.strip_suffix(": ")?;
        let told = Told::of(record, step, criterion);
        let limit = told.limit.filter(|_| !told.alone.is_empty())?;
        let limit = say!("limit {limit}", limit = limit);
        let before = said(&prose(before), &[]);
        Some(format!("{before}: {}; {limit}", told.alone))
    })
}

/// Most characters of an entry that stands inside a sentence.
const INSIDE: usize = 40;

fn cut(text: &str) -> String {
    match text.chars().count() > INSIDE {
        true => text.chars().take(INSIDE).chain(['…']).collect(),
        false => text.to_owned(),
    }
}

/// What the technician noted.
pub(super) fn notes(record: &Record) -> Vec<Block> {
    let of_step = |(step, number): (&Step, usize)| {
        let told = step.notes.iter().map(move |note| {
            let head = say!("Step {number}, {name}", number = number, name = name(step));
            let place = say!("in full at step {number}", number = number);
            format!("{head}: {}", shortened(&note.text, &place))
        });
        told.collect::<Vec<_>>()
    };
    let items: Vec<String> = numbered(record).flat_map(of_step).collect();
    match items.is_empty() {
        true => Vec::new(),
        false => vec![
            section(&say!("Notes of the technician")),
            Block::List { items },
        ],
    }
}
