//! How a walk looks on the screen: plain lines of at most 80 columns, for a terminal, a pipe and a screen reader alike.
//!
//! Never in here: what is asked. Changes when a prompt looks otherwise.

use std::io::Write;

use crate::engine::{Judged, Limit, Question, State, Status, Verdict};
use crate::plan::{Item, Plan, Value, Verb};

const WIDTH: usize = 80;

/// The screen, with whether it still takes lines.
pub struct Screen {
    gone: bool,
}

impl Screen {
    /// Standard output.
    pub fn new() -> Self {
        Self { gone: false }
    }

    /// Whether nobody reads any more (a closed pipe).
    pub fn is_gone(&self) -> bool {
        self.gone
    }

    /// Writes without a line feed.
    pub fn raw(&mut self, text: &str) {
        let mut out = std::io::stdout().lock();
        if out
            .write_all(text.as_bytes())
            .and_then(|()| out.flush())
            .is_err()
        {
            self.gone = true;
        }
    }

    /// Writes a line, wrapped, with `indent` blanks before it.
    pub fn line(&mut self, indent: usize, text: &str) {
        let blanks = " ".repeat(indent);
        let hanging = format!("{blanks}  ");
        let options = textwrap::Options::new(WIDTH)
            .initial_indent(&blanks)
            .subsequent_indent(&hanging);
        for part in plain(text).lines() {
            let wrapped = textwrap::fill(part, &options);
            self.raw(&wrapped);
            self.raw("\n");
        }
    }

    /// Writes an empty line.
    pub fn gap(&mut self) {
        self.raw("\n");
    }

    /// Shows a question and the sign to type at.
    pub fn question(&mut self, question: &Question<'_>, fresh: bool) {
        if fresh {
            self.gap();
            self.line(0, &heading(question));
            for caution in &question.item.cautions {
                self.line(2, &format!("Caution: {caution}"));
            }
            self.line(2, &question.sentence);
            if let Verb::Choose(options) = &question.item.verb {
                for (number, option) in options.iter().enumerate() {
                    self.line(4, &format!("{} {option}", number + 1));
                }
            }
            let limits: Vec<String> = question.limits.iter().map(limit).collect();
            if !limits.is_empty() {
                self.line(2, &format!("Limit: {}", limits.join(" and ")));
            }
        }
        self.raw(&format!("{}> ", sign(question)));
    }

    /// Shows what an entry in another unit was converted to.
    pub fn converted(&mut self, item: &Item, typed: Option<&Value>) {
        let Some(Value::Quantity(q)) = typed else {
            return;
        };
        let unit = item.verb.unit().filter(|u| u != q.unit());
        if let Some(converted) = unit.and_then(|u| q.convert(&u).ok()) {
            self.line(2, &format!("{q} = {converted}"));
        }
    }

    /// Shows the verdicts of a step.
    pub fn verdicts(&mut self, state: &State, index: usize) {
        for judged in state.items[index].criteria() {
            self.line(2, &verdict(judged));
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
                let value = went.value().map(ToString::to_string).unwrap_or_default();
                let near = if went.value().is_some_and(|v| !v.is_exact()) {
                    "≈"
                } else {
                    "="
                };
                self.line(2, &format!("{name} {near} {value}"));
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
}

/// Control characters and marks that turn the direction of writing don't reach the terminal.
pub fn plain(text: &str) -> String {
    let turns = |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}');
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
        Verb::Choose(_) => "word or number".to_owned(),
        Verb::Enter(_) => "text".to_owned(),
        Verb::Count { .. } => "whole number".to_owned(),
        Verb::Measure { unit, .. } => unit.text().to_owned(),
        Verb::Time { .. } => "Enter starts the watch, or a time".to_owned(),
        Verb::Compute { .. } | Verb::Judge => String::new(),
    }
}

/// A limit in words.
pub fn limit(limit: &Limit) -> String {
    match (&limit.low, &limit.high) {
        (Some(low), Some(high)) if low == high => low.shown(),
        (Some(low), Some(high)) => format!("{low} to {high}"),
        (Some(low), None) => format!("at least {low}"),
        (None, Some(high)) => format!("at most {high}"),
        (None, None) => "none".to_owned(),
    }
}

/// A verdict in a line: short where all is well, with the values where it is not.
fn verdict(judged: &Judged) -> String {
    let limits: Vec<String> = judged.limits.iter().map(limit).collect();
    let limits = if limits.is_empty() {
        String::new()
    } else {
        format!(" (limit: {})", limits.join(" and "))
    };
    match judged.verdict {
        Verdict::Pass => format!("pass{limits}"),
        Verdict::Fail => format!("FAIL: {}{limits}", judged.shown),
        other => format!("{}: {}", other.word(), judged.shown),
    }
}

/// A limit of a record in words.
pub fn limit_of_record(of: &crate::record::Limit) -> String {
    let shown = |q: &crate::record::Quantity| {
        let quantity = crate::quantity::parse_quantity(&format!("{} {}", q.value, q.unit));
        quantity.map_or_else(
            |_| format!("{} {}", q.value, q.unit),
            |parsed| parsed.untyped().shown(),
        )
    };
    match (&of.low, &of.high) {
        (Some(low), Some(high)) if low == high => shown(low),
        (Some(low), Some(high)) => format!("{} to {}", shown(low), shown(high)),
        (Some(low), None) => format!("at least {}", shown(low)),
        (None, Some(high)) => format!("at most {}", shown(high)),
        (None, None) => "none".to_owned(),
    }
}
