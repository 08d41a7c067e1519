//! The registers as they stood when the shop's past began: certificates and last checks of that time.
//!
//! Never in here: what comes later (see `schedule`). Changes when a register has another day in it.

use std::collections::HashSet;
use std::path::Path;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::host::Host;
use crate::shop::Paths;
use crate::shop::import::{Change, Changed, Known, Register};

use super::super::AppError;
use super::super::registers::open_register;
use super::schedule::{Act, calibrated_before, is_kept};
use super::visits;

/// Sets days and certificates back. A device that no session of the past is about was checked elsewhere, some time in the
/// last year or a little longer ago.
pub(super) fn set_back(
    host: &dyn Host,
    folder: &Path,
    acts: &[(Date, Act)],
    begin: Date,
    today: Date,
) -> Result<(), AppError> {
    let paths = Paths::at(folder);
    let checked: HashSet<&str> = visits(acts).map(|v| v.device.tag.as_str()).collect();
    let devices = open_register(host, &paths, Register::Devices)?;
    let last_done = |(index, known): (usize, &Known)| {
        let index = i32::try_from(index).unwrap_or(0);
        let day = if checked.contains(known.id.as_str()) {
            begin.saturating_sub((5 + index * 11 % 300).days())
        } else {
            today.saturating_sub((20 + index * 37 % 420).days())
        };
        change(known, &[("last-done", day.to_string())])
    };
    let list: Vec<Change> = devices.entries.iter().enumerate().map(last_done).collect();
    devices.write(host, &list)?;
    let instruments = open_register(host, &paths, Register::Instruments)?;
    let all = instruments.entries.iter().enumerate();
    let list: Vec<Change> = all
        .filter(|(_, known)| is_kept(&known.id))
        .map(|(index, known)| {
            let on = begin.saturating_sub(calibrated_before(index).days());
            let [certificate, due] = certificate(&known.values["certificate"], on);
            let on = on.to_string();
            change(
                known,
                &[
                    ("certificate", certificate),
                    ("calibrated", on),
                    ("due", due),
                ],
            )
        })
        .collect();
    instruments.write(host, &list)
}

/// The number of a certificate of a day, made from another one, and its last day: a year later.
pub(super) fn certificate(other: &str, on: Date) -> [String; 2] {
    let number = other.rsplit('-').next().unwrap_or(other);
    let due = on.saturating_add(1.years());
    [format!("DEMO-{}-{number}", on.year()), due.to_string()]
}

fn change(known: &Known, values: &[(&'static str, String)]) -> Change {
    let fields = values.iter().map(|(field, new)| Changed {
        field,
        old: known.values.get(*field).cloned().unwrap_or_default(),
        new: new.clone(),
    });
    Change {
        id: known.id.clone(),
        added: false,
        fields: fields.filter(|f| f.old != f.new).collect(),
    }
}
