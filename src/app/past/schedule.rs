//! What happens in the shop's past, and on which day: checks, repairs, calibrations, upkeep, a new revision.
//!
//! Never in here: what is read (see `readings`), doing it (see `happening`). Changes when the shop's days do.

use jiff::ToSpan;
use jiff::civil::{Date, Weekday};

use crate::journal::Device;
use crate::shop::{Interval, USUAL_OCCASION, read_kept};
use crate::text::Source;

use super::super::AppError;
use super::super::StoredFix;
use super::super::demo::demo_text;
use super::super::open::OpenShop;
use super::revision::{RECIPE, rests_on_new};
use super::stories::{
    self, DRIFTING_FLOW, DRIFTING_PRESSURE, Instead, LATE_ALARM, MISTYPED, READ_WRONG, TRIED,
};

/// Days from the beginning to the approval of the new revision.
const NEW_REVISION: i32 = 462;
/// Days from a fail to the check after the repair.
const REPAIR: i32 = 4;
/// Who is at the bench.
const TECHNICIANS: [&str; 3] = ["tech-04", "tech-07", "tech-11"];
/// Every so many devices one was not checked in the last year, for it could not be found on its ward.
const NOT_FOUND: usize = 9;

/// Which recipes each model is checked by, how often in months, and with which instrument where not the first that fits.
type Checks = (
    &'static str,
    &'static [(&'static str, i32)],
    &'static [(&'static str, &'static str)],
);

const CHECKS: [Checks; 20] = [
    ("VP-1", &[(RECIPE, 12)], &[]),
    ("VP-2", &[(RECIPE, 12)], &[]),
    ("VP-3", &[("volumetric-vp3", 12)], &[]),
    ("VP-4", &[("volumetric-vp4", 12)], &[]),
    ("SV-20", &[("volumetric-sv20", 12)], &[]),
    ("PV-6", &[("weighed-pv6", 12)], &[]),
    ("SY-10", &[("syringe-annual", 12)], &[]),
    ("PC-5", &[("pca-annual", 6)], &[]),
    ("EN-2", &[("enteral-annual", 12)], &[]),
    ("AM-7", &[("ambulatory-annual", 12)], &[]),
    ("EL-100", &[("elastomeric-flow", 12)], &[]),
    ("GS-20", &[("gravity-set-drip", 12)], &[]),
    ("CU-3", &[("cuff-pressure", 12)], &[]),
    ("CU-7", &[("cuff-cu7", 12)], &[]),
    ("SU-2", &[("suction", 12)], &[]),
    ("LP-4", &[("line-pressure", 12)], &[("reference", "PC-11")]),
    ("TP-8", &[("temperature-probe", 12)], &[]),
    ("TP-9", &[("probe-tp9", 12)], &[]),
    ("ST-1", &[("stopwatch", 12)], &[]),
    (
        "FM-1",
        &[("meter-upkeep", 1), ("meter-intercomparison", 6)],
        &[],
    ),
];

/// A session.
#[derive(Clone, Debug)]
pub(super) struct Visit {
    pub(super) device: Device,
    pub(super) recipe: &'static str,
    pub(super) by: &'static str,
    pub(super) occasion: &'static str,
    pub(super) trial: bool,
    pub(super) with: &'static [(&'static str, &'static str)],
    /// Which one it is of all, for its readings.
    pub(super) number: u64,
    /// How far the flow is off.
    pub(super) flow_error: f64,
    /// How much later the occlusion alarm comes, in psi.
    pub(super) alarm_shift: f64,
    /// What is entered instead of the usual.
    pub(super) instead: Instead,
    /// What is corrected at its end.
    pub(super) fix: Option<StoredFix>,
    /// Whether its record corrects the one before on the device.
    pub(super) corrects: bool,
}

/// Something that happens.
#[derive(Clone, Debug)]
pub(super) enum Act {
    /// An instrument gets a new certificate.
    Calibrate {
        instrument: String,
        note: &'static str,
    },
    /// Something is done for an instrument.
    Upkeep { instrument: String, task: String },
    /// The new revision is written.
    Write,
    /// It is approved, with all that rests on it.
    Approve,
    /// A session.
    Visit(Box<Visit>),
}

/// All that happens from one day up to the day before another, in order.
pub(super) fn acts(
    open: &OpenShop,
    begin: Date,
    today: Date,
) -> Result<Vec<(Date, Act)>, AppError> {
    let mut acts = instruments(begin, today)?;
    let approved = later(begin, NEW_REVISION)?;
    acts.push((later(approved, -7)?, Act::Write));
    acts.push((approved, Act::Approve));
    for (index, registered) in open.devices.iter().enumerate() {
        acts.extend(of_device(
            index,
            &registered.device,
            begin,
            approved,
            today,
        )?);
    }
    acts.retain(|(day, _)| *day < today);
    acts.sort_by_key(|(day, _)| *day);
    for (number, (_, act)) in acts.iter_mut().enumerate() {
        if let Act::Visit(visit) = act {
            visit.number = number as u64;
        }
    }
    Ok(acts)
}

fn later(day: Date, days: i32) -> Result<Date, AppError> {
    day.checked_add(days.days())
        .map_err(|e| AppError::new(e.to_string()))
}

/// The same day, or the Monday after it.
fn working(day: Date) -> Result<Date, AppError> {
    match day.weekday() {
        Weekday::Saturday => later(day, 2),
        Weekday::Sunday => later(day, 1),
        _ => Ok(day),
    }
}

/// How many days before the beginning an instrument had been calibrated.
pub(super) fn calibrated_before(index: usize) -> i32 {
    40 + i32::try_from(index * 23 % 280).unwrap_or(0)
}

/// Calibrations each year, on the last day of the one before; upkeep as often as the register says.
fn instruments(begin: Date, today: Date) -> Result<Vec<(Date, Act)>, AppError> {
    let (all, _) = read_kept(Source::new(
        "instruments.yaml",
        demo_text("instruments.yaml"),
    ));
    let mut acts = Vec::new();
    for (index, kept) in all.iter().enumerate() {
        let instrument = kept.instrument.id.clone();
        let before = later(begin, -calibrated_before(index))?;
        for year in 1..=2 {
            let day = before.saturating_add(year.years());
            let found = instrument == stories::OFF && year == 2;
            let note = if found { stories::FOUND } else { "" };
            let instrument = instrument.clone();
            if is_kept(&instrument) {
                acts.push((day, Act::Calibrate { instrument, note }));
            }
        }
        for (task, interval) in &kept.upkeep {
            for day in every(*interval, begin, today)? {
                let (instrument, task) = (instrument.clone(), task.clone());
                acts.push((day, Act::Upkeep { instrument, task }));
            }
        }
    }
    Ok(acts)
}

/// Whether an instrument is still calibrated: the old gauge is not.
pub(super) fn is_kept(instrument: &str) -> bool {
    instrument != "PG-09"
}

/// The working days on which something is done that often.
fn every(interval: Interval, begin: Date, today: Date) -> Result<Vec<Date>, AppError> {
    let mut days = Vec::new();
    let mut next = working(later(begin, 3)?)?;
    while next < today {
        days.push(next);
        next = working(interval.after(next).unwrap_or(today))?;
    }
    Ok(days)
}

/// The checks of a device, with what is out of the ordinary.
fn of_device(
    index: usize,
    device: &Device,
    begin: Date,
    approved: Date,
    today: Date,
) -> Result<Vec<(Date, Act)>, AppError> {
    let mut acts = Vec::new();
    let Some((_, recipes, with)) = CHECKS.iter().find(|(model, ..)| *model == device.model) else {
        return Ok(acts);
    };
    for (recipe, months) in *recipes {
        let often = matches!(&*device.tag, DRIFTING_FLOW | DRIFTING_PRESSURE);
        let months = if often { 3 } else { *months };
        let first = i32::try_from(index * 53).unwrap_or(0) % (months * 30);
        let mut count = 0;
        for turn in 0.. {
            let uneven = i32::try_from((index * 7 + turn * 5) % 12).unwrap_or(0);
            let month = i32::try_from(turn).unwrap_or(0) * months;
            let day = later(begin, 1 + first + uneven)?.saturating_add(month.months());
            let day = working(day)?;
            if day >= today {
                break;
            }
            let not_found = index % NOT_FOUND == 4 && day > later(today, -385)?;
            if not_found || (rests_on_new(recipe) && day <= approved) {
                continue;
            }
            let years = f64::from(days_between(begin, day)) / 365.25;
            let mut visit = Visit {
                device: device.clone(),
                recipe,
                by: TECHNICIANS[(index + turn) % TECHNICIANS.len()],
                occasion: USUAL_OCCASION,
                trial: false,
                with,
                number: 0,
                flow_error: stories::flow_error(&device.tag, years),
                alarm_shift: stories::alarm_shift(&device.tag, years),
                instead: &[],
                fix: None,
                corrects: false,
            };
            count += 1;
            let again = unusual(&mut visit, count, day > approved);
            acts.push((day, Act::Visit(Box::new(visit))));
            if let Some((days, visit)) = again {
                acts.push((working(later(day, days)?)?, Act::Visit(Box::new(visit))));
            }
        }
    }
    if device.tag == TRIED {
        acts.extend(tried(device, approved)?);
    }
    Ok(acts)
}

fn days_between(from: Date, to: Date) -> i32 {
    (to - from).get_days()
}

/// What is out of the ordinary in a check, and the check that follows it some days later.
fn unusual(visit: &mut Visit, count: usize, is_new: bool) -> Option<(i32, Visit)> {
    let usual = visit.clone();
    let repaired = Visit {
        occasion: "after repair",
        alarm_shift: 0.0,
        ..usual.clone()
    };
    match (&*visit.device.tag, count) {
        (LATE_ALARM, _) if is_new => Some((REPAIR, repaired)),
        (READ_WRONG, 1) => {
            visit.instead = stories::NOT_ZEROED;
            let corrects = true;
            Some((1, Visit { corrects, ..usual }))
        }
        (MISTYPED, 1) => {
            let (instead, fix) = stories::mistyped();
            (visit.instead, visit.fix) = (instead, Some(fix));
            None
        }
        (tag, 2) => {
            visit.instead = stories::fails(tag)?;
            Some((REPAIR, repaired))
        }
        _ => None,
    }
}

/// The new revision is tried out before it is approved.
fn tried(device: &Device, approved: Date) -> Result<Vec<(Date, Act)>, AppError> {
    let trial = |by| Visit {
        device: device.clone(),
        recipe: RECIPE,
        by,
        occasion: USUAL_OCCASION,
        trial: true,
        with: &[],
        number: 0,
        flow_error: 0.0,
        alarm_shift: 0.0,
        instead: &[],
        fix: None,
        corrects: false,
    };
    let days = [(-6, TECHNICIANS[0]), (-2, TECHNICIANS[1])];
    let day = |(days, by)| {
        Ok((
            working(later(approved, days)?)?,
            Act::Visit(Box::new(trial(by))),
        ))
    };
    days.into_iter().map(day).collect()
}
