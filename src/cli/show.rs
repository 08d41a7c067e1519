//! How a walk looks on the screen: plain lines, as wide as the terminal and at most 100 columns, for a terminal, a pipe and a
//! screen reader alike.
//!
//! Never in here: what is asked. Changes when a prompt looks otherwise.

use std::io::{IsTerminal, Write};

use crate::engine::{Judged, Limit, Question, Reading, State, Status, Verdict, is_numbered};
use crate::host::screen_size;
use crate::plan::{Decision, DeviceField, Item, Plan, Value, Verb};
use crate::quantity::{Quantity, interval_in_words};
use crate::record::rounded;
use crate::text::counted;

/// Columns of a line where the terminal does not say how many it has.
const WIDTH: usize = 80;
/// Fewest and most columns of a line.
const WIDTHS: (usize, usize) = (40, 100);

/// Columns of a line: those of the terminal, where it is neither very narrow nor too wide to be read.
pub fn width() -> usize {
    let size = screen_size().filter(|_| std::io::stdout().is_terminal());
    size.map_or(WIDTH, |(columns, _)| columns.clamp(WIDTHS.0, WIDTHS.1))
}

/// What is told beside a question.
pub struct Aside<'a> {
    /// An instrument that the value can be read from.
    pub speaking: Option<&'a str>,
    /// Seconds to the end, as past records have it.
    pub left: Option<i64>,
    /// The instrument that is to be read.
    pub with: Option<&'a str>,
    /// The option that was picked on the device before.
    pub again: Option<String>,
}

/// How long the rest takes, in words.
fn time_left(seconds: i64) -> String {
    match (seconds + 30) / 60 {
        0 => "less than a minute left".to_owned(),
        1 => "about 1 minute left".to_owned(),
        minutes => format!("about {minutes} minutes left"),
    }
}

/// The screen, with whether it still takes lines, and how many it has shown.
pub struct Screen {
    gone: bool,
    shown: usize,
    /// Whether lines are only counted.
    counts: bool,
}

impl Screen {
    /// Standard output.
    pub fn new() -> Self {
        Self {
            gone: false,
            shown: 0,
            counts: false,
        }
    }

    /// One that shows nothing and counts the lines.
    pub fn counting() -> Self {
        Self {
            counts: true,
            ..Self::new()
        }
    }

    /// How many lines were shown.
    pub fn shown(&self) -> usize {
        self.shown
    }

    /// How many lines the terminal holds beside the one that is typed in; no end of them elsewhere.
    pub fn held(&self, terminal: bool) -> usize {
        let size = screen_size().filter(|_| terminal);
        size.map_or(usize::MAX, |(_, rows)| rows.saturating_sub(1).max(1))
    }

    /// Whether nobody reads any more (a closed pipe).
    pub fn is_gone(&self) -> bool {
        self.gone
    }

    /// Writes without a line feed.
    pub fn raw(&mut self, text: &str) {
        self.shown += text.matches('\n').count();
        if self.counts {
            return;
        }
        let mut out = std::io::stdout().lock();
        if out
            .write_all(text.as_bytes())
            .and_then(|()| out.flush())
            .is_err()
        {
            self.gone = true;
        }
    }

    /// Writes a line, wrapped, with `indent` blanks before it; what follows a line feed in it stands further in, where no
    /// line of the program begins.
    pub fn line(&mut self, indent: usize, text: &str) {
        let blanks = " ".repeat(indent);
        let hanging = format!("{blanks}  ");
        for (n, part) in plain(text).lines().enumerate() {
            let first = if n == 0 { &blanks } else { &hanging };
            let wrapped = filled(part, first, &hanging);
            self.raw(&wrapped);
            self.raw("\n");
        }
    }

    /// Writes an empty line.
    pub fn gap(&mut self) {
        self.raw("\n");
    }

    /// Shows the sign to type at.
    pub fn sign(&mut self, question: &Question<'_>, aside: &Aside<'_>) {
        let reads = aside
            .speaking
            .map_or(String::new(), |id| format!(", or Enter reads {id}"));
        let again = aside.again.as_ref().map_or(String::new(), |option| {
            format!(", or Enter for {option} as before")
        });
        self.raw(&format!("{}{reads}{again}> ", sign(question)));
    }

    /// Shows where one stands, what to do, and what is allowed.
    pub fn announce(&mut self, question: &Question<'_>, aside: &Aside<'_>) {
        let item = question.item;
        self.gap();
        let with = aside
            .with
            .map_or(String::new(), |id| format!(" · with {id}"));
        let left = aside.left.map(|s| format!(" · {}", time_left(s)));
        let left = left.unwrap_or_default();
        self.line(0, &format!("{}{with}{left}", heading(question)));
        for caution in &item.cautions {
            self.line(2, &format!("Caution: {caution}"));
        }
        self.line(2, &question.sentence);
        if let Verb::Choose(options) = &item.verb {
            let numbered = is_numbered(options);
            for (number, option) in options.iter().enumerate() {
                let number = if numbered {
                    format!("{} ", number + 1)
                } else {
                    String::new()
                };
                self.line(4, &format!("{number}{option}"));
            }
        }
        if let Some(limits) = limits(question) {
            self.line(2, &format!("Limit: {limits}"));
        }
        let more = item.help.is_some() || item.why.is_some();
        match (item.optional, more) {
            (true, true) => self.line(2, "Optional: `:skip` passes over it; `?` tells more."),
            (true, false) => self.line(2, "Optional: `:skip` passes over it."),
            (false, true) => self.line(2, "`?` tells more."),
            (false, false) => {}
        }
    }

    /// Shows which option a number, or the beginning of a word, was taken as.
    pub fn taken(&mut self, item: &Item, text: &str, value: &Value) {
        let chosen = matches!(item.verb, Verb::Choose(_));
        let word = value.to_string();
        if chosen && text.trim().to_lowercase() != word.to_lowercase() {
            self.line(2, &format!("taken as {word}"));
        }
    }

    /// Shows what an entry in another unit was converted to, or which option was taken.
    pub fn converted(&mut self, item: &Item, reading: &Reading) {
        self.taken(item, &reading.text, &reading.value);
        let Value::Quantity(kept) = &reading.value else {
            return;
        };
        match &item.verb {
            Verb::Measure { .. } => {}
            Verb::Time { .. } if item.criteria.is_empty() && reading.timer.is_none() => {
                let seconds = kept.clone().untyped();
                if seconds.to_string() != reading.text {
                    self.line(2, &format!("taken as {seconds}"));
                }
                return;
            }
            _ => return,
        }
        // A bare number is in the step's unit already.
        let bare = reading.text.ends_with(|c: char| c.is_ascii_digit());
        if !bare && reading.text != kept.to_string() {
            let sign = if kept.is_shown_whole() { "=" } else { "≈" };
            self.line(2, &format!("{} {sign} {kept}", reading.text));
        }
    }

    /// Shows the verdicts of a step.
    pub fn verdicts(&mut self, state: &State, index: usize) {
        for judged in state.items[index].criteria() {
            self.line(2, &verdict(judged));
            if let Some(meaning) = meaning(judged.verdict) {
                self.line(4, meaning);
            }
        }
    }

    /// Shows a step that settled itself.
    pub fn settled(&mut self, plan: &Plan, state: &State, index: usize) {
        let (item, went) = (&plan.items[index], &state.items[index]);
        let name = item.title.clone().unwrap_or_else(|| item.path.clone());
        match &went.status {
            Status::NotApplicable(why) => self.line(2, &format!("{name}: not applicable, {why}")),
            Status::Undone(why) => self.line(2, &format!("{name}: not done, {why}")),
            Status::Done if matches!(item.verb, Verb::Compute { .. }) => {
                let value = went.value().map(value).unwrap_or_default();
                self.line(2, &format!("{name}: {value}"));
                self.verdicts(state, index);
            }
            Status::Done if matches!(item.verb, Verb::Judge) => {
                let sentence = crate::engine::sentence(item, state);
                self.line(2, &sentence);
                self.verdicts(state, index);
            }
            _ => {}
        }
    }

    /// Several steps, one behind the other, that do not apply for the same reason.
    pub fn inapplicable(&mut self, plan: &Plan, state: &State, run: &[usize]) {
        let name = |index: &usize| {
            let item = &plan.items[*index];
            item.title.clone().unwrap_or_else(|| item.path.clone())
        };
        if let [first, .., last] = run
            && let Status::NotApplicable(why) = &state.items[*first].status
        {
            let text = format!(
                "{} to {} ({}): not applicable, {why}",
                name(first),
                name(last),
                counted(run.len(), "step")
            );
            self.line(2, &text);
        }
    }
}

/// What was entered, as it was typed; of a choice the option.
pub fn told(item: &Item, reading: &Reading) -> String {
    match item.verb {
        Verb::Choose(_) => reading.value.to_string(),
        _ => reading.text.clone(),
    }
}

/// A line broken between words, never at a hyphen: ids and commands are copied from the screen.
pub fn filled(line: &str, first: &str, others: &str) -> String {
    let options = textwrap::Options::new(width())
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .break_words(false)
        .initial_indent(first)
        .subsequent_indent(others);
    textwrap::fill(line, &options)
}

/// A message as it is printed: broken between words on a terminal, whole lines elsewhere, where programs may read them.
/// What is indented already is laid out, and stays.
pub fn message(text: &str, terminal: bool) -> String {
    let text = plain(text);
    if !terminal {
        return text;
    }
    let one = |line: &str| match line.starts_with(' ') {
        true => line.to_owned(),
        false => filled(line, "", "  "),
    };
    text.lines().map(one).collect::<Vec<_>>().join("\n")
}

/// Control characters and marks that turn the direction of writing don't reach the terminal.
pub fn plain(text: &str) -> String {
    let turns = |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{061c}');
    text.chars()
        .map(|c| {
            if (c.is_control() && c != '\n') || turns(c) {
                '\u{fffd}'
            } else {
                c
            }
        })
        .collect()
}

fn heading(question: &Question<'_>) -> String {
    let mut parts = vec![format!("{} of {}", question.number, question.of)];
    parts.extend(question.item.trail.iter().cloned());
    let own = question
        .item
        .title
        .clone()
        .filter(|t| question.item.trail.last() != Some(t));
    parts.extend(own);
    if parts.len() == 1 {
        parts.push(question.item.path.replace('_', " "));
    }
    if question.readings > 1 {
        parts.push(format!(
            "reading {} of {}",
            question.reading, question.readings
        ));
    }
    if question.attempt > 1 {
        parts.push(format!("attempt {}", question.attempt));
    }
    parts.join(" · ")
}

/// What stands before the place to type at.
fn sign(question: &Question<'_>) -> String {
    match &question.item.verb {
        Verb::Tell => "Enter when done".to_owned(),
        Verb::Confirm => "yes or no".to_owned(),
        Verb::Choose(options) if is_numbered(options) => "word or number".to_owned(),
        Verb::Choose(_) => "one of these".to_owned(),
        Verb::Enter(_) => "text".to_owned(),
        Verb::Count { .. } => "whole number".to_owned(),
        Verb::Measure { unit, .. } => unit.text().to_owned(),
        Verb::Time { .. } if question.is_in_hours() => {
            "Enter starts the watch, or a time (4 h 10 min, or h:min:s)".to_owned()
        }
        Verb::Time { .. } => "Enter starts the watch, or a time (s, or min:s)".to_owned(),
        Verb::Trace { .. } => "path of the file".to_owned(),
        Verb::Compute { .. } | Verb::Judge => String::new(),
    }
}

/// A limit in words.
fn limit(limit: &Limit) -> String {
    let (low, high) = (
        limit.low.as_ref().map(about),
        limit.high.as_ref().map(about),
    );
    interval_in_words(low.as_deref(), high.as_deref(), limit.strict)
}

/// Limits, of which two that leave one value of the same thing are one: `at most 4` and `at least 4`.
fn both_ends(limits: &[Limit]) -> Vec<Limit> {
    let mut all: Vec<Limit> = Vec::new();
    for limit in limits {
        match all.iter_mut().find(|other| meet(other, limit)) {
            Some(other) => {
                other.low = other.low.take().or_else(|| limit.low.clone());
                other.high = other.high.take().or_else(|| limit.high.clone());
            }
            None => all.push(limit.clone()),
        }
    }
    all
}

/// Whether the upper end of one limit is the lower end of the other.
fn meet(one: &Limit, other: &Limit) -> bool {
    let (low, high) = match (&one.low, &one.high, &other.low, &other.high) {
        (Some(low), None, None, Some(high)) | (None, Some(high), Some(low), None) => (low, high),
        _ => return false,
    };
    let alike = matches!(low.compare(high), Ok(std::cmp::Ordering::Equal));
    one.of == other.of && !one.strict && !other.strict && alike
}

/// The limits of a question: of what, unless it is the reading itself.
pub(super) fn limits(question: &Question<'_>) -> Option<String> {
    let own = question.item.path.rsplit('.').next().unwrap_or_default();
    let ends = both_ends(&question.limits);
    let known = ends.iter().map(|l| {
        if l.of == own {
            limit(l)
        } else {
            format!("{} {}", l.of, limit(l))
        }
    });
    let written = question.as_written.iter();
    let written = written.map(|part| registered(own, part).unwrap_or(part.clone()));
    let said: Vec<String> = known.chain(written).collect();
    (!said.is_empty()).then(|| said.join(" and "))
}

/// `serial == device.serial` and `witness != session.by` in words. What the register says is not shown: who has read it there may not look at the plate.
fn registered(own: &str, part: &str) -> Option<String> {
    if part == format!("{own} != {}", DeviceField::By.name()) {
        return Some("must be somebody else than who runs the session".to_owned());
    }
    let (left, right) = part.split_once(" == ")?;
    let field = |side: &str| DeviceField::of_register().find(|f| f.name() == side);
    let of = match (field(left), field(right)) {
        (None, Some(_)) => left,
        (Some(_), None) => right,
        _ => return None,
    };
    let of = if of == own {
        String::new()
    } else {
        format!("{of} ")
    };
    Some(format!("{of}must match the register"))
}

/// A verdict in a line: the value that was held against the limit with its uncertainty, and the limit.
pub(super) fn verdict(judged: &Judged) -> String {
    let word = if judged.verdict.is_fail() {
        judged.verdict.word().to_uppercase()
    } else {
        judged.verdict.word().to_owned()
    };
    let plain = judged.verdict == Verdict::Pass;
    let held: Vec<String> = judged
        .limits
        .iter()
        .filter_map(|l| held(l, plain))
        .collect();
    match judged.verdict {
        Verdict::NotApplicable | Verdict::NotJudged => format!("{word}: {}", judged.shown),
        _ if !held.is_empty() => format!("{word}: {}", held.join("; ")),
        Verdict::Pass => word,
        _ => format!("{word}: {}", judged.shown),
    }
}

/// What was held against a limit. Value ± U alone where it passes plainly; else the value that decides stands before it.
fn held(of: &Limit, plain: bool) -> Option<String> {
    let value = of.value.as_ref()?;
    let alike = in_unit_of_limit(value, of);
    // A time that was typed is told so.
    let typed = value.shown() != value.clone().untyped().shown();
    let told = named(&of.of, if typed { value } else { &alike });
    let limit = limit(of);
    Some(match &of.uncertainty {
        None => format!("{told} (limit: {limit})"),
        Some(found) => {
            // Of a temperature the uncertainty is a difference; nobody writes that so.
            let rounded = rounded(&alike, found).replace(" delta_", " ");
            if plain {
                format!("{} = {rounded} (limit: {limit})", of.of)
            } else {
                format!("{told}, with its uncertainty {rounded} (limit: {limit})")
            }
        }
    })
}

/// A time, which is kept in seconds, in the unit of its limit; any other value as it is.
fn in_unit_of_limit(value: &Quantity, of: &Limit) -> Quantity {
    let end = of.low.as_ref().or(of.high.as_ref());
    let timed = end.filter(|_| value.unit().text() == "s");
    let other = timed.and_then(|end| value.convert(end.unit()).ok());
    other.unwrap_or_else(|| value.clone())
}

/// What a verdict with a condition means.
fn meaning(verdict: Verdict) -> Option<&'static str> {
    match verdict {
        Verdict::ConditionalPass => {
            Some("inside the limit, but nearer to it than its uncertainty: a person decides")
        }
        Verdict::ConditionalFail => {
            Some("outside the limit by no more than its uncertainty: it counts as a fail")
        }
        _ => None,
    }
}

/// What is said of the decision rule before the first question, where more than the value itself decides.
pub fn rule(decision: Decision) -> Option<&'static str> {
    match decision {
        Decision::Simple => None,
        Decision::Guarded => Some(
            "Decision rule: guarded. A value passes where it is inside its limit by at least its uncertainty U.",
        ),
        Decision::Banded => Some(
            "Decision rule: banded. Nearer to a limit than its uncertainty U, a value passes or fails conditionally.",
        ),
    }
}

/// A name with its value: `=`, or `≈` where it is not shown whole.
fn named(name: &str, quantity: &Quantity) -> String {
    let sign = if quantity.is_shown_whole() {
        "="
    } else {
        "≈"
    };
    format!("{name} {sign} {quantity}")
}

/// A value for a reader, with a sign where it is not shown whole.
pub fn value(of: &Value) -> String {
    match of {
        Value::Quantity(q) => about(q),
        Value::List(items) => items.iter().map(value).collect::<Vec<_>>().join("; "),
        other => other.to_string(),
    }
}

/// A quantity, with a sign where it is not shown whole.
pub fn about(quantity: &Quantity) -> String {
    let near = if quantity.is_shown_whole() {
        ""
    } else {
        "≈ "
    };
    format!("{near}{quantity}")
}
