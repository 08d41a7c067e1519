//! What is out of the ordinary in the shop's past: which pumps drift, fail, are read wrong. All of it is invented.
//!
//! Never in here: days (see `schedule`). Changes when the shop is to show something more.

use super::super::StoredFix;

/// A pump whose flow drifts, checked every three months.
pub(super) const DRIFTING_FLOW: &str = "VP-1011";
/// A pump whose occlusion alarm comes later and later, checked every three months.
pub(super) const DRIFTING_PRESSURE: &str = "VP-1012";
/// A pump that only the former limit lets pass.
pub(super) const LATE_ALARM: &str = "VP-1013";
/// A pump that was read from a meter that had not been zeroed; a second record corrects the first.
pub(super) const READ_WRONG: &str = "VP-1020";
/// A pump on which an entry was mistyped, and corrected in the session.
pub(super) const MISTYPED: &str = "VP-1022";
/// A pump on which the new revision was tried out.
pub(super) const TRIED: &str = "VP-1021";
/// An instrument that a calibration found out of tolerance.
pub(super) const OFF: &str = "FM-01";
/// What was found.
pub(super) const FOUND: &str = "found 1.8 % high at 10 mL, adjusted; see stepwell trace FM-01";
/// Why a record was corrected.
pub(super) const CORRECTED: &str = "the meter was not zeroed; the pump was measured again";

/// Entries by their step that stand instead of the usual ones.
pub(super) type Instead = &'static [(&'static str, &'static [&'static str])];

/// Readings from a meter that was not zeroed.
pub(super) const NOT_ZEROED: Instead = &[(
    "accuracy.2.delivered",
    &["9.31", "9.30", "9.32", "9.31", "9.30", "9.32"],
)];

/// Pumps that fail at their second check and are repaired, and how.
const FAILS: [(&str, Instead); 4] = [
    ("VP-1014", &[("electrical.earth", &["0.341", "0.338"])]),
    ("VP-1016", &[("alarms.air_in_line", &["no"])]),
    ("VP-1018", &[("battery.battery_run", &["1 h 32 min"])]),
    ("CU-6012", &[("needle_zero", &["no"])]),
];

/// How a pump fails at its second check.
pub(super) fn fails(tag: &str) -> Option<Instead> {
    let found = FAILS.iter().find(|(device, _)| *device == tag);
    found.map(|(_, instead)| *instead)
}

/// The correction of what was mistyped: the right reading comes from the usual ones.
pub(super) fn mistyped() -> (Instead, StoredFix) {
    let fix = StoredFix {
        path: "accuracy.1.delivered".to_owned(),
        reading: 2,
        to: "5.03".to_owned(),
        why: "two digits changed places".to_owned(),
    };
    (&[("accuracy.1.delivered", &["5.04", "5.30", "5.05"])], fix)
}

/// How far the flow of a pump is off after some years, beside what all are off by.
pub(super) fn flow_error(tag: &str, years: f64) -> f64 {
    match tag {
        DRIFTING_FLOW => 0.019 * years,
        _ => 0.0,
    }
}

/// How much later the occlusion alarm comes after some years, in psi.
pub(super) fn alarm_shift(tag: &str, years: f64) -> f64 {
    match tag {
        DRIFTING_PRESSURE => 2.7 * years - 3.2,
        LATE_ALARM => 5.2,
        _ => 0.0,
    }
}
