//! Headings: what a column is called, and the unit that stands in it (`Mass [g]`, `mass (g)`, `flow_mL/h`, `Time/s`).
//!
//! Never in here: which line they are in. Changes when units stand in headings otherwise.

use crate::quantity::Unit;

/// A heading as it stands, and taken apart.
#[derive(Clone, Debug)]
pub(super) struct Heading {
    /// All of it.
    pub text: String,
    /// Without the unit.
    pub name: String,
    /// The unit, where there is one.
    pub unit: Option<Unit>,
    /// The unit that all of it is: `g`. It may be a name as well: `m` for a mass.
    pub bare: Option<Unit>,
}

impl Heading {
    pub fn new(text: &str) -> Self {
        let text = text.trim().to_owned();
        let parted = bracketed(&text)
            .or_else(|| behind_underscore(&text))
            .or_else(|| behind_slash(&text));
        match parted {
            Some((name, unit)) => Self {
                name,
                unit: Some(unit),
                bare: None,
                text,
            },
            None => Self {
                name: before_clock(&text).unwrap_or(&text).to_owned(),
                unit: None,
                bare: unit_text(&text),
                text,
            },
        }
    }

    /// How well the heading answers to a name: by all of it or without its unit, letter for letter or not.
    pub fn answers(&self, name: &str) -> Option<u8> {
        let name = name.trim();
        let folded = name.to_lowercase();
        if self.text == name {
            Some(0)
        } else if self.name == name {
            Some(1)
        } else if self.text.to_lowercase() == folded || self.name.to_lowercase() == folded {
            Some(2)
        } else {
            None
        }
    }
}

/// `Mass [g]`, `mass (g)`, `flow / (mL/h)`.
fn bracketed(text: &str) -> Option<(String, Unit)> {
    let (open, inside) = match text.chars().last()? {
        ']' => ('[', text.strip_suffix(']')?),
        ')' => ('(', text.strip_suffix(')')?),
        _ => return None,
    };
    let (name, unit) = inside.rsplit_once(open)?;
    let name = name.trim_end().trim_end_matches(['/', '_']);
    Some((name.trim_end().to_owned(), unit_text(unit)?))
}

/// The name in `Elapsed (mm:ss)`.
fn before_clock(text: &str) -> Option<&str> {
    let (name, form) = text.strip_suffix([')', ']'])?.rsplit_once(['(', '['])?;
    let letters =
        |c: char| matches!(c, ':' | '.' | ',' | ' ' | '-' | '/') || "hmsfydtHMSFYDT".contains(c);
    let is_clock = form.contains(':') && form.chars().all(letters);
    is_clock.then(|| name.trim_end())
}

/// `mass_g`, `flow_mL/h`, `flow_mL_per_h`.
fn behind_underscore(text: &str) -> Option<(String, Unit)> {
    let plain = text.replace("_per_", "/");
    let (name, unit) = plain.rsplit_once('_')?;
    Some((name.to_owned(), unit_text(unit)?))
}

/// `Time/s`.
fn behind_slash(text: &str) -> Option<(String, Unit)> {
    let (name, unit) = text.split_once('/')?;
    Some((name.trim_end().to_owned(), unit_text(unit)?))
}

fn unit_text(text: &str) -> Option<Unit> {
    // A bare `1` numbers a column.
    Unit::parse(text).ok().filter(|unit| unit.text() != "1")
}
