//! The words of a plot's key: letters for horizontal lines, numbers for events, names with values.
//!
//! Never in here: samples of lines. Changes when a line is told otherwise.

use super::super::words::say;
use super::{Event, Level, Plot, Series};

/// The letters of the n-th horizontal line, from `a`; after `z` come `aa`, `ab` …
pub(super) fn letters(n: usize) -> String {
    let last = char::from(b'a' + (n % 26) as u8);
    match n / 26 {
        0 => last.to_string(),
        before => format!("{}{last}", letters(before - 1)),
    }
}

/// A horizontal line with its value.
pub(super) fn level(plot: &Plot, level: &Level) -> String {
    format!("{} {}", level.name, plot.y.value(level.value))
}

/// An event with its time.
pub(super) fn event(plot: &Plot, event: &Event) -> String {
    format!("{}, {}", event.name, plot.x.value(event.at))
}

/// What a series and its bars are.
pub(super) fn series(series: &Series) -> String {
    let bars = series.points.iter().any(|p| p.uncertainty.is_some());
    let bars = if bars {
        say!("; bars: expanded uncertainty")
    } else {
        String::new()
    };
    format!("{}{bars}", series.name)
}

/// What lies between the limits.
pub(super) fn band() -> String {
    say!("between the limits")
}

/// How wide a text is, in columns.
pub(in crate::render) fn width(text: &str) -> usize {
    textwrap::core::display_width(text)
}

/// The text, cut to so many columns with `…` at its end.
pub(in crate::render) fn cut(text: &str, columns: usize) -> String {
    if width(text) <= columns {
        return text.to_owned();
    }
    let mut out = String::new();
    for c in text.chars() {
        out.push(c);
        if width(&out) >= columns {
            out.pop();
            break;
        }
    }
    format!("{}…", out.trim_end())
}
