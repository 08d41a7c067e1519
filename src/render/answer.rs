//! The first page: what was tested, by whom, with what result, and what to heed.
//!
//! Never in here: single steps that went well. Changes when the answer needs something more at a glance.

use crate::record::{Criterion, Record, Step};

use super::beside::{Beside, void};
use super::clean::{brief, prose};
use super::document::{Block, Cell, Column, Fact, Mark, Shape, section};
use super::figure::{capital, time};
use super::judged::Told;
use super::went::{name, named};
use super::words::{counted, fixed, said, say};
use super::{signed, uncertain};

/// The cautions that go with every record, each with words by which a recipe's own is known to say the same.
const CAUTIONS: [(&str, &str); 2] = [
    (
        fixed!(
            "A pass does not release the device. Release is decided by the person who answers for it, under the shop's own rules."
        ),
        "does not release",
    ),
    (
        fixed!(
            "The maker's service manual, local codes and licensed practice govern. Where they ask for more than this record shows, they hold."
        ),
        "manual governs",
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
    blocks.push(verdict(record, beside));
    let failed = ["fail", "conditional fail"];
    let failed = table(
        &say!("What failed"),
        &failed,
        numbered(record),
        Off::Outside,
    );
    if !failed.is_empty() {
        blocks.extend(failed);
        blocks.push(section(&say!("Device and test")));
    }
    blocks.push(Block::Facts {
        facts: facts(record, beside),
        brief: true,
    });
    let near = say!("What passed under a condition");
    let conditional = ["conditional pass"];
    blocks.extend(table(&near, &conditional, numbered(record), Off::Inside));
    blocks.extend(open(record));
    blocks.extend(remarks(record));
    blocks.extend(notes(record));
    let own = record.cautions.iter().map(|c| prose(c));
    let said_already = |words: &str| record.cautions.iter().any(|c| prose(c).contains(words));
    let general = CAUTIONS.iter().filter(|(_, words)| !said_already(words));
    let general = general.map(|(c, _)| said(c, &[]));
    blocks.push(section(&say!("Cautions")));
    blocks.push(Block::Note {
        caution: true,
        title: String::new(),
        items: own.chain(general).collect(),
    });
    blocks
}

/// How a record says that a value passed under a condition, which stands in a table here.
const NEAR: &str = "inside the limit by less than its expanded uncertainty";

fn remarks(record: &Record) -> Vec<Block> {
    let told = record.remarks.iter().filter(|r| !r.contains(NEAR));
    let items: Vec<String> = told.map(|r| capital(&named(record, r))).collect();
    let heading = match record.verdict.as_str() {
        "pass" => say!("Notes on the run"),
        _ => say!("Remarks"),
    };
    match items.is_empty() {
        true => Vec::new(),
        false => vec![section(&heading), Block::List { items }],
    }
}

/// What the technician noted.
fn notes(record: &Record) -> Vec<Block> {
    let of_step = |(step, number): (&Step, usize)| {
        let told = step.notes.iter().map(move |note| {
            let step = say!("Step {number}, {name}", number = number, name = name(step));
            format!("{step}: {}", prose(&note.text))
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

/// What stands at the foot of each page.
pub(super) fn foot(record: &Record, beside: &Beside) -> String {
    match record.verdict.as_str() {
        _ if !beside.doubts.is_empty() => say!("not valid"),
        _ if void(beside).is_some() => say!("void"),
        _ if record.trial => said(would(&record.verdict), &[]),
        word @ ("pass" | "pass with remarks") => format!(
            "{}; {}",
            said(word, &[]),
            say!("a pass does not release the device")
        ),
        word => said(&prose(word), &[]),
    }
}

/// What a trial came to.
fn would(verdict: &str) -> &'static str {
    match verdict {
        "pass" => fixed!("trial: would pass"),
        "pass with remarks" => fixed!("trial: would pass with remarks"),
        "fail" => fixed!("trial: would fail"),
        _ => fixed!("trial: incomplete"),
    }
}

/// The verdict; without colour and shape where nothing may be made of it.
fn verdict(record: &Record, beside: &Beside) -> Block {
    let plain = |word: String| Mark {
        word,
        shape: Shape::Plain,
    };
    if !beside.doubts.is_empty() {
        let word = said(&prose(&record.verdict), &[]);
        return Block::Verdict {
            mark: plain(say!("not valid")),
            text: say!(
                "This record does not verify. What it says itself, “{verdict}”, can't be relied on.",
                verdict = word
            ),
        };
    }
    if let Some(text) = void(beside) {
        let word = said(&prose(&record.verdict), &[]);
        return Block::Verdict {
            mark: plain(say!("void")),
            text: format!("{text} ({})", say!("it said: {verdict}", verdict = word)),
        };
    }
    Block::Verdict {
        mark: match record.trial {
            true => plain(said(would(&record.verdict), &[])),
            false => Mark::of(&record.verdict),
        },
        text: meaning(record),
    }
}

fn meaning(record: &Record) -> String {
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
    format!("{told}{}", ended.unwrap_or_default())
        .trim()
        .to_owned()
}

fn facts(record: &Record, beside: &Beside) -> Vec<Fact> {
    let device = &record.device;
    let made = brief(&format!("{} {}", device.maker, device.model));
    let recipe = say!(
        "{recipe}, revision {revision}",
        recipe = brief(&record.recipe.id),
        revision = record.recipe.revision
    );
    let recipe = format!("{} ({recipe})", brief(&record.recipe.title));
    let pairs = [
        (fixed!("Device"), brief(&device.tag)),
        (fixed!("Maker and model"), made),
        (fixed!("Serial number"), brief(&device.serial)),
        (fixed!("Location"), brief(&device.location)),
        (fixed!("Occasion"), brief(&record.occasion)),
        (fixed!("Tested by"), brief(&record.by)),
        (fixed!("Bench"), brief(&record.bench)),
        (fixed!("Started"), time(&record.started)),
        (fixed!("Finished"), time(&record.finished)),
        (fixed!("Recipe"), recipe),
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
        .chain(signed::trust(record, beside))
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
    let mut blocks = table(&heading, &["not judged"], told.into_iter(), Off::Outside);
    if !left.is_empty() {
        if blocks.is_empty() {
            blocks.push(section(&heading));
        }
        let criteria = left.iter().flat_map(|(s, _)| &s.criteria).count();
        blocks.push(Block::Paragraph {
            text: say!(
                "{criteria} of steps that were not done: {steps}.",
                criteria = counted(criteria, fixed!("criterion"), fixed!("criteria")),
                steps = groups(&left)
            ),
        });
    }
    blocks
}

/// Steps by the group that they stand in, with their numbers; those in no group by themselves.
fn groups(steps: &[(&Step, usize)]) -> String {
    let alike = |a: &(&Step, usize), b: &(&Step, usize)| a.0.within.first() == b.0.within.first();
    let told = steps.chunk_by(alike).map(|group| {
        let numbers: Vec<usize> = group.iter().map(|(_, n)| *n).collect();
        match group[0].0.within.first() {
            Some(heading) => format!("{} ({})", brief(heading), runs(&numbers)),
            None => runs(&numbers),
        }
    });
    told.collect::<Vec<_>>().join("; ")
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

/// On which side of a limit the values of a table lie.
#[derive(Clone, Copy, PartialEq)]
enum Off {
    Outside,
    Inside,
}

/// The criteria of steps that have one of some verdicts, as a table under a heading.
fn table<'r>(
    heading: &str,
    verdicts: &[&str],
    steps: impl Iterator<Item = (&'r Step, usize)>,
    off: Off,
) -> Vec<Block> {
    let rows: Vec<Vec<Cell>> = steps
        .flat_map(|(step, number)| {
            let wanted = step
                .criteria
                .iter()
                .filter(|c| verdicts.contains(&c.verdict.as_str()));
            wanted.map(move |c| row(number, step, c, off))
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
        match off {
            Off::Outside => (fixed!("Off by"), 15),
            Off::Inside => (fixed!("Margin"), 15),
        },
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

fn row(number: usize, step: &Step, criterion: &Criterion, side: Off) -> Vec<Cell> {
    let told = Told::of(step, criterion);
    let (expression, values) = written(criterion);
    let value = match step.state.as_str() {
        "skipped" => match step.why.as_deref().map(prose).filter(|w| !w.is_empty()) {
            Some(why) => say!("skipped: {why}", why = why),
            None => say!("skipped, optional"),
        },
        _ if told.value.is_empty() => values,
        _ => told.value,
    };
    let off = match side {
        Off::Outside => told.off,
        Off::Inside => told.margin,
    };
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
        Cell::new(told.limit.unwrap_or(expression)),
        Cell::new(off.unwrap_or_else(|| "–".to_owned())),
    ]
}

/// A criterion as it was written, and the values that stood in it.
fn written(criterion: &Criterion) -> (String, String) {
    let shown = prose(&criterion.shown);
    let that = prose(&criterion.that);
    let inside = shown.strip_prefix(that.as_str()).map(str::trim);
    let inside = inside.and_then(|rest| rest.strip_prefix('[')?.strip_suffix(']'));
    let values = inside.map(str::to_owned);
    (that, values.unwrap_or(shown))
}
