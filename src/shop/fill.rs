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

/// All instruments, in the register's order, with what speaks against each on this day.
#[must_use]
pub fn candidates<'a>(
    role: &Role,
    instruments: &'a [Instrument],
    today: &str,
) -> Vec<Candidate<'a>> {
    let of = |instrument: &'a Instrument| {
        let mut against = Vec::new();
        let missing: Vec<&str> = role
            .measures
            .iter()
            .filter(|m| !instrument.measures.contains_key(*m))
            .map(String::as_str)
            .collect();
        if !missing.is_empty() {
            against.push(format!("does not measure {}", missing.join(" and ")));
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
