//! Reading what a technician typed, by the verb of the step.
//!
//! Never in here: asking. Changes when a verb or a way of typing is added.

use std::fmt;
use std::sync::Arc;

use crate::plan::{Item, Logged, Value, Verb};
use crate::quantity::{
    DecimalSign, Exact, KindError, Quantity, QuantityError, Unit, parse_reading,
};

use crate::trace::{self, Mapping, PackedTrace};

use super::form::in_words;
use super::{Bench, File};

/// Longest free text, in characters.
const MAX_TEXT: usize = 1_000;

/// Why an entry was refused. `Display` says it to the technician.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal(pub String);

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

fn refuse<T>(text: impl Into<String>) -> Result<T, Refusal> {
    Err(Refusal(text.into()))
}

/// Reads an entry for an item.
///
/// # Errors
/// Text that can't be read, of another kind than the step wants, or outside the instrument's range. An entry of a `trace` is
/// the name of a file that was attached at the step, one of `files`.
pub fn read_entry(
    item: &Item,
    text: &str,
    files: &[File],
    bench: &Bench,
) -> Result<Value, Refusal> {
    let text = text.trim();
    if text.chars().any(char::is_control) {
        return refuse("the entry has a control character in it");
    }
    if text.chars().count() > MAX_TEXT {
        return refuse(format!("the entry is longer than {MAX_TEXT} characters"));
    }
    match &item.verb {
        Verb::Tell => match text.to_lowercase().as_str() {
            "" | "ok" | "y" | "yes" | "done" | "true" => Ok(Value::Truth(true)),
            _ => refuse(
                "press Enter when it is done; `:note TEXT` keeps a remark, `:skip WHY` passes over it",
            ),
        },
        Verb::Confirm => match text.to_lowercase().as_str() {
            "y" | "yes" | "true" => Ok(Value::Truth(true)),
            "n" | "no" | "false" => Ok(Value::Truth(false)),
            _ => refuse("answer `yes` or `no`"),
        },
        Verb::Choose(options) => choose(options, text),
        Verb::Enter(pattern) => {
            if text.is_empty() {
                return refuse("enter a text; `:skip WHY` passes over the step");
            }
            match pattern {
                Some(pattern) if !pattern.is_match(text) => {
                    let form = in_words(pattern.as_str()).unwrap_or_else(|| format!("`{pattern}`"));
                    let help = item.help.as_ref().map(|help| format!("{help}\n"));
                    let help = help.unwrap_or_default();
                    refuse(format!(
                        "{help}`{text}` does not have the expected form ({form})"
                    ))
                }
                _ => Ok(Value::Text(text.to_owned())),
            }
        }
        Verb::Count { .. } => count(text),
        Verb::Time { .. } => {
            let quantity = duration(text, bench.decimal)?;
            on_instrument(item, quantity, bench)
        }
        Verb::Measure { unit, .. } => {
            let typed = parse_reading(text, unit, bench.decimal)
                .map_err(|e| explained(&e, unit, bench.decimal))?;
            // What is kept is in the step's unit; the typed text stands beside it.
            let quantity = typed.convert(unit).map_err(|e| Refusal(e.to_string()))?;
            on_instrument(item, quantity, bench)
        }
        Verb::Trace { .. } => log(item, text, files, bench),
        Verb::Compute { .. } | Verb::Judge => refuse("this step asks for nothing"),
    }
}

/// Most faults of a file that are told at once.
const TOLD_FAULTS: usize = 5;

/// A log: the file of this name that was attached at the step last.
fn log(item: &Item, text: &str, files: &[File], bench: &Bench) -> Result<Value, Refusal> {
    let Some(file) = files.iter().rev().find(|f| f.name == text) else {
        return refuse("enter the path of the logger's file");
    };
    let key = (item.path.clone(), file.digest.clone());
    let Some(trace) = bench.logs.get(&key) else {
        return refuse(format!("the file `{}` is not at hand any more", file.name));
    };
    Ok(Value::Trace(Arc::new(Logged {
        step: item.path.clone(),
        name: file.name.clone(),
        digest: file.digest.clone(),
        trace: Arc::clone(trace),
        by: bench.logger(item),
    })))
}

/// Reads a logger's file for an item; its bytes may be let go before it is unpacked. Only here, not when a session is run
/// again, a reading that the instrument can't have shown is refused: an older journal may hold one.
///
/// # Errors
/// What is wrong in it, with rows and columns.
pub fn read_log(
    (item, mapping): (&Item, &Mapping),
    name: &str,
    bytes: &[u8],
    bench: &Bench,
) -> Result<PackedTrace, Refusal> {
    let ranges = |unit: &Unit| bench.ranges(item, unit);
    trace::read_shown(bytes, mapping, &ranges).map_err(|faults| {
        let told: Vec<String> = faults
            .iter()
            .take(TOLD_FAULTS)
            .map(ToString::to_string)
            .collect();
        let more = match faults.len().saturating_sub(TOLD_FAULTS) {
            0 => String::new(),
            more => format!("\nand {more} more"),
        };
        Refusal(format!(
            "`{}` can't be read:\n{}{more}",
            name,
            told.join("\n")
        ))
    })
}

/// A refusal in the words of the step: what was wrong, and what an entry looks like here.
fn explained(error: &QuantityError, unit: &Unit, sign: DecimalSign) -> Refusal {
    let number = if sign == DecimalSign::Comma {
        "5,00"
    } else {
        "5.00"
    };
    let help = format!("enter a number like `{number}`, with or without a unit like `{unit}`");
    match error {
        QuantityError::Kind(KindError::Differ(typed, wanted)) => Refusal(format!(
            "that is a {typed}, and a {wanted} is wanted; {help}"
        )),
        other => Refusal(format!("{other}; {help}")),
    }
}

/// Whether the options of a choice can be told by their numbers: not where one begins with a digit itself.
#[must_use]
pub fn is_numbered(options: &[String]) -> bool {
    !options
        .iter()
        .any(|o| o.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+' | '.')))
}

/// Whether an option begins with what was typed; not where that would cut a number short: 2 is not 20.
fn is_begun(option: &str, lower: &str) -> bool {
    let option = option.to_lowercase();
    let rest = option.strip_prefix(lower);
    rest.is_some_and(|r| !r.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ',')))
}

fn choose(options: &[String], text: &str) -> Result<Value, Refusal> {
    let lower = text.to_lowercase();
    if let Some(option) = options.iter().find(|o| o.to_lowercase() == lower) {
        return Ok(Value::Text(option.clone()));
    }
    let numbered = text
        .parse::<usize>()
        .ok()
        .filter(|_| is_numbered(options))
        .and_then(|n| n.checked_sub(1))
        .and_then(|i| options.get(i));
    let begun: Vec<&String> = options
        .iter()
        .filter(|o| !lower.is_empty() && is_begun(o, &lower))
        .collect();
    let only = if let [only] = begun[..] {
        Some(only)
    } else {
        None
    };
    match numbered.or(only) {
        Some(option) => Ok(Value::Text(option.clone())),
        _ => refuse(format!("choose one of: {}", options.join(", "))),
    }
}

fn count(text: &str) -> Result<Value, Refusal> {
    let whole = !text.is_empty() && text.len() <= 15 && text.bytes().all(|b| b.is_ascii_digit());
    match Exact::parse(text) {
        Ok(n) if whole => Ok(Value::Quantity(Quantity::from(n).typed_as(text))),
        _ => refuse("enter a whole number, without a unit"),
    }
}

/// A duration: `12 min 21.6 s`, `12:21.6`, `1:02:03`, or a bare number of seconds.
fn duration(text: &str, sign: DecimalSign) -> Result<Quantity, Refusal> {
    let second = Unit::parse("s").map_err(|e| Refusal(e.to_string()))?;
    let typed = if text.contains(':') {
        clock(text, sign)
    } else {
        parse_reading(text, &second, sign).map_err(|e| explained(&e, &second, sign))
    }?;
    if typed.si().to_exact().is_negative() {
        return refuse("a duration can't be below zero");
    }
    // In seconds, but shown as typed: nobody reads 7800 s for 2 h 10 min.
    let shown = typed.shown();
    let seconds = typed.convert(&second).map_err(|e| Refusal(e.to_string()))?;
    Ok(seconds.typed_as(&shown))
}

fn clock(text: &str, sign: DecimalSign) -> Result<Quantity, Refusal> {
    let parts: Vec<&str> = text.split(':').collect();
    let names: &[&str] = match parts.len() {
        2 => &["min", "s"],
        3 => &["h", "min", "s"],
        _ => {
            return refuse(
                "write a duration as `min:s`, `h:min:s`, or with units: `12 min 21.6 s`",
            );
        }
    };
    let last = parts.len() - 1;
    let whole = |p: &str| !p.is_empty() && p.bytes().all(|b| b.is_ascii_digit());
    let short = |p: &str| {
        p.split(['.', ','])
            .next()
            .and_then(|w| w.parse::<u32>().ok())
            .is_some_and(|n| n < 60)
    };
    if !parts[..last].iter().all(|p| whole(p)) || !parts[1..].iter().all(|p| short(p)) {
        return refuse("write a duration as `min:s`, `h:min:s`, or with units: `12 min 21.6 s`");
    }
    let spelled: Vec<String> = parts
        .iter()
        .zip(names)
        .map(|(p, n)| format!("{p} {n}"))
        .collect();
    let second = Unit::parse("s").map_err(|e| Refusal(e.to_string()))?;
    let quantity = parse_reading(&spelled.join(" "), &second, sign)
        .map_err(|e| explained(&e, &second, sign))?;
    Ok(quantity.typed_as(text))
}

/// Refuses what the instrument can't have shown.
fn on_instrument(item: &Item, quantity: Quantity, bench: &Bench) -> Result<Value, Refusal> {
    for (low, high) in bench
        .capabilities(item)
        .iter()
        .filter_map(|c| c.range.as_ref())
    {
        let inside = quantity
            .compare(low)
            .and_then(|l| Ok(l.is_ge() && quantity.compare(high)?.is_le()));
        if inside == Ok(false) {
            return refuse(format!(
                "{quantity} is outside what the instrument can show ({low} to {high})"
            ));
        }
    }
    Ok(Value::Quantity(quantity))
}

/// Whether a value lies in the range that the recipe declares as plausible.
#[must_use]
pub fn is_plausible(item: &Item, value: &Value) -> bool {
    match (item.verb.range(), value) {
        (Some((low, high)), Value::Quantity(q)) => {
            q.compare(low).is_ok_and(std::cmp::Ordering::is_ge)
                && q.compare(high).is_ok_and(std::cmp::Ordering::is_le)
        }
        _ => true,
    }
}
