//! The first page: what was tested, by whom, with what result, and what to heed.
//!
//! Never in here: single steps that went well. Changes when the answer needs something more at a glance.

use crate::record::{Criterion, Record, Step, parting_words};

use super::beside::{Beside, overruled};
use super::cautions::said_once;
use super::clean::{brief, prose};
use super::document::{Block, Cell, Column, Fact, Mark, Shape, section};
use super::figure::time;
use super::judged::{self, Told, written};
use super::long::{at_the_end, shortened};
use super::went::{ended, name, numbered, own_name};
use super::words::{counted, fixed, said, say};
use super::{figure, remarks, signed, uncertain};

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

/// The words for the occasions that every shop knows.
const _: [&str; 5] = [
    fixed!("acceptance"),
    fixed!("scheduled check"),
    fixed!("after repair"),
    fixed!("after an incident"),
    fixed!("end of loan"),
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
        record,
        &say!("What failed"),
        &failed,
        numbered(record),
        Off::Outside,
    );
    let near = say!("What passed under a condition");
    let conditional = ["conditional pass"];
    let near = table(record, &near, &conditional, numbered(record), Off::Inside);
    // The point of the record comes first, whatever it is.
    let (first, later) = match failed.is_empty() {
        true => (near, Vec::new()),
        false => (failed, near),
    };
    if !first.is_empty() {
        blocks.extend(first_rows(first));
        blocks.push(section(&say!("Device and test")));
    }
    blocks.push(Block::Facts {
        facts: facts(record, beside),
        brief: true,
    });
    // What can hurt stands on the first page, before what may be long.
    blocks.extend(cautions(record));
    blocks.extend(later);
    blocks.extend(open(record));
    blocks.extend(remarks::remarks(record));
    blocks.extend(remarks::notes(record));
    blocks
}

/// The recipe's own cautions, and those that go with every record.
fn cautions(record: &Record) -> [Block; 2] {
    let own = said_once(record.cautions.iter().map(|c| prose(c)));
    let said_already = |words: &str| own.iter().any(|c| c.contains(words));
    let general = CAUTIONS.iter().filter(|(_, words)| !said_already(words));
    let general: Vec<String> = general.map(|(c, _)| said(c, &[])).collect();
    [
        section(&say!("Cautions")),
        Block::Note {
            caution: true,
            title: String::new(),
            items: own.into_iter().chain(general).collect(),
        },
    ]
}

/// What stands at the foot of each page.
pub(super) fn foot(record: &Record, beside: &Beside) -> String {
    if !beside.doubts.is_empty() {
        return say!("not valid");
    }
    if let Some(why) = overruled(beside) {
        return why.word;
    }
    match record.verdict.as_str() {
        _ if record.trial => said(would(&record.verdict), &[]),
        word @ ("pass" | "pass with remarks") => format!(
            "{}; {}",
            said(word, &[]),
            say!("a pass does not release the device")
        ),
        word => say!("result: {verdict}", verdict = said(&prose(word), &[])),
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

/// The verdict; without its colour and shape where nothing may be made of it.
fn verdict(record: &Record, beside: &Beside) -> Block {
    let shaped = |word: String, shape: Shape| Mark { word, shape };
    if !beside.doubts.is_empty() {
        let word = said(&prose(&record.verdict), &[]);
        return Block::Verdict {
            mark: shaped(say!("not valid"), Shape::Void),
            text: say!(
                "This record does not verify. What it says itself, “{verdict}”, can't be relied on.",
                verdict = word
            ),
        };
    }
    if let Some(why) = overruled(beside) {
        let word = said(&prose(&record.verdict), &[]);
        let before = say!("it said: {verdict}", verdict = word);
        return Block::Verdict {
            mark: shaped(why.word, Shape::Void),
            text: format!("{} ({before})", why.running),
        };
    }
    Block::Verdict {
        mark: match record.trial {
            true => shaped(said(would(&record.verdict), &[]), Shape::Plain),
            false => Mark::of(&record.verdict),
        },
        text: format!("{}{}", meaning(record), unsigned(record))
            .trim()
            .to_owned(),
    }
}

/// That nobody has signed: a result that nobody stands for looks like any other.
fn unsigned(record: &Record) -> String {
    match record.trial || !record.seal.signatures.is_empty() {
        true => String::new(),
        false => say!(" Nobody has signed this record."),
    }
}

fn meaning(record: &Record) -> String {
    let told = match record.verdict.as_str() {
        "pass" => say!("Every criterion that was judged is met."),
        "pass with remarks" => with_remarks(record),
        "fail" => say!("At least one criterion that decides is not met."),
        "incomplete" => {
            say!(
                "Not everything was done or could be judged. This record neither passes nor fails the device."
            )
        }
        _ => String::new(),
    };
    let ended = record.ended.as_ref().map(|e| {
        let text = at_the_end(&ended(record, e));
        let after = asked_after_stop(record, e).unwrap_or_default();
        say!(" The session was cut short. {text}.", text = text) + &after
    });
    format!("{told}{}", ended.unwrap_or_default())
        .trim()
        .to_owned()
}

/// Which steps were asked behind the fail that ended the session, past those that were passed over.
fn asked_after_stop(record: &Record, ended: &str) -> Option<String> {
    let at = ended.split('`').nth(1)?;
    let steps: Vec<(&Step, usize)> = numbered(record).collect();
    let fail = steps.iter().position(|(step, _)| step.path == at)?;
    let is_open = |(step, _): &(&Step, usize)| step.state == "not done";
    let open = steps.iter().rposition(is_open).filter(|o| *o > fail)?;
    let (from, to) = (steps.get(open + 1)?.1, steps.last()?.1);
    Some(say!(
        " Steps {from} to {to}, which are asked after a stop too, were asked.",
        from = from,
        to = to
    ))
}

/// What a pass with remarks means: what is met under a condition only, who decides on that, and where its remarks stand.
fn with_remarks(record: &Record) -> String {
    let judged = judged_once(record);
    let conditional = judged.iter().filter(|v| **v == "conditional pass").count();
    let mut parts = vec![match conditional {
        0 => say!("The criteria that decide are met."),
        n => say!(
            "The criteria that decide are met, {conditionally}: the value lies inside its limit, but nearer to it than its uncertainty U, so that the true value may lie outside. Whether that suffices is for the person to decide who answers for the device, under the shop's own rules.",
            conditionally = counted(
                n,
                fixed!("of them under a condition"),
                fixed!("of them under a condition")
            )
        ),
    }];
    let unmet = judged.iter().filter(|v| v.contains("fail")).count();
    if unmet > 0 {
        parts.push(say!(
            "{unmet}.",
            unmet = counted(
                unmet,
                fixed!("minor criterion is not met; it does not decide"),
                fixed!("minor criteria are not met; they do not decide")
            )
        ));
    }
    if !remarks::remarks(record).is_empty() {
        parts.push(say!("The remarks below belong to the result."));
    }
    parts.join(" ")
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
        (fixed!("Occasion"), brief(&said(&record.occasion, &[]))),
        (fixed!("Tested by"), signed::tested_by(record, beside)),
        (fixed!("Bench"), brief(&record.bench)),
        (fixed!("Started"), time(&record.started)),
        (fixed!("Finished"), time(&record.finished)),
        (fixed!("Recipe"), recipe),
        (
            fixed!("Recipe approval"),
            at_the_end(&signed::approval(record, beside)),
        ),
        (fixed!("Instruments"), instruments(record)),
        (
            fixed!("Decision rule"),
            uncertain::rule_in_brief(&record.decision),
        ),
        (fixed!("Steps"), tally(record)),
    ];
    let told = pairs.into_iter().filter(|(_, text)| !text.is_empty());
    told.map(|(label, text)| Fact::new(said(label, &[]), text))
        .chain(parting(record))
        .chain(corrected(record))
        .chain(signed::in_brief(record, beside))
        .chain(signed::trust(record, beside))
        .collect()
}

/// What the technician said at the end.
fn parting(record: &Record) -> Option<Fact> {
    let last = parting_words(record)?;
    let (step, number) = numbered(record).find(|(step, _)| step.path == last.path)?;
    let place = say!("in full at step {number}", number = number);
    let words = shortened(&figure::entry(&step.entry), &place);
    Some(Fact::new(say!("Remark"), words).aside(say!("step {number}", number = number)))
}

/// Most steps that are named where entries were corrected.
const MOST_CORRECTED: usize = 4;

/// How many entries were corrected, and at which steps that stands.
fn corrected(record: &Record) -> Option<Fact> {
    let steps = numbered(record).filter(|(step, _)| !step.corrections.is_empty());
    let steps: Vec<(&Step, usize)> = steps.collect();
    let entries: usize = steps.iter().map(|(step, _)| step.corrections.len()).sum();
    let first = steps.iter().take(MOST_CORRECTED);
    let mut named: Vec<String> = first
        .map(|(step, n)| format!("{n}. {}", brief(&own_name(step))))
        .collect();
    let more = steps.len() - named.len();
    if more > 0 {
        named.push(say!("… {n} more", n = more));
    }
    let count = counted(entries, fixed!("entry"), fixed!("entries"));
    (entries > 0).then(|| Fact::new(say!("Corrected"), format!("{count} ({})", named.join("; "))))
}

/// The instruments that were at hand, and which of them nothing was read from.
fn instruments(record: &Record) -> String {
    let read = |id: &str| {
        let mut all = record.setup.iter().chain(&record.steps);
        all.any(|s| s.instrument.as_deref() == Some(id) && !s.attempts.is_empty())
    };
    let named = record.instruments.iter().map(|(role, i)| {
        let role = match read(&i.id) {
            true => brief(role),
            false => say!("{role}, not read", role = brief(role)),
        };
        format!("{} ({role})", brief(&i.id))
    });
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
    let judged = judged_once(record);
    let of = |verdict: &str| judged.iter().filter(|v| **v == verdict).count();
    let met = of("pass") + of("conditional pass");
    let failed = of("fail") + of("conditional fail");
    let conditionally = |n: usize| match n {
        0 => String::new(),
        n => say!(" ({n} conditionally)", n = n),
    };
    let open = match of("not judged") {
        0 => String::new(),
        n => say!(", {n} not judged", n = n),
    };
    format!(
        "{}; {}{}, {}{}{open}",
        parts.join(", "),
        counted(met, fixed!("criterion met"), fixed!("criteria met")),
        conditionally(of("conditional pass")),
        say!("{n} not met", n = failed),
        conditionally(of("conditional fail"))
    )
}

/// What could not be judged: one by one where a step was done or skipped, by parts of the work where none of it was begun.
fn open(record: &Record) -> Vec<Block> {
    let heading = say!("What could not be judged");
    let is_open = |s: &&Step| s.criteria.iter().any(|c| c.verdict == "not judged");
    let (left, told): (Vec<_>, Vec<_>) = numbered(record)
        .filter(|(s, _)| is_open(s))
        .partition(|(s, _)| s.state == "not done");
    let mut blocks = table(
        record,
        &heading,
        &["not judged"],
        told.into_iter(),
        Off::Outside,
    );
    if !left.is_empty() {
        if blocks.is_empty() {
            blocks.push(section(&heading));
        }
        blocks.push(parts(record, &left));
    }
    blocks
}

/// The parts of the work that steps stand in, with their criteria; a step in no part stands for itself.
fn parts(record: &Record, steps: &[(&Step, usize)]) -> Block {
    let of = |step: &Step| {
        let own = step.criteria.iter();
        let own = own.filter(|c| judged::before(record, step, c).is_none());
        own.map(|c| c.severity.clone()).collect::<Vec<_>>()
    };
    let alike = |a: &(&Step, usize), b: &(&Step, usize)| match a.0.within.first() {
        Some(part) => b.0.within.first() == Some(part),
        None => false,
    };
    let mut all = 0;
    let rows = steps.chunk_by(alike).map(|part| {
        let (first, from) = part[0];
        let (_, to) = part[part.len() - 1];
        let severities: Vec<String> = part.iter().flat_map(|(step, _)| of(step)).collect();
        let critical = severities.iter().filter(|s| *s == SEVERITIES[0]).count();
        all += severities.len();
        let name = first
            .within
            .first()
            .map_or_else(|| own_name(first), |w| w.clone());
        let numbers = match from == to {
            true => from.to_string(),
            false => say!("{first} to {last}", first = from, last = to),
        };
        let criteria = match critical {
            0 => severities.len().to_string(),
            n => say!(
                "{criteria}, {n} critical",
                criteria = severities.len(),
                n = n
            ),
        };
        vec![
            Cell::new(brief(&name)),
            Cell::new(numbers),
            Cell::new(criteria),
        ]
    });
    let rows = rows.collect();
    let criteria = counted(all, fixed!("criterion"), fixed!("criteria"));
    Block::Table {
        caption: say!(
            "{criteria} of steps that were not done",
            criteria = criteria
        ),
        header: Column::all([
            (fixed!("Part"), 60),
            (fixed!("Steps"), 20),
            (fixed!("Criteria"), 20),
        ]),
        rows,
        dense: true,
    }
}

/// The verdicts of all criteria, of those that are judged twice one.
fn judged_once(record: &Record) -> Vec<&str> {
    let steps = record.setup.iter().chain(&record.steps);
    let all = steps.flat_map(|step| step.criteria.iter().map(move |c| (step, c)));
    let once = all.filter(|(step, c)| judged::before(record, step, c).is_none());
    once.map(|(_, c)| c.verdict.as_str()).collect()
}

/// Most rows of what failed that stand on the first page.
const MOST_ROWS: usize = 6;

/// The table with its first rows, and how many more there are: the device, the people and the cautions stand on the same page.
fn first_rows(mut blocks: Vec<Block>) -> Vec<Block> {
    let mut more = 0;
    if let Some(Block::Table { rows, .. }) = blocks.last_mut() {
        more = rows.len().saturating_sub(MOST_ROWS + 1);
        if more > 0 {
            more += 1;
            rows.truncate(MOST_ROWS);
        }
    }
    if more > 0 {
        blocks.push(Block::Paragraph {
            text: say!(
                "and {n} more; each stands with its verdict at its step",
                n = more
            ),
        });
    }
    blocks
}

/// Severities of criteria, the gravest first.
const SEVERITIES: [&str; 3] = ["critical", "major", "minor"];

/// On which side of a limit the values of a table lie.
#[derive(Clone, Copy, PartialEq)]
enum Off {
    Outside,
    Inside,
}

/// The criteria of steps that have one of some verdicts, as a table under a heading.
fn table<'r>(
    record: &Record,
    heading: &str,
    verdicts: &[&str],
    steps: impl Iterator<Item = (&'r Step, usize)>,
    off: Off,
) -> Vec<Block> {
    let mut wanted: Vec<(&Step, usize, &Criterion)> = steps
        .flat_map(|(step, number)| step.criteria.iter().map(move |c| (step, number, c)))
        .filter(|(.., c)| verdicts.contains(&c.verdict.as_str()))
        .filter(|(step, _, c)| judged::before(record, step, c).is_none())
        .collect();
    if wanted.is_empty() {
        return Vec::new();
    }
    // What weighs most stands first: a long list goes on elsewhere.
    let rank = |c: &Criterion| SEVERITIES.iter().position(|s| *s == c.severity);
    wanted.sort_by_key(|(.., c)| rank(c));
    let critical = wanted.iter().filter(|(.., c)| rank(c) == Some(0)).count();
    let rows: Vec<Vec<Cell>> = (wanted.iter())
        .map(|(step, number, c)| row(record, (*step, *number), c, off))
        .collect();
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
    let all = counted(rows.len(), fixed!("criterion"), fixed!("criteria"));
    let caption = match (off, critical) {
        (Off::Outside, 1..) if rows.len() > 1 => {
            say!("{criteria}, {n} critical", criteria = all, n = critical)
        }
        _ => all,
    };
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

fn row(
    record: &Record,
    (step, number): (&Step, usize),
    criterion: &Criterion,
    side: Off,
) -> Vec<Cell> {
    let told = Told::of(record, step, criterion);
    let (expression, values) = written(criterion);
    let place = say!("in full at step {number}", number = number);
    let again = judged::again(record, step, criterion);
    let again = again.map_or_else(String::new, |n| {
        format!(" ({})", say!("judged again at step {number}", number = n))
    });
    let value = match step.state.as_str() {
        "skipped" => match step.why.as_deref().map(prose).filter(|w| !w.is_empty()) {
            Some(why) => say!("skipped: {why}", why = shortened(&why, &place)),
            None => say!("skipped, optional"),
        },
        _ if told.alone.is_empty() => shortened(&values, &place),
        _ => shortened(&told.alone, &place),
    };
    let off = match side {
        Off::Outside => told.off,
        Off::Inside => told.margin,
    };
    vec![
        Cell {
            text: format!("{number}. {}{again}", name(step)),
            step: Some(number),
            mark: None,
        },
        Cell {
            mark: Some(Mark::of(&criterion.verdict)),
            ..Cell::new(said(&prose(&criterion.severity), &[]))
        },
        Cell::new(value),
        Cell::new(told.limit.unwrap_or_else(|| shortened(&expression, &place))),
        Cell::new(off.unwrap_or_else(|| "–".to_owned())),
    ]
}
