//! `demo --past`: the demo shop with two years of records, made by real sessions in the shop's own order of days.
//!
//! Never in here: when what happens (see `schedule`), what is read (see `readings`). Changes when the shop's past does.

mod happening;
mod readings;
mod registers;
mod revision;
mod schedule;
mod stories;

use std::path::Path;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::host::{Host, HurriedHost};
use crate::shop::read_day;

use super::AppError;
use super::demo::{approve_all, demo_files};
use super::init::write_all;
use super::open::open_shop;

use happening::Past;
use schedule::{Act, acts};

/// How long the shop's past is.
const YEARS: i32 = 2;

/// What was made.
#[derive(Clone, Debug, Default)]
pub struct PastCount {
    /// Records, trials too.
    pub records: usize,
    /// Records whose device failed.
    pub failed: usize,
    /// The first day.
    pub since: String,
}

/// Lays the demo shop out with a past that ends yesterday. The same day gives the same records, to the byte: no keys are made,
/// and the clock is asked for the day alone.
///
/// # Errors
/// A folder that is not empty, and those of the system.
pub fn lay_out_past(host: &dyn Host, folder: &Path) -> Result<PastCount, AppError> {
    let entries = host.list(folder).map_err(|e| AppError::at(folder, &e))?;
    if let Some(other) = entries.first() {
        return Err(AppError::new(format!(
            "{}: the folder is not empty ({}); a shop with a past is made in a new one: `stepwell demo DIR --past`",
            folder.display(),
            other.display()
        )));
    }
    let today = read_day(&host.today()).map_err(|e| AppError::new(e.message))?;
    made(folder, today).map_err(|error| {
        AppError::new(format!(
            "{error}\nthe shop in {} is not whole: remove the folder and begin anew",
            folder.display()
        ))
    })
}

/// Makes the shop as it stands on a day.
fn made(folder: &Path, today: Date) -> Result<PastCount, AppError> {
    let begin = today.checked_sub(YEARS.years());
    let begin = begin.map_err(|e| AppError::new(e.to_string()))?;
    let host = HurriedHost::new();
    host.set(&format!("{begin}T06:00:00Z"));
    let mut files = demo_files();
    // What was done for instruments is done anew, on other days.
    files.retain(|(name, _)| !name.starts_with("upkeep-"));
    write_all(&host, folder, &files)?;
    revision::put_former(&host, folder)?;
    let open = open_shop(&host, folder)?;
    let acts = acts(&open, begin, today)?;
    registers::set_back(&host, folder, &acts, begin, today)?;
    let first = |recipe: &str| !revision::rests_on_new(recipe);
    approve_all(&host, folder, &first)?;
    let mut past = Past::open(&host, folder)?;
    for (day, act) in &acts {
        past.happen(*day, act)?;
    }
    Ok(PastCount {
        since: begin.to_string(),
        ..past.count
    })
}

/// The sessions among all that happens.
fn visits(acts: &[(Date, Act)]) -> impl Iterator<Item = &schedule::Visit> {
    acts.iter().filter_map(|(_, act)| match act {
        Act::Visit(visit) => Some(&**visit),
        _ => None,
    })
}
