//! The walk: questions out, lines in, until the session has ended or is paused.
//!
//! Never in here: what an entry does (see the engine), where lines come from. Changes when a session gets a word.

use std::path::Path;
use std::sync::Arc;

use crate::app::{AppError, Held, Session};
use crate::engine::{
    Ended, Event, Question, Refusal, Timer, is_plausible, question, read_entry, settled_since,
};
use crate::plan::{Item, Section, Verb};
use crate::quantity::DecimalSign;

use super::input::{Input, Line, Wanted};
use super::show::Screen;

/// Most refused entries in a row before an unattended walk gives up.
const MAX_REFUSALS: usize = 1_000;

const HELP: &str = "Type what is asked for. A unit typed with a number is converted.
:note TEXT    keep a remark at this step
:file PATH    attach a file; its digest goes into the record
:fix [STEP]   correct an earlier entry (without STEP: the last one); both stay in the record
:skip WHY     pass over this step
:stop WHY     end the session here; the record says why
:pause        keep everything and go on another time
:where        show where the session stands
:help         this list";

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

/// A walk under way.
pub struct Walk<'w, 'h> {
    pub(super) session: &'w mut Session<'h>,
    pub(super) input: &'w mut dyn Input,
    pub(super) screen: Screen,
    /// From where steps that settle themselves have not been shown yet.
    pub(super) shown: usize,
    refusals: usize,
}

impl<'w, 'h> Walk<'w, 'h> {
    /// A walk through a session.
    pub fn new(session: &'w mut Session<'h>, input: &'w mut dyn Input) -> Self {
        let shown = session.state.cursor;
        Self {
            session,
            input,
            screen: Screen::new(),
            shown,
            refusals: 0,
        }
    }

    /// Walks until the end or a pause.
    ///
    /// # Errors
    /// An entry that could not be written; a stored answer that is refused.
    pub fn run(mut self) -> Result<Outcome, AppError> {
        let mut fresh = true;
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

    fn pause(mut self, why: String) -> Result<Outcome, AppError> {
        let at = self.session.now();
        self.keep(Event::Pause { at })?;
        Ok(Outcome::Paused(why))
    }

    /// Keeps an event; a refusal is a fault of ours here.
    fn keep(&mut self, event: Event) -> Result<(), AppError> {
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
        self.screen.question(&question, fresh);
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
                return Ok(Step::Pause(format!(
                    "the stored answers have none for `{path}`"
                )));
            }
        };
        self.echo(&text);
        if let Some(word) = text.trim().strip_prefix(':') {
            return self.word(word, Some(&question.item.path));
        }
        if matches!(question.item.verb, Verb::Time { .. }) && text.trim().is_empty() {
            return self.watch(&question);
        }
        self.entry(&question, &text, None)
    }

    pub(super) fn echo(&mut self, text: &str) {
        if !self.input.echoes() {
            let shown = super::show::plain(text);
            self.screen.raw(&format!("{shown}\n"));
        }
    }

    /// Shows the steps that settled themselves since the last question.
    fn show_settled(&mut self) {
        for index in settled_since(&self.session.state, self.shown) {
            self.screen
                .settled(&self.session.plan, &self.session.state, index);
        }
        self.shown = self.session.state.cursor;
    }

    /// Asks about a value that is not plausible; true if it is right.
    pub(super) fn confirmed(&mut self, item: &Item, text: &str) -> Result<Option<bool>, Refusal> {
        let value = read_entry(item, text, &self.session.head.bench())?;
        if is_plausible(item, &value) {
            return Ok(Some(false));
        }
        let (low, high) = item
            .verb
            .range()
            .map(|(l, h)| (l.shown(), h.shown()))
            .unwrap_or_default();
        self.screen.line(
            2,
            &format!("{value} is outside the plausible range ({low} to {high}). Is it right?"),
        );
        self.screen.raw("yes or no> ");
        match self.input.line(&Wanted::Plausible, Some(self.session)) {
            Line::Text(answer) => {
                self.echo(&answer);
                Ok(matches!(answer.trim().to_lowercase().as_str(), "y" | "yes").then_some(true))
            }
            _ => Ok(None),
        }
    }

    fn entry(
        &mut self,
        question: &Question<'_>,
        text: &str,
        timer: Option<Timer>,
    ) -> Result<Step, AppError> {
        let path = question.item.path.clone();
        let confirmed = match self.confirmed(question.item, text) {
            Ok(Some(confirmed)) => confirmed,
            Ok(None) => {
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
            text: text.to_owned(),
            confirmed,
            timer,
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
        let typed = state.items[question.index]
            .readings
            .last()
            .map(|r| r.value.clone());
        self.screen.converted(question.item, typed.as_ref());
        if complete {
            self.screen.verdicts(state, question.index);
        }
        if state.cursor == question.index && complete && state.ended.is_none() {
            self.screen.line(2, again(question.item));
            if let Some(help) = &question.item.help {
                self.screen.line(2, help);
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

    /// A timed step: start, run, stop.
    fn watch(&mut self, question: &Question<'_>) -> Result<Step, AppError> {
        let path = question.item.path.clone();
        let running = self.session.state.items[question.index].timer.clone();
        let started = match running {
            Some(started) => started,
            None => {
                let at = self.session.now();
                self.keep(Event::TimerStarted {
                    path,
                    at: at.clone(),
                })?;
                at
            }
        };
        let host = self.session.host();
        // A watch that was started before a pause is read off the clock; else off the one that never jumps.
        let before = crate::host::milliseconds_between(&started, &host.now())
            .unwrap_or(0)
            .max(0);
        let begun = host.monotonic();
        let elapsed =
            || before + i64::try_from((host.monotonic() - begun).as_millis()).unwrap_or(i64::MAX);
        let terminal = self.input.is_terminal();
        self.screen.line(2, "the watch runs; Enter stops it");
        let mut tick = {
            let elapsed = &elapsed;
            move || {
                if terminal {
                    let tenths = elapsed() / 100;
                    let mut screen = Screen::new();
                    screen.raw(&format!(
                        "\r{}:{:02}.{} > ",
                        tenths / 600,
                        tenths / 10 % 60,
                        tenths % 10
                    ));
                }
            }
        };
        let line = self
            .input
            .line_while(&Wanted::Entry(question), Some(self.session), &mut tick);
        let Line::Text(text) = line else {
            self.screen.gap();
            return Ok(Step::Pause(
                "the input has ended; the watch runs on".to_owned(),
            ));
        };
        self.echo(&text);
        if let Some(word) = text.trim().strip_prefix(':') {
            return self.word(word, Some(&question.item.path));
        }
        if !text.trim().is_empty() {
            return self.entry(question, &text, None);
        }
        let ms = elapsed();
        let sign = if self.session.head.bench().decimal == DecimalSign::Comma {
            ','
        } else {
            '.'
        };
        let typed = format!("{}{sign}{:03} s", ms / 1000, ms % 1000);
        self.screen.line(2, &typed);
        let stopped = self.session.now();
        self.entry(question, &typed, Some(Timer { started, stopped }))
    }

    /// A word behind a colon.
    fn word(&mut self, word: &str, path: Option<&str>) -> Result<Step, AppError> {
        let (name, rest) = word.split_once(char::is_whitespace).unwrap_or((word, ""));
        let rest = rest.trim();
        let at = self.session.now();
        let here = path.map(str::to_owned);
        let event = match (name, here) {
            ("help", _) => {
                self.screen.line(2, HELP);
                return Ok(Step::Again);
            }
            ("where", _) => {
                self.position();
                return Ok(Step::Again);
            }
            ("pause", _) => return Ok(Step::Pause("as asked".to_owned())),
            ("fix", _) => return self.fix(rest),
            ("note", _) if rest.is_empty() => {
                return self.said("write the note behind it: `:note TEXT`");
            }
            ("file", _) if rest.is_empty() => {
                return self.said("write the file's path behind it: `:file PATH`");
            }
            ("note", Some(path)) => Event::Note {
                path,
                text: rest.to_owned(),
                at,
            },
            ("file", Some(path)) => match self.session.keep_file(Path::new(rest)) {
                Ok((name, digest, bytes)) => Event::File {
                    path,
                    name,
                    digest,
                    bytes,
                    at,
                },
                Err(error) => return self.said(&error.to_string()),
            },
            ("skip", Some(path)) => Event::Skip {
                path,
                why: rest.to_owned(),
                at,
            },
            ("stop", Some(_)) => Event::Stop {
                why: rest.to_owned(),
                at,
            },
            ("note" | "file" | "skip" | "stop", None) => {
                return self.said(
                    "not at the end; Enter closes the session, `:fix STEP` corrects an entry",
                );
            }
            _ => return self.said(&format!("`:{name}` is not known; `:help` lists the words")),
        };
        let kept = matches!(event, Event::Note { .. } | Event::File { .. });
        match self.session.keep(event) {
            Ok(()) if kept => self.said("kept"),
            Ok(()) => Ok(Step::Go),
            Err(Held::Refused(refusal)) => self.said(&refusal.to_string()),
            Err(Held::Unwritten(error)) => Err(error),
        }
    }

    pub(super) fn said(&mut self, text: &str) -> Result<Step, AppError> {
        self.screen.line(2, text);
        Ok(Step::Again)
    }

    /// What has been done and what is still to do.
    fn position(&mut self) {
        let (plan, state) = (&self.session.plan, &self.session.state);
        let asked: Vec<usize> = (0..plan.items.len())
            .filter(|i| plan.items[*i].verb.entries() > 0)
            .collect();
        let done = asked.iter().filter(|i| **i < state.cursor).count();
        let head = &self.session.head;
        let lines = [
            format!(
                "{} rev {} on {} ({} {})",
                head.recipe.id,
                head.recipe.revision,
                head.device.tag,
                head.device.maker,
                head.device.model
            ),
            format!("session {}, begun {}", head.session, head.started),
            format!(
                "{done} of {} steps done; the verdict so far: {}",
                asked.len(),
                so_far(self.session)
            ),
        ];
        let instruments: Vec<String> = head
            .instruments
            .iter()
            .map(|(role, i)| format!("{role}: {} ({}), due {}", i.id, i.kind, i.due))
            .collect();
        for line in lines.iter().chain(&instruments) {
            self.screen.line(2, line);
        }
        let recent: Vec<(String, String)> = asked
            .iter()
            .filter(|i| !state.items[**i].readings.is_empty())
            .map(|i| {
                let texts: Vec<&str> = state.items[*i]
                    .readings
                    .iter()
                    .map(|r| r.text.as_str())
                    .collect();
                (plan.items[*i].path.clone(), texts.join(", "))
            })
            .collect();
        for (path, texts) in recent.iter().skip(recent.len().saturating_sub(8)) {
            self.screen.line(4, &format!("{path}: {texts}"));
        }
    }

    /// The end: a last look before the record is sealed. Nothing where it is to be closed.
    fn closing(&mut self) -> Result<Option<Step>, AppError> {
        self.show_settled();
        if self.session.state.closed.is_some()
            || matches!(self.session.state.ended, Some(Ended::Stopped(_)))
        {
            return Ok(None);
        }
        self.screen.gap();
        let text = match &self.session.state.ended {
            Some(Ended::Failed(index)) => format!(
                "The session ends here: `{}` failed.",
                self.session.plan.items[*index].path
            ),
            _ => "All steps are done.".to_owned(),
        };
        let verdict = so_far(self.session);
        self.screen.line(0, &format!("{text} Verdict: {verdict}."));
        self.screen.line(
            2,
            "Enter seals the record; `:fix STEP` corrects an entry first; `:pause` waits",
        );
        self.screen.raw("Enter> ");
        let line = self.input.line(&Wanted::Closing, Some(self.session));
        let Line::Text(text) = line else {
            self.screen.gap();
            // At a terminal an end of input is a hand that slipped; a pipe has said all that it will say.
            let terminal = self.input.is_terminal();
            return Ok(terminal.then(|| Step::Pause("the input has ended".to_owned())));
        };
        self.echo(&text);
        match text.trim().strip_prefix(':') {
            Some(word) => self.word(word, None).map(Some),
            None if text.trim().is_empty() || matches!(text.trim(), "y" | "yes" | "ok") => Ok(None),
            None => self
                .said("press Enter alone to seal, or use a word: `:fix STEP`, `:pause`")
                .map(Some),
        }
    }
}

/// The verdict as it would be now; before the end only a fail is certain.
fn so_far(session: &Session<'_>) -> &'static str {
    session.state.verdict(&session.plan).word()
}

/// What is said when a step has failed and is asked again.
fn again(item: &Item) -> &'static str {
    match item.section {
        Section::Setup => {
            "This must hold before the first step. Mend it and enter it again, or `:stop WHY`."
        }
        Section::Steps => "It may be done again; `:skip WHY` lets the fail stand.",
    }
}
