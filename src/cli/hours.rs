//! Times that were typed in another form than was meant: how they were read, asked back.
//!
//! Never in here: reading times (see the engine room). Changes when times can be typed otherwise.

use crate::engine::Question;

/// Times so many times longer than all that a step names are not meant.
const MOST: f64 = 10.0;
/// Names of the parts of a time such as `1:02:03`.
const PARTS: [&str; 3] = ["h", "min", "s"];

/// What is asked back of a time that may have been meant otherwise: `4:10`, which is min:s, where the step's limits are in
/// hours; a bare number, which is of seconds, where they are in hours or minutes.
pub(super) fn read_otherwise(question: &Question<'_>, text: &str) -> Option<String> {
    of_two_parts(question, text).or_else(|| bare(question, text))
}

fn of_two_parts(question: &Question<'_>, text: &str) -> Option<String> {
    let longest = question.longest_s().filter(|_| question.is_in_hours())?;
    // A plausible range is wide already, and asked about by itself.
    let most = question.limit_s().map_or(longest, |limit| MOST * limit);
    let (minutes, seconds) = text.trim().split_once(':')?;
    let hours: u32 = minutes.parse().ok()?;
    let rest: u32 = seconds.parse().ok()?;
    let as_hours = f64::from(hours) * 3600.0 + f64::from(rest) * 60.0;
    (as_hours <= most).then(|| {
        format!("`{minutes}:{seconds}` is read as {hours} min {rest} s; write `{minutes}:{seconds}:00` for hours. Is it right?")
    })
}

fn bare(question: &Question<'_>, text: &str) -> Option<String> {
    let longest = question.limit_s()?;
    let (unit, seconds, many) = match longest {
        _ if longest >= 3600.0 => ("h", 3600.0, "hours"),
        _ if longest >= 60.0 => ("min", 60.0, "minutes"),
        _ => return None,
    };
    let text = text.trim();
    let number: f64 = text.replace(',', ".").parse().ok()?;
    (number > 0.0 && number * seconds <= MOST * longest).then(|| {
        format!("`{text}` is read as {text} s; write `{text} {unit}` for {many}. Is it right?")
    })
}

/// How a time such as `9:36:00` was read, to be shown behind it; nothing of one that names its units.
pub(super) fn spelled(text: &str) -> Option<String> {
    let parts: Vec<&str> = text.trim().split(':').collect();
    let names = PARTS.get(PARTS.len().checked_sub(parts.len())?..)?;
    let said = parts
        .iter()
        .zip(names)
        .map(|(part, name)| format!("{part} {name}"));
    (parts.len() > 1).then(|| said.collect::<Vec<_>>().join(" "))
}
