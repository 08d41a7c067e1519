//! Criteria that ask whether an entry is what the register says of the device: told as that, not as an expression.
//!
//! Never in here: judging. Changes when recipes can name another field of the device.

use crate::record::{Criterion, Record, Step};

use super::clean::brief;
use super::words::say;

/// What the register has to say for a criterion to be met.
pub(super) struct Wanted {
    /// In words.
    pub words: String,
    /// Whether it is asked of the step's own entry alone.
    pub is_of_own: bool,
}

/// What is asked for where a criterion is made of nothing but such equalities; nothing where it says anything else.
pub(super) fn limit(record: &Record, step: &Step, criterion: &Criterion) -> Option<Wanted> {
    let own = step.path.rsplit('.').next().unwrap_or_default();
    let parts = criterion.that.split("&&");
    let all: Option<Vec<(String, bool)>> = parts.map(|p| equality(record, own, p)).collect();
    let (words, of_own): (Vec<String>, Vec<bool>) = all?.into_iter().unzip();
    Some(Wanted {
        words: words.join(&say!(" and ")),
        is_of_own: of_own.into_iter().all(|own| own),
    })
}

/// `serial == device.serial` in words, and whether it is asked of the step's own entry.
fn equality(record: &Record, own: &str, part: &str) -> Option<(String, bool)> {
    let (left, right) = part.split_once("==")?;
    let (left, right) = (left.trim(), right.trim());
    let (of, field) = match (left.strip_prefix("device."), right.strip_prefix("device.")) {
        (None, Some(field)) => (left, field),
        (Some(field), None) => (right, field),
        _ => return None,
    };
    let is_name = |c: char| c.is_alphanumeric() || matches!(c, '_' | '.');
    if of.is_empty() || !of.chars().all(is_name) {
        return None;
    }
    let device = &record.device;
    let value = match field {
        "tag" => &device.tag,
        "serial" => &device.serial,
        "maker" => &device.maker,
        "model" => &device.model,
        "category" => &device.category,
        "location" => &device.location,
        _ => return None,
    };
    let told = say!("as in the register: {value}", value = brief(value));
    Some(match of == own {
        true => (told, true),
        false => (format!("{of} {told}"), false),
    })
}
