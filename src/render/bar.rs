//! The drawing of a limit with the value on it.
//!
//! Never in here: how it looks (see the writers). Changes when a limit is drawn otherwise.

use crate::quantity::Quantity as Measured;
use crate::record::Limit;

use super::document::Bar;
use super::{digits, figure};

/// The drawing of one limit and a value; nothing where the ends leave no room.
pub(super) fn bar(ends: &Limit, value: &Measured, met: bool) -> Option<Bar> {
    let low = ends.low.as_ref().map(figure::measured);
    let high = ends.high.as_ref().map(figure::measured);
    let unit = low
        .clone()
        .flatten()
        .or_else(|| high.clone().flatten())?
        .unit()
        .clone();
    let number = |end: Option<Option<Measured>>| match end {
        None => Some(None),
        Some(end) => Some(Some(end?.convert(&unit).ok()?.value().to_f64())),
    };
    let (low, high) = (number(low)?, number(high)?);
    let at = value.convert(&unit).ok()?.value().to_f64();
    let (least, most) = span(low, high, at)?;
    let percent = |x: f64| ((x - least) / (most - least) * 1000.0).round() / 10.0;
    Some(Bar {
        from: low.map_or(0.0, percent),
        to: high.map_or(100.0, percent),
        has_low: low.is_some(),
        has_high: high.is_some(),
        at: percent(at),
        reach: ends
            .uncertainty
            .as_ref()
            .and_then(|of| digits::expanded_in(of, &unit.of_difference()))
            .map(|half| [at - half, at + half].map(|x| percent(x).clamp(0.0, 100.0))),
        met,
    })
}

/// The ends of the drawing's scale.
fn span(low: Option<f64>, high: Option<f64>, at: f64) -> Option<(f64, f64)> {
    let (least, most) = match (low, high) {
        (Some(low), Some(high)) if low < high => {
            let room = (high - low) / 2.0;
            (low - room, high + room)
        }
        (None, Some(high)) if high > 0.0 && at >= 0.0 => (0.0, high * 1.4),
        (Some(low), None) if low > 0.0 && at >= 0.0 => (0.0, low * 1.4),
        (None, Some(end)) | (Some(end), None) if at != end => {
            let room = (at - end).abs();
            (end.min(at) - room, end.max(at) + room)
        }
        _ => return None,
    };
    let margin = (most - least) * 0.05;
    let (least, most) = (
        if at < least { at - margin } else { least },
        if at > most - margin {
            at + margin
        } else {
            most
        },
    );
    let sound = least.is_finite() && most.is_finite() && most > least;
    sound.then_some((least, most))
}
