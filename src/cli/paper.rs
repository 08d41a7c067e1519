//! A procedure on paper: the worksheet, and the file that its readings are typed into afterwards.
//!
//! Never in here: how a page is drawn. Changes when paper asks for more.

use crate::engine::{Bench, Question, State, begin, question_at};
use crate::plan::{Bound, Criterion, CriterionSeverity, Item, Plan, Section, Slot, Then, Verb};
use crate::render::{Sheet, SheetRow};

use super::show::limits;

/// A line to write on.
const LINE: &str = "__________";
/// A box to tick.
const BOX: &str = "☐";
/// The heading of steps that follow a group and stand in none.
const FURTHER: &str = "Further steps";
/// Most words to fill in side by side.
const MOST_LINES: u32 = 30;
/// Most times that a step is done again for which there is room.
const MOST_AGAIN: u32 = 3;

/// The worksheet of a procedure.
pub(super) fn worksheet(plan: &Plan) -> Sheet {
    let state = begin(plan, &Bench::default());
    let rows = |section: Section| {
        let items = (0..plan.items.len()).filter(|i| plan.items[*i].section == section);
        let mut trail: &[String] = &[];
        let mut rows = Vec::new();
        for index in items {
            let item = &plan.items[index];
            if item.trail != trail {
                trail = &item.trail;
                let heading = match trail {
                    [] => FURTHER.to_owned(),
                    trail => trail.join(", "),
                };
                rows.push(SheetRow::Part(heading));
            }
            rows.extend(step(plan, &state, index));
        }
        rows
    };
    let mut head = vec![
        (
            "Recipe".to_owned(),
            format!("{} revision {}", plan.recipe, plan.revision),
        ),
        (
            "Device".to_owned(),
            format!("tag {LINE} serial {LINE} model {LINE}"),
        ),
        (
            "Done".to_owned(),
            format!("on {LINE} by {LINE} occasion {LINE}"),
        ),
    ];
    for (name, role) in &plan.roles {
        let measures = role.measures.join(", ");
        head.push((
            format!("Instrument: {name}"),
            format!("{LINE} ({measures})"),
        ));
    }
    Sheet {
        title: plan.title.clone(),
        head,
        cautions: plan.cautions.clone(),
        sections: vec![
            ("Setup".to_owned(), rows(Section::Setup)),
            ("Steps".to_owned(), rows(Section::Steps)),
        ],
    }
}

/// A step, with what can hurt in it on lines of their own before it.
fn step(plan: &Plan, state: &State, index: usize) -> Vec<SheetRow> {
    let Some(question) = question_at(plan, state, index) else {
        return Vec::new();
    };
    let item = question.item;
    let alone = |words: String| SheetRow::Step([words, String::new(), String::new()]);
    let cautions = item.cautions.iter().map(|c| alone(format!("Caution: {c}")));
    let limit: Vec<String> = limits(&question)
        .into_iter()
        .chain(stops(item).map(str::to_owned))
        .collect();
    let row = SheetRow::Step([said(&question), limit.join("; "), places(item)]);
    cautions.chain([row]).collect()
}

/// What is done, with its number, its instrument, and when it applies.
fn said(question: &Question<'_>) -> String {
    let item = question.item;
    let mut said = vec![match &item.verb {
        Verb::Compute { .. } => format!("Computed: {}", called(question)),
        _ if question.sentence.is_empty() => called(question),
        _ => question.sentence.clone(),
    }];
    if let Some(role) = item.verb.role() {
        said.push(format!("({role})"));
    }
    if !item.conditions.is_empty() {
        let conditions: Vec<String> = item.conditions.iter().map(condition).collect();
        said.push(format!("(if {})", conditions.join(" and ")));
    }
    match item.verb {
        Verb::Compute { .. } | Verb::Judge => said.join(" "),
        _ => format!("{}. {}", item.number, said.join(" ")),
    }
}

/// A condition with the values that are known before the session: who reads it on paper can't look them up.
fn condition(bound: &Bound) -> String {
    let names = bound.expression.names.iter().zip(&bound.slots);
    let known = names.filter_map(|(name, slot)| match slot {
        Slot::Constant(value) => Some(format!("{name} is {value}")),
        _ => None,
    });
    let known: Vec<String> = known.collect();
    let text = bound.expression.text.trim();
    match known.is_empty() {
        true => text.to_owned(),
        false => format!("{text}, where {}", known.join(", ")),
    }
}

/// What ends the session after a fail.
fn stops(item: &Item) -> Option<&'static str> {
    let critical = |c: &Criterion| c.severity == CriterionSeverity::Critical;
    let judged = !item.criteria.is_empty();
    match item.on_fail.then {
        Then::Stop if judged => Some("stop if not"),
        Then::StopIfCritical if judged && item.criteria.iter().all(critical) => Some("stop if not"),
        Then::StopIfCritical if item.criteria.iter().any(critical) => {
            Some("stop if a critical limit is not met")
        }
        _ => None,
    }
}

fn called(question: &Question<'_>) -> String {
    let item = question.item;
    let id = item.path.rsplit('.').next().unwrap_or(&item.path);
    item.title.clone().unwrap_or_else(|| id.replace('_', " "))
}

/// Where on paper the answer of a step goes, and that of each time it may be done again.
fn places(item: &Item) -> String {
    let once = place(&item.verb);
    let again = (0..item.on_fail.retries.min(MOST_AGAIN)).map(|_| format!("again: {once}"));
    let all: Vec<String> = std::iter::once(once.clone()).chain(again).collect();
    all.join(" ")
}

fn place(verb: &Verb) -> String {
    let lines = |repeat: u32, unit: &str| {
        let lines = vec![LINE; repeat.min(MOST_LINES) as usize].join(" ");
        match unit {
            "" | "1" => lines,
            unit => format!("{lines} {unit}"),
        }
    };
    match verb {
        Verb::Tell => format!("{BOX} done"),
        Verb::Confirm => format!("{BOX} yes {BOX} no"),
        Verb::Choose(options) => {
            let boxes = options.iter().map(|option| format!("{BOX} {option}"));
            boxes.collect::<Vec<_>>().join(" ")
        }
        Verb::Enter(_) => LINE.repeat(2),
        Verb::Count { repeat, .. } => lines(*repeat, ""),
        Verb::Measure { repeat, unit, .. } => lines(*repeat, unit.text()),
        Verb::Time { repeat, .. } => lines(*repeat, "min:s"),
        Verb::Compute { unit, .. } => lines(1, unit.as_ref().map_or("", |u| u.text())),
        Verb::Judge => format!("{BOX} met {BOX} not met"),
        Verb::Trace { .. } => format!("file {LINE}"),
    }
}

/// A file of answers to be filled in: a line for each step that asks something, with what it asks.
pub(super) fn answers(plan: &Plan) -> String {
    let state = begin(plan, &Bench::default());
    let mut text = format!(
        "# {}: {} revision {}\n# Type each answer behind its step, as it stands on the paper; a step left empty pauses the session there.\n# stepwell run {} --device TAG --by PERSON --answers THIS-FILE\nanswers:\n",
        one_line(&plan.title),
        plan.recipe,
        plan.revision,
        plan.recipe
    );
    for index in 0..plan.items.len() {
        let Some(question) = question_at(plan, &state, index) else {
            continue;
        };
        let item = question.item;
        if matches!(item.verb, Verb::Compute { .. } | Verb::Judge) {
            continue;
        }
        let mut told = vec![
            format!("{}. {}", item.number, question.sentence.trim()),
            wanted(&item.verb),
        ];
        told.extend(limits(&question).map(|limits| format!("limit: {limits}")));
        told.retain(|t| !t.is_empty());
        text.push_str(&format!(
            "  # {}\n  {}:\n",
            one_line(&told.join("; ")),
            item.path
        ));
    }
    text
}

/// What an answer looks like.
fn wanted(verb: &Verb) -> String {
    let readings = |what: String| match verb.entries() {
        0 | 1 => what,
        n => format!("{n} readings {what}, as [A, B, …]"),
    };
    match verb {
        Verb::Tell => "done".to_owned(),
        Verb::Confirm => "yes or no".to_owned(),
        Verb::Choose(options) => options.join(" / "),
        Verb::Enter(_) => "a text".to_owned(),
        Verb::Count { .. } => readings("as a whole number".to_owned()),
        Verb::Measure { unit, .. } => readings(format!("in `{}`", unit.text())),
        Verb::Time { .. } => readings("as 12 min 21.6 s, or 12:21.6 in quotes".to_owned()),
        Verb::Trace { .. } => "the path of the log".to_owned(),
        Verb::Compute { .. } | Verb::Judge => String::new(),
    }
}

/// Text for a comment: on one line, without control characters.
fn one_line(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}
