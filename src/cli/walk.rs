//! The walk: questions out, lines in, until the session has ended or is paused.
//!
//! Never in here: what an entry does (see the engine), where lines come from. Changes when a session gets a word.

use std::collections::HashMap;
use std::sync::Arc;

use crate::app::{AppError, Ears, Held, OpenShop, Session};
use crate::engine::{
    Event, Heard, Question, Refusal, State, Status, Timer, Verdict, is_plausible, question,
    settled_since,
};
use crate::journal::Head;
use crate::plan::{Item, Section, Verb};
use crate::shop::Shop;
use crate::text::counted;

use super::asked::{finer, shown_by};
use super::hours::{read_otherwise, spelled};
use super::input::{Input, Line, Wanted};
use super::show::{Aside, Screen};
use super::words::path_as_typed;

/// Most refused entries in a row before an unattended walk gives up.
const MAX_REFUSALS: usize = 1_000;

/// What is told after a fail that goes on.
const MISTYPED: &str = "Mistyped? `:fix` corrects it.";

/// Most steps that do not apply for the same reason and are told one by one.
const MOST_ALIKE: usize = 3;

/// How a walk came to its end.
pub enum Outcome {
    /// The session has ended and is to be closed.
    Ended,
    /// It is kept for later; the reason.
    Paused(String),
}

/// What a line did.
pub(super) enum Step {
    /// Something was accepted: ask anew.
    Go,
    /// It was refused or only showed something: ask again.
    Again,
    /// Paused.
    Pause(String),
}

/// What is said to somebody who types something where nothing is asked.
pub(super) const UNDONE: &str =
    "(nothing is asked here yet, and nothing was done; type it at the question)";

/// A walk under way.
pub struct Walk<'w, 'h> {
    pub(super) session: &'w mut Session<'h>,
    pub(super) input: &'w mut dyn Input,
    pub(super) screen: Screen,
    /// From where steps that settle themselves have not been shown yet.
    pub(super) shown: usize,
    refusals: usize,
    /// Whether it was told that a number has more decimals than its instrument shows: once is enough.
    finer_told: bool,
    /// Whose policy says what a record must have.
    pub(super) shop: &'w Shop,
    /// The instruments that speak.
    pub(super) ears: Ears<'w>,
    pub(super) pace: Pace,
    /// The item whose fail stopped the session, once that was told.
    stop_told: Option<usize>,
}

/// What is said of a value that may not be plausible.
pub(super) enum Plausible {
    /// It is right; `confirmed` where that had to be asked.
    Yes {
        /// Whether it was asked.
        confirmed: bool,
    },
    /// It is not.
    No,
    /// Something else was typed.
    Instead(String),
}

/// What a walk tells of time, and of the device before.
#[derive(Default)]
pub struct Pace {
    /// Seconds from a step's question to the end, as past records have it.
    pub left: HashMap<String, i64>,
    /// The options that were picked on the last device of this model, by the paths of their steps.
    pub chosen: HashMap<String, String>,
    /// Whether the end of a wanted duration is heard.
    pub beeps: bool,
    /// Lines that were told before the walk and still stand on the screen.
    pub told: usize,
}

/// Where an entry came from, if it was not simply typed.
#[derive(Default)]
pub(super) struct Source {
    /// The watch.
    pub(super) timer: Option<Timer>,
    /// The instrument's line.
    pub(super) heard: Option<Heard>,
}

impl<'w, 'h> Walk<'w, 'h> {
    /// A walk through a session.
    pub fn new(
        session: &'w mut Session<'h>,
        input: &'w mut dyn Input,
        open: &'w OpenShop,
        pace: Pace,
    ) -> Self {
        let ears = Ears::of(open, session);
        let shown = session.state.cursor;
        Self {
            session,
            input,
            screen: Screen::new(),
            shown,
            refusals: 0,
            finer_told: false,
            shop: &open.shop,
            ears,
            pace,
            stop_told: None,
        }
    }

    /// Walks until the end or a pause.
    ///
    /// # Errors
    /// An entry that could not be written; a stored answer that is refused.
    pub fn run(mut self) -> Result<Outcome, AppError> {
        let mut fresh = true;
        self.wait_until_read();
        if let Some(rule) = super::show::rule(self.session.head.bench().decision) {
            self.screen.gap();
            self.screen.line(0, rule);
        }
        loop {
            if self.screen.is_gone() {
                return self.pause("nobody reads the output any more".to_owned());
            }
            let step = if self.session.state.ended.is_some() {
                match self.closing()? {
                    Some(step) => step,
                    None => return Ok(Outcome::Ended),
                }
            } else {
                self.ask(fresh)?
            };
            match step {
                Step::Go => fresh = true,
                Step::Again => fresh = false,
                Step::Pause(why) => return self.pause(why),
            }
        }
    }

    /// Waits once where what was told before the first question would leave the screen with it.
    fn wait_until_read(&mut self) {
        let mut ahead = Screen::counting();
        if let Some(question) = question(&self.session.plan, &self.session.state) {
            let with = instrument_of(&self.session.head, question.item);
            let aside = Aside {
                speaking: None,
                left: None,
                with,
                again: None,
            };
            ahead.announce(&question, &aside);
        }
        let terminal = self.input.is_terminal();
        if self.pace.told + ahead.shown() < self.screen.held(terminal) {
            return;
        }
        self.input.leave_out_earlier();
        self.screen.raw("Enter when read> ");
        // Whatever is typed: nothing is asked here.
        if let Line::Text(text) = self.input.line(&Wanted::Pick, Some(self.session))
            && !text.trim().is_empty()
        {
            self.screen.line(0, UNDONE);
        }
    }

    fn pause(mut self, why: String) -> Result<Outcome, AppError> {
        let at = self.session.now();
        self.keep(Event::Pause { at })?;
        Ok(Outcome::Paused(why))
    }

    /// Keeps an event; a refusal is a fault of ours here.
    pub(super) fn keep(&mut self, event: Event) -> Result<(), AppError> {
        self.session.keep(event).map_err(|held| match held {
            Held::Refused(refusal) => AppError::new(refusal.to_string()),
            Held::Unwritten(error) => error,
        })
    }

    fn ask(&mut self, fresh: bool) -> Result<Step, AppError> {
        self.show_settled();
        // The question borrows the plan; what follows needs the session whole.
        let plan = Arc::clone(&self.session.plan);
        let Some(question) = question(&plan, &self.session.state) else {
            return Ok(Step::Go);
        };
        if self.session.state.items[question.index].timer.is_some() {
            return self.watch(&question, fresh);
        }
        let speaking = match self.input.place(&question.item.path) {
            None => self.ears.speaking(question.item),
            Some(_) => None,
        };
        let speaks = speaking.is_some();
        let head = &self.session.head;
        let aside = Aside {
            speaking,
            left: self.pace.left.get(&question.item.path).copied(),
            with: instrument_of(head, question.item),
            again: self.chosen_before(question.item),
        };
        if fresh {
            self.screen.announce(&question, &aside);
        }
        self.input.leave_out_earlier();
        self.screen.sign(&question, &aside);
        let line = self
            .input
            .line(&Wanted::Entry(&question), Some(self.session));
        let text = match line {
            Line::Text(text) => text,
            Line::End => {
                self.screen.gap();
                return Ok(Step::Pause("the input has ended".to_owned()));
            }
            Line::Missing(path) => {
                self.screen.gap();
                return Ok(Step::Pause(lacking_answers(&question, &path)));
            }
        };
        self.echo(&text);
        if speaks && matches!(text.trim(), "" | ":read") {
            return self.offer(&question);
        }
        let again = self.chosen_before(question.item);
        if let Some(again) = again.filter(|_| text.trim().is_empty()) {
            return self.answered(&question, &again);
        }
        self.answered(&question, &text)
    }

    /// The option that was picked on the device before, where it is still one.
    fn chosen_before(&self, item: &Item) -> Option<String> {
        // As it was typed: a number, the beginning of a word, or the word.
        let typed = self.pace.chosen.get(&item.path)?;
        let value = self.session.read(item, typed).ok()?;
        matches!(item.verb, Verb::Choose(_)).then(|| value.to_string())
    }

    /// What was typed at a question.
    pub(super) fn answered(
        &mut self,
        question: &Question<'_>,
        text: &str,
    ) -> Result<Step, AppError> {
        if text.trim() == "?" {
            return self.word("help", Some(&question.item.path));
        }
        if let Some(word) = text.trim().strip_prefix(':') {
            return self.word(word, Some(&question.item.path));
        }
        if matches!(question.item.verb, Verb::Time { .. }) && text.trim().is_empty() {
            return self.start_watch(question);
        }
        self.entry(question, text, Source::default())
    }

    pub(super) fn echo(&mut self, text: &str) {
        if !self.input.echoes() {
            let shown = super::show::plain(text);
            self.screen.raw(&format!("{shown}\n"));
        }
    }

    /// Shows the steps that settled themselves since the last question.
    pub(super) fn show_settled(&mut self) {
        let state = &self.session.state;
        let mut failed = false;
        let plan = &self.session.plan;
        let settled = settled_since(state, self.shown);
        for run in settled.chunk_by(|a, b| is_alike(state, *a, *b)) {
            if run.len() > MOST_ALIKE {
                self.screen.inapplicable(plan, state, run);
                continue;
            }
            for &index in run {
                self.screen.settled(plan, state, index);
                let mut judged = state.items[index].criteria().iter();
                let fails = judged.any(|j| j.verdict == Verdict::Fail);
                let goes_on = state.ended.is_none() && state.stopped_at != Some(index);
                if let Some(help) = plan.items[index].help.as_ref().filter(|_| fails && goes_on) {
                    self.screen.line(2, help);
                }
                failed |= fails;
            }
        }
        if failed && state.ended.is_none() && self.input.is_terminal() {
            self.screen.line(2, MISTYPED);
        }
        self.shown = state.cursor;
        if state.ended.is_none() && state.stopped_at != self.stop_told {
            self.tell_stop();
        }
    }

    /// Tells that only what is asked after a stop is left, and what the recipe says of the fail.
    fn tell_stop(&mut self) {
        let plan = &self.session.plan;
        self.stop_told = self.session.state.stopped_at;
        let Some(failed) = self.stop_told.map(|index| &plan.items[index]) else {
            return;
        };
        let left = self.session.state.items.iter().zip(&plan.items);
        let left = left.filter(|(went, item)| item.after_stop && went.status == Status::Pending);
        let text = format!(
            "`{}` failed: the session ends, but for {} asked after a stop.",
            failed.path,
            counted(left.count(), "step")
        );
        self.screen.gap();
        self.screen.line(0, &text);
        if let Some(help) = &failed.help {
            self.screen.line(2, help);
        }
    }

    /// Asks about a value that is not plausible, or may have been read otherwise than it was meant.
    pub(super) fn confirmed(
        &mut self,
        question: &Question<'_>,
        text: &str,
    ) -> Result<Plausible, Refusal> {
        let item = question.item;
        if matches!(item.verb, Verb::Trace { .. }) {
            // A log was read when its file was taken; nothing of it is plausible or not.
            return Ok(Plausible::Yes { confirmed: false });
        }
        let value = self.session.read(item, text)?;
        let plausible = is_plausible(item, &value);
        if let Some(ask) = read_otherwise(question, text) {
            return match self.asked(&ask, &Wanted::Doubtful) {
                Some(true) => Ok(Plausible::Yes {
                    confirmed: !plausible,
                }),
                Some(false) => Ok(Plausible::No),
                // Stored answers agree to nothing that may have been meant otherwise.
                None => Err(Refusal(ask.trim_end_matches(" Is it right?").to_owned())),
            };
        }
        if plausible {
            return Ok(Plausible::Yes { confirmed: false });
        }
        let (low, high) = item
            .verb
            .range()
            .map(|(l, h)| (l.shown(), h.shown()))
            .unwrap_or_default();
        let timed = matches!(item.verb, Verb::Time { .. });
        let read = timed.then(|| spelled(text)).flatten();
        let read = read.map_or(String::new(), |read| format!(" ({read})"));
        self.screen.line(
            2,
            &format!(
                "{value}{read} is outside the plausible range ({low} to {high}). Is it right?"
            ),
        );
        self.input.leave_out_earlier();
        self.screen.raw("yes or no> ");
        let Line::Text(answer) = self.input.line(&Wanted::Plausible, Some(self.session)) else {
            return Ok(Plausible::No);
        };
        self.echo(&answer);
        let answer = answer.trim();
        Ok(match answer.to_lowercase().as_str() {
            "y" | "yes" => Plausible::Yes { confirmed: true },
            "" | "n" | "no" => Plausible::No,
            _ => Plausible::Instead(answer.to_owned()),
        })
    }

    pub(super) fn entry(
        &mut self,
        question: &Question<'_>,
        text: &str,
        source: Source,
    ) -> Result<Step, AppError> {
        let path = question.item.path.clone();
        let file = match question.item.verb {
            Verb::Trace { .. } => path_as_typed(text).display().to_string(),
            _ => text.to_owned(),
        };
        let text = match self.session.take_log(question.item, &file) {
            Ok(text) => text,
            Err(Held::Refused(refusal)) => return self.refused(&path, &refusal),
            Err(Held::Unwritten(error)) => return Err(error),
        };
        let confirmed = match self.confirmed(question, &text) {
            Ok(Plausible::Yes { confirmed }) => confirmed,
            Ok(Plausible::Instead(other)) => return self.answered(question, &other),
            Ok(Plausible::No) => {
                return self.refused(
                    &path,
                    &Refusal("not taken; enter the value again".to_owned()),
                );
            }
            Err(refusal) => return self.refused(&path, &refusal),
        };
        let at = self.session.now();
        let event = Event::Entry {
            path: path.clone(),
            text,
            confirmed,
            timer: source.timer,
            heard: source.heard,
            at,
        };
        match self.session.keep(event) {
            Ok(()) => {}
            Err(Held::Refused(refusal)) => return self.refused(&path, &refusal),
            Err(Held::Unwritten(error)) => return Err(error),
        }
        self.refusals = 0;
        let state = &self.session.state;
        let complete = state.items[question.index]
            .readings
            .len()
            .is_multiple_of(question.readings);
        if let Some(reading) = state.items[question.index].readings.last() {
            self.screen.converted(question.item, reading);
            let bench = self.session.bench();
            let with = shown_by(bench, question.item);
            let typed = Some(&reading.text).filter(|_| reading.heard.is_none());
            let finer = typed.and_then(|t| finer(question.item, t, bench.decimal, with));
            if let Some(told) = finer.filter(|_| !self.finer_told) {
                self.screen.line(2, &told);
                self.finer_told = true;
            }
        }
        let criteria = state.items[question.index].criteria();
        let failed = complete && criteria.iter().any(|j| j.verdict == Verdict::Fail);
        if complete {
            self.screen.verdicts(state, question.index);
        }
        if state.cursor == question.index && complete && state.ended.is_none() {
            self.screen.line(2, again(question.item));
            if let Some(help) = &question.item.help {
                self.screen.line(2, help);
            }
        } else if failed && state.ended.is_none() {
            let goes_on = state.stopped_at != Some(question.index);
            if let Some(help) = question.item.help.as_ref().filter(|_| goes_on) {
                self.screen.line(2, help);
            }
            if self.input.is_terminal() {
                self.screen.line(2, MISTYPED);
            }
        }
        self.shown = self
            .shown
            .max(question.index + 1)
            .min(self.session.state.cursor.max(question.index));
        Ok(Step::Go)
    }

    /// Says why something was not taken. Stored answers can't be asked again.
    pub(super) fn refused(&mut self, path: &str, refusal: &Refusal) -> Result<Step, AppError> {
        self.refusals += 1;
        if let Some(place) = self.input.place(path) {
            let at = self.session.now();
            self.keep(Event::Pause { at })?;
            return Err(AppError::new(format!(
                "{place}: the answer for `{path}` can't be taken: {refusal}\nall before it is safe; mend the answer and go on with `stepwell resume {} --answers FILE`",
                self.session.head.session
            )));
        }
        self.screen.line(2, &refusal.to_string());
        if self.refusals > MAX_REFUSALS {
            return Ok(Step::Pause(
                "too many entries were refused in a row".to_owned(),
            ));
        }
        Ok(Step::Again)
    }

    pub(super) fn said(&mut self, text: &str) -> Result<Step, AppError> {
        self.screen.line(2, text);
        Ok(Step::Again)
    }
}

/// Whether two items do not apply for the same reason.
fn is_alike(state: &State, a: usize, b: usize) -> bool {
    match (&state.items[a].status, &state.items[b].status) {
        (Status::NotApplicable(one), Status::NotApplicable(other)) => one == other,
        _ => false,
    }
}

/// The instrument that a step is read from.
pub(super) fn instrument_of<'s>(head: &'s Head, item: &Item) -> Option<&'s str> {
    let instrument = head.instruments.get(item.verb.role()?)?;
    Some(&instrument.id)
}

/// What the stored answers lack.
fn lacking_answers(question: &Question<'_>, path: &str) -> String {
    if question.attempt > 1 && question.item.section == Section::Setup {
        return format!(
            "`{path}` does not hold, and the stored answers have no other one for it; the setup must hold before the first step"
        );
    }
    let has = match question.reading - 1 {
        0 => "none".to_owned(),
        given => format!("{given} of {}", question.readings),
    };
    format!("the stored answers have {has} for `{path}`")
}

/// What is said when a step has failed and is asked again.
fn again(item: &Item) -> &'static str {
    match item.section {
        Section::Setup => {
            "This must hold before the first step. Mend it and enter it again, or `:stop WHY`."
        }
        Section::Steps => {
            "Mistyped? `:fix` corrects it. Else it may be done again; `:skip WHY` lets the fail stand."
        }
    }
}
