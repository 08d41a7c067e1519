//! Which instruments can fill a role today, and why the others can't.
//!
//! Never in here: choosing among them. Changes when suitability rests on something new.

use std::fmt;

use crate::journal::Instrument;
use crate::plan::Role;

/// An instrument with the reasons that speak against it; none if it is suitable.
#[derive(Clone, Debug)]
pub struct Candidate<'a> {
    /// The instrument.
    pub instrument: &'a Instrument,
    /// Why it can't fill the role.
    pub against: Vec<String>,
}

/// No instrument can fill a role. `Display` says why, an instrument a line.
#[derive(Clone, Debug)]
pub struct NoneSuitable {
    /// The role.
    pub role: String,
    /// What it must measure.
    pub measures: Vec<String>,
    /// The instruments and the reasons.
    pub reasons: Vec<(String, String)>,
}

impl fmt::Display for NoneSuitable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "no instrument can fill the role `{}` ({}) today",
            self.role,
            self.measures.join(", ")
        )?;
        for (id, why) in &self.reasons {
            write!(f, "\n  {id}: {why}")?;
        }
        Ok(())
    }
}

/// Whether an instrument measures what a role asks for, and is of the kind that it asks for; whatever its range.
#[must_use]
pub fn is_of_role(role: &Role, instrument: &Instrument) -> bool {
    missing(role, instrument).is_empty() && other_kind(role, instrument).is_none()
}

/// What the role asks for and the instrument does not measure.
fn missing<'r>(role: &'r Role, instrument: &Instrument) -> Vec<&'r str> {
    let lacks = |kind: &&String| !instrument.measures.contains_key(*kind);
    let missing = role.measures.iter().filter(lacks);
    missing.map(String::as_str).collect()
}

/// The kind that the role asks for, where the instrument is of another.
fn other_kind<'r>(role: &'r Role, instrument: &Instrument) -> Option<&'r str> {
    let is = instrument.kind.trim().to_lowercase();
    let kind = role.kind.as_deref()?;
    (kind.trim().to_lowercase() != is).then_some(kind)
}

/// All instruments, in the register's order, with what speaks against each on this day.
#[must_use]
pub fn candidates<'a>(
    role: &Role,
    instruments: &'a [Instrument],
    today: &str,
) -> Vec<Candidate<'a>> {
    let of = |instrument: &'a Instrument| {
        let mut against = Vec::new();
        let missing = missing(role, instrument);
        if !missing.is_empty() {
            against.push(format!("does not measure {}", missing.join(" and ")));
        }
        if let Some(kind) = other_kind(role, instrument) {
            against.push(format!(
                "is of the kind `{}`, not `{kind}`",
                instrument.kind.trim()
            ));
        }
        if instrument.due.as_str() < today {
            against.push(format!("out of calibration since {}", instrument.due));
        }
        if instrument.calibrated.as_str() > today {
            against.push(format!(
                "its calibration of {} lies in the future",
                instrument.calibrated
            ));
        }
        Candidate {
            instrument,
            against,
        }
    };
    instruments.iter().map(of).collect()
}
