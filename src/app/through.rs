//! A session from its beginning to its record, with somebody or something else doing what a technician does.
//!
//! Never in here: what is done at a step. Changes when a session asks for more before it begins.

use crate::engine::Event;
use crate::host::Host;
use crate::record::Record;

use super::AppError;
use super::approve::Runnable;
use super::open::OpenShop;
use super::session::{Held, Session};
use super::sign::Sign;
use super::start::{Start, roles_of, start};

/// What is done next where a session stands; nothing where it is to be closed.
pub type Doing<'d> = dyn FnMut(&Session<'_>) -> Result<Option<Event>, AppError> + 'd;

/// Runs a session with the first instrument that fits each role, unless one was picked, and closes it.
///
/// # Errors
/// A session that can't begin or be closed, something done that does not fit.
pub fn run_through(
    host: &dyn Host,
    open: &OpenShop,
    runnable: Runnable,
    how: &Start<'_>,
    doing: &mut Doing<'_>,
    sign: &mut Sign<'_>,
) -> Result<Record, AppError> {
    let choices = roles_of(open, &runnable.plan, &how.with, &host.today())?;
    let first = choices
        .into_iter()
        .map(|mut choice| (choice.role, choice.suitable.swap_remove(0)));
    let instruments = first.collect();
    let mut session = start(host, open, runnable, how, instruments)?;
    while let Some(event) = doing(&session)? {
        let kept = session.keep(event);
        kept.map_err(|held| match held {
            Held::Refused(refusal) => AppError::new(refusal.to_string()),
            Held::Unwritten(error) => error,
        })?;
    }
    session.close(open, sign).map(|(record, _)| record)
}
