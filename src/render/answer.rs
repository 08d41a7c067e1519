//! The first page: what was tested, by whom, with what result, and what to heed.
//!
//! Never in here: single steps that went well. Changes when the answer needs something more at a glance.

use crate::record::{Criterion, Record, Step};

use super::beside::Beside;
use super::clean::prose;
use super::document::{Block, Cell, Column, Fact, Mark, section};
use super::figure::{capital, counted, time};
use super::judged::Told;
use super::went::{name, named};
use super::{signed, uncertain};

/// The cautions that go with every record.
const CAUTIONS: [&str; 2] = [
    "A pass does not release the device. Release is decided by the person who answers for it, under the shop's own rules.",
    "The maker's service manual, local codes and licensed practice govern. Where they ask for more than this record shows, they hold.",
];

/// What stands above everything else where a record does not verify.
pub(super) fn doubts(reasons: &[String]) -> Vec<Block> {
    if reasons.is_empty() {
        return Vec::new();
    }
    vec![Block::Note {
        caution: true,
        title: "This record does not verify: nothing below can be relied on".to_owned(),
        items: reasons.iter().map(|r| prose(r)).collect(),
    }]
}

pub(super) fn blocks(record: &Record, beside: &Beside) -> Vec<Block> {
    let mut blocks = Vec::new();
    if record.trial {
        blocks.push(Block::Note {
            caution: true,
            title: "Trial".to_owned(),
            items: vec![
                "This session was a trial of the recipe. It proves nothing about the device and must not stand in its file as a test."
                    .to_owned(),
            ],
        });
    }
    blocks.push(verdict(record));
    blocks.push(Block::Facts {
        facts: facts(record, beside),
        brief: true,
    });
    blocks.extend(table("What failed", &["fail", "conditional fail"], record));
    blocks.extend(table("What could not be judged", &["not judged"], record));
    if !record.remarks.is_empty() {
        blocks.push(section("Remarks"));
        let items = record
            .remarks
            .iter()
            .map(|r| capital(&named(record, r)))
            .collect();
        blocks.push(Block::List { items });
    }
    let cautions = record.cautions.iter().map(|c| prose(c));
    let general = CAUTIONS.iter().map(|&c| c.to_owned());
    blocks.push(Block::Heading {
        level: 2,
        text: "Cautions".to_owned(),
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
        "pass" => "Every criterion that was judged is met.",
        "pass with remarks" => {
            "The criteria that decide are met; the remarks below belong to the result."
        }
        "fail" => "At least one criterion that decides is not met.",
        "incomplete" => {
            "Not everything was done or could be judged. This record neither passes nor fails the device."
        }
        _ => "",
    };
    let ended = record.ended.as_ref().map(|e| {
        let text = capital(&named(record, e));
        format!(" The session was cut short. {text}.")
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
        ("Device", prose(&device.tag)),
        ("Maker and model", made),
        ("Serial number", prose(&device.serial)),
        ("Location", prose(&device.location)),
        ("Occasion", prose(&record.occasion)),
        ("Tested by", prose(&record.by)),
        ("Bench", prose(&record.bench)),
        ("Started", time(&record.started)),
        ("Finished", time(&record.finished)),
        ("Recipe", prose(&record.recipe.title)),
        (
            "Recipe revision",
            format!(
                "{}, revision {}",
                prose(&record.recipe.id),
                record.recipe.revision
            ),
        ),
        ("Recipe approval", signed::approval(record)),
        ("Instruments", instruments(record)),
        ("Decision rule", uncertain::rule_in_brief(&record.decision)),
        ("Steps", tally(record)),
    ];
    let told = pairs.into_iter().filter(|(_, text)| !text.is_empty());
    told.map(|(label, text)| Fact::new(label, text))
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
    let mut parts = vec![format!("{} in all", steps.len())];
    for state in ["done", "skipped", "not applicable", "not done"] {
        match count(state) {
            0 => {}
            n => parts.push(format!("{n} {state}")),
        }
    }
    let criteria = steps.iter().flat_map(|s| &s.criteria);
    let of = |verdict: &str| criteria.clone().filter(|c| c.verdict == verdict).count();
    let met = of("pass") + of("conditional pass");
    let failed = of("fail") + of("conditional fail");
    let conditionally = |n: usize| match n {
        0 => String::new(),
        n => format!(" ({n} conditionally)"),
    };
    format!(
        "{}; {}{}, {failed} not met{}",
        parts.join(", "),
        counted(met, "criterion met", "criteria met"),
        conditionally(of("conditional pass")),
        conditionally(of("conditional fail"))
    )
}

/// The criteria with one of some verdicts, as a table under a heading.
fn table(heading: &str, verdicts: &[&str], record: &Record) -> Vec<Block> {
    let steps = record.setup.iter().chain(&record.steps).zip(1..);
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
        ("Step", 25),
        ("Verdict", 19),
        ("Value", 26),
        ("Limit", 15),
        ("Off by", 15),
    ]);
    let caption = counted(rows.len(), "criterion", "criteria");
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
    let off = told
        .off
        .map(|o| o.trim_end_matches(" the limit").to_owned())
        .unwrap_or_else(|| "–".to_owned());
    vec![
        Cell {
            text: format!("{number}. {}", name(step)),
            step: Some(number),
            mark: None,
        },
        Cell {
            mark: Some(Mark::of(&criterion.verdict)),
            ..Cell::new(prose(&criterion.severity))
        },
        Cell::new(value),
        Cell::new(told.limit.unwrap_or_else(|| "–".to_owned())),
        Cell::new(off),
    ]
}
