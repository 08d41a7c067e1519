//! Two-part times where hours are wanted: how they were read, asked back.
//!
//! Never in here: reading times (see the engine room). Changes when times can be typed otherwise.

use crate::engine::Question;

/// Times so many times longer than all that a step names are not meant.
const MOST: f64 = 10.0;

/// What is asked back of a time such as `4:10`, which is min:s, where the step's limits are in hours.
pub(super) fn read_as_minutes(question: &Question<'_>, text: &str) -> Option<String> {
    let longest = question.longest_s().filter(|_| question.is_in_hours())?;
    let (minutes, seconds) = text.trim().split_once(':')?;
    let hours: u32 = minutes.parse().ok()?;
    let rest: u32 = seconds.parse().ok()?;
    let as_hours = f64::from(hours) * 3600.0 + f64::from(rest) * 60.0;
    (as_hours <= MOST * longest).then(|| {
        format!("`{minutes}:{seconds}` is read as {hours} min {rest} s; write `{minutes}:{seconds}:00` for hours. Is it right?")
    })
}
