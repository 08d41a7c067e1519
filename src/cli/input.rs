//! Where a walk's lines come from: somebody at a terminal, a pipe, or an answers file.
//!
//! Never in here: what lines mean. Changes when a walk can be answered otherwise.

use std::io::{BufRead, IsTerminal, Read};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use crate::app::{Answers, Given, Session, StoredFix};
use crate::engine::Question;

/// Longest line that is taken, in bytes.
const MAX_LINE: usize = 16_384;
/// How long what is shown stands there before it can be answered.
const BOUNCE: Duration = Duration::from_millis(400);
/// How long nothing is typed before a question can be answered: an Enter that was hit twice, or a pasted line, was for the
/// one before.
const QUIET: Duration = Duration::from_millis(200);
/// Most lines that are left out in a row.
const MAX_LEFT_OUT: usize = 10_000;
/// The longest line that a terminal gives whole, in bytes (Linux, `N_TTY_BUF_SIZE` less the end of the line; from memory).
const TERMINAL_LINE: usize = 4_095;

/// What a line is wanted for.
pub enum Wanted<'a> {
    /// An entry for a question.
    Entry(&'a Question<'a>),
    /// Whether a value outside the plausible range is right.
    Plausible,
    /// Whether a value was meant as it is read.
    Doubtful,
    /// A part of a correction.
    Fix(FixPart),
    /// What to do at the end: close, or correct.
    Closing,
    /// A choice from a list.
    Pick,
}

/// The parts of a correction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FixPart {
    /// Which reading.
    Reading,
    /// The right entry.
    Text,
    /// Why.
    Why,
}

/// A line, or none.
pub enum Line {
    /// A line.
    Text(String),
    /// There are no more lines.
    End,
    /// The stored answers have none for this; the path.
    Missing(String),
}

/// A source of lines.
pub trait Input {
    /// The next line.
    fn line(&mut self, wanted: &Wanted<'_>, session: Option<&Session<'_>>) -> Line;

    /// The next line, with `tick` called while it is waited for.
    fn line_while(
        &mut self,
        wanted: &Wanted<'_>,
        session: Option<&Session<'_>>,
        _tick: &mut dyn FnMut(),
    ) -> Line {
        self.line(wanted, session)
    }

    /// Whether somebody sits at a terminal.
    fn is_terminal(&self) -> bool {
        false
    }

    /// Forgets what was typed before this moment, and what follows at once: an Enter that bounced, the second end of a
    /// scanner's line. What is shown now is to be seen before it is answered.
    fn forget_earlier(&mut self) {}

    /// Leaves out whole lines that were typed before a question is shown, and tells of them; called before the sign to type
    /// at is drawn. A line that has only been begun stays.
    fn leave_out_earlier(&mut self) {}

    /// Whether lines are shown by the terminal as they are typed.
    fn echoes(&self) -> bool {
        false
    }

    /// What stored answers were not asked for, a line each.
    fn unused(&self, _session: &Session<'_>) -> Vec<String> {
        Vec::new()
    }

    /// Where the answer for a path stands, for messages.
    fn place(&self, _path: &str) -> Option<String> {
        None
    }
}

/// Lines of standard input. One is read only when it is wanted: a passphrase that is asked for in between is not for us.
pub struct Typed {
    wanted: Sender<()>,
    lines: Receiver<String>,
    /// Whether a line was asked for that has not come yet.
    waiting: bool,
    terminal: bool,
    /// When the last line came.
    last: Option<Instant>,
}

impl Typed {
    /// Begins to read.
    pub fn new() -> Self {
        let (sender, lines) = channel();
        let (wanted, asked) = channel();
        std::thread::spawn(move || {
            while asked.recv().is_ok() {
                let Some(line) = read_line() else { return };
                if sender.send(line).is_err() {
                    return;
                }
            }
        });
        Self {
            wanted,
            lines,
            waiting: false,
            last: None,
            terminal: std::io::stdin().is_terminal() && std::io::stdout().is_terminal(),
        }
    }
}

/// The next line of standard input; nothing at its end.
fn read_line() -> Option<String> {
    let mut bytes = Vec::new();
    let mut input = std::io::stdin().lock().take(MAX_LINE as u64);
    match input.read_until(b'\n', &mut bytes) {
        Ok(0) | Err(_) => None,
        Ok(_) => {
            let line = String::from_utf8_lossy(&bytes);
            Some(line.trim_end_matches(['\n', '\r']).to_owned())
        }
    }
}

impl Typed {
    /// Asks for a line, unless one is on its way.
    fn ask(&mut self) {
        // A reader that has ended is told by its end of lines.
        self.waiting = self.waiting || self.wanted.send(()).is_ok();
    }

    fn came(&mut self, line: Option<String>) -> Line {
        self.waiting = false;
        self.last = Some(Instant::now());
        line.map_or(Line::End, Line::Text)
    }

    /// Whether a line has keys in it that are no letters, as an arrow key gives them (ESC); says so, and asks again.
    fn has_keys(&self, line: Option<&String>) -> bool {
        let keys = self.terminal && line.is_some_and(|l| l.contains('\u{1b}'));
        if keys {
            let mut screen = super::show::Screen::new();
            screen.line(
                2,
                "an arrow key or its like is in that line, and nothing was kept; type it anew",
            );
            screen.raw("> ");
        }
        keys
    }

    /// Whether a line may have lost its end on its way; says so.
    fn is_cut(&self, line: Option<&String>) -> bool {
        let cut = self.terminal && line.is_some_and(|l| l.len() >= TERMINAL_LINE);
        if cut {
            let told = "the line is longer than a terminal takes, and has lost its end: nothing was kept; type it shorter";
            super::show::Screen::new().line(2, told);
        }
        cut
    }
}

impl Input for Typed {
    fn line(&mut self, _: &Wanted<'_>, _: Option<&Session<'_>>) -> Line {
        loop {
            self.ask();
            let line = self.lines.recv().ok();
            if self.is_cut(line.as_ref()) || self.has_keys(line.as_ref()) {
                self.waiting = false;
                continue;
            }
            return self.came(line);
        }
    }

    fn line_while(
        &mut self,
        wanted: &Wanted<'_>,
        session: Option<&Session<'_>>,
        tick: &mut dyn FnMut(),
    ) -> Line {
        if !self.terminal {
            return self.line(wanted, session);
        }
        self.ask();
        loop {
            tick();
            match self.lines.recv_timeout(Duration::from_millis(200)) {
                Ok(line) => return self.came(Some(line)),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return self.came(None),
            }
        }
    }

    fn is_terminal(&self) -> bool {
        self.terminal
    }

    fn forget_earlier(&mut self) {
        if !self.terminal {
            return;
        }
        std::thread::sleep(BOUNCE);
        crate::host::forget_typed();
        while self.lines.try_recv().is_ok() {
            self.waiting = false;
        }
    }

    fn leave_out_earlier(&mut self) {
        // A line that is on its way is read elsewhere.
        if !self.terminal || self.waiting {
            return;
        }
        let mut told = false;
        for _ in 0..MAX_LEFT_OUT {
            let since = self.last.map_or(QUIET, |last| last.elapsed());
            std::thread::sleep(QUIET.saturating_sub(since));
            let line = crate::host::has_typed().then(read_line).flatten();
            let Some(line) = line else { break };
            self.last = Some(Instant::now());
            told |= !line.trim().is_empty();
        }
        if told {
            let text = "more was typed than was asked; it was left out";
            super::show::Screen::new().line(2, text);
        }
    }

    fn echoes(&self) -> bool {
        self.terminal
    }
}

/// Stored answers.
pub struct Stored {
    answers: Answers,
    fixing: Option<StoredFix>,
}

impl Stored {
    /// Answers with these.
    pub fn new(answers: Answers) -> Self {
        Self {
            answers,
            fixing: None,
        }
    }

    fn entry(&self, question: &Question<'_>, session: &Session<'_>) -> Line {
        match self.answers.entry(question, session) {
            Given::Text(text) => Line::Text(text),
            Given::Skip(why) => Line::Text(format!(":skip {why}").trim_end().to_owned()),
            Given::Missing => Line::Missing(question.item.path.clone()),
        }
    }

    fn next_fix(&mut self, session: &Session<'_>) -> Line {
        self.fixing = self.answers.next_fix(session).cloned();
        match &self.fixing {
            Some(fix) => Line::Text(format!(":fix {}", fix.path)),
            None => Line::Text(String::new()),
        }
    }
}

impl Input for Stored {
    fn line(&mut self, wanted: &Wanted<'_>, session: Option<&Session<'_>>) -> Line {
        match (wanted, session) {
            (Wanted::Entry(question), Some(session)) => self.entry(question, session),
            (Wanted::Closing, Some(session)) => self.next_fix(session),
            (Wanted::Plausible, _) if self.answers.confirm_all => Line::Text("yes".to_owned()),
            (Wanted::Fix(part), _) => match (&self.fixing, part) {
                (Some(fix), FixPart::Reading) => Line::Text(fix.reading.to_string()),
                (Some(fix), FixPart::Text) => Line::Text(fix.to.clone()),
                (Some(fix), FixPart::Why) => Line::Text(fix.why.clone()),
                (None, _) => Line::End,
            },
            _ => Line::End,
        }
    }

    fn unused(&self, session: &Session<'_>) -> Vec<String> {
        let mut lines = Vec::new();
        for (item, went) in session.plan.items.iter().zip(&session.state.items) {
            let stored = self.answers.answers.get(&item.path).map_or(0, Vec::len);
            if stored > went.readings.len() {
                lines.push(format!(
                    "`{}`: {} of {stored} stored answers were not asked for",
                    item.path,
                    stored - went.readings.len()
                ));
            }
        }
        lines
    }

    fn place(&self, path: &str) -> Option<String> {
        Some(
            self.answers
                .places
                .get(path)
                .unwrap_or(&self.answers.file)
                .clone(),
        )
    }
}
