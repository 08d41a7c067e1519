//! What is to be done, and on which day: checks of devices, calibration and upkeep of instruments.
//!
//! Never in here: where the days come from. Changes when something else falls due.

use jiff::civil::Date;

use super::devices::Registered;
use super::instruments::Kept;
use super::interval::{Interval, PerRecipe, last_of, read_day};
use super::upkeep::Upkeep;

/// What something is to be done for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// A device.
    Device,
    /// An instrument.
    Instrument,
}

/// What is to be done.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Task {
    /// A check, by a recipe or by any.
    Check(Option<String>),
    /// A calibration.
    Calibration,
    /// Upkeep.
    Upkeep(String),
}

/// Something to be done, with its day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// For what.
    pub subject: Subject,
    /// Its tag or id.
    pub id: String,
    /// What it is, and where.
    pub about: String,
    /// What is to be done.
    pub task: Task,
    /// When it was done last; nothing where it never was, as far as is known.
    pub last: Option<Date>,
    /// The recipe of the record that says so; nothing where the register or a certificate does.
    pub by: Option<String>,
    /// The day on which it failed, where its last record is a fail.
    pub failed: Option<Date>,
    /// The last day on which it is in time; today where it never was done.
    pub day: Date,
    /// Days from today until then; below zero where it is overdue.
    pub days: i32,
}

/// What records say of a device.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tested {
    /// The day on which it passed last, with the recipe.
    pub passed: Option<(Date, String)>,
    /// The day on which it failed, where its last record is a fail.
    pub failed: Option<Date>,
}

/// What the records of a device by a recipe say, or by any recipe that is for it.
pub type TestedBy<'a> = dyn Fn(&str, Option<&str>) -> Tested + 'a;

/// The checks of a device. The later of the register's day and the last good record counts. A device without an
/// interval has none.
#[must_use]
pub fn due_of_device(registered: &Registered, tested: &TestedBy<'_>, today: Date) -> Vec<Due> {
    let device = &registered.device;
    let about = [&device.maker, &device.model, &device.location]
        .into_iter()
        .filter(|t| !t.is_empty())
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    let check = |recipe: Option<&str>, interval: Interval| {
        let registered = last_of(&registered.done, recipe);
        let Tested { passed, failed } = tested(&device.tag, recipe);
        let passed = passed.filter(|(day, _)| registered.is_none_or(|r| r <= *day));
        let last = passed.as_ref().map(|(day, _)| *day).or(registered);
        let task = Task::Check(recipe.map(str::to_owned));
        let by = passed.map(|(_, recipe)| recipe);
        let subject = Subject::Device;
        let due = due(subject, &device.tag, &about, task, last, interval, today)?;
        Some(Due { by, failed, ..due })
    };
    match &registered.intervals {
        PerRecipe::None => Vec::new(),
        PerRecipe::Any(interval) => check(None, *interval).into_iter().collect(),
        PerRecipe::Each(list) => {
            let each = list.iter();
            each.filter_map(|(recipe, interval)| check(Some(recipe), *interval))
                .collect()
        }
    }
}

/// Calibration and upkeep of an instrument.
#[must_use]
pub fn due_of_instrument(kept: &Kept, done: &[Upkeep], today: Date) -> Vec<Due> {
    let (id, about) = (&kept.instrument.id, &kept.instrument.kind);
    let mut list = Vec::new();
    if let Ok(day) = read_day(&kept.instrument.due) {
        list.push(Due {
            subject: Subject::Instrument,
            id: id.clone(),
            about: about.clone(),
            task: Task::Calibration,
            last: read_day(&kept.instrument.calibrated).ok(),
            by: None,
            failed: None,
            day,
            days: days_until(today, day),
        });
    }
    for (what, interval) in &kept.upkeep {
        let those = done
            .iter()
            .filter(|d| d.instrument == *id && d.what == *what);
        let last = those.map(|d| d.on).max();
        let task = Task::Upkeep(what.clone());
        list.extend(due(
            Subject::Instrument,
            id,
            about,
            task,
            last,
            *interval,
            today,
        ));
    }
    list
}

/// Something that is done again an interval after it was done last; at once where it never was.
fn due(
    subject: Subject,
    id: &str,
    about: &str,
    task: Task,
    last: Option<Date>,
    interval: Interval,
    today: Date,
) -> Option<Due> {
    let day = match last {
        Some(last) => interval.after(last)?,
        None => today,
    };
    Some(Due {
        subject,
        id: id.to_owned(),
        about: about.to_owned(),
        task,
        last,
        by: None,
        failed: None,
        day,
        days: days_until(today, day),
    })
}

fn days_until(today: Date, day: Date) -> i32 {
    today.until(day).map_or(i32::MAX, |span| span.get_days())
}

/// By day, the longest overdue first; what was never done stands before what is due on the same day.
pub fn sort_due(list: &mut [Due]) {
    list.sort_by(|a, b| {
        let key = |d: &Due| (d.day, d.last.is_some(), d.subject);
        key(a)
            .cmp(&key(b))
            .then_with(|| a.id.cmp(&b.id))
            .then_with(|| a.task.cmp(&b.task))
    });
}
