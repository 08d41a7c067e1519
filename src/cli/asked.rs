//! What is asked at a prompt, told at more length for `?`; and a number with more digits than its instrument shows.
//!
//! Never in here: the question itself (see `show`). Changes when more can be told of a question.

use crate::engine::{Bench, Question};
use crate::plan::{Capability, Item, Verb};
use crate::quantity::DecimalSign;

use super::show::limits;

/// What may be typed, what is plausible, what is wanted, and what the instrument shows.
pub(super) fn about(question: &Question<'_>, with: Option<(&str, &Capability)>) -> Vec<String> {
    let verb = &question.item.verb;
    let mut lines = vec![format!("Asked: {}", may_be_typed(verb))];
    if let Some((low, high)) = verb.range() {
        let (low, high) = (low.shown(), high.shown());
        lines.push(format!(
            "Plausible: {low} to {high}; what is outside is asked about"
        ));
    }
    lines.extend(limits(question).map(|limits| format!("Limit: {limits}")));
    lines.extend(with.map(|(id, shows)| instrument(id, shows)));
    lines
}

fn may_be_typed(verb: &Verb) -> String {
    let said = match verb {
        Verb::Tell => "nothing but Enter, once it is done",
        Verb::Confirm => "yes or no; y and n will do",
        Verb::Choose(_) => "one of the words above, its beginning or its number",
        Verb::Enter(_) => "text, as it stands there",
        Verb::Count { .. } => "a whole number",
        Verb::Measure { unit, .. } => {
            return format!(
                "a reading in {}; another unit is typed behind the number and converted",
                unit.text()
            );
        }
        Verb::Time { .. } => {
            "a time as `4 h 10 min`, `12 min 21.6 s`, `12:21.6` (min:s), `4:10:00` (h:min:s) or seconds; or Enter, which starts the computer's watch"
        }
        Verb::Trace { .. } => "the path of the logger's file",
        Verb::Compute { .. } | Verb::Judge => "nothing",
    };
    said.to_owned()
}

fn instrument(id: &str, of: &Capability) -> String {
    let range = of.range.as_ref();
    let range = range.map_or_else(String::new, |(low, high)| {
        format!(", measures {} to {}", low.shown(), high.shown())
    });
    let step = of.resolution.as_ref();
    let step = step.map_or_else(String::new, |step| {
        format!(", shows steps of {}", step.shown())
    });
    format!("Instrument: {id}{range}{step}")
}

/// That a number has more decimals than its instrument shows, or than can be read by what the step says; nothing of one that
/// was typed in another unit.
pub(super) fn finer(
    item: &Item,
    typed: &str,
    sign: DecimalSign,
    with: Option<(&str, &Capability)>,
) -> Option<String> {
    let Verb::Measure {
        unit, resolution, ..
    } = &item.verb
    else {
        return None;
    };
    let shown = with.and_then(|(id, of)| Some((id, of.resolution.as_ref()?)));
    let read = resolution.as_ref().map(|step| ("the reading here", step));
    let (who, step) = shown.or(read)?;
    let typed = typed.trim();
    let is_bare = typed.ends_with(|c: char| c.is_ascii_digit());
    let (unit, own) = (unit.text(), step.unit().text());
    let number = typed.strip_suffix(own).map(str::trim_end);
    let number = number.or(Some(typed).filter(|_| is_bare && unit == own))?;
    let of_step = step.value().to_exact().decimal_places()?;
    (decimals(number, sign) > of_step).then(|| {
        format!(
            "{who} has steps of {}, and `{typed}` more decimals; it is kept as typed, `:fix` corrects it",
            step.shown()
        )
    })
}

fn decimals(number: &str, sign: DecimalSign) -> u32 {
    let parts = number.split_once(sign.symbol());
    let count = parts.map_or(0, |(_, decimals)| decimals.len());
    u32::try_from(count).unwrap_or(u32::MAX)
}

/// The instrument that an item is read from, with what it measures of that kind.
pub(super) fn shown_by<'b>(bench: &'b Bench, item: &Item) -> Option<(&'b str, &'b Capability)> {
    let Verb::Measure { unit, .. } = &item.verb else {
        return None;
    };
    let fitted = bench.instruments.get(item.verb.role()?)?;
    let kind = unit.kind().dimension;
    let measures = fitted.capabilities.iter().find(|c| c.dimension == kind)?;
    Some((&fitted.id, measures))
}
