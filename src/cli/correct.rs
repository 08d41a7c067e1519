//! `:fix`: correcting an earlier entry. The first one stays in the record.
//!
//! Never in here: what a correction does (see the engine). Changes when a correction asks for something new.

use std::sync::Arc;

use crate::app::{AppError, Held};
use crate::engine::{Event, Question, Refusal, question_at};
use crate::plan::Item;

use super::input::{FixPart, Line, Wanted};
use super::show::told;
use super::standing::standing;
use super::walk::{Plausible, Step, Walk};

impl Walk<'_, '_> {
    /// Corrects an entry of a step, or takes a skipped one up again; without a name, the step that was entered last.
    pub(super) fn fix(&mut self, step: &str) -> Result<Step, AppError> {
        let wanted = if step.is_empty() {
            self.last_entered()
        } else {
            Some(step.to_owned())
        };
        let Some(wanted) = wanted else {
            return self.said("nothing has been entered yet");
        };
        let items = &self.session.state.items;
        let entered = |index: usize| !items[index].readings.is_empty();
        let index = match self.session.plan.find_step(&wanted, &entered) {
            Ok(index) => index,
            Err(why) => return self.said(&why),
        };
        let item = self.session.plan.items[index].clone();
        let went = &self.session.state.items[index];
        if went.skipped.is_some() && went.readings.is_empty() {
            let event = Event::Reopen {
                path: Some(item.path),
                at: self.session.now(),
            };
            return self.changed(event, "taken up again");
        }
        let texts: Vec<String> = went.readings.iter().map(|r| r.text.clone()).collect();
        if texts.is_empty() {
            return self.said(&format!("nothing has been entered for `{}` yet", item.path));
        }
        self.screen.line(2, &heading(&item));
        let places = places(item.verb.entries().max(1), texts.len());
        let shown: Vec<String> = went.readings.iter().map(|r| told(&item, r)).collect();
        let Some(reading) = self.which(&shown, &places) else {
            return self.said("nothing was changed");
        };
        self.screen.line(
            2,
            &standing_there(&places[reading - 1], &shown[reading - 1]),
        );
        let plan = Arc::clone(&self.session.plan);
        let index = plan.items.iter().position(|i| i.path == item.path);
        let question = index.and_then(|i| question_at(&plan, &self.session.state, i));
        let right = question.map(|q| self.right_entry(&q)).transpose()?;
        let Some((text, confirmed)) = right.flatten() else {
            return self.said("nothing was changed");
        };
        if text == texts[reading - 1] {
            return self.said("that is what stands there already; nothing was changed");
        }
        if let Ok(value) = self.session.read(&item, &text) {
            self.screen.taken(&item, &text, &value);
        }
        let Some(why) = self.reason() else {
            return self.said("nothing was changed; a correction needs a reason");
        };
        let event = Event::Fix {
            path: item.path,
            reading,
            text,
            confirmed,
            why,
            at: self.session.now(),
        };
        self.changed(
            event,
            "corrected; the first entry stays readable in the record",
        )
    }

    /// Keeps an event that may change what came after, and shows what it changed.
    fn changed(&mut self, event: Event, said: &str) -> Result<Step, AppError> {
        let before = standing(&self.session.plan, &self.session.state);
        match self.session.keep(event) {
            Ok(()) => {}
            Err(Held::Refused(refusal)) => return self.said(&refusal.to_string()),
            Err(Held::Unwritten(error)) => return Err(error),
        }
        self.screen.line(2, said);
        let after = standing(&self.session.plan, &self.session.state);
        let state = &self.session.state;
        // What lies behind a step that is asked now is kept, and told of once that is entered.
        let told = before.iter().zip(&after).take(state.cursor + 1);
        for (_, now) in told.filter(|(before, now)| before != now) {
            self.screen.line(4, now);
        }
        let open = state.ended.is_none();
        let behind = state.items.iter().skip(state.cursor + 1);
        if open && behind.into_iter().any(|i| !i.readings.is_empty()) {
            self.screen.line(
                2,
                "what was entered for later steps is kept, and judged again behind this one",
            );
        }
        self.shown = self.session.state.cursor;
        Ok(Step::Go)
    }

    /// The step that was done last; without an entry the one that the session ended at.
    pub(super) fn last_done(&self) -> Option<String> {
        let items = &self.session.plan.items;
        let ended = self.session.state.cursor.min(items.len().saturating_sub(1));
        self.last_entered()
            .or_else(|| items.get(ended).map(|i| i.path.clone()))
    }

    /// The step with the latest entry.
    fn last_entered(&self) -> Option<String> {
        self.session
            .events
            .iter()
            .rev()
            .find_map(|event| match event {
                Event::Entry { path, .. } => Some(path.clone()),
                _ => None,
            })
    }

    /// Asks why; an empty line may be a hand that was too fast, a second one leaves the entry as it was.
    fn reason(&mut self) -> Option<String> {
        let why = self.part(FixPart::Why, "why")?;
        if !why.is_empty() {
            return Some(why);
        }
        self.screen.line(
            2,
            "a correction needs a reason; another empty line changes nothing",
        );
        self.part(FixPart::Why, "why").filter(|w| !w.is_empty())
    }

    /// Asks for one part of a correction; nothing if the input has ended.
    fn part(&mut self, part: FixPart, sign: &str) -> Option<String> {
        loop {
            self.input.leave_out_earlier();
            self.screen.raw(&format!("{sign}> "));
            let Line::Text(text) = self.input.line(&Wanted::Fix(part), Some(self.session)) else {
                return None;
            };
            self.echo(&text);
            if !text.trim().starts_with(':') {
                return Some(text.trim().to_owned());
            }
            self.screen
                .line(2, "finish the correction first; an empty line leaves it");
        }
    }

    /// Which of several entries; nothing if it is called off with an empty line.
    fn which(&mut self, texts: &[String], places: &[String]) -> Option<usize> {
        let count = texts.len();
        if count == 1 {
            return Some(1);
        }
        for (number, (text, place)) in (1..).zip(texts.iter().zip(places)) {
            self.screen.line(4, &format!("{number} {text} ({place})"));
        }
        loop {
            let typed = self
                .part(FixPart::Reading, &format!("which entry, 1 to {count}"))
                .filter(|t| !t.is_empty())?;
            match typed.parse::<usize>() {
                Ok(number) if (1..=count).contains(&number) => return Some(number),
                _ => self.screen.line(
                    2,
                    &format!("type a number from 1 to {count}; an empty line changes nothing"),
                ),
            }
        }
    }

    /// The right entry, and whether it is outside the plausible range and was confirmed.
    fn right_entry(&mut self, question: &Question<'_>) -> Result<Option<(String, bool)>, AppError> {
        let item = question.item;
        let mut instead = None;
        loop {
            let Some(text) = instead.take().or_else(|| {
                self.part(FixPart::Text, "the right entry")
                    .filter(|t| !t.is_empty())
            }) else {
                return Ok(None);
            };
            if matches!(text.trim(), "?" | ":help") {
                self.told_of(question);
                continue;
            }
            let text = match self.session.take_log(item, &text) {
                Ok(text) => text,
                Err(Held::Refused(refusal)) => {
                    self.screen.line(2, &refusal.to_string());
                    continue;
                }
                Err(Held::Unwritten(error)) => return Err(error),
            };
            let refusal = match self.confirmed(question, &text) {
                Ok(Plausible::Yes { confirmed }) => return Ok(Some((text, confirmed))),
                Ok(Plausible::Instead(other)) if !other.starts_with(':') => {
                    instead = Some(other);
                    continue;
                }
                Ok(_) => Refusal("not taken; an empty line changes nothing".to_owned()),
                Err(refusal) => refusal,
            };
            if let Step::Pause(why) = self.refused(&item.path, &refusal)? {
                return Err(AppError::new(why));
            }
        }
    }
}

/// What a step is called in the heading of a correction: its title with its path, the path alone where it has no other title.
fn heading(item: &Item) -> String {
    let as_path = |title: &str| title.to_lowercase().replace(' ', "_");
    match item.title.as_deref() {
        Some(title) if as_path(title) != item.path => format!("{title} ({})", item.path),
        _ => item.path.clone(),
    }
}

/// Which attempt and reading each entry is, where there are several; nothing to say of an only one.
fn places(readings: usize, entries: usize) -> Vec<String> {
    let attempts = entries.div_ceil(readings);
    let one = |n: usize| {
        let attempt = format!("attempt {}", n / readings + 1);
        let reading = format!("reading {}", n % readings + 1);
        match (attempts > 1, readings > 1) {
            (true, true) => format!("{attempt}, {reading}"),
            (true, false) => attempt,
            (false, true) => reading,
            (false, false) => String::new(),
        }
    };
    (0..entries).map(one).collect()
}

fn standing_there(place: &str, text: &str) -> String {
    match place {
        "" => format!("the entry is `{text}`"),
        place => format!("{place} is `{text}`"),
    }
}
