//! A reading of an instrument that speaks: shown, then confirmed, or another value typed instead.
//!
//! Never in here: where lines come from (see the app's `capture`). Changes when a reading is offered otherwise.

use crate::app::AppError;
use crate::engine::Question;

use super::input::{Line, Wanted};
use super::walk::{Source, Step, Walk};

impl Walk<'_, '_> {
    /// Shows the newest reading; nothing is entered unless it is confirmed.
    pub(super) fn offer(&mut self, question: &Question<'_>) -> Result<Step, AppError> {
        loop {
            let screen = &mut self.screen;
            let mut tell = |waited: &str| screen.line(2, waited);
            let heard = self
                .ears
                .read(self.session.host(), question.item, &mut tell);
            let offered = match heard {
                Ok(offered) => offered,
                Err(why) => return self.said(&why),
            };
            let heard = &offered.heard;
            let told = format!(
                "{} reads {}: \"{}\"",
                heard.instrument, offered.text, heard.line
            );
            self.screen.line(2, &told);
            self.input.forget_earlier();
            self.input.leave_out_earlier();
            self.screen
                .raw("Enter takes it, `:read` reads again, or a value> ");
            let line = self
                .input
                .line(&Wanted::Entry(question), Some(self.session));
            let Line::Text(text) = line else {
                self.screen.gap();
                return Ok(Step::Pause("the input has ended".to_owned()));
            };
            self.echo(&text);
            match text.trim() {
                "" => {
                    let source = Source {
                        heard: Some(heard.clone()),
                        ..Source::default()
                    };
                    let step = self.entry(question, &offered.text, source)?;
                    if matches!(step, Step::Go) {
                        self.ears.entered(&offered);
                    }
                    return Ok(step);
                }
                ":read" => {}
                other => return self.answered(question, other),
            }
        }
    }
}
