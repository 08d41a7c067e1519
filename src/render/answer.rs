//! The first page: what was tested, by whom, with what result, and what to heed.
//!
//! Never in here: single steps that went well. Changes when the answer needs something more at a glance.

use crate::record::{Criterion, Record, Step};

use super::beside::Beside;
use super::clean::prose;
use super::document::{Block, Cell, Column, Fact, Mark, section};
use super::figure::{capital, time};
use super::judged::Told;
use super::went::{name, named};
use super::words::{counted, fixed, said, say};
use super::{signed, uncertain};

/// The cautions that go with every record.
const CAUTIONS: [&str; 2] = [
    fixed!(
        "A pass does not release the device. Release is decided by the person who answers for it, under the shop's own rules."
    ),
    fixed!(
        "The maker's service manual, local codes and licensed practice govern. Where they ask for more than this record shows, they hold."
    ),
];

/// What stands above everything else where a record does not verify.
pub(super) fn doubts(reasons: &[String]) -> Vec<Block> {
    if reasons.is_empty() {
        return Vec::new();
    }
    vec![Block::Note {
        caution: true,
        title: say!("This record does not verify: nothing below can be relied on"),
        items: reasons.iter().map(|r| prose(r)).collect(),
    }]
}

pub(super) fn blocks(record: &Record, beside: &Beside) -> Vec<Block> {
    let mut blocks = Vec::new();
    if record.trial {
        blocks.push(Block::Note {
            caution: true,
            title: say!("Trial"),
            items: vec![
                say!("This session was a trial of the recipe. It proves nothing about the device and must not stand in its file as a test."),
            ],
        });
    }
    blocks.push(verdict(record));
    blocks.push(Block::Facts {
        facts: facts(record, beside),
        brief: true,
    });
    blocks.extend(table(
        &say!("What failed"),
        &["fail", "conditional fail"],
        numbered(record),
    ));
    blocks.extend(open(record));
    if !record.remarks.is_empty() {
        blocks.push(section(&say!("Remarks")));
        let items = record
            .remarks
            .iter()
            .map(|r| capital(&named(record, r)))
            .collect();
        blocks.push(Block::List { items });
    }
    let cautions = record.cautions.iter().map(|c| prose(c));
    let general = CAUTIONS.iter().map(|c| said(c, &[]));
    blocks.push(Block::Heading {
        level: 2,
        text: say!("Cautions"),
        new_page: false,
    });
    blocks.push(Block::Note {
        caution: true,
        title: String::new(),
        items: cautions.chain(general).collect(),
    });
    blocks
}

fn verdict(record: &Record) -> Block {
    let told = match record.verdict.as_str() {
        "pass" => say!("Every criterion that was judged is met."),
        "pass with remarks" => {
            say!("The criteria that decide are met; the remarks below belong to the result.")
        }
        "fail" => say!("At least one criterion that decides is not met."),
        "incomplete" => {
            say!(
                "Not everything was done or could be judged. This record neither passes nor fails the device."
            )
        }
        _ => String::new(),
    };
    let ended = record.ended.as_ref().map(|e| {
        let text = capital(&named(record, e));
        say!(" The session was cut short. {text}.", text = text)
    });
    Block::Verdict {
        mark: Mark::of(&record.verdict),
        text: format!("{told}{}", ended.unwrap_or_default())
            .trim()
            .to_owned(),
    }
}

fn facts(record: &Record, beside: &Beside) -> Vec<Fact> {
    let device = &record.device;
    let made = prose(&format!("{} {}", device.maker, device.model));
    let pairs = [
        (fixed!("Device"), prose(&device.tag)),
        (fixed!("Maker and model"), made),
        (fixed!("Serial number"), prose(&device.serial)),
        (fixed!("Location"), prose(&device.location)),
        (fixed!("Occasion"), prose(&record.occasion)),
        (fixed!("Tested by"), prose(&record.by)),
        (fixed!("Bench"), prose(&record.bench)),
        (fixed!("Started"), time(&record.started)),
        (fixed!("Finished"), time(&record.finished)),
        (fixed!("Recipe"), prose(&record.recipe.title)),
        (
            fixed!("Recipe revision"),
            say!(
                "{recipe}, revision {revision}",
                recipe = prose(&record.recipe.id),
                revision = record.recipe.revision
            ),
        ),
        (fixed!("Recipe approval"), signed::approval(record)),
        (fixed!("Instruments"), instruments(record)),
        (
            fixed!("Decision rule"),
            uncertain::rule_in_brief(&record.decision),
        ),
        (fixed!("Steps"), tally(record)),
    ];
    let told = pairs.into_iter().filter(|(_, text)| !text.is_empty());
    told.map(|(label, text)| Fact::new(said(label, &[]), text))
        .chain(signed::facts(record, beside))
        .collect()
}

fn instruments(record: &Record) -> String {
    let all = record.instruments.iter();
    let named = all.map(|(role, i)| format!("{} ({})", prose(&i.id), prose(role)));
    named.collect::<Vec<_>>().join(", ")
}

/// How many steps went which way.
fn tally(record: &Record) -> String {
    let steps: Vec<&Step> = record.setup.iter().chain(&record.steps).collect();
    let count = |state: &str| steps.iter().filter(|s| s.state == state).count();
    let mut parts = vec![say!("{n} in all", n = steps.len())];
    for state in ["done", "skipped", "not applicable", "not done"] {
        match count(state) {
            0 => {}
            n => parts.push(format!("{n} {}", said(state, &[]))),
        }
    }
    let criteria = steps.iter().flat_map(|s| &s.criteria);
    let of = |verdict: &str| criteria.clone().filter(|c| c.verdict == verdict).count();
    let met = of("pass") + of("conditional pass");
    let failed = of("fail") + of("conditional fail");
    let conditionally = |n: usize| match n {
        0 => String::new(),
        n => say!(" ({n} conditionally)", n = n),
    };
    format!(
        "{}; {}{}, {}{}",
        parts.join(", "),
        counted(met, fixed!("criterion met"), fixed!("criteria met")),
        conditionally(of("conditional pass")),
        say!("{n} not met", n = failed),
        conditionally(of("conditional fail"))
    )
}

/// What could not be judged: one by one where a step was done or skipped, together where none of it was begun.
fn open(record: &Record) -> Vec<Block> {
    let heading = say!("What could not be judged");
    let is_open = |s: &&Step| s.criteria.iter().any(|c| c.verdict == "not judged");
    let (left, told): (Vec<_>, Vec<_>) = numbered(record)
        .filter(|(s, _)| is_open(s))
        .partition(|(s, _)| s.state == "not done");
    let mut blocks = table(&heading, &["not judged"], told.into_iter());
    if !left.is_empty() {
        if blocks.is_empty() {
            blocks.push(section(&heading));
        }
        let criteria = left.iter().flat_map(|(s, _)| &s.criteria).count();
        let numbers: Vec<usize> = left.iter().map(|(_, n)| *n).collect();
        blocks.push(Block::Paragraph {
            text: say!(
                "{criteria} of steps that were not done: {steps}.",
                criteria = counted(criteria, fixed!("criterion"), fixed!("criteria")),
                steps = runs(&numbers)
            ),
        });
    }
    blocks
}

/// Numbers in words, runs of them by their ends.
fn runs(numbers: &[usize]) -> String {
    let runs = numbers.chunk_by(|a, b| a + 1 == *b);
    let told = runs.map(|run| match run {
        [first, .., last] => say!("{low} to {high}", low = first, high = last),
        one => one.iter().map(usize::to_string).collect(),
    });
    told.collect::<Vec<_>>().join(", ")
}

fn numbered(record: &Record) -> impl Iterator<Item = (&Step, usize)> {
    record.setup.iter().chain(&record.steps).zip(1..)
}

/// The criteria of steps that have one of some verdicts, as a table under a heading.
fn table<'r>(
    heading: &str,
    verdicts: &[&str],
    steps: impl Iterator<Item = (&'r Step, usize)>,
) -> Vec<Block> {
    let rows: Vec<Vec<Cell>> = steps
        .flat_map(|(step, number)| {
            let wanted = step
                .criteria
                .iter()
                .filter(|c| verdicts.contains(&c.verdict.as_str()));
            wanted.map(move |c| row(number, step, c))
        })
        .collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let header = Column::all([
        (fixed!("Step"), 25),
        (fixed!("Verdict"), 19),
        (fixed!("Value"), 26),
        (fixed!("Limit"), 15),
        (fixed!("Off by"), 15),
    ]);
    let caption = counted(rows.len(), fixed!("criterion"), fixed!("criteria"));
    vec![
        section(heading),
        Block::Table {
            caption,
            header,
            rows,
            dense: false,
        },
    ]
}

fn row(number: usize, step: &Step, criterion: &Criterion) -> Vec<Cell> {
    let told = Told::of(step, criterion);
    let value = if told.value.is_empty() {
        prose(&criterion.shown)
    } else {
        told.value
    };
    let off = told.off.unwrap_or_else(|| "–".to_owned());
    vec![
        Cell {
            text: format!("{number}. {}", name(step)),
            step: Some(number),
            mark: None,
        },
        Cell {
            mark: Some(Mark::of(&criterion.verdict)),
            ..Cell::new(said(&prose(&criterion.severity), &[]))
        },
        Cell::new(value),
        Cell::new(told.limit.unwrap_or_else(|| "–".to_owned())),
        Cell::new(off),
    ]
}
