//! A procedure on paper: the worksheet, and the file that its readings are typed into afterwards.
//!
//! Never in here: how a page is drawn. Changes when paper asks for more.

use crate::engine::{Bench, Limit, Question, State, begin, question_at, sentence_with};
use crate::plan::{
    Bound, Criterion, CriterionSeverity, Device, DeviceField, EvaluationError, Item, Plan, Scope,
    Section, Slot, Then, Value, Verb, evaluate,
};
use crate::quantity::{Quantity, Unit};
use crate::render::{Sheet, SheetRow, brief};

use super::said::{called, held_in_words, in_words, part_in_words, phrase_in_words};
use super::show::limits;

/// A line for a reading.
const LINE: &str = "__________";
/// A line for words, as wide as the column of readings.
const WORDS: &str = "______________________________________";
/// Lines of the head, for what is told of the device and the session.
const HEAD: &str = "______________________";
/// A box to tick.
const BOX: &str = "☐";
/// The heading of steps that follow a group and stand in none.
const FURTHER: &str = "Further steps";
/// A blank at which no line is broken.
const HELD: char = '\u{a0}';
/// Most words to fill in side by side.
const MOST_LINES: u32 = 30;
/// Most times that a step is done again for which there is room.
const MOST_AGAIN: u32 = 3;

/// What holds of a revision that was not approved.
const UNAPPROVED: &str = "this text may be run as a trial only";

/// A procedure for paper.
pub(super) struct Procedure {
    /// The procedure.
    pub plan: Plan,
    /// Whether it may be run; true where no shop says.
    pub approved: bool,
}

/// The worksheet of a procedure; what is known of the device is filled in. One that was not approved says so on each page.
pub(super) fn worksheet(procedure: &Procedure, device: Device) -> Sheet {
    let plan = &with_constants(&procedure.plan);
    let bench = Bench {
        device: device.clone(),
        ..Bench::default()
    };
    let state = begin(plan, &bench);
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
        ("Device".to_owned(), of_device(&device)),
        (
            "Done".to_owned(),
            format!("on{HELD}{HEAD} by{HELD}{HEAD} occasion{HELD}{HEAD}"),
        ),
    ];
    if !procedure.approved {
        head.insert(1, ("Not approved".to_owned(), UNAPPROVED.to_owned()));
    }
    let computes = |item: &Item| matches!(item.verb, Verb::Compute { .. });
    if plan.items.iter().any(computes) {
        head.push((
            "Computed".to_owned(),
            "may be left empty: the program computes it".to_owned(),
        ));
    }
    for (name, role) in &plan.roles {
        let measures = role.measures.join(", ");
        head.push((
            // Behind the line a narrow window would break it.
            format!("Instrument: {name} ({measures})"),
            WORDS.to_owned(),
        ));
    }
    Sheet {
        title: plan.title.clone(),
        revision: match procedure.approved {
            true => format!("{}@{}", plan.recipe, plan.revision),
            false => format!("{}@{} NOT APPROVED", plan.recipe, plan.revision),
        },
        device: known(&device, DeviceField::Tag)
            .map(|tag| (tag, known(&device, DeviceField::Serial).unwrap_or_default())),
        head,
        cautions: plan.cautions.clone(),
        sections: vec![
            ("Setup".to_owned(), rows(Section::Setup)),
            ("Steps".to_owned(), rows(Section::Steps)),
        ],
    }
}

/// The procedure with what no reading changes put in place of the steps that compute it: on paper nobody looks it up.
fn with_constants(plan: &Plan) -> Plan {
    let mut plan = plan.clone();
    let mut known: Vec<Option<Value>> = vec![None; plan.items.len()];
    for index in 0..plan.items.len() {
        let put = |slot: &mut Slot| {
            if let Slot::Item(item) = slot
                && let Some(value) = known.get(*item).and_then(Option::as_ref)
            {
                *slot = Slot::Constant(value.clone());
            }
        };
        let item = &mut plan.items[index];
        let criteria = item.criteria.iter_mut().filter_map(|c| c.that.as_mut());
        for bound in criteria.chain(&mut item.conditions) {
            bound.slots.iter_mut().for_each(put);
        }
        item.prompt_slots.iter_mut().for_each(|(_, slot)| put(slot));
        if let Verb::Compute { expression, unit } = &mut item.verb {
            expression.slots.iter_mut().for_each(put);
            known[index] = constant(expression, unit.as_ref());
        }
    }
    plan
}

/// What an expression gives that rests on constants alone, in the unit that the step names.
fn constant(bound: &Bound, unit: Option<&Unit>) -> Option<Value> {
    struct Constants<'b>(&'b [Slot]);
    impl Scope for Constants<'_> {
        fn value(&self, index: usize) -> Result<Value, EvaluationError> {
            match self.0.get(index) {
                Some(Slot::Constant(value)) => Ok(value.clone()),
                _ => Err(EvaluationError::Domain("it rests on a reading".to_owned())),
            }
        }
    }
    let value = evaluate(&bound.expression, &Constants(&bound.slots)).ok()?;
    match (value, unit) {
        (Value::Quantity(q), Some(unit)) => Some(Value::Quantity(q.convert(unit).ok()?)),
        (value, _) => Some(value),
    }
}

/// What is told of the device: what the register says, or lines for it.
fn of_device(device: &Device) -> String {
    let told = |(field, lead): (DeviceField, &str)| {
        let known = known(device, field).map_or_else(|| HEAD.to_owned(), |text| brief(&text));
        format!("{lead}{HELD}{known}")
    };
    let mut fields = vec![
        (DeviceField::Tag, "tag"),
        (DeviceField::Serial, "serial"),
        (DeviceField::Model, "model"),
    ];
    if known(device, DeviceField::Maker).is_some() {
        fields.insert(2, (DeviceField::Maker, "maker"));
    }
    let parts: Vec<String> = fields.into_iter().map(told).collect();
    parts.join(" ")
}

fn known(device: &Device, field: DeviceField) -> Option<String> {
    device.value(field).ok().map(|value| value.to_string())
}

/// The sentence of a step, with lines to write on for what is not known before the session, and where it comes from.
fn sentence(plan: &Plan, state: &State, item: &Item) -> String {
    let of_item = |index: usize| {
        let other = plan.items.get(index);
        other.map_or_else(String::new, |other| {
            let computed = match other.verb {
                Verb::Compute { .. } => ", computed above",
                _ => "",
            };
            format!("{LINE} (\"{}\"{computed})", called(other))
        })
    };
    sentence_with(item, state, &|slot| match slot {
        Slot::Device(field) => format!("{LINE} ({})", field.said().trim_start_matches("the ")),
        Slot::Item(index) | Slot::Column(index, _) => of_item(*index),
        Slot::Constant(_) | Slot::Items(_) => LINE.to_owned(),
    })
}

/// A step, with what can hurt in it on lines of their own before it.
fn step(plan: &Plan, state: &State, index: usize) -> Vec<SheetRow> {
    let Some(question) = question_at(plan, state, index) else {
        return Vec::new();
    };
    let item = question.item;
    let alone = |words: String| SheetRow::Step([words, String::new(), String::new()]);
    let cautions = item.cautions.iter().map(|c| alone(format!("Caution: {c}")));
    let limit: Vec<String> = limit_in_words(plan, &question)
        .into_iter()
        .chain(stops(item).map(str::to_owned))
        .collect();
    let question = Question {
        sentence: sentence(plan, state, item),
        ..question.clone()
    };
    let mut places = vec![places(&question)];
    places.extend(left_out(item).map(|words| format!("{BOX}{HELD}{words}")));
    let row = SheetRow::Step([said(plan, &question), limit.join("; "), places.join(" ")]);
    cautions.chain([row]).collect()
}

/// Why a step may be left without an answer: it is optional, or it applies under a condition only.
fn left_out(item: &Item) -> Option<String> {
    let why = match (item.conditions.is_empty(), item.optional) {
        (false, _) => "does not apply",
        (true, true) => "left out",
        (true, false) => return None,
    };
    Some(why.replace(' ', &HELD.to_string()))
}

/// What is done, with its number, its instrument, and when it applies.
fn said(plan: &Plan, question: &Question<'_>) -> String {
    let item = question.item;
    let mut said = vec![match &item.verb {
        Verb::Compute { expression, unit } => {
            computed(plan, (expression, unit.as_ref()), question.index)
        }
        _ if question.sentence.is_empty() => called(item),
        _ => question.sentence.clone(),
    }];
    if let Some(role) = item.verb.role() {
        said.push(format!("({role})"));
    }
    if !item.conditions.is_empty() {
        let all = item.conditions.iter();
        let conditions: Vec<String> = all.map(|c| condition(plan, c, question.index)).collect();
        said.push(format!("(if {})", conditions.join(" and ")));
    }
    if item.optional {
        said.push("(optional)".to_owned());
    }
    if item.after_stop {
        said.push("(after a stop too)".to_owned());
    }
    format!("{}. {}", item.number, said.join(" "))
}

/// Longest rule of a computed step that is told, in characters.
const MOST_OF_A_RULE: usize = 500;

/// What the program computes, and by which rule where that can be said in the words of the steps.
fn computed(plan: &Plan, (rule, unit): (&Bound, Option<&Unit>), index: usize) -> String {
    let title = plan.items.get(index).map_or_else(String::new, called);
    let known = constant(rule, unit).map(|value| value.to_string());
    let rule = known.or_else(|| phrase_in_words(plan, rule, index));
    let rule = rule.filter(|r| r.chars().count() <= MOST_OF_A_RULE);
    let rule = rule.map_or_else(String::new, |r| format!(", {r}"));
    format!("Computed: {title}{rule}")
}

/// A condition by the titles of the steps that it asks after; else as it is written, with the values that are known before
/// the session: who reads it on paper can't look them up.
fn condition(plan: &Plan, bound: &Bound, own: usize) -> String {
    in_words(plan, bound, own).unwrap_or_else(|| as_written(bound, bound.expression.text.trim()))
}

/// A text of the recipe, with the constants in it.
fn as_written(bound: &Bound, text: &str) -> String {
    let stands = |name: &str| {
        text.split(|c: char| !c.is_alphanumeric() && !"_.".contains(c))
            .any(|w| w == name)
    };
    let names = bound.expression.names.iter().zip(&bound.slots);
    let known = names.filter_map(|(name, slot)| match slot {
        Slot::Constant(value) if stands(name) => Some(format!("{name} is {value}")),
        _ => None,
    });
    let known: Vec<String> = known.collect();
    match known.is_empty() {
        true => text.to_owned(),
        false => format!("{text}, where {}", known.join(", ")),
    }
}

/// The limits of a step; a criterion of which none can be told yet by the titles of its steps.
fn limit_in_words(plan: &Plan, question: &Question<'_>) -> Option<String> {
    let bounds = || {
        question
            .item
            .criteria
            .iter()
            .filter_map(|c| c.that.as_ref())
    };
    let filled = |words: String| {
        DeviceField::ALL.into_iter().fold(words, |words, field| {
            let named = field.said();
            match known(&question.device, field) {
                Some(value) => words.replace(&named, &format!("{named}, {value}")),
                None => words,
            }
        })
    };
    let told = |text: &String| {
        let words = bounds().find_map(|b| part_in_words(plan, b, question.index, text.trim()));
        let part = bounds().find(|b| b.expression.text.contains(text.trim()));
        words
            .map(filled)
            .unwrap_or_else(|| part.map_or_else(|| text.clone(), |b| as_written(b, text)))
    };
    let as_written = question.as_written.iter().map(told).collect();
    let timed = matches!(question.item.verb, Verb::Time { .. });
    let own = question.item.path.rsplit('.').next().unwrap_or_default();
    let in_words = |limit: &Limit| {
        let end = |end: &Quantity| match timed {
            true => on_the_clock(end),
            false => end.clone(),
        };
        let words = || bounds().find_map(|b| held_in_words(plan, b, question.index, &limit.of));
        let other = (limit.of != own).then(words).flatten();
        Limit {
            of: other.unwrap_or_else(|| limit.of.clone()),
            low: limit.low.as_ref().map(end),
            high: limit.high.as_ref().map(end),
            ..limit.clone()
        }
    };
    limits(&Question {
        as_written,
        limits: question.limits.iter().map(in_words).collect(),
        ..question.clone()
    })
}

/// A time that is no whole number of minutes or hours as a clock tells it, beside a box for minutes and seconds.
fn on_the_clock(end: &Quantity) -> Quantity {
    const A_TENTH_S: f64 = 0.1;
    let whole = end.clone();
    let Ok(second) = Unit::parse("s") else {
        return whole;
    };
    let is_whole = end.value().to_f64().fract() == 0.0;
    let Some(seconds) = end.convert(&second).ok().map(|s| s.value().to_f64()) else {
        return whole;
    };
    let tenths = (seconds / A_TENTH_S).round();
    let is_told = (tenths * A_TENTH_S - seconds).abs() < 1e-9 * seconds.abs();
    if is_whole || !is_told || seconds < 60.0 {
        return whole;
    }
    let (minutes, rest) = ((tenths / 600.0).floor(), tenths % 600.0);
    let rest = match rest % 10.0 == 0.0 {
        true => format!("{} s", rest / 10.0),
        false => format!("{:.1} s", rest / 10.0),
    };
    let (hours, minutes) = ((minutes / 60.0).floor(), minutes % 60.0);
    whole.typed_as(&match hours > 0.0 {
        true => format!("{hours} h {minutes} min {rest}"),
        false => format!("{minutes} min {rest}"),
    })
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

/// Where on paper the answer of a step goes, and that of each time it may be done again.
fn places(question: &Question<'_>) -> String {
    let once = place(question);
    let retries = question.item.on_fail.retries.min(MOST_AGAIN);
    let again = (0..retries).map(|_| format!("again:{HELD}{once}"));
    let all: Vec<String> = std::iter::once(once.clone()).chain(again).collect();
    all.join(" ")
}

/// Lines are broken between boxes or lines that stand for themselves, never between them and their words.
fn place(question: &Question<'_>) -> String {
    let item = question.item;
    let lines = |repeat: u32, unit: &str| {
        let lines = vec![LINE; repeat.min(MOST_LINES) as usize].join(" ");
        match unit {
            "" | "1" => lines,
            unit => format!("{lines}{HELD}{unit}"),
        }
    };
    match &item.verb {
        Verb::Tell => format!("{BOX}{HELD}done"),
        Verb::Confirm => format!("{BOX}{HELD}yes{HELD}{BOX}{HELD}no"),
        Verb::Choose(options) => {
            let boxes = options.iter().map(|option| format!("{BOX}{HELD}{option}"));
            boxes.collect::<Vec<_>>().join(" ")
        }
        // What has a form of its own is short; the rest may be long, and goes on below.
        Verb::Enter(Some(_)) => WORDS.to_owned(),
        Verb::Enter(None) => WORDS.repeat(2),
        Verb::Count { repeat, .. } => lines(*repeat, ""),
        Verb::Measure { repeat, unit, .. } => lines(*repeat, unit.text()),
        Verb::Time { repeat, .. } if question.is_in_hours() => lines(*repeat, "h:min:s"),
        Verb::Time { repeat, .. } => lines(*repeat, "min:s"),
        Verb::Compute { unit, .. } => lines(1, unit.as_ref().map_or("", |u| u.text())),
        Verb::Judge => format!("{BOX}{HELD}met {BOX}{HELD}not{HELD}met"),
        Verb::Trace { .. } => format!("file{HELD}{}", LINE.repeat(3)),
    }
}

/// A file of answers to be filled in: a line for each step that asks something, with what it asks; sentences and limits as they
/// are for the device, where one is named.
pub(super) fn answers(procedure: &Procedure, device: Device) -> String {
    let plan = &procedure.plan;
    let tag =
        known(&device, DeviceField::Tag).map_or_else(|| "TAG".to_owned(), |tag| one_line(&tag));
    let state = begin(
        plan,
        &Bench {
            device,
            ..Bench::default()
        },
    );
    let mut text = format!(
        "# {}: {} revision {}\n# Type each answer behind its step, as it stands on the paper; a step left empty pauses the session there.\n# stepwell run {} --device {} --by PERSON --answers THIS-FILE\nanswers:\n",
        one_line(&plan.title),
        plan.recipe,
        plan.revision,
        plan.recipe,
        tag
    );
    if !procedure.approved {
        text.insert_str(0, &format!("# NOT APPROVED: {UNAPPROVED}\n"));
    }
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
        let all = item.conditions.iter();
        told.extend(all.map(|c| format!("only if {}", condition(plan, c, index))));
        if item.optional {
            told.push("optional: it may stay empty".to_owned());
        }
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
