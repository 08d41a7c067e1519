//! More lines than a screen holds, a screenful at a time.
//!
//! Never in here: what the lines say. Changes when a full screen is left otherwise.

use crate::app::Session;

use super::input::{Input, Line, Wanted};
use super::show::Screen;
use super::walk::UNDONE;

/// Whether the rest is shown behind a full screen.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Rest {
    /// Whatever is typed: it is to be read before anything is asked.
    Always,
    /// On Enter alone; anything else leaves it.
    OnEnter,
}

/// Shows lines with `indent` blanks before them, as many at a time as the screen holds. Tells how many stand on the last
/// screen, so that whoever goes on knows how much room is left there.
pub(super) fn paged(
    screen: &mut Screen,
    input: &mut dyn Input,
    session: &Session<'_>,
    (indent, lines): (usize, &[String]),
    rest: Rest,
) -> usize {
    let held = screen.held(input.is_terminal());
    let mut first = screen.shown();
    for line in lines {
        let there = screen.shown() - first;
        if there > 0 && there + height(indent, line) > held {
            input.leave_out_earlier();
            screen.raw("Enter for more> ");
            match input.line(&Wanted::Pick, Some(session)) {
                Line::Text(text) if rest == Rest::Always || text.trim().is_empty() => {
                    first = screen.shown();
                    if text.trim_start().starts_with(':') {
                        screen.line(0, UNDONE);
                    }
                }
                _ => break,
            }
        }
        screen.line(indent, line);
    }
    screen.shown() - first
}

/// How many lines of the screen a line takes.
fn height(indent: usize, line: &str) -> usize {
    let mut ahead = Screen::counting();
    ahead.line(indent, line);
    ahead.shown()
}
