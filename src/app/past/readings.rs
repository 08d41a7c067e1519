//! What is read in a session of the past: the stored readings of its recipe, a little otherwise each time, by a fixed seed.
//!
//! Never in here: what is out of the ordinary (see `stories`). Changes when readings are to scatter otherwise.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

use crate::engine::{Event, question};
use crate::plan::{Item, Plan, Section, Verb};
use crate::text::Source;

use super::super::AppError;
use super::super::answers::{Answers, Given, read_answers};
use super::super::demo::{demo_answers, demo_text};
use super::super::session::Session;
use super::revision::RECIPE;
use super::schedule::Visit;

/// The seed of all readings; the number of the session is added.
const SEED: u64 = 20_241_126;
/// How far the flow of one run is off, more or less, as a ratio.
const FLOW_SCATTER: f64 = 0.0015;
/// How far an occlusion alarm is off, more or less, in psi.
const ALARM_SCATTER: f64 = 0.25;
/// Which part of a reading its last digit may be to be changed.
const SMALL: f64 = 0.0025;

/// The readings of a session.
pub(super) struct Readings<'v> {
    visit: &'v Visit,
    answers: Answers,
    drawn: ChaCha8Rng,
}

impl<'v> Readings<'v> {
    /// From the stored readings of the visit's recipe.
    pub(super) fn of(visit: &'v Visit, plan: &Plan) -> Result<Self, AppError> {
        let file = format!("answers/{}-pass.yaml", visit.recipe);
        let text = if visit.recipe == RECIPE {
            demo_answers()
        } else {
            demo_text(&file)
        };
        let mut answers =
            read_answers(Source::new(&file, text), plan).map_err(AppError::Findings)?;
        for (path, texts) in &mut answers.answers {
            if last(path) == "serial" {
                *texts = vec![visit.device.serial.clone()];
            }
        }
        answers.corrections.extend(visit.fix.clone());
        Ok(Self {
            visit,
            answers,
            drawn: ChaCha8Rng::seed_from_u64(SEED + visit.number),
        })
    }

    /// What is done where the session stands.
    pub(super) fn next(&mut self, session: &Session<'_>) -> Result<Option<Event>, AppError> {
        let at = session.now();
        let Some(asked) = question(&session.plan, &session.state) else {
            return Ok(self.answers.next_fix(session).map(|fix| Event::Fix {
                path: fix.path.clone(),
                reading: fix.reading,
                text: fix.to.clone(),
                confirmed: true,
                why: fix.why.clone(),
                at,
            }));
        };
        let path = asked.item.path.clone();
        let given = session.state.items[asked.index].readings.len();
        let instead = self.visit.instead.iter().find(|(p, _)| *p == path);
        if let Some(text) = instead.and_then(|(_, texts)| texts.get(given)) {
            return Ok(Some(entry(path, (*text).to_owned(), at)));
        }
        match self.answers.entry(&asked, session) {
            Given::Text(text) => {
                let text = self.scattered(asked.item, &text);
                Ok(Some(entry(path, text, at)))
            }
            Given::Skip(why) => Ok(Some(Event::Skip { path, why, at })),
            Given::Missing => Err(AppError::new(format!(
                "the demo's answers for `{}` have none for the step `{path}`",
                self.visit.recipe
            ))),
        }
    }

    /// A reading a little otherwise; with as many digits as it had. What must hold before a test begins stays.
    fn scattered(&mut self, item: &Item, text: &str) -> String {
        let is_reading = matches!(item.verb, Verb::Measure { .. });
        if !is_reading || item.section == Section::Setup {
            return text.to_owned();
        }
        let length = text.len() - text.trim_start_matches(is_of_number).len();
        let (number, unit) = text.split_at(length);
        let Ok(value) = number.parse::<f64>() else {
            return text.to_owned();
        };
        let digits = number.split_once('.').map_or(0, |(_, behind)| behind.len());
        let drawn = self.draw();
        let value = match last(&item.path) {
            "delivered" => value * (1.0 + self.visit.flow_error + FLOW_SCATTER * drawn),
            "alarm_pressure" => value + self.visit.alarm_shift + ALARM_SCATTER * drawn,
            _ => value + last_digit(value, digits, drawn),
        };
        format!("{value:.digits$}{unit}")
    }

    /// About as a normal deviate, and never beyond 3.5: the sum of twelve even ones is cut.
    fn draw(&mut self) -> f64 {
        let mut even = || f64::from(self.drawn.next_u32()) / f64::from(u32::MAX);
        let sum: f64 = (0..12).map(|_| even()).sum();
        (sum - 6.0).clamp(-3.5, 3.5)
    }
}

/// The last digit is one more or less each third time, where it is small enough to matter to no limit.
fn last_digit(value: f64, digits: usize, drawn: f64) -> f64 {
    let step = 0.1_f64.powi(i32::try_from(digits).unwrap_or(0));
    if drawn.abs() < 1.0 || step > SMALL * value.abs() {
        return 0.0;
    }
    step.copysign(drawn)
}

fn is_of_number(c: char) -> bool {
    c.is_ascii_digit() || matches!(c, '.' | '-')
}

/// The last part of a path.
fn last(path: &str) -> &str {
    path.rsplit('.').next().unwrap_or(path)
}

fn entry(path: String, text: String, at: String) -> Event {
    Event::Entry {
        path,
        text,
        confirmed: true,
        timer: None,
        heard: None,
        at,
    }
}
