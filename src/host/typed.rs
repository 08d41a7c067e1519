//! What was typed ahead at the terminal, before a question was on the screen.
//!
//! Never in here: reading lines. Changes when another system can forget what was typed.

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
