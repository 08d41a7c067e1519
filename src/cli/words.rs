//! The words behind a colon, and the end of a walk.
//!
//! Never in here: entries. Changes when a session gets a word.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::app::missing;
use crate::app::{AppError, Held};
use crate::engine::{Ended, Event, Question, question};
use crate::plan::{CriterionSeverity, Item, Then};
use crate::text::counted;

use super::asked::{about, shown_by};
use super::budget::last_budget;
use super::input::{Line, Wanted};
use super::paging::{Rest, paged};
use super::show::told;
use super::standing::problems;
use super::walk::{Step, Walk};

/// What can be typed besides values.
pub(super) const HELP: [&str; 12] = [
    "Type what is asked for. A unit typed with a number is converted.",
    ":read         read the instrument, where it is connected; Enter does too",
    ":note TEXT    keep a remark at this step",
    ":file PATH    attach a file; its digest goes into the record",
    ":fix [STEP]   correct an earlier entry; both stay in the record",
    ":skip WHY     pass over this step",
    ":stop WHY     end the session; the record says why",
    ":pause        keep everything and go on another time",
    ":back         take a `:stop` back before the record is sealed",
    ":where        show where the session stands",
    ":help or ?    this list, and what is asked at this step",
    "STEP is a path (`accuracy.2.delivered`), its last part, its title, or its number.",
];

/// Most lines of a list that are shown at once.
const SHOWN: usize = 12;

impl Walk<'_, '_> {
    /// A word behind a colon; `path` is the step that is asked for, if one is.
    pub(super) fn word(&mut self, word: &str, path: Option<&str>) -> Result<Step, AppError> {
        let (name, rest) = word.split_once(char::is_whitespace).unwrap_or((word, ""));
        let rest = rest.trim();
        let (at, at_end) = (self.session.now(), path.is_none());
        let noting = matches!(name, "note" | "file");
        let path = path.map(str::to_owned);
        // At the end there is no step that is asked for: what is noted then belongs to the last one that was done.
        let path = path.or_else(|| noting.then(|| self.last_done()).flatten());
        let event = match (name, path) {
            ("help", _) => return Ok(self.help()),
            ("where", _) => return Ok(self.position()),
            ("read", Some(_)) => {
                return self.said("no instrument is connected that this can be read from; type it");
            }
            ("pause", _) => return Ok(Step::Pause("as asked".to_owned())),
            ("fix", _) => return self.fix(rest),
            ("back", _) => Event::Reopen { path: None, at },
            ("note" | "file", Some(_)) if rest.is_empty() => {
                return self.said("write the note, or the path of the file, behind the word");
            }
            ("note", Some(path)) => Event::Note {
                path,
                text: rest.to_owned(),
                at,
            },
            ("file", Some(path)) => match self.session.keep_file(&path_as_typed(rest)) {
                Ok((name, digest, bytes)) => {
                    self.screen.line(2, &format!("{name}, {bytes} bytes"));
                    Event::File {
                        path,
                        name,
                        digest,
                        bytes,
                        at,
                    }
                }
                Err(error) => return self.said(&error.to_string()),
            },
            ("skip", Some(path)) if !self.may_pass_over(&path) => {
                return self.said("not passed over");
            }
            ("skip", Some(path)) => Event::Skip {
                path,
                why: rest.to_owned(),
                at,
            },
            ("stop", None) if self.is_stopped() => {
                return self.said("the session is stopped; `:back` takes that back");
            }
            ("stop", _) => Event::Stop {
                why: rest.to_owned(),
                at,
            },
            ("note" | "file" | "skip", None) => {
                return self
                    .said("not at the end; Enter seals the record, `:fix STEP` corrects an entry");
            }
            _ => return self.said(&format!("`:{name}` is not known; `:help` lists the words")),
        };
        let said = match &event {
            Event::Note { path, .. } | Event::File { path, .. } => Some(match at_end {
                true => format!("kept, at `{path}`"),
                false => "kept".to_owned(),
            }),
            Event::Skip { path, .. } => Some(self.passed_over(path)),
            _ => None,
        };
        let stays = matches!(event, Event::Note { .. } | Event::File { .. });
        match self.session.keep(event) {
            Ok(()) => {
                said.into_iter().for_each(|text| self.screen.line(2, &text));
                Ok(if stays { Step::Again } else { Step::Go })
            }
            Err(Held::Refused(refusal)) => self.said(&refusal.to_string()),
            Err(Held::Unwritten(error)) => Err(error),
        }
    }

    /// Whether a step may be passed over: where a fail of it ends the session, what follows may not be safe without it, and
    /// somebody at a terminal is asked.
    fn may_pass_over(&mut self, path: &str) -> bool {
        let plan = Arc::clone(&self.session.plan);
        let item = plan.items.iter().find(|item| item.path == path);
        let is_critical = |item: &Item| {
            let mut criteria = item.criteria.iter();
            criteria.any(|c| c.severity == CriterionSeverity::Critical)
        };
        let ends = item.is_some_and(|item| match item.on_fail.then {
            Then::Stop => !item.criteria.is_empty(),
            Then::StopIfCritical => is_critical(item),
            Then::Continue | Then::AskAgain => false,
        });
        !ends
            || !self.input.is_terminal()
            || self.agreed("A fail here would end the session: what follows may not be safe without it. Pass over it all the same?")
    }

    /// What is said of a step that is passed over: whether the record can be whole without it.
    fn passed_over(&self, path: &str) -> String {
        let plan = &self.session.plan;
        let at = plan.items.iter().position(|i| i.path == path);
        let tried = at.is_some_and(|at| !self.session.state.items[at].attempts.is_empty());
        let optional = at.is_some_and(|at| plan.items[at].optional);
        let told = match (tried, optional) {
            (true, _) => "passed over: what was entered stands",
            (false, true) => "passed over; `:fix STEP` takes it up again",
            (false, false) => {
                "passed over: the record will be incomplete; `:fix STEP` takes it up again"
            }
        };
        told.to_owned()
    }

    fn is_stopped(&self) -> bool {
        matches!(self.session.state.ended, Some(Ended::Stopped(_)))
    }

    fn help(&mut self) -> Step {
        let plan = Arc::clone(&self.session.plan);
        let asked = question(&plan, &self.session.state);
        if let Some(asked) = asked.filter(|_| self.session.state.ended.is_none()) {
            self.told_of(&asked);
        }
        for line in HELP {
            self.screen.line(2, line);
        }
        // The question is asked again whole: it has moved out of sight.
        Step::Go
    }

    /// What is asked at a step, why, and its help.
    pub(super) fn told_of(&mut self, asked: &Question<'_>) {
        let with = shown_by(self.session.bench(), asked.item);
        for line in about(asked, with) {
            self.screen.line(2, &line);
        }
        let item = asked.item;
        for (name, text) in [
            ("Why", &item.why),
            ("Help", &item.help),
            ("Picture", &item.picture),
        ] {
            if let Some(text) = text {
                self.screen.line(2, &format!("{name}: {text}"));
            }
        }
    }

    /// What has been done, what stands against a pass, and what was entered last.
    fn position(&mut self) -> Step {
        let (head, plan, state) = (&self.session.head, &self.session.plan, &self.session.state);
        let device = &head.device;
        let of = plan.items.len();
        let place = match plan.items.get(state.cursor) {
            Some(item) => format!("at step {} of {of}", item.number),
            None => format!("all {} done", counted(of, "step")),
        };
        let begun = head.started.get(..16).unwrap_or(&head.started);
        let mut lines = vec![
            format!(
                "{} rev {} on {} ({} {})",
                head.recipe.id, head.recipe.revision, device.tag, device.maker, device.model
            ),
            format!(
                "session {}, begun {}",
                head.session,
                begun.replace('T', " ")
            ),
            place,
        ];
        lines.extend(
            head.instruments
                .iter()
                .map(|(role, i)| format!("{role}: {} ({}), due {}", i.id, i.kind, i.due)),
        );
        let went = plan.items.iter().zip(&state.items);
        let entered = went.filter(|(_, went)| !went.readings.is_empty());
        lines.extend(entered.map(|(item, went)| {
            let texts: Vec<String> = went.readings.iter().map(|r| told(item, r)).collect();
            format!("  {} {}: {}", item.number, item.path, texts.join("; "))
        }));
        let lines = (2, lines.as_slice());
        paged(
            &mut self.screen,
            self.input,
            self.session,
            lines,
            Rest::OnEnter,
        );
        self.against();
        self.budget();
        Step::Go
    }

    /// Shows what the uncertainty of the last judged value is made of.
    fn budget(&mut self) {
        for line in last_budget(&self.session.plan, &self.session.state) {
            self.screen.line(2, &line);
        }
    }

    /// Shows what stands against a pass so far.
    fn against(&mut self) {
        let lines = problems(&self.session.plan, &self.session.state);
        for line in lines.iter().take(SHOWN) {
            self.screen.line(2, line);
        }
        if lines.len() > SHOWN {
            self.screen
                .line(2, &format!("and {} more", lines.len() - SHOWN));
        }
    }

    /// What the recipe says of the step whose fail ended the session: it may be wanted before anything is sealed.
    fn help_of_the_end(&mut self) {
        if let Some(Ended::Failed(index)) = &self.session.state.ended
            && let Some(help) = &self.session.plan.items[*index].help
        {
            self.screen.line(2, help);
        }
    }

    /// The end: a last look before the record is sealed. Nothing where it is to be closed.
    pub(super) fn closing(&mut self) -> Result<Option<Step>, AppError> {
        self.show_settled();
        let verdict = self.session.state.verdict(&self.session.plan).word();
        let (text, words) = match &self.session.state.ended {
            Some(Ended::Failed(index)) => (
                format!(
                    "The session ends here: `{}` failed.",
                    self.session.plan.items[*index].path
                ),
                "`:fix STEP`",
            ),
            Some(Ended::Stopped(why)) => (format!("The session is stopped: {why}."), "`:back`"),
            _ => ("All steps are done.".to_owned(), "`:fix STEP`"),
        };
        self.screen.gap();
        self.screen.line(0, &format!("{text} Verdict: {verdict}."));
        self.against();
        self.help_of_the_end();
        if let Some(record) = &self.session.state.closed {
            let by = self.session.by();
            let closed = format!(
                "`{by}` closed the session as {record}, and its record was not sealed: this is done now. Nothing can be changed any more; `stepwell amend` adds to the record."
            );
            self.screen.line(2, &closed);
            return Ok(None);
        }
        let missing = missing(self.shop, self.session);
        if !missing.is_empty() {
            return self.lacking(&missing).map(Some);
        }
        let seals = match self.session.is_abandoned() {
            true => "Nothing was entered: Enter removes the session, and no record is made",
            false => "Enter seals the record",
        };
        let stop = match self.is_stopped() {
            true => "",
            false => "; `:stop WHY`, where it must not stand as a check",
        };
        self.screen.line(
            2,
            &format!("{seals}; {words} goes back first; `:pause` waits{stop}"),
        );
        self.input.leave_out_earlier();
        self.screen.raw("Enter> ");
        let Line::Text(text) = self.input.line(&Wanted::Closing, Some(self.session)) else {
            self.screen.gap();
            // At a terminal an end of input is a hand that slipped; a pipe has said all that it will say.
            let terminal = self.input.is_terminal();
            return Ok(terminal.then(|| Step::Pause("the input has ended".to_owned())));
        };
        self.echo(&text);
        match text.trim().strip_prefix(':') {
            Some(word) => self.word(word, None).map(Some),
            None if text.trim().is_empty() => Ok(None),
            None => self.said("press Enter alone to end the session").map(Some),
        }
    }

    /// What the shop asks for is missing: it can be added, or the session waits.
    fn lacking(&mut self, missing: &[String]) -> Result<Step, AppError> {
        for line in missing {
            self.screen.line(2, line);
        }
        self.input.leave_out_earlier();
        self.screen.raw("`:pause` waits> ");
        let Line::Text(text) = self.input.line(&Wanted::Closing, Some(self.session)) else {
            self.screen.gap();
            return Ok(Step::Pause(
                "the record lacks what the shop asks for".to_owned(),
            ));
        };
        self.echo(&text);
        match text.trim().strip_prefix(':') {
            Some(word) => self.word(word, None),
            None if self.input.is_terminal() => self.said("the record can't be sealed before that"),
            None => Ok(Step::Pause(
                "the record lacks what the shop asks for".to_owned(),
            )),
        }
    }
}

/// A path as a shell would take it: in quotes, with `\ ` for a blank, with `~/` for one's own folder. A file of the very
/// name that was typed goes before.
pub(super) fn path_as_typed(typed: &str) -> PathBuf {
    let bare = typed.trim().trim_matches(['"', '\'']);
    if Path::new(bare).exists() {
        return bare.into();
    }
    let path = bare.replace("\\ ", " ");
    match (path.strip_prefix("~/"), std::env::home_dir()) {
        (Some(rest), Some(home)) => home.join(rest),
        _ => path.into(),
    }
}
