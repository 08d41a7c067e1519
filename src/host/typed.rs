//! What was typed ahead at the terminal, before a question was on the screen.
//!
//! Never in here: reading lines. Changes when another system can forget what was typed, or tells its size.

/// Forgets what waits at the terminal. Where that can't be done, it is read as an answer to the next question.
#[cfg(unix)]
pub fn forget_typed() {
    use rustix::termios::{QueueSelector, tcflush};
    // No terminal, nothing typed.
    let _ = tcflush(std::io::stdin(), QueueSelector::IFlush);
}

/// Nothing can be forgotten here.
#[cfg(not(unix))]
pub fn forget_typed() {}

/// Whether a whole line waits at the terminal.
#[cfg(unix)]
#[must_use]
pub fn has_typed() -> bool {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    let stdin = std::io::stdin();
    let mut waiting = [PollFd::new(&stdin, PollFlags::IN)];
    let at_once = Timespec {
        tv_sec: 0,
        tv_nsec: 0,
    };
    // A terminal that has hung up is told by the next reading.
    poll(&mut waiting, Some(&at_once)).is_ok_and(|n| n > 0)
}

/// What waits is not known here.
#[cfg(not(unix))]
#[must_use]
pub fn has_typed() -> bool {
    false
}

/// Columns and rows of the terminal that is written to.
#[cfg(unix)]
#[must_use]
pub fn screen_size() -> Option<(usize, usize)> {
    let size = rustix::termios::tcgetwinsize(std::io::stdout()).ok()?;
    let known = size.ws_col > 0 && size.ws_row > 0;
    known.then(|| (size.ws_col.into(), size.ws_row.into()))
}

/// The size is not known here.
#[cfg(not(unix))]
#[must_use]
pub fn screen_size() -> Option<(usize, usize)> {
    None
}
