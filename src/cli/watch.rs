//! Timed steps: start, a running display at a terminal, stop.
//!
//! Never in here: typed durations. Changes when a watch can do something new.

use crate::app::AppError;
use crate::engine::{Event, Question, Timer};
use crate::quantity::{DecimalSign, Unit};

use super::input::{Line, Wanted};
use super::show::{Aside, Screen};
use super::walk::{Source, Step, Walk, instrument_of};

/// A time below this is likely to be a key that was hit twice, in milliseconds.
const HASTY_MS: i64 = 3_000;
/// What a terminal makes a sound of.
const BELL: &str = "\u{7}";
/// Takes a time away that stands at the beginning of the line.
const BLANK: &str = "\r             \r";

impl Walk<'_, '_> {
    /// Starts the watch; the start is kept, so that a watch outlives the program.
    pub(super) fn start_watch(&mut self, question: &Question<'_>) -> Result<Step, AppError> {
        let event = Event::TimerStarted {
            path: question.item.path.clone(),
            at: self.session.now(),
        };
        self.keep(event)?;
        self.watch(question, false)
    }

    /// Waits for the stop of a watch that runs.
    pub(super) fn watch(
        &mut self,
        question: &Question<'_>,
        resumed: bool,
    ) -> Result<Step, AppError> {
        let Some(started) = self.session.state.items[question.index].timer.clone() else {
            return Ok(Step::Go);
        };
        if resumed {
            let aside = Aside {
                speaking: None,
                left: self.pace.left.get(&question.item.path).copied(),
                with: instrument_of(&self.session.head, question.item),
                again: None,
            };
            self.screen.announce(question, &aside);
        }
        let host = self.session.host();
        // A watch that was started before a pause is read off the clock; else off the one that never jumps.
        let before = crate::host::milliseconds_between(&started, &host.now())
            .unwrap_or(0)
            .max(0);
        let begun = host.monotonic();
        let elapsed =
            || before + i64::try_from((host.monotonic() - begun).as_millis()).unwrap_or(i64::MAX);
        let since = started.get(11..19).unwrap_or(&started);
        self.input.leave_out_earlier();
        self.screen.line(
            2,
            &format!(
                "the computer's watch has run since {since}; Enter stops it, `start` starts it anew"
            ),
        );
        let terminal = self.input.is_terminal();
        // What has gone by already was heard.
        let mut awaited = wanted_ms(question).filter(|ms| self.pace.beeps && elapsed() < *ms);
        let mut tick = || {
            let ms = elapsed();
            let bell = match awaited {
                Some(wanted) if ms >= wanted => BELL,
                _ => "",
            };
            if !bell.is_empty() {
                awaited = None;
            }
            if terminal {
                Screen::new().raw(&format!("{bell}\r{} > ", clock(ms)));
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
        let ms = elapsed();
        if terminal {
            // The time may have been shown once more behind the Enter; nothing else goes on that line.
            self.screen.raw(BLANK);
        }
        self.echo(&text);
        match text.trim() {
            "" => self.stop_watch(question, started, ms),
            "start" => self.start_watch(question),
            "?" => self
                .word("help", Some(&question.item.path))
                .map(|_| Step::Go),
            word if word.starts_with(':') => {
                let step = self.word(&word[1..], Some(&question.item.path))?;
                // The watch runs on and is shown again, unless the step is over.
                Ok(if matches!(step, Step::Again) {
                    Step::Go
                } else {
                    step
                })
            }
            _ => self.entry(question, &text, Source::default()),
        }
    }

    fn stop_watch(
        &mut self,
        question: &Question<'_>,
        started: String,
        ms: i64,
    ) -> Result<Step, AppError> {
        let comma = self.session.head.bench().decimal == DecimalSign::Comma;
        let typed = format!(
            "{}{}{:03} s",
            ms / 1000,
            if comma { ',' } else { '.' },
            ms % 1000
        );
        self.screen
            .line(2, &format!("{typed}, timed by the computer"));
        let hasty = wanted_ms(question).map_or(HASTY_MS, |wanted| wanted.min(HASTY_MS));
        if ms < hasty && self.input.is_terminal() && !self.agreed("That was short. Is it right?") {
            return Ok(Step::Go);
        }
        let stopped = self.session.now();
        let timer = Some(Timer { started, stopped });
        let source = Source {
            timer,
            ..Source::default()
        };
        self.entry(question, &typed, source)
    }

    /// Asks a question that is answered with yes or no.
    pub(super) fn agreed(&mut self, text: &str) -> bool {
        self.asked(text, &Wanted::Plausible) == Some(true)
    }

    /// Asks a question of yes or no; nothing where nobody answers.
    pub(super) fn asked(&mut self, text: &str, wanted: &Wanted<'_>) -> Option<bool> {
        self.screen.line(2, text);
        self.input.leave_out_earlier();
        self.screen.raw("yes or no> ");
        match self.input.line(wanted, Some(self.session)) {
            Line::Text(answer) => {
                self.echo(&answer);
                let answer = answer.trim().to_lowercase();
                Some(matches!(answer.as_str(), "y" | "yes"))
            }
            _ => None,
        }
    }
}

/// How long it is to run at least, where the step's criterion says so, in milliseconds.
fn wanted_ms(question: &Question<'_>) -> Option<i64> {
    let own = question.item.path.rsplit('.').next()?;
    let second = Unit::parse("s").ok()?;
    let low = question.limits.iter().filter(|l| l.of == own);
    let low = low.filter_map(|l| l.low.as_ref()?.convert(&second).ok());
    let longest = low.map(|q| q.value().to_f64()).fold(0.0, f64::max);
    (longest > 0.0).then_some((longest * 1_000.0) as i64)
}

/// A running time as `2:05.3`.
fn clock(ms: i64) -> String {
    let tenths = ms / 100;
    format!("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}
